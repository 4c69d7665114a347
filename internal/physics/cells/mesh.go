package cells

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
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

// parts is a graph with the web of its nodes.
type parts struct {
	graph
	step  [3]int
	first []int32 // of the nodes at each place, -1 where there is none
	mask  []int32 // of each node in masks, -1 in a whole cell
	masks [][sub]uint64
}

// graph finds what hangs together within the cells and between them.
func (s *samples) graph() *parts {
	n := len(s.v)
	f := &parts{graph: graph{dim: s.dim}, step: s.step, first: make([]int32, n)}
	number := make([]int32, n)
	var list []int32
	for q, v := range s.v {
		number[q] = -1
		if v > 0 && v < 1 {
			number[q] = int32(len(list))
			list = append(list, int32(q))
		}
	}
	webs := s.webs(list, number)
	s.cols = [3]*voxel.Columns{}
	pieces := make([][][sub]uint64, len(list))
	par.For(len(list), 512, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			pieces[k] = webs[k].pieces()
		}
	})
	for q, v := range s.v {
		f.first[q] = -1
		k := number[q]
		if v == 0 || k >= 0 && len(pieces[k]) == 0 {
			continue
		}
		f.first[q] = int32(len(f.place))
		if k < 0 {
			f.node(q, v, -1)
			continue
		}
		all := 0
		for i := range pieces[k] {
			all += count(&pieces[k][i])
		}
		for i := range pieces[k] {
			f.masks = append(f.masks, pieces[k][i])
			f.node(q, v*float64(count(&pieces[k][i]))/float64(all), int32(len(f.masks)-1))
		}
	}
	f.normal, f.skin = make([]vec.V3, len(f.place)), make([]skin, len(f.place))
	f.sides(s, webs, number)
	f.dust(s)
	return f
}

func (f *parts) node(q int, v float64, mask int32) {
	f.place, f.own, f.v, f.mask = append(f.place, int32(q)), append(f.own, v), append(f.v, v), append(f.mask, mask)
}

// at returns the nodes at a place, from the first to before the second result.
func (f *parts) at(q int) (lo, hi int32) {
	lo = f.first[q]
	if lo < 0 {
		return 0, 0
	}
	for hi = lo; int(hi) < len(f.place) && int(f.place[hi]) == q; hi++ {
	}
	return lo, hi
}

func (f *parts) maskOf(i int32) *[sub]uint64 {
	if k := f.mask[i]; k >= 0 {
		return &f.masks[k]
	}
	return nil
}

// sides makes the edges: the share of each side goes to the parts that are joined
// over it, by the lines that join them. Where the lines and the triangles' pieces
// differ by more than the lines can err, the lines have it.
func (f *parts) sides(s *samples, webs []web, number []int32) {
	const lines = sub * sub
	for q := range s.v {
		b0, b1 := f.at(q)
		for d := range 3 {
			if b0 == b1 || q/s.step[d]%s.dim[d] == 0 {
				continue
			}
			o := q - s.step[d]
			a0, a1 := f.at(o)
			all := 0
			from := len(f.edges)
			for a := a0; a < a1; a++ {
				for b := b0; b < b1; b++ {
					var w *web
					if k := number[o]; k >= 0 {
						w = &webs[k]
					}
					if n := links(f.maskOf(a), w, f.maskOf(b), d); n > 0 {
						all += n
						f.edges = append(f.edges, edge{a, b, int8(d), float64(n)})
					}
				}
			}
			area := whole(s.a[d][q])
			if s.bad > 0 || math.Abs(s.a[d][q]-float64(all)/lines) > coarse {
				area = float64(all) / lines
			}
			if !(area > thinnest) {
				f.edges = f.edges[:from]
			}
			for k := from; k < len(f.edges); k++ {
				f.edges[k].a *= area / float64(all)
			}
		}
	}
}

// coarse is how far 64 lines may misjudge a side: by half the distance of two on either edge.
const coarse = 0.2

// dust gives volumes that no point of a web lies in to the cell over the widest
// side.
func (f *parts) dust(s *samples) {
	for q, v := range s.v {
		if v == 0 || f.first[q] >= 0 {
			continue
		}
		best, to := 0.0, -1
		p := [3]int{q % s.dim[0], q / s.dim[0] % s.dim[1], q / s.step[2]}
		for d := range 3 {
			if a, o := s.a[d][q], q-s.step[d]; p[d] > 0 && a > best && f.first[o] >= 0 {
				best, to = a, o
			}
			if o := q + s.step[d]; p[d]+1 < s.dim[d] && s.a[d][o] > best && f.first[o] >= 0 {
				best, to = s.a[d][o], o
			}
		}
		if to < 0 {
			f.dropped += v
			continue
		}
		f.v[f.first[to]] += v
		if s.sure[q] {
			for k, t := range s.skin[q] {
				f.skin[f.first[to]][k] += t
			}
		}
	}
}

// open finds the mouths: the section of the cavity by the planes that lie a hair
// within the block's sides, where the cavity reaches them. m is in cells.
func (f *parts) open(m *mesh.Mesh, block lids) {
	b := m.Box()
	for d := range 3 {
		for side := range 2 {
			level := block.lo.At(d)
			reach := b.Min.At(d) <= level+onSide
			level += 2 * onSide
			if side == 1 {
				level = block.hi.At(d)
				reach = b.Max.At(d) >= level-onSide
				level -= 2 * onSide
			}
			k := int(math.Floor(level))
			if !reach || k < 0 || k >= f.dim[d] {
				continue
			}
			area := plane(m, f.dim, d, level)
			e, g := (d+1)%3, (d+2)%3
			for j := range f.dim[g] {
				for i := range f.dim[e] {
					q := i*f.step[e] + j*f.step[g] + k*f.step[d]
					if a := area[j*f.dim[e]+i]; a > thinnest && f.first[q] >= 0 {
						f.mouths = append(f.mouths, mouth{f.first[q], d, side == 1, a})
					}
				}
			}
		}
	}
}

// plane returns the shares of the cells' squares in the plane at level across d, the
// axis after d fastest.
func plane(m *mesh.Mesh, dim [3]int, d int, level float64) []float64 {
	e, f := (d+1)%3, (d+2)%3
	x := newEstimate(dim[e] * dim[f])
	// Along e: the two axes after e are f and d.
	c := voxel.Cast(turn(m, e), dim[f]*sub, 1, 0.5/sub, level, 1.0/sub)
	lines, ends := make([]float64, dim[e]), make([]float64, dim[e])
	for j := range dim[f] {
		clear(lines)
		clear(ends)
		for a := range sub {
			add(c.At(j*sub+a, 0), lines, ends)
		}
		x.take(lines, ends, sub, j*dim[e], 1)
	}
	// Along f: the two axes after f are d and e.
	c = voxel.Cast(turn(m, f), 1, dim[e]*sub, level, 0.5/sub, 1.0/sub)
	lines, ends = make([]float64, dim[f]), make([]float64, dim[f])
	for i := range dim[e] {
		clear(lines)
		clear(ends)
		for a := range sub {
			add(c.At(0, i*sub+a), lines, ends)
		}
		x.take(lines, ends, sub, i, dim[e])
	}
	return x.result()
}

// oneWall is how far the sides of a cell may differ from those of its half space.
const oneWall = 0.2

// walls finds the walls of cut cells: their area vector is that of the triangles' pieces
// or, in a cell that is parted, has a mouth or is covered twice, what its open sides lack
// (they and the wall add up to nothing, Gauss). Where the half space with this normal and the cell's volume has
// other sides than the cell, the cell has more than one wall and gets none.
func (f *parts) walls(s *samples) {
	type faces [6]float64
	open := make([]faces, len(f.place))
	for _, e := range f.edges {
		open[e.lo][2*e.d+1] += e.a
		open[e.hi][2*e.d] += e.a
	}
	gate := make([]bool, len(f.place))
	for _, m := range f.mouths {
		k := 2 * m.d
		if m.high {
			k++
		}
		open[m.node][k] += m.a
		gate[m.node] = true
	}
	par.For(len(f.place), 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			q := int(f.place[i])
			x := &open[i]
			lack := vec.V3{X: x[0] - x[1], Y: x[2] - x[3], Z: x[4] - x[5]}
			first, end := f.at(q)
			n := lack
			if end-first == 1 && s.sure[q] && !gate[i] {
				n = vec.V3{X: s.area[0][q], Y: s.area[1][q], Z: s.area[2][q]}
			}
			if s.sure[q] {
				for k, t := range s.skin[q] {
					f.skin[i][k] += t * float32(f.own[i]/s.v[q])
				}
			} else {
				f.skin[i].add(lack)
			}
			if f.own[i] < 1 && n.Len() > 1e-6 {
				n = n.Unit()
				if misfit(n, f.own[i], (*[6]float64)(x)) < oneWall {
					f.normal[i] = n
				}
			}
		}
	})
}

// misfit returns the largest difference between the sides of a half space of the
// given share and those of the cell.
func misfit(n vec.V3, share float64, sides *[6]float64) float64 {
	at := CubePlane(n, share)
	worst := 0.0
	for d := range 3 {
		m := n.Array()
		k := m[d]
		m[d] = 0
		flat := vec.FromArray(m)
		worst = max(worst, math.Abs(CubeUnder(flat, at)-sides[2*d]), math.Abs(CubeUnder(flat, at-k)-sides[2*d+1]))
	}
	return worst
}

// nearest finds cells from points in mm.
type nearest struct {
	c         *Cells
	of, first []int32
	corner    vec.V3
	h         float64
}

// find returns the cell that holds what lies nearest to p, within reach cells, or -1.
func (n *nearest) find(p vec.V3, reach int) int32 {
	x := p.Sub(n.corner).Mul(1 / n.h)
	if !x.Finite() || x.Len() > 1e7 {
		return -1
	}
	at := [3]int{int(math.Floor(x.X)), int(math.Floor(x.Y)), int(math.Floor(x.Z))}
	best, r := math.Inf(1), int32(-1)
	dim := n.c.Dim
	for k := max(at[2]-reach, 0); k <= min(at[2]+reach, dim[2]-1); k++ {
		for j := max(at[1]-reach, 0); j <= min(at[1]+reach, dim[1]-1); j++ {
			for i := max(at[0]-reach, 0); i <= min(at[0]+reach, dim[0]-1); i++ {
				f := n.first[i+dim[0]*(j+dim[1]*k)]
				if f < 0 || n.of[f] < 0 {
					continue
				}
				lo := vec.V3{X: float64(i), Y: float64(j), Z: float64(k)}
				d := x.Max(lo).Min(lo.Add(vec.V3{X: 1, Y: 1, Z: 1})).Dist(x)
				if d < best && d <= float64(reach) {
					best, r = d, n.of[f]
				}
			}
		}
	}
	return r
}

// along shares out the length of closed lines among the cells that they pass by.
func (n *nearest) along(lines [][]vec.V3) []Touch {
	if len(lines) == 0 {
		return nil
	}
	size := make([]float64, n.c.N)
	for _, l := range lines {
		for i, a := range l {
			b := l[(i+1)%len(l)]
			length := a.Dist(b)
			if !(length > 0) || math.IsInf(length, 0) {
				continue
			}
			steps := int(min(math.Ceil(4*length/n.h), 1e6))
			for k := range steps {
				if c := n.find(a.Lerp(b, (float64(k)+0.5)/float64(steps)), 1); c >= 0 {
					size[c] += length / float64(steps) * 1e-3
				}
			}
		}
	}
	var r []Touch
	for c, s := range size {
		if s > 0 {
			r = append(r, Touch{int32(c), s})
		}
	}
	return r
}
