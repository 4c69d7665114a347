package meshfile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/shape/mesh"
)

// WriteSTL writes m as binary STL. Corners are rounded to float32; normals are
// computed from the unrounded ones. The header is the same for every file.
func WriteSTL(w io.Writer, m *mesh.Mesh) error {
	out, err := STL(m)
	if err != nil {
		return err
	}
	return writeAll(w, out)
}

// STL returns m as the bytes of a binary STL.
func STL(m *mesh.Mesh) ([]byte, error) {
	if len(m.F) > math.MaxUint32 {
		return nil, fmt.Errorf("%d triangles do not fit an STL", len(m.F))
	}
	out := make([]byte, stlHeader+stlRecord*len(m.F))
	copy(out, "binary STL, millimetres") // must not begin with "solid"
	binary.LittleEndian.PutUint32(out[80:], uint32(len(m.F)))
	par.For(len(m.F), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			r := out[stlHeader+i*stlRecord : stlHeader+(i+1)*stlRecord]
			put := func(k int, x float64) {
				binary.LittleEndian.PutUint32(r[4*k:], math.Float32bits(float32(x)))
			}
			n := m.Normal(i)
			put(0, n.X)
			put(1, n.Y)
			put(2, n.Z)
			for k, v := range m.F[i] {
				p := m.V[v]
				put(3*k+3, p.X)
				put(3*k+4, p.Y)
				put(3*k+5, p.Z)
			}
		}
	})
	return out, nil
}

func writeAll(w io.Writer, out []byte) error {
	n, err := w.Write(out)
	if err == nil && n < len(out) {
		err = io.ErrShortWrite
	}
	return err
}

// SaveSTL writes m as binary STL to path.
func SaveSTL(path string, m *mesh.Mesh) error {
	return save(path, func(w io.Writer) error { return WriteSTL(w, m) })
}

// Save3MF writes objects as 3MF to path.
func Save3MF(path string, objects ...Object) error {
	return save(path, func(w io.Writer) error { return Write3MF(w, objects...) })
}

// save creates path, writes and closes it, and removes it again where any of
// that fails.
func save(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return writeFault(path, err)
	}
	if err = errors.Join(write(f), f.Close()); err != nil {
		os.Remove(path)
		return writeFault(path, err)
	}
	return nil
}

func writeFault(path string, err error) error {
	return &fault.Error{Kind: fault.Input, Place: path, Text: "cannot be written: " + reason(err), Hint: "check that the folder may be written and the disk has room", Cause: err}
}
