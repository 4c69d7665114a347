package heat

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// Band is how far from the surface distances are exact, in cells. Further out
// they are only known to be larger.
const Band = 4

// Body is the block on a grid: what is cavity and what is rubber. All slices
// hold one value per cell in the order of grid.Grid.
type Body struct {
	Grid  grid.Grid // mm
	Dist  []float32 // mm from the cell's centre to the cavity's wall, negative in the metal; the caps of the cavity on the block's sides do not count
	Share []float32 // of the cell that the cavity takes, 0..1
	Half  []uint8   // 1 or 2: the half that rubber cells belong to; nil if the mould does not part
}

// Memory returns about how many bytes a Body and a Run on a grid take together,
// while it is laid out: 40 a cell, and 160 for each metal cell, of which there may
// be a tenth. Fields that are asked for come on top, 4 a cell each.
func Memory(g grid.Grid) int64 { return int64(g.Len()) * (40 + 16) }

func (b *Body) check() error {
	n := b.Grid.Len()
	if n <= 0 || !(b.Grid.H > 0) || len(b.Dist) != n || len(b.Share) != n || b.Half != nil && len(b.Half) != n {
		return fault.New(fault.Input, "heat", "make the body with FromMesh or FromDistance",
			"a body of %d cells has %d distances, %d shares and %d halves", n, len(b.Dist), len(b.Share), len(b.Half))
	}
	for q, d := range b.Dist {
		if x := b.Share[q]; d != d || !(x >= 0 && x <= 1.001) {
			return fault.New(fault.Input, "heat", "make the body with FromMesh or FromDistance",
				"cell %d lies %g mm from the wall and is cavity by %g", q, d, x)
		}
	}
	return nil
}

// tie is how near to a centre, in cells, a wall runs through it. Such a cell is
// metal where the metal lies on its upper side, so that a box whose walls run
// through centres has as many cells across as it is wide.
const tie = 1e-6

// FromDistance samples a body given by its signed distance in mm, negative in
// the metal. Shares of cells that the surface cuts are found by halving the cell
// three times and taking the surface as flat in the smallest parts, within about
// 1e-3 of a cell.
func FromDistance(f func(vec.V3) float64, g grid.Grid) *Body {
	b := &Body{Grid: g, Dist: make([]float32, g.Len()), Share: make([]float32, g.Len())}
	far := (Band + 1) * math.Sqrt(3) * g.H
	par.For(g.NY*g.NZ, 16, func(lo, hi int) {
		for row := lo; row < hi; row++ {
			j, k := row%g.NY, row/g.NY
			for i := range g.NX {
				p := g.Centre(i, j, k)
				d := f(p)
				if math.Abs(d) < tie*g.H {
					d = tie * g.H
					if f(p.Add(vec.V3{X: 1, Y: 0.7, Z: 0.5}.Mul(10*tie*g.H))) < 0 {
						d = -d
					}
				}
				q := g.At(i, j, k)
				b.Dist[q] = float32(min(max(d, -far), far))
				b.Share[q] = float32(share(f, p, g.H, d, 3))
			}
		}
	})
	b.thicken()
	return b
}

// thicken turns cells into metal that hold at least a tenth of it and have none
// among the 26 cells round them, so that parts of one cell's thickness and less are
// not lost between the centres of cells; then cells that hold a tenth and lie
// between such a cell and other metal, so that thin parts stay joined to thick
// ones. Their distance becomes a thousandth of a cell, negative.
func (b *Body) thicken() {
	g := b.Grid
	var thin []int
	for q, s := range b.Share {
		if s < 0.1 || b.Dist[q] < 0 {
			continue
		}
		alone := true
		around26(g, q, func(o int) { alone = alone && b.Dist[o] >= 0 })
		if alone {
			thin = append(thin, q)
		}
	}
	if len(thin) == 0 {
		return
	}
	const mark = 2 // over any distance in cells that a cell with metal can have
	for _, q := range thin {
		b.Dist[q] = float32(mark * g.H)
	}
	var joints []int
	for _, t := range thin {
		around26(g, t, func(q int) {
			if b.Share[q] < 0.1 || b.Dist[q] < 0 || b.Dist[q] >= float32(mark*g.H) {
				return
			}
			metal, beside := false, false
			g.Beside(q, func(o int) {
				metal = metal || b.Dist[o] < 0
				beside = beside || b.Dist[o] >= float32(mark*g.H) && b.Share[o] >= 0.1
			})
			if metal && beside {
				joints = append(joints, q)
			}
		})
	}
	for _, q := range append(thin, joints...) {
		b.Dist[q] = float32(-1e-3 * g.H)
	}
}

// around26 visits the cells that share a face, an edge or a corner with cell q.
func around26(g grid.Grid, q int, visit func(o int)) {
	i, j, k := g.Cell(q)
	for z := max(k-1, 0); z <= min(k+1, g.NZ-1); z++ {
		for y := max(j-1, 0); y <= min(j+1, g.NY-1); y++ {
			for x := max(i-1, 0); x <= min(i+1, g.NX-1); x++ {
				if o := g.At(x, y, z); o != q {
					visit(o)
				}
			}
		}
	}
}

// share returns how much of a cube of edge h round p lies where f is negative; d
// is f(p).
func share(f func(vec.V3) float64, p vec.V3, h, d float64, depth int) float64 {
	if d >= 0.867*h {
		return 0
	}
	if d <= -0.867*h {
		return 1
	}
	if depth == 0 {
		return min(max(0.5-d/h, 0), 1)
	}
	s, q := 0.0, h/4
	for c := range 8 {
		x := vec.V3{X: p.X + q*float64(2*(c&1)-1), Y: p.Y + q*float64(c&2-1), Z: p.Z + q*float64(c>>1&2-1)}
		s += share(f, x, h/2, f(x), depth-1)
	}
	return s / 8
}

// FromMesh samples a closed cavity in mm on a grid. Inside means winding number
// above 0, so several castings and channels may be one mesh. Triangles that lie
// on a side of box (where the cup opens) are no wall; box is the block and lies
// within half a cell of the grid's own box.
func FromMesh(ctx context.Context, m *mesh.Mesh, box vec.Box, g grid.Grid) (*Body, error) {
	for _, p := range m.V {
		if !p.Finite() {
			return nil, fault.New(fault.Input, "cavity", "repair the mesh", "a corner of the cavity is not a number")
		}
	}
	b := &Body{Grid: g, Dist: make([]float32, g.Len())}
	var inside []uint8
	var tree *bvh.Tree
	par.Do(
		func() { inside = voxel.Cells(m, g) },
		func() { b.Share = voxel.Fractions(m, g, 8) },
		func() { tree = bvh.Build(Walls(m, box, 1e-3*g.H)) },
	)
	if err := ctx.Err(); err != nil {
		return nil, stopped(err)
	}
	far := float32((Band + 1) * math.Sqrt(3) * g.H)
	near := nearWall(inside, b.Share, g)
	par.For(g.NY*g.NZ, 16, func(lo, hi int) {
		for row := lo; row < hi && ctx.Err() == nil; row++ {
			for i := range g.NX {
				q := row*g.NX + i
				d := far
				if near[q] != 0 {
					_, _, x := tree.Closest(g.Centre(i, row%g.NY, row/g.NY), float64(far))
					d = float32(x)
				}
				if d = max(d, tie*float32(g.H)); inside[q] != 0 {
					d = -d
				}
				b.Dist[q] = d
			}
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, stopped(err)
	}
	b.thicken()
	return b, nil
}

func stopped(err error) error {
	return &fault.Error{Kind: fault.Interrupted, Place: "heat", Text: "stopped", Cause: err}
}

// Walls returns a cavity without the triangles that lie within eps on a side of the
// block's box, where it stands open. Corners are shared with m.
func Walls(m *mesh.Mesh, box vec.Box, eps float64) *mesh.Mesh {
	lo, hi := box.Min.Array(), box.Max.Array()
	r := &mesh.Mesh{V: m.V, F: make([][3]int32, 0, len(m.F))}
	for _, t := range m.F {
		a, b, c := m.V[t[0]].Array(), m.V[t[1]].Array(), m.V[t[2]].Array()
		on := false
		for d := range 3 {
			on = on || max(a[d], b[d], c[d]) <= lo[d]+eps || min(a[d], b[d], c[d]) >= hi[d]-eps
		}
		if !on {
			r.F = append(r.F, t)
		}
	}
	return r
}

// nearWall marks the cells within Band cells of a change between inside and
// outside, or of a cell that the surface cuts.
func nearWall(inside []uint8, share []float32, g grid.Grid) []uint8 {
	near := make([]uint8, g.Len())
	par.For(g.NZ, 1, func(k, _ int) {
		for j := range g.NY {
			q := g.At(0, j, k)
			row := inside[q : q+g.NX]
			for i := range row {
				a := row[i]
				if s := share[q+i]; s > 0 && s < 1 || i > 0 && row[i-1] != a || i+1 < g.NX && row[i+1] != a ||
					j > 0 && inside[q+i-g.NX] != a || j+1 < g.NY && inside[q+i+g.NX] != a ||
					k > 0 && inside[q+i-g.NX*g.NY] != a || k+1 < g.NZ && inside[q+i+g.NX*g.NY] != a {
					near[q+i] = 1
				}
			}
		}
	})
	widen(near, g.NX, g.NX*g.NY*g.NZ/max(g.NX, 1), func(line int) (int, int) { return line * g.NX, 1 })
	widen(near, g.NY, g.NX*g.NZ, func(line int) (int, int) { return g.At(line%g.NX, 0, line/g.NX), g.NX })
	widen(near, g.NZ, g.NX*g.NY, func(line int) (int, int) { return line, g.NX * g.NY })
	return near
}

// widen marks Band cells to both sides of each marked one, along lines of n cells.
func widen(mark []uint8, n, lines int, start func(line int) (at, stride int)) {
	par.For(lines, 256, func(lo, hi int) {
		for l := lo; l < hi; l++ {
			at, stride := start(l)
			until, last := -1, -Band-1 // mark up to until; last marked before widening
			for i := range n {
				q := at + i*stride
				if mark[q] != 0 {
					for b := max(i-Band, last+1, 0); b < i; b++ {
						mark[at+b*stride] = 1
					}
					until, last = i+Band, i
				} else if i <= until {
					mark[q] = 1
				}
			}
		}
	})
}
