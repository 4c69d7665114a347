// Package voxel turns meshes into columns and cells: where the lines parallel
// to z are inside a body, which cells of a grid have their centre inside, and
// how much of each cell the body fills.
//
// Main functions: Cast (columns with exact ends), Cells (centre samples),
// Fractions (shares). Inside means winding number above 0 along the line, so
// overlapping bodies count once. Triangles are scanned by grid.Scan, so every
// line enters a closed mesh exactly as often as it leaves it, also where it
// meets edges and corners; the result does not depend on the order of the
// triangles where no two crossings of a line are equal, and never on the
// number of cores. Lengths are in the unit of the mesh.
//
// Limits: nx*ny below 2^31; corners that are not finite take their triangle
// out of the count, and the lines through the hole are counted in Bad.
package voxel

import (
	"math"

	"pourwright/internal/shape/mesh"
)

// Span is one stretch of a column that lies inside the body, Lo < Hi.
type Span struct{ Lo, Hi float64 }

// Columns holds, for a grid of lines parallel to z, the stretches inside a
// body. Line (i, j) stands at (X0 + i*H, Y0 + j*H). Inside means winding
// number above 0, so overlapping shells count once.
type Columns struct {
	NX, NY    int
	X0, Y0, H float64
	start     []int32 // NX*NY+1 offsets into spans
	spans     []Span
	Bad       int // columns whose crossings did not balance (an open mesh); they hold what closed
}

// At returns the spans of line (i, j) from low to high. The slice must not be
// changed.
func (c *Columns) At(i, j int) []Span { return c.Of(j*c.NX + i) }

// Of returns the spans of line q = j*NX + i.
func (c *Columns) Of(q int) []Span { return c.spans[c.start[q]:c.start[q+1]] }

// Len returns the number of lines.
func (c *Columns) Len() int { return c.NX * c.NY }

// Volume returns the sum of the lengths of all spans times H*H.
func (c *Columns) Volume() float64 {
	s := 0.0
	for _, x := range c.spans {
		s += x.Hi - x.Lo
	}
	return s * c.H * c.H
}

// Inside reports whether height z of line (i, j) lies within a span, ends
// included.
func (c *Columns) Inside(i, j int, z float64) bool {
	for _, s := range c.At(i, j) {
		if z <= s.Hi {
			return z >= s.Lo
		}
	}
	return false
}

// Cast finds the spans of m along z on the grid of nx x ny lines at
// (x0+i*h, y0+j*h). Lines that pass exactly through an edge or corner belong to
// the side towards +x, or +y for an edge along x, so every column of a closed
// mesh balances. h must be above zero.
func Cast(m *mesh.Mesh, nx, ny int, x0, y0, h float64) *Columns {
	return cast(m, [3]int{0, 1, 2}, nx, ny, x0, y0, h)
}

// point is a corner in the frame of the lines: u and v count lines, w is the
// coordinate along them.
type point struct{ u, v, w float64 }

// cast is Cast along any axis: axes names the mesh axes that stand for x, y, z
// and is an even permutation, or fronts and backs would change places.
func cast(m *mesh.Mesh, axes [3]int, nx, ny int, x0, y0, h float64) *Columns {
	nx, ny = max(nx, 0), max(ny, 0)
	c := &Columns{NX: nx, NY: ny, X0: x0, Y0: y0, H: h, start: make([]int32, nx*ny+1)}
	if nx == 0 || ny == 0 || !(h > 0) || math.IsInf(h, 0) {
		return c
	}
	c.collect(scanAll(m, axes, nx, ny, x0, y0, h))
	return c
}
