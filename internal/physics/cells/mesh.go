package cells

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
)

// Cavity is a cavity's cells with what belongs to its skin.
type Cavity struct {
	*Cells
	Mouth   []int32   // ports where the cavity meets the block's skin
	Vents   []Touch   // one for each vent: Size m2; Cell -1 where no cell is near
	Parting []Touch   // cells along the parting line, in order: Size m of line
	Corner  [3]int    // the place of cell 0, 0, 0 in the grid that was given
	Skin    []float64 // of each cell: m2 of wall, without mouths
	Section []Section // of each cell
	Dropped float64   // share of the volume that no cell answers for
	Bad     int       // of the lines drawn, those that entered and left unequally often: above 0 the mesh is not closed
}

// Touch is a cell and how much of something it has.
type Touch struct {
	Cell int32
	Size float64
}

// Vent is where air leaves through a cut in the rubber.
type Vent struct {
	At   vec.V3  // mm, on the cavity's wall or near it
	Area float64 // mm2
}

// Extra is what a mesh does not say.
type Extra struct {
	Vents   []Vent
	Parting [][]vec.V3 // closed lines, mm
}

// onSide is how near, in cells, to the block's side a cavity is open there.
const onSide = 1e-3

// Lay returns a grid over a cavity, mm, with a plane of cells in each side of the
// block that the cavity reaches; where it reaches two opposite ones, in the upper.
func Lay(m *mesh.Mesh, box vec.Box, cell float64) (grid.Grid, error) {
	b := m.Box()
	g, err := grid.Over(b, cell)
	if err != nil {
		return g, err
	}
	o, n := g.Origin.Array(), [3]int{g.NX, g.NY, g.NZ}
	for d := range 3 {
		switch {
		case b.Max.At(d) >= box.Max.At(d)-onSide*cell:
			o[d] = box.Max.At(d) - float64(n[d])*cell
		case b.Min.At(d) <= box.Min.At(d)+onSide*cell:
			o[d] = box.Min.At(d)
		}
	}
	g.Origin = vec.FromArray(o)
	return g, nil
}

// FromMesh returns the cells of a closed cavity m in mm, with inside where the
// winding number is above 0. The cells are those of g, which lies over the cavity or
// the whole block; box is the block: where the cavity reaches its sides it is open. Volumes come from 64
// lines through each cell along each axis, sides from 16 in their plane, all with
// exact ends; of the directions each counts by the fourth power of the walls it meets.
//
// Errors: a corner that is no number, no cell with an inside, more than 2^31 cells, ctx done.
func FromMesh(ctx context.Context, m *mesh.Mesh, g grid.Grid, box vec.Box, extra Extra) (*Cavity, error) {
	for _, p := range m.V {
		if !p.Finite() {
			return nil, fault.New(fault.Input, "cavity", "repair the mesh", "a corner of the cavity is not a number")
		}
	}
	lo, dim, err := crop(m, g)
	if err != nil {
		return nil, err
	}
	corner := g.Origin.Add(vec.V3{X: float64(lo[0]), Y: float64(lo[1]), Z: float64(lo[2])}.Mul(g.H))
	inCells := local(m, corner, g.H)
	block := lids{box.Min.Sub(corner).Mul(1 / g.H), box.Max.Sub(corner).Mul(1 / g.H)}
	s := sample(inCells, dim, block)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	f := s.graph()
	f.h, f.origin = g.H*1e-3, corner.Mul(1e-3)
	f.open(inCells, block)
	f.walls(s)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	whole := f.dropped
	for _, v := range f.v {
		whole += v
	}
	if !(whole > 0) {
		return nil, fault.New(fault.Input, "cavity", "check the mesh's unit and that its triangles face outwards", "the cavity holds nothing")
	}
	c, of := f.cells()
	r := &Cavity{Cells: c, Corner: lo, Dropped: f.dropped / whole, Bad: s.bad}
	r.Skin = make([]float64, c.Wall+1)
	for i := range c.N {
		r.Skin[i] = c.skin[i].area() * c.H * c.H
	}
	r.Section = Sections(c)
	for k := range c.Ports {
		r.Mouth = append(r.Mouth, int32(c.N+k))
	}
	near := nearest{c: c, of: of, first: f.first, corner: corner, h: g.H}
	for _, v := range extra.Vents {
		r.Vents = append(r.Vents, Touch{near.find(v.At, 4), v.Area * 1e-6})
	}
	r.Parting = near.along(extra.Parting)
	return r, nil
}

func stopped(ctx context.Context) error {
	return &fault.Error{Kind: fault.Interrupted, Place: "cells", Text: "stopped", Cause: ctx.Err()}
}

// crop returns the box of g's cells that m reaches; it may stand out of g.
func crop(m *mesh.Mesh, g grid.Grid) (lo, dim [3]int, err error) {
	b := m.Box()
	n := 1.0
	for d := range 3 {
		a, z := (b.Min.At(d)-g.Origin.At(d))/g.H, (b.Max.At(d)-g.Origin.At(d))/g.H
		if !(g.H > 0) || !(a <= z) || math.Abs(a)+math.Abs(z) > 1e6 {
			return lo, dim, fault.New(fault.Input, "cavity", "give a cavity with an inside, and a grid near it", "cells of %g mm cannot be laid over a cavity from %v to %v", g.H, b.Min, b.Max)
		}
		lo[d] = int(math.Floor(a + 1e-7))
		dim[d] = max(int(math.Ceil(z-1e-7))-lo[d], 1)
		n *= float64(dim[d])
	}
	if n*sub > math.MaxInt32 {
		return lo, dim, fault.New(fault.Input, "cavity", "use larger cells", "%d x %d x %d cells are too many", dim[0], dim[1], dim[2])
	}
	return lo, dim, nil
}

// Memory returns about how many bytes FromMesh takes at most while it runs: 240 for each
// triangle and 340 for each cell of the box round the cavity (measured: 89 MB of
// 93 at 280 k triangles and 77 k cells, 568 of 633 at 1.66 M cells). The list keeps some 350
// for each open cell and 420 for each that the wall cuts.
func Memory(m *mesh.Mesh, g grid.Grid) int64 {
	_, dim, err := crop(m, g)
	if err != nil {
		return 0
	}
	return int64(len(m.F))*240 + int64(dim[0])*int64(dim[1])*int64(dim[2])*340
}
