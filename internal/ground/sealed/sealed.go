// Package sealed answers how the state of a computation is kept as bytes: a name
// with its version, a fingerprint of what the state belongs to, the state, and a
// sum over all of it (FNV-1a, 64 bits). Numbers are little-endian.
package sealed

import (
	"bytes"
	"encoding/binary"
	"hash/fnv"
	"io"

	"pourwright/internal/ground/fault"
)

// Write keeps what body puts: values and slices of fixed size, or pointers to them.
func Write(name string, print uint64, body func(put func(v any))) []byte {
	var b bytes.Buffer
	put := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) } // a buffer takes all
	b.WriteString(name)
	put(print)
	body(put)
	put(sum(b.Bytes()))
	return b.Bytes()
}

func sum(data []byte) uint64 {
	h := fnv.New64a()
	_, _ = h.Write(data)
	return h.Sum64()
}

// Reader takes the state out again, in the order in which it was put.
type Reader struct {
	in     *bytes.Reader
	failed bool
}

// Open looks whether data is whole and belongs to name and print. Errors are of
// kind Input.
func Open(name string, print uint64, data []byte) (*Reader, error) {
	if len(data) < len(name)+8 || string(data[:len(name)]) != name {
		return nil, bad("this is no checkpoint of this version")
	}
	body := data[:len(data)-8]
	if sum(body) != binary.LittleEndian.Uint64(data[len(body):]) {
		return nil, bad("the checkpoint is damaged or cut short")
	}
	r := &Reader{in: bytes.NewReader(body[len(name):])}
	var of uint64
	if r.Get(&of); r.failed || of != print {
		return nil, bad("the checkpoint belongs to another problem")
	}
	return r, nil
}

// Get reads into a pointer or a slice.
func (r *Reader) Get(v any) {
	if binary.Read(r.in, binary.LittleEndian, v) != nil {
		r.failed = true
	}
}

// Failed says whether something could not be read.
func (r *Reader) Failed() bool { return r.failed }

// Done says whether all was read and nothing is left.
func (r *Reader) Done() bool {
	_, err := r.in.ReadByte()
	return !r.failed && err == io.EOF
}

// Misfit is the error for a state that does not fit what it is read into.
func Misfit() error { return bad("the checkpoint does not fit") }

func bad(text string) error {
	return fault.New(fault.Input, "checkpoint", "start the computation afresh", "%s", text)
}
