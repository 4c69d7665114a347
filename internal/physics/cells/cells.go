// Package cells answers: which cells of a uniform grid metal can enter, how they
// open into each other, and what a plane cuts off a cell.
//
// The cells are a compact list, x fastest, then y, then z, so that neighbours
// along x mostly follow each other and nothing is spent on rubber. A cell that
// the wall cuts keeps the open share of its volume and of its sides (Batty,
// Bertails & Bridson, ACM Trans. Graph. 26 (2007) 100; Ng, Min & Gibou,
// J. Comput. Phys. 228 (2009) 8807), and a half space that stands for its wall.
//
// Main functions: FromMesh (a closed cavity in mm becomes Cells, with mouths, vents,
// parting line, wall area and thin sections), New and Box (from shares), Level (a level at rest),
// Cells.Under, Plane and Cut (a second plane in a cell), Sections.
// SI in Cells; mm in meshes and grids.
//
// Limits: plates and pins hold together from a quarter of a cell on, and rubber keeps two
// cavities apart from a quarter of a cell on (an eighth at best); under 2^28 cells in the box.
package cells

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// Cells are the open cells of a cavity. All arrays over cells have Wall+1
// entries, so that an index of a neighbour may be used without a test: 0 ..
// N-1 are open, N .. N+Ports-1 lie beyond an opening, Wall stands for all else.
//
// The side of cell c towards lower x, y or z (d = 0, 1, 2) belongs to c: what is
// known of it (A, a velocity through it) stands at [d][c], its high side at
// [d][Nb[2*d+1][c]].
type Cells struct {
	H      float64 // m, the edge of a cell
	Origin vec.V3  // m, the low corner of cell 0, 0, 0
	Dim    [3]int  // of the box of cells in which I counts
	N      int     // open cells
	Ports  int     // cells beyond an opening
	Wall   int     // N + Ports

	I  [][3]int32 // place of open cells and ports; a port may lie one outside Dim
	Nb [6][]int32 // neighbour at the low (2 d) and the high (2 d + 1) side; Wall where that side is shut
	V  []float64  // open share of the volume; above 1 where a cell took in a sliver beside it; 1 for ports and Wall
	// Own is the cell's share before it took in slivers. What they hold counts as
	// spread evenly over the cell's own open part, so that a share of metal and
	// the plane that bounds it always belong together, one to one.
	Own []float64
	A   [3][]float64 // open share of the low side, 0 where it is shut

	// Normal and Offset are the half space that stands for the wall in a cut
	// cell: open where Normal . x <= Offset, x in cells from the cell's low
	// corner; its share of the cube is Own. Zero normal in a whole cell, and where no
	// one wall is known: such a cell counts as porous, its open part as the whole cube.
	Normal []vec.V3
	Offset []float64

	at    []int32 // Dim: index of the open cell, or Wall
	part  []int32 // number of a cut cell's Part, -1 where it is the whole cube
	parts []Part
	skin  []skin // the wall of each cell
}

// Opening is a stretch of the cavity's skin that is no wall: the side of an open
// cell, seen from that cell.
type Opening struct {
	At   [3]int // the open cell
	D    int    // 0, 1, 2: along x, y, z
	High bool   // at its high side
	A    float64
}

// Shares is what is known of every cell of a box before the list is made:
// Dim[0]*Dim[1]*Dim[2] cells, x fastest.
type Shares struct {
	H        float64
	Origin   vec.V3
	Dim      [3]int
	V        []float64    // open share
	A        [3][]float64 // open share of the low side
	Normal   []vec.V3     // of the wall, out of the open part; zero or nil where none is known
	Openings []Opening
}

// Least is the share of its widest side under which a cell's volume would bound the time
// step; such a cell is given to one beside it, or takes in some of that one's
// volume where it has to stay to keep a thin part whole.
const Least = 0.3

// thinnest is the share of a side that is still open; less lets nothing through.
const thinnest = 1e-3

// New makes the list. Cells with a small volume (Least) are given to a neighbour
// over their widest side (merged) where that cuts nothing off; one without an
// open side is dropped. The sum of V over the open cells is that of the shares,
// but for what was dropped, which it returns (in cells).
func New(s Shares) (*Cells, float64, error) {
	n := s.Dim[0] * s.Dim[1] * s.Dim[2]
	if n <= 0 || len(s.V) != n || len(s.A[0]) != n || len(s.A[1]) != n || len(s.A[2]) != n || !(s.H > 0) {
		return nil, 0, fault.New(fault.Internal, "cells", "", "the shares do not fit a box of %v cells", s.Dim)
	}
	g := &graph{h: s.H, origin: s.Origin, dim: s.Dim}
	node := make([]int32, n)
	for q, x := range s.V {
		node[q] = -1
		if math.IsNaN(x) || x < 0 || x > 1+1e-9 {
			return nil, 0, fault.New(fault.Internal, "cells", "", "a cell's open share is %g", x)
		}
		if x <= 0 {
			continue
		}
		node[q] = int32(len(g.place))
		g.place, g.own, g.v = append(g.place, int32(q)), append(g.own, x), append(g.v, x)
		normal := vec.V3{}
		if s.Normal != nil && x < 1 && s.Normal[q].Len() > 0.5 {
			normal = s.Normal[q].Unit()
		}
		g.normal = append(g.normal, normal)
	}
	step := [3]int{1, s.Dim[0], s.Dim[0] * s.Dim[1]}
	for q, i := range node {
		for d := range 3 {
			if i >= 0 && q/step[d]%s.Dim[d] > 0 && s.A[d][q] > thinnest && node[q-step[d]] >= 0 {
				g.edges = append(g.edges, edge{node[q-step[d]], i, int8(d), s.A[d][q]})
			}
		}
	}
	for _, o := range s.Openings {
		if i := node[o.At[0]+o.At[1]*step[1]+o.At[2]*step[2]]; i >= 0 && o.A > thinnest {
			g.mouths = append(g.mouths, mouth{i, o.D, o.High, o.A})
		}
	}
	c, _ := g.cells()
	return c, g.dropped, nil
}

// At returns the index of the open cell at i, j, k, or Wall.
func (c *Cells) At(i, j, k int) int32 {
	if i < 0 || j < 0 || k < 0 || i >= c.Dim[0] || j >= c.Dim[1] || k >= c.Dim[2] {
		return int32(c.Wall)
	}
	return c.at[i+c.Dim[0]*(j+c.Dim[1]*k)]
}

// Centre returns the middle of a cell's cube, m.
func (c *Cells) Centre(i int32) vec.V3 {
	p := c.I[i]
	return c.Origin.Add(vec.V3{X: float64(p[0]) + 0.5, Y: float64(p[1]) + 0.5, Z: float64(p[2]) + 0.5}.Mul(c.H))
}

// Volume returns the open volume, m3.
func (c *Cells) Volume() float64 {
	v := 0.0
	for _, x := range c.V[:c.N] {
		v += x
	}
	return v * c.H * c.H * c.H
}

// Box returns dim whole cells with shut sides but for the openings.
func Box(dim [3]int, h float64, openings ...Opening) (*Cells, error) {
	n := dim[0] * dim[1] * dim[2]
	s := Shares{H: h, Dim: dim, V: make([]float64, n), Openings: openings}
	for d := range s.A {
		s.A[d] = make([]float64, n)
	}
	for q := range n {
		s.V[q], s.A[0][q], s.A[1][q], s.A[2][q] = 1, 1, 1, 1
	}
	c, _, err := New(s)
	return c, err
}

// Side returns the openings of one whole side of a box of cells.
func Side(dim [3]int, d int, high bool) []Opening {
	var r []Opening
	e, f := (d+1)%3, (d+2)%3
	for a := range dim[e] {
		for b := range dim[f] {
			o := Opening{D: d, High: high, A: 1}
			o.At[e], o.At[f] = a, b
			if high {
				o.At[d] = dim[d] - 1
			}
			r = append(r, o)
		}
	}
	return r
}
