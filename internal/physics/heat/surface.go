package heat

import (
	"math"

	"pourwright/internal/ground/par"
)

// normal returns the component of the wall's normal along the axis of the face of
// cell (i, j, k) in direction a: 1 for a wall along the grid, at least 0.05. The
// normal is the gradient of the distance in the middle of the face.
func (r *Run) normal(i, j, k, a int) float64 {
	g, d := r.grid, r.dist
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
	return max(0.05, math.Abs(along)/(math.Sqrt(along*along+across)+1e-30))
}

// patch is a list of cells to mend, by plane.
type patch struct {
	cells []mend
	plane []int32 // first of each plane, and one past the last
}

// slab is what one plane adds to the lists.
type slab struct {
	shut, both []mend
	touch      []touch
	walls      []wall
	mouths     []mouth
}

// Kinds of cells.
const (
	plainRubber = iota
	wallRubber  // has metal beside it
	metalCell
)

// build lists the walls, the rubber cells to mend in a closed mould (those at
// walls) and in an open one (those at the parting as well), and the mouths. It
// returns the rubber's explicit step, s.
func (r *Run) build() float64 {
	g := r.grid
	r.kind = make([]uint8, g.Len())
	par.For(g.NZ, 1, func(k, _ int) {
		for q := g.At(0, 0, k); q < g.At(0, 0, k+1); q++ {
			switch {
			case r.dist[q] < 0:
				r.kind[q] = metalCell
			case r.dist[q] < 2*float32(g.H) && r.others(q) > 0:
				r.kind[q] = wallRubber
			}
		}
	})
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
		r.touchPlane = append(r.touchPlane, int32(len(r.touch)))
		r.touch = append(r.touch, p.touch...)
	}
	add(&r.shut, nil, 0)
	add(&r.both, nil, 0)
	r.touchPlane = append(r.touchPlane, int32(len(r.touch)))
	r.areas()
	for _, m := range r.shut.cells {
		step = min(step, m.c/(float64(m.sum)*kh+1e-300))
	}
	step *= 0.95
	for i := 0; i < len(r.touch); { // the faces of one plain cell stand together
		sum, id := 6.0, r.touch[i].id
		for ; i < len(r.touch) && r.touch[i].id == id; i++ {
			sum += float64(r.touch[i].rho)
		}
		step = min(step, r.cell/(sum*kh))
	}
	return step
}

// line is what a rubber cell is along the three axes: how far its rubber reaches
// to a wall, and how much of a cell it is.
type line struct {
	share float64    // of a cell's volume, with what it answers for
	theta [6]float64 // wall at theta cells in direction a; 0 where there is none
}

// lineOf measures a rubber cell.
func (r *Run) lineOf(q int) line {
	l := line{share: 1}
	if r.kind[q] != wallRubber {
		return l
	}
	i, j, k := r.grid.Cell(q)
	r.around(q, func(a, o int) {
		if r.kind[o] != metalCell {
			return
		}
		d := float64(r.dist[q])
		way := d - float64(r.dist[o])
		if _, length := r.slope(r.grid.Cell(o)); length < 0.7 {
			// The distance of thin metal is that of its other wall: both together may
			// fall short of the way between the centres.
			way = max(way, r.normal(i, j, k, a)*r.grid.H)
		}
		l.theta[a] = min(1, max(0.05, d/way))
	})
	l.share = r.owns(q)
	return l
}

// shift returns how far the middle of a wall cell's layer lies from the cell's
// centre towards the wall, in cells: half of what the layer is thicker than a cell.
func (l *line) shift() float64 { return min(max((l.share-1)/2, -0.25), 0.25) }

// reach returns the area, over h^2, of the face in direction a and how far the
// middle of the rubber lies from the cell's centre towards the wall opposite, in
// cells. A face along the wall is as high as the layer is thick.
func (l *line) reach(a int) (area, shift float64) {
	if l.theta[a^1] > 0 {
		return 1, l.shift()
	}
	return l.share, 0
}

// curve returns the curvature of the wall between two cells, sum of both
// principal ones in 1/cell, positive where the rubber lies outside: the mean of
// the distance's Laplacian in the two.
func (r *Run) curve(q, o int) float64 {
	s := 0.0
	for _, c := range [2]int{q, o} {
		d := float64(r.dist[c])
		r.around(c, func(_, n int) { s += float64(r.dist[n]) - d })
	}
	return s / 2 / r.grid.H
}

// survey looks at one cell: what of it needs mending, its walls and mouths.
//
// A rubber cell with a wall stands for a layer; its temperature is that of the
// layer's middle. So the wall is theta - shift away, and the neighbour opposite
// 1 + shift.
func (r *Run) survey(q int, s *slab) {
	g, body := r.grid, r.p.Body
	i, j, k := g.Cell(q)
	if r.kind[q] == metalCell {
		r.opening(i, j, k, s)
		return
	}
	m := mend{id: int32(r.pad.id(i, j, k)), w0: int32(len(s.walls)), rho: [6]float32{1, 1, 1, 1, 1, 1}, c: r.cell}
	own, atWall := r.lineOf(q), r.kind[q] == wallRubber
	r.around(q, func(a, o int) {
		if r.kind[o] == metalCell {
			m.rho[a] = 0
			s.walls = append(s.walls, r.wallAt(q, o, a, &own))
			return
		}
		if atWall || r.kind[o] == wallRubber {
			other := r.lineOf(o)
			a0, s0 := own.reach(a)
			a1, s1 := other.reach(a ^ 1)
			m.rho[a] = float32((a0 + a1) / 2 / (1 + s0 + s1))
			if !atWall && m.rho[a] != 1 {
				s.touch = append(s.touch, touch{m.id, m.id + int32(r.pad.off[a]), m.rho[a] - 1})
			}
		}
		if body.Half != nil && body.Half[o] != body.Half[q] {
			m.parts |= 1 << a
		}
	})
	for _, x := range m.rho {
		m.sum += x
	}
	m.w1 = int32(len(s.walls))
	if atWall {
		// at least what keeps the plain explicit step stable, so that the smallest share
		// never sets the step of the block
		m.c *= max(own.share, float64(m.sum)/6)
		s.shut = append(s.shut, m)
	} else if m.parts == 0 {
		return
	}
	s.both = append(s.both, m)
}

// wallAt measures the wall between rubber cell q and metal cell o in direction a.
func (r *Run) wallAt(q, o, a int, own *line) wall {
	i, j, k := r.grid.Cell(q)
	oi, oj, ok := r.grid.Cell(o)
	n := r.normal(i, j, k, a)
	near := max(own.theta[a]-own.shift(), 0.05)
	return wall{
		lane:   r.b.lane(oi, ok*r.grid.NY+oj),
		theta:  float32(own.theta[a]),
		near:   float32(near),
		normal: float32(n),
		bend:   float32(1 + min(max(r.curve(q, o)*near*n/3, -0.3), 0.3)),
		half:   1,
	}
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
