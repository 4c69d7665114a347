// Package solid builds closed solids that share their faces: a complex of
// labelled cells into which closed bodies are inserted one after another.
package solid

import (
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Label names a cell of a complex. Outside is everything beyond the block.
type Label uint8

// The labels of a mould.
const (
	Outside Label = iota
	Metal
	Half1
	Half2
	Void // a loose insert, or any other body
)

// Lattice is the spacing of the lattice on which every corner of a complex
// stands, mm. A float32 holds any multiple of it up to 1024 mm exactly, so
// that an STL file holds the same bodies as the complex.
const Lattice = 1.0 / 16384

// Complex is a set of cells, each a closed solid with a label, that share the
// triangles between them.
type Complex struct {
	V []Point
	T []Tri

	touches int // edges along which a cell touches itself
}

// Point is a corner in units of Lattice.
type Point [3]int32

// Tri is a triangle between two cells. Front is the cell that its normal
// looks into, Back the cell behind it.
type Tri struct {
	V           [3]int32
	Front, Back Label
	fresh       bool // cut by the latest insertion
}

// Block returns the complex of one box, rounded to the lattice, filled with l.
func Block(b vec.Box, l Label) *Complex { return block(b, l) }

// Insert puts a closed body into the complex: inside the body, cell l becomes
// relabel(l) (Outside should stay Outside to trim the body at the block). The
// body's corners are put on the lattice first. Corners that meet the complex
// in special position are treated as if the body had been moved by an
// infinitesimal amount, so that touching and coplanar faces are allowed.
func (c *Complex) Insert(body *mesh.Mesh, relabel func(Label) Label) error {
	return c.insert(Prepare(body), relabel)
}

// Body is a closed body made ready for insertion: its corners on the lattice,
// its shells apart where they may overlap.
type Body struct{ shells []side }

// Prepare makes a body ready; it needs no complex, so that it can be done beside
// other work.
func Prepare(m *mesh.Mesh) *Body { return &Body{shells(snapBody(m))} }

// InsertBody is Insert for a body made ready. It leaves the body as it is.
func (c *Complex) InsertBody(b *Body, relabel func(Label) Label) error { return c.insert(b, relabel) }

// Solid returns the boundary of all cells labelled l as a closed mesh, mm.
func (c *Complex) Solid(l Label) *mesh.Mesh { return c.solid(l) }
