package voxel

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// box is a box with n x n quads on each side.
func box(lo, hi vec.V3, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := map[[3]int]int32{}
	v := func(i [3]int) int32 {
		k, ok := at[i]
		if !ok {
			k = int32(len(m.V))
			at[i] = k
			s := hi.Sub(lo)
			f := func(i int) float64 { return float64(i) / float64(n) }
			m.V = append(m.V, vec.V3{X: lo.X + s.X*f(i[0]), Y: lo.Y + s.Y*f(i[1]), Z: lo.Z + s.Z*f(i[2])})
		}
		return k
	}
	for axis := range 3 {
		for _, end := range []int{0, n} {
			for a := range n {
				for b := range n {
					var q [4]int32
					for k, d := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
						var i [3]int
						i[axis], i[(axis+1)%3], i[(axis+2)%3] = end, a+d[0], b+d[1]
						q[k] = v(i)
					}
					if end == 0 {
						q[1], q[3] = q[3], q[1]
					}
					m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
				}
			}
		}
	}
	return m
}

// round is a surface over nu x nv quads that closes both ways.
func round(nu, nv int, f func(a, b float64) vec.V3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range nu {
		for j := range nv {
			m.V = append(m.V, f(2*math.Pi*float64(i)/float64(nu), 2*math.Pi*float64(j)/float64(nv)))
		}
	}
	at := func(i, j int) int32 { return int32(i%nu*nv + j%nv) }
	for i := range nu {
		for j := range nv {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

// torus turns about the axis z.
func torus(nu, nv int, big, small float64) *mesh.Mesh {
	return round(nu, nv, func(a, b float64) vec.V3 {
		r := big + small*math.Cos(b)
		return vec.V3{X: r * math.Cos(a), Y: r * math.Sin(a), Z: small * math.Sin(b)}
	})
}

// flipped returns m inside out.
func flipped(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	for _, t := range m.F {
		r.F = append(r.F, [3]int32{t[0], t[2], t[1]})
	}
	return r
}

// join returns the bodies as one mesh.
func join(parts ...*mesh.Mesh) *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, p := range parts {
		m.Append(p)
	}
	return m
}

func moved(m *mesh.Mesh, d vec.V3) *mesh.Mesh {
	r := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		r.V = append(r.V, p.Add(d))
	}
	return r
}

// turned returns m in a frame that is parallel to none of its faces.
func turned(m *mesh.Mesh) *mesh.Mesh {
	return m.OutOf(vec.AlongZ(vec.V3{X: 0.3, Y: 0.5, Z: 0.7}))
}
