package heat

import (
	"math"

	"pourwright/internal/ground/par"
)

// gradient returns the gradient of the distance at the middle of the face
// between cells q and q+stride[a] and its component along the face's axis, as a
// share: 1 for a wall along the grid.
func (r *Run) normal(i, j, k, a int) float64 {
	g, d := r.grid, r.p.Body.Dist
	at := func(i, j, k int) float64 {
		return float64(d[g.At(min(max(i, 0), g.NX-1), min(max(j, 0), g.NY-1), min(max(k, 0), g.NZ-1))])
	}
	c := [3]int{i, j, k}
	o := c
	o[a/2] += 2*(a%2) - 1
	along := at(o[0], o[1], o[2]) - at(i, j, k)
	across := 0.0
	for x := range 3 {
		if x == a/2 {
			continue
		}
		s := 0.0
		for _, p := range [2][3]int{c, o} {
			lo, hi := p, p
			lo[x]--
			hi[x]++
			span := 2.0
			if lo[x] < 0 || hi[x] >= [3]int{g.NX, g.NY, g.NZ}[x] {
				span = 1
			}
			s += (at(hi[0], hi[1], hi[2]) - at(lo[0], lo[1], lo[2])) / span / 2
		}
		across += s * s
	}
	return math.Max(0.05, math.Abs(along)/(math.Sqrt(along*along+across)+1e-30))
}

// patch is a list of cells to mend, by plane.
type patch struct {
	cells []mend
	plane []int32 // first of each plane, and one past the last
}

// slab is what one plane adds to the lists.
type slab struct {
	shut, both []mend
	walls      []wall
	mouths     []mouth
}

// build lists the walls, the rubber cells to mend in a closed mould (those at
// walls) and in an open one (those at the parting as well), and the mouths. It
// returns the rubber's explicit step, s.
func (r *Run) build() float64 {
	g := r.grid
	part := make([]slab, g.NZ)
	par.For(g.NZ, 1, func(k, _ int) {
		for q := g.At(0, 0, k); q < g.At(0, 0, k+1); q++ {
			r.survey(q, &part[k])
		}
	})
	kh := r.p.Rubber.K * r.h
	step := r.cell / (6 * kh)
	add := func(to *patch, from []mend, walls int32) {
		to.plane = append(to.plane, int32(len(to.cells)))
		for _, m := range from {
			m.w0, m.w1 = m.w0+walls, m.w1+walls
			to.cells = append(to.cells, m)
		}
	}
	for k := range part {
		p := &part[k]
		add(&r.shut, p.shut, int32(len(r.walls)))
		add(&r.both, p.both, int32(len(r.walls)))
		r.walls = append(r.walls, p.walls...)
		r.mouths = append(r.mouths, p.mouths...)
	}
	add(&r.shut, nil, 0)
	add(&r.both, nil, 0)
	for _, m := range r.shut.cells {
		step = math.Min(step, m.c/(float64(m.count)*kh+1e-300))
	}
	return 0.95 * step
}

// survey looks at one cell: what of it needs mending, its walls and mouths.
//
// A mixed rubber cell keeps at least (6 - walls)/6 of a cell's heat capacity and
// at least a quarter, so that the smallest share never sets the step of the block.
func (r *Run) survey(q int, s *slab) {
	g, body := r.grid, r.p.Body
	i, j, k := g.Cell(q)
	if body.Dist[q] < 0 {
		r.opening(i, j, k, s)
		return
	}
	m := mend{id: int32(r.pad.id(i, j, k)), mask: 63, count: 6, c: r.cell, w0: int32(len(s.walls))}
	r.around(q, func(a, o int) {
		if body.Dist[o] >= 0 {
			if body.Half != nil && body.Half[o] != body.Half[q] {
				m.parts |= 1 << a
			}
			return
		}
		m.mask &^= 1 << a
		m.count--
		d, e := float64(body.Dist[q]), float64(body.Dist[o])
		oi, oj, ok := g.Cell(o)
		s.walls = append(s.walls, wall{
			lane:   r.b.lane(oi, ok*g.NY+oj),
			theta:  float32(math.Min(1, math.Max(0.05, d/(d-e)))),
			normal: float32(r.normal(i, j, k, a)),
			half:   1,
		})
	})
	m.w1 = int32(len(s.walls))
	if n := m.w1 - m.w0; n > 0 {
		m.c *= math.Max(r.owns(q), math.Max(0.25, float64(6-n)/6))
		s.shut = append(s.shut, m)
	} else if m.parts == 0 {
		return
	}
	s.both = append(s.both, m)
}

// opening lists the faces of a metal cell on the block's sides.
func (r *Run) opening(i, j, k int, s *slab) {
	g := r.grid
	at := [6]bool{i == 0, i == g.NX-1, j == 0, j == g.NY-1, k == 0, k == g.NZ-1}
	for a, on := range at {
		if side := r.p.Sides[a]; on && side.Metal > 0 {
			l := r.b.lane(i, k*g.NY+j)
			f := r.b.vol[l] / (r.h * r.h * r.h)
			s.mouths = append(s.mouths, mouth{lane: l, geo: 2 * r.h * f, area: r.h * r.h * f, coef: side.Metal,
				out: r.p.Air + side.T - r.tab.solidus})
		}
	}
}
