// Package grid holds the regular grid of cells that bodies are sampled on, and
// Scan, which finds the points of a flat grid that a triangle covers so that
// triangles side by side never both take a point nor both leave it out.
//
// Lengths are in the unit of the caller (millimetres in pourwright). Limits:
// at most 2^31-1 cells.
package grid

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// Grid is a box of NX x NY x NZ cubic cells of edge H whose lowest corner is
// Origin. Cell (i, j, k) spans Origin + H (i..i+1, j..j+1, k..k+1).
type Grid struct {
	Origin     vec.V3
	H          float64
	NX, NY, NZ int
}

// Longest returns the grid of cubic cells with n cells along the longest edge
// of b, centred on b, the other edges rounded up to whole cells.
func Longest(b vec.Box, n int) (Grid, error) {
	return Over(b, b.Longest()/float64(n))
}

// Over returns the smallest grid of cells of edge h that holds b, centred on
// it. A box that is larger by less than 1e-9 of a cell does not get one more.
func Over(b vec.Box, h float64) (Grid, error) {
	s := b.Size()
	if !(h > 0) || math.IsInf(h, 0) || !s.Finite() || s.X < 0 || s.Y < 0 || s.Z < 0 {
		return Grid{}, fault.New(fault.Input, "", "give a body with a size and a cell edge above zero",
			"a grid of cells of edge %g cannot be laid over a box of %g x %g x %g", h, s.X, s.Y, s.Z)
	}
	cells := func(l float64) float64 { return math.Max(1, math.Ceil(l/h-1e-9)) }
	x, y, z := cells(s.X), cells(s.Y), cells(s.Z)
	if x*y*z > math.MaxInt32 {
		return Grid{}, fault.New(fault.Input, "", "use larger cells",
			"a grid of %.0f x %.0f x %.0f cells is too large", x, y, z)
	}
	g := Grid{H: h, NX: int(x), NY: int(y), NZ: int(z)}
	g.Origin = b.Centre().Sub(vec.V3{X: x, Y: y, Z: z}.Mul(h / 2))
	return g, nil
}

// Len returns the number of cells.
func (g Grid) Len() int { return g.NX * g.NY * g.NZ }

// At returns the index of cell (i, j, k): x runs fastest, z slowest.
func (g Grid) At(i, j, k int) int { return (k*g.NY+j)*g.NX + i }

// Cell returns i, j, k of an index.
func (g Grid) Cell(q int) (i, j, k int) {
	return q % g.NX, q / g.NX % g.NY, q / (g.NX * g.NY)
}

// Centre returns the middle of cell (i, j, k).
func (g Grid) Centre(i, j, k int) vec.V3 {
	return g.Origin.Add(vec.V3{X: float64(i) + 0.5, Y: float64(j) + 0.5, Z: float64(k) + 0.5}.Mul(g.H))
}

// Find returns the cell that holds p; ok is false outside the grid. A point on
// a common face belongs to the upper cell.
func (g Grid) Find(p vec.V3) (i, j, k int, ok bool) {
	d := p.Sub(g.Origin).Mul(1 / g.H)
	if !(d.X >= 0 && d.Y >= 0 && d.Z >= 0 && d.X < float64(g.NX) && d.Y < float64(g.NY) && d.Z < float64(g.NZ)) {
		return 0, 0, 0, false
	}
	return int(d.X), int(d.Y), int(d.Z), true
}

// Beside visits the cells that share a face with cell q.
func (g Grid) Beside(q int, visit func(o int)) {
	i, j, k := g.Cell(q)
	in := [6]bool{i > 0, i < g.NX-1, j > 0, j < g.NY-1, k > 0, k < g.NZ-1}
	for a, step := range [6]int{-1, 1, -g.NX, g.NX, -g.NX * g.NY, g.NX * g.NY} {
		if in[a] {
			visit(q + step)
		}
	}
}

// Box returns the box of all cells.
func (g Grid) Box() vec.Box {
	s := vec.V3{X: float64(g.NX), Y: float64(g.NY), Z: float64(g.NZ)}.Mul(g.H)
	return vec.Box{Min: g.Origin, Max: g.Origin.Add(s)}
}
