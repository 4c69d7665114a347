// Package mesh holds indexed triangle meshes and what can be said of them
// without a search tree: volume, area, centroid, edges, shells, genus.
// A Mesh is never reordered by the functions here.
package mesh

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// Mesh is an indexed triangle mesh. Triangles turn counter-clockwise seen from
// outside. Every index of F lies in [0, len(V)).
type Mesh struct {
	V []vec.V3
	F [][3]int32
}

// Tri returns the three corners of triangle i.
func (m *Mesh) Tri(i int) (a, b, c vec.V3) {
	t := m.F[i]
	return m.V[t[0]], m.V[t[1]], m.V[t[2]]
}

// Box returns the box of the corners that triangles use; Empty if there is none.
func (m *Mesh) Box() vec.Box {
	const chunk = 32768
	if len(m.F) <= chunk {
		return m.boxOf(m.F)
	}
	if b, ok := m.boxOfCorners(); ok {
		return b
	}
	part := make([]vec.Box, (len(m.F)+chunk-1)/chunk)
	par.For(len(m.F), chunk, func(lo, hi int) { part[lo/chunk] = m.boxOf(m.F[lo:hi]) })
	b := vec.Empty()
	for _, p := range part {
		b = b.Join(p)
	}
	return b
}

// boxOfCorners takes all corners; false where none of the corners that reach one
// of the sides stands in a triangle.
func (m *Mesh) boxOfCorners() (vec.Box, bool) {
	if len(m.V) == 0 {
		return vec.Empty(), false
	}
	var at [6]int32 // lowest and highest along x, y, z
	b := vec.Empty()
	lo, hi := b.Min, b.Max
	for i := range m.V {
		p := &m.V[i]
		if p.X < lo.X {
			lo.X, at[0] = p.X, int32(i)
		}
		if p.X > hi.X {
			hi.X, at[1] = p.X, int32(i)
		}
		if p.Y < lo.Y {
			lo.Y, at[2] = p.Y, int32(i)
		}
		if p.Y > hi.Y {
			hi.Y, at[3] = p.Y, int32(i)
		}
		if p.Z < lo.Z {
			lo.Z, at[4] = p.Z, int32(i)
		}
		if p.Z > hi.Z {
			hi.Z, at[5] = p.Z, int32(i)
		}
	}
	used := make([]bool, len(m.V)) // of the six
	for _, v := range at {
		used[v] = true
	}
	left := map[int32]bool{at[0]: true, at[1]: true, at[2]: true, at[3]: true, at[4]: true, at[5]: true}
	for i := range m.F {
		for _, v := range m.F[i] {
			if used[v] {
				used[v] = false
				if delete(left, v); len(left) == 0 {
					return vec.Box{Min: lo, Max: hi}, true
				}
			}
		}
	}
	return vec.Box{}, false
}

// boxOf compares instead of calling math.Min, which minds NaN and is slower.
func (m *Mesh) boxOf(f [][3]int32) vec.Box {
	b := vec.Empty()
	lo, hi := b.Min, b.Max
	for i := range f {
		for _, k := range f[i] {
			p := &m.V[k]
			if p.X < lo.X {
				lo.X = p.X
			}
			if p.X > hi.X {
				hi.X = p.X
			}
			if p.Y < lo.Y {
				lo.Y = p.Y
			}
			if p.Y > hi.Y {
				hi.Y = p.Y
			}
			if p.Z < lo.Z {
				lo.Z = p.Z
			}
			if p.Z > hi.Z {
				hi.Z = p.Z
			}
		}
	}
	return vec.Box{Min: lo, Max: hi}
}

// Volume returns the signed volume, the sum of (a-o).((b-o)x(c-o))/6 over the
// triangles with o the box centre, summed with Neumaier's compensation.
func (m *Mesh) Volume() float64 {
	if len(m.F) == 0 {
		return 0
	}
	o := m.Box().Centre()
	var s, k float64
	for i := range m.F {
		a, b, c := m.Tri(i)
		x := a.Sub(o).Dot(b.Sub(o).Cross(c.Sub(o)))
		t := s + x
		if math.Abs(s) >= math.Abs(x) {
			k += (s - t) + x
		} else {
			k += (x - t) + s
		}
		s = t
	}
	return (s + k) / 6
}

// Area returns the sum of the triangle areas.
func (m *Mesh) Area() float64 {
	s := 0.0
	for i := range m.F {
		a, b, c := m.Tri(i)
		s += b.Sub(a).Cross(c.Sub(a)).Len()
	}
	return s / 2
}

// Normal returns the unit normal of triangle i, zero where it has no area.
func (m *Mesh) Normal(i int) vec.V3 {
	a, b, c := m.Tri(i)
	return b.Sub(a).Cross(c.Sub(a)).Unit()
}

// Into returns a copy with all corners taken into frame f.
func (m *Mesh) Into(f vec.Frame) *Mesh {
	r := &Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	par.For(len(m.V), 16384, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			r.V[i] = f.To(m.V[i])
		}
	})
	return r
}

// OutOf returns a copy with all corners taken from frame f to its outer frame.
func (m *Mesh) OutOf(f vec.Frame) *Mesh {
	r := &Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	par.For(len(m.V), 16384, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			r.V[i] = f.From(m.V[i])
		}
	})
	return r
}

// Append joins o's triangles to m as separate parts.
func (m *Mesh) Append(o *Mesh) {
	n := int32(len(m.V))
	m.V = append(m.V, o.V...)
	for _, t := range o.F {
		m.F = append(m.F, [3]int32{t[0] + n, t[1] + n, t[2] + n})
	}
}

// Compact leaves out the corners that no triangle uses, in order, in place.
func (m *Mesh) Compact() {
	place := make([]int32, len(m.V))
	for _, t := range m.F {
		place[t[0]], place[t[1]], place[t[2]] = 1, 1, 1
	}
	n := int32(0)
	for i, u := range place {
		if u > 0 {
			m.V[n] = m.V[i]
			place[i] = n
			n++
		}
	}
	m.V = m.V[:n:n]
	for i, t := range m.F {
		m.F[i] = [3]int32{place[t[0]], place[t[1]], place[t[2]]}
	}
}
