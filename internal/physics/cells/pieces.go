package cells

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// scrap is what the triangles' pieces in one cell add up to: area vector, out of
// the body, and the integral of z over its part along z (from the cell's floor).
type scrap struct {
	within int32 // the cell whose wall it is
	q      int32
	lid    bool // of a triangle on the block's side, which is no wall
	area   vec.V3
	lift   float64
}

// polygon is a piece of a triangle: three corners and one for each of six cuts. Rounding
// may bend a sliver so that a cut adds more; what the list does not hold has no area.
type polygon struct {
	p [16]vec.V3
	n int
}

// split cuts a convex polygon at x_d = at into what lies below and above.
func (g *polygon) split(d int, at float64, lo, hi *polygon) {
	lo.n, hi.n = 0, 0
	last := g.p[g.n-1]
	x := coordinate(&last, d) - at
	for i := range g.n {
		if lo.n+2 > len(lo.p) || hi.n+2 > len(hi.p) {
			return
		}
		p := g.p[i]
		y := coordinate(&p, d) - at
		if x < 0 && y > 0 || x > 0 && y < 0 {
			t := x / (x - y)
			c := vec.V3{X: last.X + t*(p.X-last.X), Y: last.Y + t*(p.Y-last.Y), Z: last.Z + t*(p.Z-last.Z)}
			switch d {
			case 0:
				c.X = at
			case 1:
				c.Y = at
			default:
				c.Z = at
			}
			lo.p[lo.n], hi.p[hi.n] = c, c
			lo.n++
			hi.n++
		}
		if y <= 0 {
			lo.p[lo.n] = p
			lo.n++
		}
		if y >= 0 {
			hi.p[hi.n] = p
			hi.n++
		}
		last, x = p, y
	}
}

func coordinate(p *vec.V3, d int) float64 {
	switch d {
	case 0:
		return p.X
	case 1:
		return p.Y
	}
	return p.Z
}

// span returns the first and last cell that a polygon reaches along d. A polygon in
// a plane of cells belongs to the cell below it.
func (g *polygon) span(d int) (int, int) {
	a, b := coordinate(&g.p[0], d), coordinate(&g.p[0], d)
	for i := 1; i < g.n; i++ {
		x := coordinate(&g.p[i], d)
		a, b = min(a, x), max(b, x)
	}
	i, j := int(math.Floor(a)), int(math.Ceil(b))-1
	return min(i, max(j, 0)), max(j, 0)
}

// cutter cuts triangles into the cells they cross.
type cutter struct {
	dim  [3]int
	lid  bool
	list []scrap
}

// cut cuts a polygon along d and the axes after it; q is the cell so far.
func (c *cutter) cut(g *polygon, d, q, step int) {
	if g.n < 3 {
		return
	}
	if d == 3 {
		c.keep(g, q)
		return
	}
	i, j := g.span(d)
	if i == j || d == 3 {
		c.cut(g, d+1, q+min(max(i, 0), c.dim[d]-1)*step, step*c.dim[d])
		return
	}
	rest := *g
	var lo, hi polygon
	for ; i < j; i++ {
		rest.split(d, float64(i+1), &lo, &hi)
		c.cut(&lo, d+1, q+min(max(i, 0), c.dim[d]-1)*step, step*c.dim[d])
		rest = hi
	}
	c.cut(&rest, d+1, q+min(max(j, 0), c.dim[d]-1)*step, step*c.dim[d])
}

// keep adds up a piece.
func (c *cutter) keep(g *polygon, q int) {
	o := g.p[0]
	floor := float64(q / (c.dim[0] * c.dim[1]))
	var s scrap
	s.q, s.within = int32(q), int32(q)
	for i := 2; i < g.n; i++ {
		a, b := g.p[i-1].Sub(o), g.p[i].Sub(o)
		n := vec.V3{X: a.Y*b.Z - a.Z*b.Y, Y: a.Z*b.X - a.X*b.Z, Z: a.X*b.Y - a.Y*b.X}
		s.area = s.area.Add(n)
		s.lift += n.Z * (o.Z + (a.Z+b.Z)/3 - floor)
	}
	s.area, s.lift = s.area.Mul(0.5), s.lift/2
	// In a plane of cells it is counted below (see span); the wall is that of the cell it looks away from.
	area, step := s.area.Array(), 1
	for d := range 3 {
		if x := coordinate(&o, d); area[d] < 0 && area[(d+1)%3] == 0 && area[(d+2)%3] == 0 && x == math.Floor(x) {
			if at := q / step % c.dim[d]; at < int(x) && int(x) < c.dim[d] {
				s.within += int32(step * (int(x) - at))
			}
		}
		step *= c.dim[d]
	}
	if s.lid = c.lid; s.area != (vec.V3{}) {
		c.list = append(c.list, s)
	}
}

// surface is the wall in each cell.
type surface struct {
	area [3][]float64 // out of the body, lids included
	lift []float64
	skin []skin // without lids
}

// lids is the block's sides in cells.
type lids struct{ lo, hi vec.V3 }

// on reports whether a triangle lies on a side of the block.
func (b *lids) on(x, y, z vec.V3) bool {
	for d := range 3 {
		p, q, r := coordinate(&x, d), coordinate(&y, d), coordinate(&z, d)
		if max(p, q, r) <= coordinate(&b.lo, d)+onSide || min(p, q, r) >= coordinate(&b.hi, d)-onSide {
			return true
		}
	}
	return false
}

// cutUp cuts a mesh, whose corners are in cells of a box, into pieces by cell and adds them
// up in the order of the triangles.
func cutUp(m *mesh.Mesh, dim [3]int, block lids) *surface {
	const chunk = 4096
	lists := make([][]scrap, (len(m.F)+chunk-1)/chunk)
	par.For(len(m.F), chunk, func(lo, hi int) {
		c := cutter{dim: dim, list: make([]scrap, 0, 2*chunk)}
		var g polygon
		for _, t := range m.F[lo:hi] {
			g.p[0], g.p[1], g.p[2], g.n = m.V[t[0]], m.V[t[1]], m.V[t[2]], 3
			c.lid = block.on(g.p[0], g.p[1], g.p[2])
			c.cut(&g, 0, 0, 1)
		}
		lists[lo/chunk] = c.list
	})
	n := dim[0] * dim[1] * dim[2]
	s := &surface{lift: make([]float64, n), skin: make([]skin, n)}
	for d := range s.area {
		s.area[d] = make([]float64, n)
	}
	for _, l := range lists {
		for i := range l {
			x := &l[i]
			s.area[0][x.q] += x.area.X
			s.area[1][x.q] += x.area.Y
			s.area[2][x.q] += x.area.Z
			s.lift[x.q] += x.lift
			if !x.lid {
				s.skin[x.within].add(x.area)
			}
		}
	}
	return s
}

// shares returns the open volumes and low sides that the wall leaves, by Gauss: the
// side above a cell is the side below it less the wall's area between them, and
//
//	V = A_low + the integral of (z - 1) over the wall's area along z
//
// with z from the cell's floor. Where the body covers a place twice it counts twice.
func (s *surface) shares(dim [3]int) (v []float64, a [3][]float64) {
	n := len(s.lift)
	v = make([]float64, n)
	step := [3]int{1, dim[0], dim[0] * dim[1]}
	for d := range 3 {
		a[d] = make([]float64, n)
		e, f := (d+1)%3, (d+2)%3
		par.For(dim[f], 4, func(j0, j1 int) {
			for j := j0; j < j1; j++ {
				for i := range dim[e] {
					x, at := 0.0, i*step[e]+j*step[f]
					for range dim[d] {
						a[d][at] = x
						if d == 2 {
							v[at] = x + s.lift[at] - s.area[2][at]
						}
						x -= s.area[d][at]
						at += step[d]
					}
				}
			}
		})
	}
	return v, a
}
