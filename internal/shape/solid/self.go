package solid

import (
	"fmt"
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/shape/mesh"
)

// The arrangement of a body with itself. A body has no infinitesimal move
// against itself that would decide zeros, so corners in special position are
// moved by a few steps of the lattice until there is none.
//
// Two triangles that share a corner may cross in a segment that starts there:
// its end is a hit whose edge is that corner twice.

// corner tells whether the hit is a corner of both triangles.
func (h *hit) corner() bool { return h.lo == h.hi }

// Own figures, no source: pairs of crossing triangles beyond which a body is
// not cut, how often corners are moved, and by how many steps at first.
const (
	mostSelf  = 200_000
	selfTries = 10
	stirred   = 3
)

// Outer returns the surface round all points of the closed body m that have a
// winding number above 0, mm: what runs through itself is cut along the lines
// where it does, and of the pieces those stay that have 0 in front and more
// behind. Corners are put on the lattice, those in special position moved by up
// to 30 steps of it (1.8e-3 mm), and put back where nothing crosses then; no other moves. pairs is how many pairs of
// triangles crossed. The error is fault.Input without a place.
func Outer(m *mesh.Mesh) (out *mesh.Mesh, pairs int, err error) {
	b := snapBody(m)
	was := slices.Clone(b.v)
	var bad [][2]int32
	for try := range selfTries {
		var whole bool
		bad, whole = someCrossings(b.v, b.t, nil, 20_000_000)
		if try == 0 {
			pairs = len(bad)
		}
		if !whole || len(bad) > mostSelf {
			return nil, pairs, fault.New(fault.Input, "", "part it in the program that made it", "more than %d pairs of triangles cross", mostSelf)
		}
		var c *Complex
		var special []int32
		if c, special, err = b.outer(bad); err == nil && len(special) == 0 && c.touches > 0 {
			err = fmt.Errorf("%w: parts touch along %d edges", errRetry, c.touches)
		}
		if err == nil && len(special) == 0 {
			c.back(b.v, was)
			return c.Solid(Metal), pairs, nil
		}
		if err != nil {
			for _, p := range bad {
				special = append(special, b.t[p[0]][0], b.t[p[0]][1], b.t[p[0]][2], b.t[p[1]][0], b.t[p[1]][1], b.t[p[1]][2])
			}
		} else {
			err = fmt.Errorf("%w: faces lie on each other", errRetry)
		}
		slices.Sort(special)
		for _, v := range slices.Compact(special) {
			for k := range 3 {
				b.v[v][k] = was[v][k] + stir(v, k, try)
			}
		}
	}
	return nil, pairs, fault.New(fault.Input, "", "part it in the program that made it", "the surface could not be cut where it runs through itself: %v", err)
}

// back puts corners that were moved from where they were there again, unless
// triangles cross then.
func (c *Complex) back(now, was []Point) {
	at := newPointIndex(64)
	for i, p := range now {
		if p != was[i] {
			at.put(p, int32(i))
		}
	}
	old := slices.Clone(c.V)
	for i, p := range c.V {
		if k, ok := at.get(p); ok {
			c.V[i] = was[k]
		}
	}
	for _, t := range c.T {
		if normal(c.V[t.V[0]], c.V[t.V[1]], c.V[t.V[2]]).zero() {
			c.V = old
			return
		}
	}
	if len(c.Crossings()) > 0 {
		c.V = old
	}
}

// stir is a move of corner v along axis k: some steps, more with every try, the
// same every time.
func stir(v int32, k, try int) int32 {
	x := uint64(v)*0x9e3779b97f4a7c15 + uint64(8*try+k+1)*0xc2b2ae3d27d4eb4f
	x ^= x >> 29
	x *= 0xbf58476d1ce4e5b9
	x ^= x >> 32
	most := uint64(stirred * (1 + try))
	return int32(x%(2*most+1)) - int32(most)
}

// outer cuts the side along the pairs that cross. special are the corners that
// no sign decides.
func (s *side) outer(bad [][2]int32) (c *Complex, special []int32, err error) {
	var all []crossing
	for _, p := range bad {
		x, sure := crossSelf(s.v, s.t[p[0]], s.t[p[1]])
		if !sure {
			for _, i := range p {
				special = append(special, s.t[i][:]...)
			}
			continue
		}
		x.a, x.b = p[0], p[1]
		for _, h := range []*hit{&x.from, &x.to} {
			h.tri = x.b
			if h.onB {
				h.tri, h.onB = x.a, false
			}
			if h.corner() {
				h.tri = 0
			}
		}
		all = append(all, x)
	}
	if len(special) > 0 {
		return nil, special, nil
	}
	segs, hits := numbered(all)
	segs, hits, special, err = s.triples(segs, hits)
	if err != nil || len(special) > 0 {
		return nil, special, err
	}
	b := side{v: s.v, t: s.t, thin: slices.Clone(s.thin)}
	n := len(segs)
	for _, g := range segs[:n:n] { // seen from the other triangle
		segs = append(segs, segment{g.b, g.a, g.to, g.from})
	}
	points := numberHits(slices.Clone(b.v), &b, &b, segs, hits)
	if err := b.cut(points, segs, hits); err != nil {
		return nil, nil, err
	}
	c = &Complex{V: points}
	group := groups(b.cells, len(points))
	keep, err := b.outermost(points, group)
	if err != nil {
		return nil, nil, err
	}
	for i, p := range b.cells {
		if keep[group[i]] {
			c.T = append(c.T, Tri{p.v, Outside, Metal, p.part || b.thin[p.src]})
		}
	}
	c.join()
	c.dropNeedles()
	if err := c.closed(); err != nil {
		return nil, nil, err
	}
	if err := c.tidy(); err != nil {
		return nil, nil, err
	}
	return c, nil, nil
}

// outermost tells of each group of pieces whether the winding number in front
// of it is 0 and that behind it is 1: it is asked at the middle of the largest piece.
func (s *side) outermost(points []Point, group []int32) (map[int32]bool, error) {
	big := map[int32]int32{} // looked up only
	area := map[int32]float64{}
	var list []int32
	for i, g := range group {
		p := s.cells[i].v
		n := normal(points[p[0]], points[p[1]], points[p[2]])
		a := math.Hypot(float64(n[0]), math.Hypot(float64(n[1]), float64(n[2])))
		if _, ok := big[g]; !ok {
			list = append(list, g)
		}
		if a >= area[g] {
			big[g], area[g] = int32(i), a
		}
	}
	cast := newCaster(s.v, s.t)
	front := make([]int, len(list))
	sure := make([]bool, len(list))
	par.For(len(list), 8, func(lo, hi int) {
		for q := lo; q < hi; q++ {
			p := s.cells[big[list[q]]]
			o := middle(points, p.v)
			for _, d := range dirs {
				if front[q], sure[q] = cast.inFront(o, d, p.src); sure[q] {
					break
				}
			}
		}
	})
	keep := map[int32]bool{}
	for q, g := range list {
		if !sure[q] {
			return nil, fmt.Errorf("%w: a part has no sure side", errRetry)
		}
		keep[g] = front[q] == 0
	}
	return keep, nil
}

// inFront returns the winding number in front of triangle own at its point o:
// the sum of signs along a ray from there.
func (c *caster) inFront(o, d [3]float64, own int32) (w int, sure bool) {
	v := c.t[own]
	n := normal(c.v[v[0]], c.v[v[1]], c.v[v[2]])
	if float64(n[0])*d[0]+float64(n[1])*d[1]+float64(n[2])*d[2] < 0 {
		w = -1 // the ray goes through it
	}
	sure = true
	far := math.Inf(1)
	c.along(o, d, &far, func(ti int32) bool {
		if ti == own {
			return true
		}
		x, leaves, near, hit := rayTri(o, d, c.v, c.t[ti])
		switch {
		case near:
			w, sure = 0, false
		case hit && x > 0 && leaves:
			w++
		case hit && x > 0:
			w--
		}
		return sure
	})
	return w, sure
}

// crossSelf finds the segment of two triangles of one body that meet; sure is
// false where a sign is 0 that should decide.
func crossSelf(v []Point, a, b [3]int32) (c crossing, sure bool) {
	shared := -1 // place of the corner both have: 0 after turning
	for i := range 3 {
		for j := range 3 {
			if a[i] == b[j] {
				if shared >= 0 {
					return c, false
				}
				shared = 0
				a = [3]int32{a[i], a[(i+1)%3], a[(i+2)%3]}
				b = [3]int32{b[j], b[(j+1)%3], b[(j+2)%3]}
				if a[1] == b[1] || a[1] == b[2] || a[2] == b[1] || a[2] == b[2] {
					return c, false
				}
			}
			if shared >= 0 {
				break
			}
		}
		if shared >= 0 {
			break
		}
	}
	pa := [3]Point{v[a[0]], v[a[1]], v[a[2]]}
	pb := [3]Point{v[b[0]], v[b[1]], v[b[2]]}
	na, nb := normal(pa[0], pa[1], pa[2]), normal(pb[0], pb[1], pb[2])
	var da, db [3]float64
	var sa, sb [3]int
	for k := range 3 {
		da[k], db[k] = nb.dot(diff(pa[k], pb[0])), na.dot(diff(pb[k], pa[0]))
		sa[k], sb[k] = sign(da[k]), sign(db[k])
		if (sa[k] == 0 || sb[k] == 0) && k != shared {
			return c, false
		}
	}
	var ee [3][3]int
	for i := range 3 {
		for j := range 3 {
			if shared == 0 && i != 1 && j != 1 {
				continue // both end in the shared corner
			}
			ee[i][j] = edgeEdge(pa[i], pa[(i+1)%3], pb[j], pb[(j+1)%3], shift{})
			if ee[i][j] == 0 {
				return c, false
			}
		}
	}
	n := 0
	var at [2]bool
	put := func(h hit, end bool) {
		n++
		if end {
			c.to, at[1] = h, true
		} else {
			c.from, at[0] = h, true
		}
	}
	for i := range 3 {
		k := (i + 1) % 3
		if sa[i]*sa[k] < 0 && ee[i][0] == ee[i][1] && ee[i][1] == ee[i][2] {
			put(edgeHit(a[i], a[k], pa[i], pa[k], da[i], da[k], false), sa[i] > 0)
		}
		if sb[i]*sb[k] < 0 && ee[0][i] == ee[1][i] && ee[1][i] == ee[2][i] {
			put(edgeHit(b[i], b[k], pb[i], pb[k], db[i], db[k], true), sb[i] < 0)
		}
	}
	if shared == 0 && n == 1 {
		h := hit{lo: a[0], hi: a[0]}
		for k := range 3 {
			h.pos[k] = float64(pa[0][k])
		}
		put(h, at[0])
	}
	return c, n == 2 && at[0] && at[1]
}
