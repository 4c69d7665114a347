// Package thin makes a coarse mesh of a fine one and tells how far the two lie
// apart.
//
// Main functions: Reduce, which joins the ends of edges where the squared
// distances to the planes round them grow least (Garland & Heckbert 1997,
// Surface simplification using quadric error metrics), and Apart, a proven
// bound of the distance between two surfaces. Lengths are in the unit of the
// mesh; the mesh given is never changed. Same mesh, same bytes on any number of
// cores.
package thin

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Of a round; our own figures, no source.
const (
	share  = 0.4 // of the edges, the cheapest, that may go in one round
	turn   = 0.3 // least cosine between a triangle before and after
	rounds = 60
)

// Reduce returns a mesh of about target triangles. Fewer edges may go than asked:
// no fold, no needle, no edge of more than two triangles and no hole comes into
// being, open rims stay where they are, and no corner goes further than limit
// from the planes of the triangles it stands for (the root of the mean square,
// by area; Apart tells what came of it). The edges that cost least go
// first, in rounds: in one round no two edges share a triangle or a neighbour,
// so that it can be done in any order.
func Reduce(m *mesh.Mesh, target int, limit float64) *mesh.Mesh {
	r := &mesh.Mesh{V: slices.Clone(m.V), F: slices.Clone(m.F)}
	if len(r.F) <= target {
		return r
	}
	q := planes(r)
	for range rounds {
		n := len(r.F)
		round(r, q, n-target, limit)
		if len(r.F) <= target || len(r.F) == n {
			break
		}
	}
	return packed(r)
}

// quadric is the symmetric form x^T A x + 2 b.x + c of the sum of squared
// distances to planes, weighted by area.
type quadric struct {
	xx, xy, xz, yy, yz, zz float64
	b                      vec.V3
	c                      float64
}

func (q *quadric) add(o *quadric) {
	q.xx += o.xx
	q.xy += o.xy
	q.xz += o.xz
	q.yy += o.yy
	q.yz += o.yz
	q.zz += o.zz
	q.b = q.b.Add(o.b)
	q.c += o.c
}

func plane(n vec.V3, d, weight float64) quadric {
	return quadric{
		n.X * n.X * weight, n.X * n.Y * weight, n.X * n.Z * weight, n.Y * n.Y * weight, n.Y * n.Z * weight, n.Z * n.Z * weight,
		n.Mul(d * weight), d * d * weight,
	}
}

func (q *quadric) times(x vec.V3) vec.V3 {
	return vec.V3{X: q.xx*x.X + q.xy*x.Y + q.xz*x.Z, Y: q.xy*x.X + q.yy*x.Y + q.yz*x.Z, Z: q.xz*x.X + q.yz*x.Y + q.zz*x.Z}
}

func (q *quadric) at(x vec.V3) float64 { return x.Dot(q.times(x)) + 2*q.b.Dot(x) + q.c }

// best returns the point of least cost: the middle of a and b, moved to the
// minimum in two steps that a small pull to where they start keeps bounded where
// planes agree. The pull is relative to the form's own trace.
func (q *quadric) best(a, b vec.V3) vec.V3 {
	m := a.Lerp(b, 0.5)
	k := 1e-6 * (q.xx + q.yy + q.zz)
	if !(k > 0) {
		return m
	}
	xx, yy, zz := q.xx+k, q.yy+k, q.zz+k
	c0 := yy*zz - q.yz*q.yz
	c1 := q.xz*q.yz - q.xy*zz
	c2 := q.xy*q.yz - q.xz*yy
	c3 := q.xy*q.xz - xx*q.yz
	det := xx*c0 + q.xy*c1 + q.xz*c2
	if !(det > 0) {
		return m
	}
	x := m
	for range 2 {
		g := q.times(x).Add(q.b)
		x = x.Sub(vec.V3{
			X: c0*g.X + c1*g.Y + c2*g.Z,
			Y: c1*g.X + (xx*zz-q.xz*q.xz)*g.Y + c3*g.Z,
			Z: c2*g.X + c3*g.Y + (xx*yy-q.xy*q.xy)*g.Z,
		}.Mul(1 / det))
	}
	if x.Dist(m) > a.Dist(b) {
		return m
	}
	return x
}

// planes returns each corner's quadric: the planes of its triangles, a third of
// each one's area.
func planes(m *mesh.Mesh) []quadric {
	q := make([]quadric, len(m.V))
	for i, f := range m.F {
		a, b, c := m.Tri(i)
		n := b.Sub(a).Cross(c.Sub(a))
		l := n.Len()
		if !(l > 0) {
			continue
		}
		n = n.Mul(1 / l)
		p := plane(n, -n.Dot(a), l/6)
		for _, v := range f {
			q[v].add(&p)
		}
	}
	return q
}

// fans lists the triangles of every corner.
type fans struct{ from, tri []int32 }

func fansOf(m *mesh.Mesh) fans {
	f := fans{from: make([]int32, len(m.V)+1), tri: make([]int32, 3*len(m.F))}
	for _, t := range m.F {
		for _, v := range t {
			f.from[v+1]++
		}
	}
	for v := range m.V {
		f.from[v+1] += f.from[v]
	}
	next := slices.Clone(f.from[:len(m.V)])
	for i, t := range m.F {
		for _, v := range t {
			f.tri[next[v]] = int32(i)
			next[v]++
		}
	}
	return f
}

func (f fans) of(v int32) []int32 { return f.tri[f.from[v]:f.from[v+1]] }

// round takes up to drop triangles away.
func round(m *mesh.Mesh, q []quadric, drop int, limit float64) {
	opp := mesh.Opposite(m)
	fan := fansOf(m)
	fixed := make([]bool, len(m.V)) // corners of open or doubled edges
	for h, o := range opp {
		if o < 0 {
			fixed[m.Tail(int32(h))], fixed[m.Head(int32(h))] = true, true
		}
	}
	type edge struct {
		cost float64
		h    int32
	}
	var list []edge
	for h, o := range opp {
		if int(o) > h && !fixed[m.Tail(int32(h))] && !fixed[m.Head(int32(h))] {
			list = append(list, edge{0, int32(h)})
		}
	}
	if len(list) == 0 {
		return
	}
	par.For(len(list), 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			a, b := m.Tail(list[i].h), m.Head(list[i].h)
			s := q[a]
			s.add(&q[b])
			x := s.best(m.V[a], m.V[b])
			// Length counts a little, so that flat places lose their short edges first.
			list[i].cost = math.Max(s.at(x), 0) + 1e-9*(s.xx+s.yy+s.zz)*m.V[a].Sub(m.V[b]).Dot(m.V[a].Sub(m.V[b]))
		}
	})
	slices.SortFunc(list, func(a, b edge) int { return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.h, b.h)) })
	locked := make([]bool, len(m.V))
	dead := make([]bool, len(m.F))
	mark := make([]int32, len(m.V)) // scratch of the link test
	stamp := int32(0)
	gone := 0
	for _, e := range list[:min(max(int(share*float64(len(list))), 1), max(drop, 4))] {
		if gone >= drop {
			break
		}
		a, b := m.Tail(e.h), m.Head(e.h)
		if locked[a] || locked[b] {
			continue
		}
		// Link condition: the only common neighbours are the two opposite corners.
		stamp++
		for _, t := range fan.of(a) {
			for _, v := range m.F[t] {
				mark[v] = stamp
			}
		}
		common := 0
		stamp++
		for _, t := range fan.of(b) {
			for _, v := range m.F[t] {
				if v != a && v != b && mark[v] == stamp-1 {
					common++
					mark[v] = stamp
				}
			}
		}
		if common != 2 {
			continue
		}
		s := q[a]
		s.add(&q[b])
		x := s.best(m.V[a], m.V[b])
		if s.at(x) > limit*limit*(s.xx+s.yy+s.zz) {
			continue
		}
		if !stays(m, fan, a, b, x) || !stays(m, fan, b, a, x) {
			continue
		}
		q[a] = s
		m.V[a] = x
		for _, t := range fan.of(b) {
			f := &m.F[t]
			if f[0] == a || f[1] == a || f[2] == a {
				dead[t] = true
				gone++
				continue
			}
			for k := range f {
				if f[k] == b {
					f[k] = a
				}
			}
		}
		for _, t := range fan.of(a) {
			for _, v := range m.F[t] {
				locked[v] = true
			}
		}
		for _, t := range fan.of(b) {
			for _, v := range m.F[t] {
				locked[v] = true
			}
		}
		locked[b] = true
	}
	k := 0
	for i, f := range m.F {
		if !dead[i] {
			m.F[k] = f
			k++
		}
	}
	m.F = m.F[:k]
}

// stays reports whether the triangles of corner a that do not hold b keep their
// sense, and do not become needles, when a moves to x.
func stays(m *mesh.Mesh, fan fans, a, b int32, x vec.V3) bool {
	for _, t := range fan.of(a) {
		f := m.F[t]
		if f[0] == b || f[1] == b || f[2] == b {
			continue
		}
		var p [3]vec.V3
		for k, v := range f {
			p[k] = m.V[v]
		}
		was := p[1].Sub(p[0]).Cross(p[2].Sub(p[0]))
		for k, v := range f {
			if v == a {
				p[k] = x
			}
		}
		u, v, w := p[1].Sub(p[0]), p[2].Sub(p[0]), p[2].Sub(p[1])
		is := u.Cross(v)
		l := is.Len()
		if is.Dot(was) < turn*l*was.Len() || l < 1e-3*max(u.Dot(u), v.Dot(v), w.Dot(w)) {
			return false
		}
	}
	return true
}

// packed leaves out the corners that no triangle uses.
func packed(m *mesh.Mesh) *mesh.Mesh {
	to := make([]int32, len(m.V))
	for _, f := range m.F {
		to[f[0]], to[f[1]], to[f[2]] = 1, 1, 1
	}
	r := &mesh.Mesh{F: slices.Clone(m.F)}
	for v, u := range to {
		if u > 0 {
			to[v] = int32(len(r.V))
			r.V = append(r.V, m.V[v])
		}
	}
	for i, f := range r.F {
		r.F[i] = [3]int32{to[f[0]], to[f[1]], to[f[2]]}
	}
	return r
}
