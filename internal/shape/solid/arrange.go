package solid

import (
	"math"
	"slices"

	"pourwright/internal/ground/par"
)

// The arrangement of a complex A and a closed body B.
//
// Legend: a point where an edge of one meets a triangle of the other is a hit;
// two triangles that cross do so in one segment between two hits. Which hits
// exist, and which way a segment runs, follows from exact signs alone (shift
// decides the zeros), so the topology is that of a body moved by an
// infinitesimal amount. Positions are rounded to the lattice afterwards.
//
// Direction: the segment of triangles a (of A) and b (of B) runs along
// n_a x n_b. Left of it, in a, lies what is behind b (inside the body); right
// of it what is in front. In b, left lies what is in front of a.

// hit is the point where edge (lo, hi) of one side meets triangle tri of the
// other. Corner ids of B follow those of A.
type hit struct {
	lo, hi int32
	tri    int32
	onB    bool // the edge belongs to B, the triangle to A
	t      float64
	pos    [3]float64 // lattice units, not rounded
	id     int32      // corner of the result
}

// segment is where triangles a and b cross, from one hit to another.
type segment struct {
	a, b     int32
	from, to int32 // indices of hits
}

type crossing struct {
	a, b     int32
	from, to hit
}

// crossPair finds the segment of a triangle pair, if they cross. touch tells
// that a corner of one lies in the plane of the other, so that only the shift
// keeps them apart or makes them cross.
func crossPair(va, vb *[3]Point, ia, ib *[3]int32, s shift) (c crossing, ok, touch bool) {
	nb := normal(vb[0], vb[1], vb[2])
	var da, db [3]float64
	var sa, sb [3]int
	alongB := s.along(nb)
	for k := range 3 {
		da[k] = nb.dot(diff(va[k], vb[0]))
		if sa[k] = sign(da[k]); sa[k] == 0 {
			sa[k], touch = -alongB, true
		}
	}
	if sa[0] == sa[1] && sa[1] == sa[2] {
		return
	}
	na := normal(va[0], va[1], va[2])
	alongA := s.along(na)
	for k := range 3 {
		db[k] = na.dot(diff(vb[k], va[0]))
		if sb[k] = sign(db[k]); sb[k] == 0 {
			sb[k], touch = alongA, true
		}
	}
	if sb[0] == sb[1] && sb[1] == sb[2] {
		return
	}
	var ee [3][3]int
	for i := range 3 {
		for j := range 3 {
			if sa[i] != sa[(i+1)%3] || sb[j] != sb[(j+1)%3] {
				ee[i][j] = edgeEdge(va[i], va[(i+1)%3], vb[j], vb[(j+1)%3], s)
			}
		}
	}
	n := 0
	put := func(h hit, end bool) {
		n++
		if end {
			c.to = h
		} else {
			c.from = h
		}
	}
	for i := range 3 {
		k := (i + 1) % 3
		if sa[i] != sa[k] && ee[i][0] == ee[i][1] && ee[i][1] == ee[i][2] {
			// Walking a's border from the front of b to behind it ends the segment.
			put(edgeHit(ia[i], ia[k], va[i], va[k], da[i], da[k], false), sa[i] > 0)
		}
	}
	for j := range 3 {
		k := (j + 1) % 3
		if sb[j] != sb[k] && ee[0][j] == ee[1][j] && ee[1][j] == ee[2][j] {
			put(edgeHit(ib[j], ib[k], vb[j], vb[k], db[j], db[k], true), sb[j] < 0)
		}
	}
	return c, n == 2, touch
}

// edgeEdge is the sign of the volume of edge pq of A and edge rs of B.
func edgeEdge(p, q, r, t Point, s shift) int {
	if x := sign(diff(q, p).cross(diff(r, p)).dot(diff(t, p))); x != 0 {
		return x
	}
	return s.along(diff(t, r).cross(diff(q, p)))
}

func edgeHit(i, j int32, p, q Point, dp, dq float64, onB bool) hit {
	if i > j {
		i, j, p, q, dp, dq = j, i, q, p, dq, dp
	}
	t := dp / (dp - dq)
	h := hit{lo: i, hi: j, onB: onB, t: t}
	for k := range 3 {
		x := float64(p[k]) + t*float64(int64(q[k])-int64(p[k]))
		h.pos[k] = math.Round(x*fine) / fine
	}
	return h
}

// fine is the part of a lattice step to which a position is kept: the error of
// a product is 1e-9 steps, and without it the points of a level cut through an
// upright wall would stray from their common line.
const fine = 4096

func (h *hit) compare(g *hit) int {
	switch {
	case h.lo != g.lo:
		return int(h.lo) - int(g.lo)
	case h.hi != g.hi:
		return int(h.hi) - int(g.hi)
	case h.tri != g.tri:
		return int(h.tri) - int(g.tri)
	case h.onB != g.onB:
		if g.onB {
			return -1
		}
		return 1
	}
	return 0
}

// crossings finds all segments between A's and B's triangles and the hits they
// run between, each hit once, and the pairs that only the shift keeps apart.
func crossings(va []Point, ta [][3]int32, vb []Point, tb [][3]int32, s shift) ([]segment, []hit, [][2]int32) {
	boxes := func(v []Point, t [][3]int32) []ibox {
		r := make([]ibox, len(t))
		par.For(len(t), 8192, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				r[i] = boxOf(v[t[i][0]], v[t[i][1]], v[t[i][2]])
			}
		})
		return r
	}
	ps := pairs(boxes(va, ta), boxes(vb, tb))
	const chunk = 1024
	lists := make([][]crossing, (len(ps)+chunk-1)/chunk)
	near := make([][][2]int32, len(lists))
	off := int32(len(va))
	par.For(len(ps), chunk, func(lo, hi int) {
		var l []crossing
		var n [][2]int32
		for _, p := range ps[lo:hi] {
			a, b := ta[p[0]], tb[p[1]]
			pa := [3]Point{va[a[0]], va[a[1]], va[a[2]]}
			pb := [3]Point{vb[b[0]], vb[b[1]], vb[b[2]]}
			ib := [3]int32{b[0] + off, b[1] + off, b[2] + off}
			c, ok, touch := crossPair(&pa, &pb, &a, &ib, s)
			if touch && !ok {
				n = append(n, p)
			}
			if ok {
				c.a, c.b = p[0], p[1]
				for _, h := range []*hit{&c.from, &c.to} {
					if h.tri = c.b; h.onB {
						h.tri = c.a
					}
				}
				l = append(l, c)
			}
		}
		lists[lo/chunk], near[lo/chunk] = l, n
	})
	var all []crossing
	var touching [][2]int32
	for k, l := range lists {
		all = append(all, l...)
		touching = append(touching, near[k]...)
	}
	segs, hits := numbered(all)
	return segs, hits, touching
}

// numbered gives every hit one number: each stands in two or more crossings.
func numbered(all []crossing) ([]segment, []hit) {
	ref := make([]int32, 2*len(all))
	at := func(r int32) *hit {
		if r&1 == 0 {
			return &all[r/2].from
		}
		return &all[r/2].to
	}
	for i := range ref {
		ref[i] = int32(i)
	}
	slices.SortFunc(ref, func(x, y int32) int {
		if c := at(x).compare(at(y)); c != 0 {
			return c
		}
		return int(x - y)
	})
	var hits []hit
	index := make([]int32, len(ref))
	for k, r := range ref {
		if k == 0 || at(ref[k-1]).compare(at(r)) != 0 {
			hits = append(hits, *at(r))
		}
		index[r] = int32(len(hits) - 1)
	}
	segs := make([]segment, len(all))
	for i, c := range all {
		segs[i] = segment{c.a, c.b, index[2*i], index[2*i+1]}
	}
	return segs, hits
}

// round puts an unrounded position on the lattice.
func round(p [3]float64) Point {
	return Point{int32(math.RoundToEven(p[0])), int32(math.RoundToEven(p[1])), int32(math.RoundToEven(p[2]))}
}
