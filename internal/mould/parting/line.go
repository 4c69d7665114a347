package parting

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Lines returns the closed loops in which the surface cuts the mesh, which
// stands in the frame of the surface. Every point lies on an edge of the mesh
// or, where triangles are longer than two cells, on a line that divides one;
// so it lies on the mesh to round-off. The half above the surface is on the
// left of a loop seen from outside.
func (s *Surface) Lines(m *mesh.Mesh) [][]vec.V3 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, z := range s.Z {
		lo, hi = min(lo, z), max(hi, z)
	}
	m = divided(m, 2*s.H, func(a, b, c vec.V3) bool {
		return max(a.Z, b.Z, c.Z) >= lo && min(a.Z, b.Z, c.Z) <= hi
	})
	above := make([]bool, len(m.V))
	par.For(len(m.V), 8192, func(from, to int) {
		for i := from; i < to; i++ {
			p := m.V[i]
			above[i] = p.Z >= s.At(p.X, p.Y)
		}
	})
	m = some(m, func(t [3]int32) bool { return above[t[0]] != above[t[1]] || above[t[1]] != above[t[2]] })
	opp := mesh.Opposite(m)
	// A loop enters a triangle over the half-edge that goes from below to
	// above and leaves it over the one that comes back.
	rises := func(h int32) bool { return !above[m.Tail(h)] && above[m.Head(h)] }
	falls := func(h int32) bool { return above[m.Tail(h)] && !above[m.Head(h)] }
	used := make([]bool, len(m.F))
	var r [][]vec.V3
	for f := range m.F {
		if used[f] || !mesh.Proper(m.F[f]) {
			continue
		}
		var loop []vec.V3
		for t := int32(f); t >= 0 && !used[t]; {
			out := int32(-1)
			for h := 3 * t; h < 3*t+3; h++ {
				if falls(h) {
					out = h
				}
			}
			if out < 0 {
				break
			}
			used[t] = true
			p := s.cross(m.V[m.Tail(out)], m.V[m.Head(out)])
			if len(loop) == 0 || loop[len(loop)-1] != p {
				loop = append(loop, p)
			}
			o := opp[out]
			if o < 0 || !rises(o) {
				break
			}
			t = o / 3
		}
		for len(loop) > 1 && loop[0] == loop[len(loop)-1] {
			loop = loop[:len(loop)-1]
		}
		if len(loop) > 2 {
			r = append(r, loop)
		}
	}
	return r
}

// some returns the triangles of m that are wanted, with the corners of m.
func some(m *mesh.Mesh, wanted func(t [3]int32) bool) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	for _, t := range m.F {
		if wanted(t) {
			r.F = append(r.F, t)
		}
	}
	return r
}

// cross returns the point between a, above the surface, and b, below it, where
// the segment meets it, by bisection.
func (s *Surface) cross(a, b vec.V3) vec.V3 {
	if b.X < a.X || b.X == a.X && (b.Y < a.Y || b.Y == a.Y && b.Z < a.Z) { // the same for both triangles
		return s.between(b, a)
	}
	return s.between(a, b)
}

func (s *Surface) between(a, b vec.V3) vec.V3 {
	f := func(t float64) float64 {
		p := a.Lerp(b, t)
		return p.Z - s.At(p.X, p.Y)
	}
	l, h := 0.0, 1.0
	fl, fh := f(l), f(h)
	for range 60 {
		t := (l + h) / 2
		if d := fl - fh; d != 0 && h-l < 0.25 {
			t = l + (h-l)*min(max(fl/d, 0.02), 0.98)
		}
		ft := f(t)
		if ft >= 0 == (fl >= 0) {
			l, fl = t, ft
		} else {
			h, fh = t, ft
		}
		if h-l < 1e-12 || ft == 0 {
			break
		}
	}
	if math.Abs(fl) < math.Abs(fh) {
		return a.Lerp(b, l)
	}
	return a.Lerp(b, h)
}

// divided returns m with every edge longer than e halved, again and again, as
// far as a triangle beside it is wanted. Both triangles of an edge are cut at
// the same point, so a closed mesh stays closed.
func divided(m *mesh.Mesh, e float64, wanted func(a, b, c vec.V3) bool) *mesh.Mesh {
	const most = 600000 // triangles
	for range 12 {
		long := func(t [3]int32) bool {
			a, b, c := m.V[t[0]], m.V[t[1]], m.V[t[2]]
			return a.Dist(b) > e || b.Dist(c) > e || c.Dist(a) > e
		}
		var list []int32 // triangles with an edge longer than e
		asked := false
		for t, f := range m.F {
			if long(f) {
				list = append(list, int32(t))
				asked = asked || wanted(m.Tri(t))
			}
		}
		if !asked {
			return m
		}
		o := &mesh.Mesh{V: m.V, F: make([][3]int32, len(list))}
		for i, t := range list {
			o.F[i] = m.F[t]
		}
		opp := mesh.Opposite(o)
		mid := make([]int32, len(opp))
		for h := range mid {
			mid[h] = -1
		}
		v := m.V
		cut := 0
		for t := range o.F {
			if !wanted(o.Tri(t)) {
				continue
			}
			for h := int32(3 * t); h < int32(3*t+3); h++ {
				p, q := o.V[o.Tail(h)], o.V[o.Head(h)]
				if mid[h] >= 0 || p.Dist(q) <= e || opp[h] < 0 {
					continue
				}
				if cut == 0 {
					v = append(make([]vec.V3, 0, 2*len(v)), v...) // never into the caller's corners
				}
				mid[h] = int32(len(v))
				mid[opp[h]] = mid[h]
				v = append(v, p.Lerp(q, 0.5))
				cut++
			}
		}
		if cut == 0 || len(m.F)+2*cut > most {
			return m
		}
		r := &mesh.Mesh{V: v, F: make([][3]int32, 0, len(m.F)+2*cut)}
		next := 0 // of the list
		for t, f := range m.F {
			if next == len(list) || list[next] != int32(t) {
				r.F = append(r.F, f)
				continue
			}
			r.F = append(r.F, pieces(f, [3]int32{mid[3*next], mid[3*next+1], mid[3*next+2]})...)
			next++
		}
		m = r
	}
	return m
}

// pieces divides triangle f at the corners m on its edges (-1: none).
func pieces(f, m [3]int32) [][3]int32 {
	n := 0
	for _, x := range m {
		if x >= 0 {
			n++
		}
	}
	switch n {
	case 0:
		return [][3]int32{f}
	case 3:
		return [][3]int32{{f[0], m[0], m[2]}, {m[0], f[1], m[1]}, {m[2], m[1], f[2]}, m}
	}
	k := 0
	if n == 1 {
		for m[k] < 0 {
			k++
		}
		a, b, c, x := f[k], f[(k+1)%3], f[(k+2)%3], m[k]
		return [][3]int32{{a, x, c}, {x, b, c}}
	}
	for m[k] >= 0 {
		k++
	}
	a, b, c, x, y := f[k], f[(k+1)%3], f[(k+2)%3], m[(k+1)%3], m[(k+2)%3]
	return [][3]int32{{a, b, x}, {a, x, y}, {y, x, c}}
}

// withoutCrumbs drops loops under 2 % of the longest: where the surface grazes
// the master for less than that, the crumb of rubber goes to the other half.
func withoutCrumbs(loops [][]vec.V3) [][]vec.V3 {
	length := func(l []vec.V3) float64 {
		s := 0.0
		for i, p := range l {
			s += p.Dist(l[(i+1)%len(l)])
		}
		return s
	}
	longest := 0.0
	for _, l := range loops {
		longest = max(longest, length(l))
	}
	kept := make([][]vec.V3, 0, len(loops))
	for _, l := range loops {
		if length(l) >= 0.02*longest {
			kept = append(kept, l)
		}
	}
	return kept
}
