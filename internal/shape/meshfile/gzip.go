package meshfile

import (
	"bytes"
	"compress/gzip"
	"errors"

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
	limit := inflateLimit(len(data))
	var out bytes.Buffer
	// The last four bytes say how much there is; they are not trusted.
	if n := len(data); n > 18 {
		says := int64(data[n-4]) | int64(data[n-3])<<8 | int64(data[n-2])<<16 | int64(data[n-1])<<24
		out.Grow(int(min(says, limit, 4*int64(n))) + bytes.MinRead)
	}
	_, err = out.ReadFrom(limited{z, &budget{limit}})
	switch {
	case errors.Is(err, errBomb):
		return nil, b.fail(b.name, "unpack it first, or save it as binary STL", "the file unfolds to more than the %d bytes that a packed file of %d bytes may hold", limit, len(data))
	case err != nil:
		return nil, &fault.Error{Kind: fault.Input, Place: b.name, Text: "the packed file is damaged or was cut: " + err.Error(), Hint: cut, Cause: err}
	}
	b.note("The file is packed with gzip and was unpacked.")
	return out.Bytes(), nil
}
