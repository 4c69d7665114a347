package mend

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// islandArea is the share of the surface under which a part with one wide rim
// is taken for an island in a hole of another; our own figure, no source.
const islandArea = 0.1

// Bounds of the work on islands.
const (
	mostPairs   = 10_000_000 // corners of islands times corners of other rims
	mostIslands = 100
)

// islands joins the rim of a part that is mostly open, and lies close to the
// rim of a larger one, with that rim: what is missing there runs round the
// island. The two rims become one walk over a bridge between their nearest
// corners, there and back; bridge edges have no half-edge. An island that faces
// the other way than what lies round it is turned first.
func (w *work) islands(rims []rim, part []int32, area []float64) []rim {
	all := 0.0
	for _, a := range area {
		all += a
	}
	of := make(map[int32][]int) // rims of a part
	for i := range rims {
		p := part[rims[i].half[0]/3]
		of[p] = append(of[p], i)
	}
	if len(of) < 2 {
		return rims
	}
	isle := make([]bool, len(rims))
	for i := range rims {
		r := &rims[i]
		p := part[r.half[0]/3]
		isle[i] = len(of[p]) == 1 && area[p] < islandArea*all && w.vectorArea(r) > gaping*area[p]
	}
	// Every island is compared with every rim of the rest.
	few, many := 0, 0
	for i := range rims {
		if isle[i] {
			few += len(rims[i].v)
		} else {
			many += len(rims[i].v)
		}
	}
	if few == 0 || few*many > mostPairs {
		return rims
	}
	gone := make([]bool, len(rims))
	joined := make(map[int32]int32) // island: the part it joined
	turned, at := 0, vec.V3{}
	for i := range rims {
		if !isle[i] || len(rims[i].v) < 3 || len(joined) == mostIslands {
			continue
		}
		r := &rims[i]
		_, _, _, size := w.plane(r)
		best, host, a, b := math.Inf(1), -1, 0, 0
		for j := range rims {
			if isle[j] || gone[j] || len(rims[j].v) < 3 {
				continue
			}
			for k, v := range rims[j].v {
				for l, u := range r.v {
					if d := w.m.V[v].Dist(w.m.V[u]); d < best {
						best, host, a, b = d, j, k, l
					}
				}
			}
		}
		if host < 0 || best > size {
			continue
		}
		o := &rims[host]
		p, q := part[r.half[0]/3], part[o.half[0]/3]
		if w.facing(r, o) < 0 {
			for f := range w.m.F {
				if part[f] == p {
					t := &w.m.F[f]
					t[1], t[2] = t[2], t[1]
					if turned++; turned == 1 {
						at = centre(w.m, f)
					}
				}
			}
			w.reverse(r)
			b = len(r.v) - 1 - b
		}
		o.bridge(r, a, b)
		gone[i] = true
		area[q] += area[p]
		area[p] = 0
		joined[p] = q
	}
	for f, p := range part {
		if q, ok := joined[p]; ok {
			part[f] = q
		}
	}
	if turned > 0 {
		w.changed()
		w.did("turned triangles that disagreed about the outside", turned, at)
	}
	k := 0
	return slices.DeleteFunc(rims, func(rim) bool { k++; return gone[k-1] })
}

// rings joins flat rims that lie in one plane, the one within the other and
// walked the other way: what is missing is the ring between them, as under a
// bell. With a cover on each, the bell would be shut by a film.
// used holds the edges of the surface between corners of rims: no bridge is one.
func (w *work) rings(rims []rim, part []int32, area []float64, used map[[2]int32]bool) []rim {
	type flat struct {
		c, n vec.V3
		area float64
		size float64
		ok   bool
	}
	of := make([]flat, len(rims))
	count, corners := 0, 0
	for i := range rims {
		c, n, off, size := w.plane(&rims[i])
		if len(rims[i].v) >= 3 && off <= planar*size {
			of[i] = flat{c, n, w.vectorArea(&rims[i]), size, true}
			count++
			corners += len(rims[i].v)
		}
	}
	if count < 2 || count*(corners+len(part)) > 10*mostPairs {
		return rims
	}
	gone := make([]bool, len(rims))
	for i := range rims { // the inner one
		x := &of[i]
		if !x.ok {
			continue
		}
		host := -1
		for j := range rims {
			y := &of[j]
			if j == i || !y.ok || gone[j] || !(y.area > x.area) {
				continue
			}
			if y.n.Dot(x.n) > -0.99 || math.Abs(x.c.Sub(y.c).Dot(y.n)) > planar*y.size || !w.around(&rims[j], y.n, x.c) {
				continue
			}
			if host < 0 || y.area < of[host].area {
				host = j
			}
		}
		if host < 0 {
			continue
		}
		best, a, b := math.Inf(1), 0, 0
		for k, v := range rims[host].v {
			for l, u := range rims[i].v {
				if d := w.m.V[v].Dist(w.m.V[u]); d < best && !used[pair(v, u)] {
					best, a, b = d, k, l
				}
			}
		}
		if math.IsInf(best, 1) {
			continue
		}
		if p, q := part[rims[i].half[0]/3], part[rims[host].half[0]/3]; p != q {
			area[q] += area[p]
			area[p] = 0
			for f := range part {
				if part[f] == p {
					part[f] = q
				}
			}
		}
		rims[host].bridge(&rims[i], a, b)
		gone[i] = true
		of[i].ok = false
	}
	k := 0
	return slices.DeleteFunc(rims, func(rim) bool { k++; return gone[k-1] })
}

// around reports whether a rim goes round p, seen along n.
func (w *work) around(r *rim, n, p vec.V3) bool {
	f := vec.AlongZ(n)
	in := false
	for i, v := range r.v {
		a, b := f.ToDir(w.m.V[v].Sub(p)), f.ToDir(w.m.V[r.v[(i+1)%len(r.v)]].Sub(p))
		if (a.Y > 0) != (b.Y > 0) && a.X+(b.X-a.X)*a.Y/(a.Y-b.Y) > 0 {
			in = !in
		}
	}
	return in
}

// bridge goes from corner a of rim o to corner b of rim r, round r, and back.
func (o *rim) bridge(r *rim, a, b int) {
	o.v = append(spun(o.v, a), o.v[a])
	o.half = append(spun(o.half, a), -1)
	o.v = append(append(o.v, spun(r.v, b)...), r.v[b])
	o.half = append(append(o.half, spun(r.half, b)...), -1)
	for o.half[0] < 0 { // a walk begins at an open edge
		o.v, o.half = spun(o.v, 1), spun(o.half, 1)
	}
}

// spun returns a copy that starts at entry k.
func spun(s []int32, k int) []int32 {
	return append(slices.Clone(s[k:]), s[:k]...)
}

// reverse walks a rim the other way, after its triangles were turned: edge k of
// a turned triangle is edge 2-k.
func (w *work) reverse(r *rim) {
	n := len(r.v)
	v, half := make([]int32, n), make([]int32, n)
	for i := range n {
		v[i] = r.v[n-1-i]
		h := r.half[(2*n-2-i)%n] // of the edge between v[i] and v[i+1]
		half[i] = h - h%3 + 2 - h%3
	}
	r.v, r.half = v, half
}

// facing returns whether the triangles along two rims look the same way where
// the rims are close: above 0 where they do.
func (w *work) facing(r, o *rim) float64 {
	var n vec.V3
	c := w.middleOf(r)
	for _, h := range r.half {
		n = n.Add(w.m.Normal(int(h / 3)))
	}
	s := 0.0
	for _, h := range o.half {
		if h >= 0 {
			d := middle(w.m, h).Sub(c)
			s += n.Dot(w.m.Normal(int(h/3))) / (d.Dot(d) + 1e-12*w.size*w.size)
		}
	}
	return s
}

// vectorArea is the area that a rim goes round in its mean plane.
func (w *work) vectorArea(r *rim) float64 {
	c := w.middleOf(r)
	var n vec.V3
	for i, v := range r.v {
		n = n.Add(w.m.V[v].Sub(c).Cross(w.m.V[r.v[(i+1)%len(r.v)]].Sub(c)))
	}
	return n.Len() / 2
}
