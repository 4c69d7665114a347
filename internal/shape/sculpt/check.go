package sculpt

import (
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Check reports the first thing that keeps m from being a master without
// faults: an edge that has not exactly two triangles of opposite sense, a
// corner where two sheets touch, a volume that is not positive, triangles
// that cross. Nil when there is none.
func Check(m *mesh.Mesh) error {
	if err := closed(m); err != nil {
		return err
	}
	if v := m.Volume(); !(v > 0) {
		return fault.New(fault.Internal, "mesh", "turn all triangles round", "volume %.6g is not positive", v)
	}
	if x := Crossings(m); len(x) > 0 {
		a, b, c := m.Tri(int(x[0][0]))
		o := a.Add(b).Add(c).Mul(1. / 3)
		return fault.New(fault.Internal, "mesh", "use smaller cells", "%d pairs of triangles cross, the first at (%.3f, %.3f, %.3f)", len(x), o.X, o.Y, o.Z)
	}
	return nil
}

// closed checks edges and corners.
func closed(m *mesh.Mesh) error {
	e := make([]uint64, 0, 3*len(m.F))
	for _, t := range m.F {
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			s := uint64(0)
			if a > b {
				a, b, s = b, a, 1
			}
			if a == b {
				return fault.New(fault.Internal, "mesh", "use smaller cells", "a triangle uses corner %d twice", a)
			}
			e = append(e, uint64(a)<<33|uint64(b)<<1|s)
		}
	}
	slices.Sort(e)
	for i := 0; i < len(e); i += 2 {
		if i+1 >= len(e) || e[i]^1 != e[i+1] || (i+2 < len(e) && e[i+2]>>1 == e[i]>>1) {
			p := m.V[e[i]>>33]
			return fault.New(fault.Internal, "mesh", "use smaller cells", "the edge at (%.3f, %.3f, %.3f) has not two triangles of opposite sense", p.X, p.Y, p.Z)
		}
	}
	return pinched(m)
}

// pinched finds a corner whose triangles form more than one fan.
func pinched(m *mesh.Mesh) error {
	next := make([]int32, len(m.V)+1)
	for _, t := range m.F {
		for _, v := range t {
			next[v+1]++
		}
	}
	for i := range m.V {
		next[i+1] += next[i]
	}
	fan := make([][2]int32, 3*len(m.F))
	at := slices.Clone(next)
	for _, t := range m.F {
		for k, v := range t {
			fan[at[v]] = [2]int32{t[(k+1)%3], t[(k+2)%3]}
			at[v]++
		}
	}
	for v := range m.V {
		f := fan[next[v]:next[v+1]]
		if len(f) == 0 {
			continue
		}
		seen, to := 1, f[0][1]
		for to != f[0][0] && seen <= len(f) {
			k := slices.IndexFunc(f, func(x [2]int32) bool { return x[0] == to })
			if k < 0 {
				break
			}
			to = f[k][1]
			seen++
		}
		if seen != len(f) {
			p := m.V[v]
			return fault.New(fault.Internal, "mesh", "use smaller cells", "two sheets touch in the corner at (%.3f, %.3f, %.3f)", p.X, p.Y, p.Z)
		}
	}
	return nil
}

// Crossings returns the pairs of triangles that cross, in order. Touching
// without crossing (to about 1e-12 of the size) is not reported. Triangles are
// compared within the cells of a grid of about two mean edges.
func Crossings(m *mesh.Mesh) [][2]int32 {
	if len(m.F) == 0 {
		return nil
	}
	b := m.Box()
	s := b.Size()
	edge := 2 * math.Sqrt(m.Area()/float64(len(m.F)))
	d := max(edge, b.Longest()/160, 1e-300)
	nx, ny, nz := int(s.X/d)+1, int(s.Y/d)+1, int(s.Z/d)+1
	span := func(t int) (lo, hi [3]int) {
		a, p, c := m.Tri(t)
		l, h := a.Min(p).Min(c).Sub(b.Min).Mul(1/d), a.Max(p).Max(c).Sub(b.Min).Mul(1/d)
		return [3]int{int(l.X), int(l.Y), int(l.Z)}, [3]int{min(int(h.X), nx-1), min(int(h.Y), ny-1), min(int(h.Z), nz-1)}
	}
	start := make([]int32, nx*ny*nz+1)
	each := func(f func(q int, t int32)) {
		for t := range m.F {
			lo, hi := span(t)
			for k := lo[2]; k <= hi[2]; k++ {
				for j := lo[1]; j <= hi[1]; j++ {
					for i := lo[0]; i <= hi[0]; i++ {
						f((k*ny+j)*nx+i, int32(t))
					}
				}
			}
		}
	}
	each(func(q int, _ int32) { start[q+1]++ })
	for q := range nx * ny * nz {
		start[q+1] += start[q]
	}
	list := make([]int32, start[nx*ny*nz])
	at := slices.Clone(start)
	each(func(q int, t int32) { list[at[q]] = t; at[q]++ })
	eps := 1e-12 * math.Pow(b.Longest(), 3)
	chunk := 4096
	found := make([][][2]int32, (nx*ny*nz+chunk-1)/chunk)
	par.For(nx*ny*nz, chunk, func(q0, q1 int) {
		var out [][2]int32
		for q := q0; q < q1; q++ {
			l := list[start[q]:start[q+1]]
			for i, t := range l {
				a0, a1, a2 := m.Tri(int(t))
				al, ah := a0.Min(a1).Min(a2), a0.Max(a1).Max(a2)
				for _, u := range l[i+1:] {
					b0, b1, b2 := m.Tri(int(u))
					bl, bh := b0.Min(b1).Min(b2), b0.Max(b1).Max(b2)
					if al.X > bh.X || bl.X > ah.X || al.Y > bh.Y || bl.Y > ah.Y || al.Z > bh.Z || bl.Z > ah.Z {
						continue
					}
					if crossing(m, t, u, eps) {
						out = append(out, [2]int32{t, u})
					}
				}
			}
		}
		found[q0/chunk] = out
	})
	var out [][2]int32
	for _, f := range found {
		out = append(out, f...)
	}
	slices.SortFunc(out, func(x, y [2]int32) int {
		if x[0] != y[0] {
			return int(x[0]) - int(y[0])
		}
		return int(x[1]) - int(y[1])
	})
	return slices.Compact(out)
}

// crossing tells whether triangles t and u cross apart from shared corners.
func crossing(m *mesh.Mesh, t, u int32, eps float64) bool {
	a, b := m.F[t], m.F[u]
	shared := 0
	for _, v := range a {
		if v == b[0] || v == b[1] || v == b[2] {
			shared++
		}
	}
	if shared >= 2 {
		return shared == 2 && folded(m, a, b)
	}
	for k := range 3 {
		if pierces(m, a[k], a[(k+1)%3], b, eps) || pierces(m, b[k], b[(k+1)%3], a, eps) {
			return true
		}
	}
	return false
}

// folded tells whether two triangles with a common edge lie on each other.
func folded(m *mesh.Mesh, a, b [3]int32) bool {
	n := func(t [3]int32) vec.V3 {
		return m.V[t[1]].Sub(m.V[t[0]]).Cross(m.V[t[2]].Sub(m.V[t[0]])).Unit()
	}
	return n(a).Dot(n(b)) < -1+1e-13
}

func six(a, b, c, d vec.V3) float64 { return b.Sub(a).Cross(c.Sub(a)).Dot(d.Sub(a)) }

// pierces tells whether the edge p-q passes through the inside of triangle t.
func pierces(m *mesh.Mesh, p, q int32, t [3]int32, eps float64) bool {
	for _, v := range t {
		if v == p || v == q {
			return false
		}
	}
	a, b, c, x, y := m.V[t[0]], m.V[t[1]], m.V[t[2]], m.V[p], m.V[q]
	d0, d1 := six(a, b, c, x), six(a, b, c, y)
	if (d0 > eps) == (d1 > eps) || (d0 < -eps) == (d1 < -eps) {
		return false
	}
	s0, s1, s2 := six(x, y, a, b), six(x, y, b, c), six(x, y, c, a)
	return (s0 > eps && s1 > eps && s2 > eps) || (s0 < -eps && s1 < -eps && s2 < -eps)
}
