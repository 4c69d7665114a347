package tension

import (
	"pourwright/internal/ground/vec"
)

// patch is the piece of plane that stands for the surface in one cell. Places are
// in cells from the low corner of the grid.
type patch struct {
	i      int32
	bare   bool // a full cell beside an empty one: its piece is the side between
	turned bool
	high   bool       // heights gave its curvature
	fitted bool       // a paraboloid gives it
	beside bool       // it, or one in its ring, is fitted
	wanted bool       // it counts in a fit
	n      vec.V3     // out of the metal, length 1
	area   float64    // of the piece, in sides of a cell, times the cell's open share
	x      vec.V3     // its centroid
	m      [6]float64 // its second moments about the centroid over its area: xx xy xz yy yz zz
	edge   [2]edge    // where it ends at a wall
	edges  int8
	kept   bool // the edges are those of the piece before it was turned
}

// edge is where a piece ends at a wall.
type edge struct {
	x      vec.V3  // middle
	w      vec.V3  // out of the open part, length 1
	length float64 // cells
}

// polygon is a convex polygon: a square cut seven times at most; by[k] names what cut the
// side from corner k to the next.
type polygon struct {
	n  int
	at [most]vec.V3
	by [most]int8
	d  [most]float64 // of the corners, from the plane that cuts
}

// most is the number of corners that a polygon can have.
const most = 12

// whole is the square in the plane n . x = a about the foot of the cell's middle
// that covers any section of the cell; t1, t2 lie in the plane.
func (p *polygon) whole(n, t1, t2 vec.V3, a float64) {
	mid := vec.V3{X: 0.5, Y: 0.5, Z: 0.5}
	mid = mid.Add(n.Mul(a - n.Dot(mid)))
	u, v := t1.Mul(2), t2.Mul(2)
	p.n = 4
	p.at[0], p.at[1], p.at[2], p.at[3] = mid.Add(u), mid.Add(v), mid.Sub(u), mid.Sub(v)
	p.by[0], p.by[1], p.by[2], p.by[3] = -1, -1, -1, -1
}

// flush is how far beyond a side a corner still counts as in it, cells.
const flush = 1e-7

// keep cuts off, into q, what lies where p.d is under 0, and returns what is left:
// p where that is all. The new side gets the name.
func (p *polygon) keep(q *polygon, name int8) *polygon {
	out := false
	for k := range p.n {
		out = out || p.d[k] < -flush
	}
	if !out {
		return p
	}
	q.n = 0
	for k := range p.n {
		e := k + 1
		if e == p.n {
			e = 0
		}
		in, next := p.d[k] >= -flush, p.d[e] >= -flush
		if in && q.n < most {
			q.at[q.n], q.by[q.n] = p.at[k], p.by[k]
			q.n++
		}
		if in != next && q.n < most {
			t := min(max(p.d[k]/(p.d[k]-p.d[e]), 0), 1)
			a, b := &p.at[k], &p.at[e]
			q.at[q.n] = vec.V3{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y), Z: a.Z + t*(b.Z-a.Z)}
			q.by[q.n] = name
			if next {
				q.by[q.n] = p.by[k]
			}
			q.n++
		}
	}
	return q
}

// section cuts off what lies outside the unit cube, and beyond the wall where
// there is one; sides are named as cells' sides. It uses g[0], the polygon to cut, and
// g[1].
func section(g *[2]polygon, wall bool, w vec.V3, o float64) *polygon {
	p, q := &g[0], &g[1]
	cut := func(name int8) {
		if r := p.keep(q, name); r != p {
			p, q = q, p
		}
	}
	for d := range int8(3) {
		for high := range int8(2) {
			for k := range p.n {
				x := &p.at[k]
				v := x.X
				if d == 1 {
					v = x.Y
				} else if d == 2 {
					v = x.Z
				}
				if high == 1 {
					v = 1 - v
				}
				p.d[k] = v
			}
			cut(2*d + high)
		}
	}
	if wall {
		for k := range p.n {
			p.d[k] = o - w.Dot(p.at[k])
		}
		cut(wallName)
	}
	return p
}

// wallName is the name of a polygon's side on the wall of a cut cell.
const wallName = 6

// tangents are two directions at right angles to n and each other; in a plane
// problem the second points across it.
func (f *Field) tangents(n vec.V3) (t1, t2 vec.V3) {
	switch {
	case f.plane == 0:
		t2 = vec.V3{X: 1}
	case f.plane == 1:
		t2 = vec.V3{Y: 1}
	case f.plane == 2:
		t2 = vec.V3{Z: 1}
	case n.X*n.X <= n.Y*n.Y && n.X*n.X <= n.Z*n.Z:
		t2 = vec.V3{X: 1}
	case n.Y*n.Y <= n.Z*n.Z:
		t2 = vec.V3{Y: 1}
	default:
		t2 = vec.V3{Z: 1}
	}
	t1 = t2.Cross(n).Unit()
	return t1, n.Cross(t1)
}

// cut lays the piece with normal p.n in its cell so that the share f lies under it.
func (f *Field) cut(p *patch, share float64) {
	c := f.c
	share = min(max(share, clean/10), 1-clean/10)
	a := c.Plane(p.i, p.n, share)
	t1, t2 := f.tangents(p.n)
	part := c.Part(p.i)
	var two [2]polygon
	two[0].whole(p.n, t1, t2, a)
	g := section(&two, part != nil, c.Normal[p.i], c.Offset[p.i])
	at := c.I[p.i]
	low := vec.V3{X: float64(at[0]), Y: float64(at[1]), Z: float64(at[2])}
	p.edges = 0
	if g.n < 3 {
		_, _, x := c.Cut(p.i, p.n, a)
		p.area, p.m, p.x = 0, [6]float64{}, x.Add(low)
		return
	}
	p.measure(g, low)
	if part == nil && c.Own[p.i] < 1-1e-9 {
		p.area *= c.Own[p.i] // porous
		return
	}
	f.ends(p, g, low)
}

// guessed is the weight of an edge whose place is not known well.
const guessed = 0.3

// recut lays a piece that was turned. Where the turn takes it off the wall before it
// gets there (it leaves by another side of the cell), it still ends where it did:
// else the angle at the wall would have no say in cells that it bends most.
func (f *Field) recut(p *patch, share float64) {
	edge, edges := p.edge, p.edges
	f.cut(p, share)
	if p.edges == 0 && edges > 0 {
		p.edge, p.edges = edge, edges
		if !p.kept {
			for k := range edges {
				p.edge[k].length *= guessed
			}
		}
		p.kept = true
	}
}

// measure takes area, centroid and second moments of the polygon: over a triangle with
// corners a, b, c about the origin the mean of x x' is
// (a a' + b b' + c c' + s s') / 12 with s = a + b + c.
func (p *patch) measure(g *polygon, low vec.V3) {
	o := g.at[0]
	var area float64
	var first vec.V3
	var m [6]float64
	b := g.at[1].Sub(o)
	for k := 2; k < g.n; k++ {
		c := g.at[k].Sub(o)
		x := b.Cross(c)
		w := x.Dot(p.n) / 2
		s := b.Add(c)
		area += w
		first = first.Add(s.Mul(w / 3))
		w /= 12
		m[0] += w * (b.X*b.X + c.X*c.X + s.X*s.X)
		m[1] += w * (b.X*b.Y + c.X*c.Y + s.X*s.Y)
		m[2] += w * (b.X*b.Z + c.X*c.Z + s.X*s.Z)
		m[3] += w * (b.Y*b.Y + c.Y*c.Y + s.Y*s.Y)
		m[4] += w * (b.Y*b.Z + c.Y*c.Z + s.Y*s.Z)
		m[5] += w * (b.Z*b.Z + c.Z*c.Z + s.Z*s.Z)
		b = c
	}
	if area < 0 {
		area, first = -area, first.Mul(-1)
		for k := range m {
			m[k] = -m[k]
		}
	}
	if !(area > 1e-12) {
		p.area, p.m, p.x = 0, [6]float64{}, o.Add(low)
		return
	}
	inv := 1 / area
	x := first.Mul(inv)
	p.area, p.x = area, o.Add(x).Add(low)
	p.m = [6]float64{m[0]*inv - x.X*x.X, m[1]*inv - x.X*x.Y, m[2]*inv - x.X*x.Z, m[3]*inv - x.Y*x.Y, m[4]*inv - x.Y*x.Z, m[5]*inv - x.Z*x.Z}
}

// ends finds where the piece ends at walls: at the wall of a cut cell and at shut
// sides.
func (f *Field) ends(p *patch, g *polygon, low vec.V3) {
	c := f.c
	part := c.Part(p.i) != nil
	for k := range g.n {
		s := g.by[k]
		if s < 0 {
			continue
		}
		if s < wallName && (int(c.Nb[s][p.i]) != c.Wall || int(s)/2 == f.plane) {
			continue
		}
		a, b := g.at[k], g.at[(k+1)%g.n]
		length := a.Dist(b)
		if length < 1e-3 {
			continue
		}
		e := edge{a.Add(b).Mul(0.5).Add(low), c.Normal[p.i], length}
		if s < wallName {
			if part && f.given(p.i, int(s)) {
				if !f.beyond(p, &e) {
					continue
				}
			} else {
				f.side(p, &e, int(s))
			}
		} else {
			e.w = f.walls.of[f.walls.at[p.i]].normal(e.x)
		}
		switch {
		case p.edges < 2:
			p.edge[p.edges] = e
			p.edges++
		case length > min(p.edge[0].length, p.edge[1].length):
			if p.edge[0].length < p.edge[1].length {
				p.edge[0] = e
			} else {
				p.edge[1] = e
			}
		}
	}
}

// given says whether what lies behind a shut side of a cut cell was a sliver that
// a cell beside it took in, so that there is no wall in the side.
func (f *Field) given(i int32, s int) bool {
	c := f.c
	at := [3]int{int(c.I[i][0]), int(c.I[i][1]), int(c.I[i][2])}
	at[s/2] += 2*(s%2) - 1
	for d := range 3 {
		for e := -1; e <= 1; e += 2 {
			q := at
			q[d] += e
			if k := c.At(q[0], q[1], q[2]); int(k) < c.N && k != i && c.V[k] > c.Own[k]*(1+1e-6) {
				return true
			}
		}
	}
	return false
}

// beyond moves an edge to where the piece would meet the wall of its own cell, and says
// whether that is near.
func (f *Field) beyond(p *patch, e *edge) bool {
	o := &f.walls.of[f.walls.at[p.i]]
	off := o.off(e.x)
	e.w = o.normal(e.x)
	u := e.w.Sub(p.n.Mul(p.n.Dot(e.w)))
	g := u.Dot(e.w)
	if !(g > 0.1) || off*off > 1.5*g || off < 0 {
		return false
	}
	e.x = e.x.Add(u.Mul(off / g))
	e.w = o.normal(e.x)
	e.length *= guessed
	return true
}

// side sets the wall of an edge in a shut side: that of cut cells round it which
// face the same way (the side may be shut because a sliver behind it was given
// away), where the piece would reach it; the side itself where there are none.
func (f *Field) side(p *patch, e *edge, s int) {
	var axis [3]float64
	axis[s/2] = float64(2*(s%2) - 1)
	own := vec.FromArray(axis)
	e.w = own
	var b block
	b.fill(f.c, p.i)
	var list [27]*turning
	n := 0
	for _, q := range b {
		if q >= 0 && f.walls.at[q] >= 0 && f.c.Normal[q].Dot(own) > 0.3 {
			list[n] = &f.walls.of[f.walls.at[q]]
			n++
		}
	}
	w, off, ok := together(list[:n], e.x)
	if !ok {
		return
	}
	e.w = w
	u := w.Sub(p.n.Mul(p.n.Dot(w)))
	if g := u.Dot(w); g > 0.1 && off > 0 {
		e.x = e.x.Add(u.Mul(min(off, 0.5) / g))
		e.w, _, _ = together(list[:n], e.x)
	}
}
