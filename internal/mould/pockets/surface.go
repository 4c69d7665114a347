package pockets

import (
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// sweep grows the merge tree over the corners of a closed mesh. ok is false
// where the surface turns out not to enclose what its normals promise; the
// caller then takes columns. at is called when the tree holds every corner no
// lower than each of the levels, which descend; it may be nil.
func (b *Body) sweep(up vec.V3, out Outlets, levels []float64, at func(k int, t *tree, h []float64)) (t *tree, h []float64, ok bool) {
	n := len(b.m.V)
	h = make([]float64, n)
	for i, p := range b.m.V {
		h[i] = p.Dot(up)
	}
	seq := order(h, b.byPlace)
	rank := make([]int32, n)
	for i, v := range seq {
		rank[v] = int32(i)
	}
	tops, holes := b.summits(up, rank)
	link, ok := b.ceilings(up, h, rank, holes)
	if !ok {
		return nil, h, false
	}
	events := b.mouths(up, h, rank, out)
	t = newTree(n)
	e, k := 0, 0
	for _, v := range seq {
		for ; k < len(levels) && levels[k] > h[v]; k++ {
			at(k, t, h)
		}
		for ; e < len(events) && events[e].h > h[v]; e++ {
			t.vent(events[e].top, events[e].h, events[e].cut)
		}
		if b.start[v] == b.start[v+1] {
			continue // a corner that no triangle uses
		}
		if _, top := slices.BinarySearch(tops, v); top {
			t.birth(v, h[v])
			continue
		}
		if i, hole := slices.BinarySearch(holes, v); hole {
			t.touch(v, link[i], h[v])
			continue
		}
		for i := b.start[v]; i < b.start[v+1]; i++ {
			if w := b.next[i]; rank[w] < rank[v] {
				t.touch(v, w, h[v])
			}
		}
	}
	for ; e < len(events); e++ {
		t.vent(events[e].top, events[e].h, events[e].cut)
	}
	return t, h, true
}

// summits lists the corners without a higher neighbour, in order of index:
// tops, with metal below, and holes, with metal above. The sign of the
// angle-weighted normal along up tells them apart: the star of such a corner
// lies wholly at or below it, so the corner is the nearest point of the
// surface to the points just above (Baerentzen & Aanaes 2005, Signed distance
// computation using the angle weighted pseudonormal, IEEE TVCG 11).
func (b *Body) summits(up vec.V3, rank []int32) (tops, holes []int32) {
	n := len(b.m.V)
	summit := make([]bool, n)
	par.For(n, 16384, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			top := b.start[v] < b.start[v+1]
			for i := b.start[v]; top && i < b.start[v+1]; i++ {
				top = rank[b.next[i]] > rank[v]
			}
			summit[v] = top
		}
	})
	lean := make([]float64, n)
	for _, t := range b.m.F {
		for k := range 3 {
			if !summit[t[k]] {
				continue
			}
			p := b.m.V[t[k]]
			d, e := b.m.V[t[(k+1)%3]].Sub(p), b.m.V[t[(k+2)%3]].Sub(p)
			c := d.Cross(e)
			l := c.Len()
			if l == 0 {
				continue
			}
			lean[t[k]] += math.Atan2(l, d.Dot(e)) * c.Dot(up) / l
		}
	}
	for v := range int32(n) {
		switch {
		case !summit[v]:
		case lean[v] >= 0:
			tops = append(tops, v)
		default:
			holes = append(holes, v)
		}
	}
	return tops, holes
}

// ceilings finds, for every hole that opens inside metal, the first surface
// straight above its top and returns that triangle's highest corner. The rays
// are moved aside by an infinitely small amount, so that none meets an edge.
func (b *Body) ceilings(up vec.V3, h []float64, rank, holes []int32) (link []int32, ok bool) {
	k := len(holes)
	link = make([]int32, k)
	if k == 0 {
		return link, true
	}
	f := vec.AlongZ(up)
	n := len(h)
	x, y := make([]float64, n), make([]float64, n)
	for i, p := range b.m.V {
		x[i], y[i] = p.Dot(f.X), p.Dot(f.Y)
	}
	g := binned(holes, x, y)
	chunk := max(32768, (len(b.m.F)+7)/8)
	parts := (len(b.m.F) + chunk - 1) / chunk
	best := make([]float64, k*parts)
	hit := make([]int32, k*parts)
	par.For(len(b.m.F), chunk, func(lo, hi int) {
		best, hit := best[lo/chunk*k:][:k], hit[lo/chunk*k:][:k]
		for i := range best {
			best[i], hit[i] = math.Inf(1), -1
		}
		for i := lo; i < hi; i++ {
			t := b.m.F[i]
			g.over(x, y, t, func(q int32) {
				v := holes[q]
				if t[0] == v || t[1] == v || t[2] == v {
					return
				}
				top := max(h[t[0]], h[t[1]], h[t[2]])
				if top < h[v] {
					return
				}
				z, in := under(x, y, h, t, v)
				if in && z >= h[v] && (z < best[q] || z == best[q] && b.byFace(t, hit[q])) {
					best[q], hit[q] = z, int32(i)
				}
			})
		}
	})
	for q := range k {
		z, i := math.Inf(1), int32(-1)
		for p := range parts {
			if at := p*k + q; hit[at] >= 0 && (best[at] < z || best[at] == z && b.byFace(b.m.F[hit[at]], i)) {
				z, i = best[at], hit[at]
			}
		}
		if i < 0 {
			return nil, false
		}
		t := b.m.F[i]
		link[q] = t[0]
		for _, c := range t[1:] {
			if rank[c] < rank[link[q]] {
				link[q] = c
			}
		}
		if rank[link[q]] > rank[holes[q]] {
			return nil, false
		}
	}
	return link, true
}

// byFace orders triangles by the place of their corners' middle, so that the
// order of the triangles in the file does not matter.
func (b *Body) byFace(t [3]int32, other int32) bool {
	if other < 0 {
		return true
	}
	o := b.m.F[other]
	p := b.m.V[t[0]].Add(b.m.V[t[1]]).Add(b.m.V[t[2]])
	q := b.m.V[o[0]].Add(b.m.V[o[1]]).Add(b.m.V[o[2]])
	if p.X != q.X {
		return p.X < q.X
	}
	if p.Y != q.Y {
		return p.Y < q.Y
	}
	return p.Z < q.Z
}

// under reports whether the vertical line through corner v, moved aside by
// (d, d*d) with d towards zero, meets triangle t from below, and where, for
// triangles that face up.
func under(x, y, h []float64, t [3]int32, v int32) (z float64, ok bool) {
	px, py := x[v], y[v]
	var w [3]float64
	for k := range 3 {
		a, b := t[k], t[(k+1)%3]
		s := 1.0
		if a > b {
			a, b, s = b, a, -1
		}
		dx, dy := x[b]-x[a], y[b]-y[a]
		e := dx*(py-y[a]) - dy*(px-x[a])
		side := s * e
		if e == 0 {
			side = -s * dy
			if dy == 0 {
				side = s * dx
			}
		}
		if !(side > 0) {
			return 0, false
		}
		w[(k+2)%3] = s * e
	}
	sum := w[0] + w[1] + w[2]
	lo, hi := min(h[t[0]], h[t[1]], h[t[2]]), max(h[t[0]], h[t[1]], h[t[2]])
	if !(sum > 0) {
		return hi, true
	}
	z = (w[0]*h[t[0]] + w[1]*h[t[1]] + w[2]*h[t[2]]) / sum
	return min(max(z, lo), hi), true
}

// bins holds query points sorted into a plane grid.
type bins struct {
	x0, y0, h float64
	n         int
	start     []int32
	q         []int32
}

func binned(points []int32, x, y []float64) *bins {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, v := range points {
		x0, x1 = min(x0, x[v]), max(x1, x[v])
		y0, y1 = min(y0, y[v]), max(y1, y[v])
	}
	g := &bins{x0: x0, y0: y0, n: min(256, 2*int(math.Sqrt(float64(len(points))))+1)}
	g.h = max(x1-x0, y1-y0) / float64(g.n)
	if !(g.h > 0) {
		g.h, g.n = 1, 1
	}
	g.start = make([]int32, g.n*g.n+1)
	cell := make([]int32, len(points))
	for i, v := range points {
		cell[i] = int32(g.of(y[v]-y0)*g.n + g.of(x[v]-x0))
		g.start[cell[i]+1]++
	}
	for c := range g.n * g.n {
		g.start[c+1] += g.start[c]
	}
	g.q = make([]int32, len(points))
	fill := slices.Clone(g.start)
	for i := range points {
		g.q[fill[cell[i]]] = int32(i)
		fill[cell[i]]++
	}
	return g
}

func (g *bins) of(d float64) int { return min(max(int(d/g.h), 0), g.n-1) }

// over calls f for every query in the cells that the triangle's box meets.
func (g *bins) over(x, y []float64, t [3]int32, f func(q int32)) {
	xl, xh := min(x[t[0]], x[t[1]], x[t[2]])-g.x0, max(x[t[0]], x[t[1]], x[t[2]])-g.x0
	yl, yh := min(y[t[0]], y[t[1]], y[t[2]])-g.y0, max(y[t[0]], y[t[1]], y[t[2]])-g.y0
	side := g.h * float64(g.n) * (1 + 1e-9)
	if xh < -1e-9*side || yh < -1e-9*side || xl > side || yl > side {
		return
	}
	il, ih := g.of(xl), g.of(xh)
	for j := g.of(yl); j <= g.of(yh); j++ {
		for _, q := range g.q[g.start[j*g.n+il]:g.start[j*g.n+ih+1]] {
			f(q)
		}
	}
}

// integral returns the surface integrals for solve: with the part of the
// surface above height c, V = integral of (z-c) n_z dA and A = integral of
// n_z dA (divergence theorem; the cut itself adds nothing to V).
func (b *Body) integral(up vec.V3, h []float64, t *tree, eps float64) integral {
	top := make([]int32, len(b.m.F)) // record of each triangle's highest corner
	for i, f := range b.m.F {
		// The corner met first was added to the lowest record.
		a, c, d := t.rec[f[0]], t.rec[f[1]], t.rec[f[2]]
		hi, r := h[f[0]], a
		if h[f[1]] > hi || h[f[1]] == hi && c < r {
			hi, r = h[f[1]], c
		}
		if h[f[2]] > hi || h[f[2]] == hi && d < r {
			r = d
		}
		top[i] = r
	}
	return func(slot []int32, cut []float64) (volume, area []float64) {
		volume, area = make([]float64, len(cut)), make([]float64, len(cut))
		for i, f := range b.m.F {
			if top[i] < 0 {
				continue
			}
			s := slot[top[i]]
			if s < 0 {
				continue
			}
			if max(h[f[0]], h[f[1]], h[f[2]]) <= cut[s]+eps {
				continue // a shelf at the saddle
			}
			a, c, d := b.m.V[f[0]], b.m.V[f[1]], b.m.V[f[2]]
			nz := c.Sub(a).Cross(d.Sub(a)).Dot(up) / 2
			v, w := above(h[f[0]]-cut[s], h[f[1]]-cut[s], h[f[2]]-cut[s])
			volume[s] += nz * v
			area[s] += nz * w
		}
		return volume, area
	}
}

// above returns the means over a triangle of max(z, 0) and of z > 0 for the
// corner heights p, q, r.
func above(p, q, r float64) (height, share float64) {
	if p < q {
		p, q = q, p
	}
	if q < r {
		q, r = r, q
	}
	if p < q {
		p, q = q, p
	}
	switch {
	case r >= 0:
		return (p + q + r) / 3, 1
	case p <= 0:
		return 0, 0
	case q <= 0:
		f := p * p / ((p - q) * (p - r))
		return f * p / 3, f
	}
	g := r * r / ((p - r) * (q - r))
	return (p+q+r)/3 - g*r/3, 1 - g
}
