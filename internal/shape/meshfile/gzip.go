package meshfile

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"

	"pourwright/internal/ground/fault"
)

// gunzip unpacks a gzip file (RFC 1952), of one member or several, up to the
// limit that holds for packed files.
func (b *builder) gunzip(data []byte) ([]byte, error) {
	const cut = "the file was cut or is damaged; export or copy it again"
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Input, Place: b.name, Text: "this is no whole gzip file", Hint: cut, Cause: err}
	}
	// The first pass only counts, so that the second can take just what it needs.
	limit := inflateLimit(len(data))
	n, err := io.Copy(io.Discard, limited{z, &budget{limit}})
	switch {
	case errors.Is(err, errBomb):
		return nil, b.fail(b.name, "unpack it first, or save it as binary STL", "the file unfolds to more than the %d bytes that a packed file of %d bytes may hold", limit, len(data))
	case err != nil:
		return nil, &fault.Error{Kind: fault.Input, Place: b.name, Text: "the packed file is damaged or was cut: " + err.Error(), Hint: cut, Cause: err}
	}
	out := make([]byte, n)
	if err := z.Reset(bytes.NewReader(data)); err != nil {
		return nil, err
	}
	_, err = io.ReadFull(z, out)
	return out, err
}
