package bvh

import (
	"math"
	"math/rand/v2"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// round returns a closed mesh of nu x nv quads over a torus of parameters,
// corners given by f; each quad is cut into two triangles.
func round(nu, nv int, f func(u, v float64) vec.V3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range nu {
		for j := range nv {
			m.V = append(m.V, f(float64(i)/float64(nu), float64(j)/float64(nv)))
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

// torus has its axis along z, main radius big, tube radius small.
func torus(nu, nv int, big, small float64) *mesh.Mesh {
	return round(nu, nv, func(u, v float64) vec.V3 {
		a, b := 2*math.Pi*u, 2*math.Pi*v
		r := big + small*math.Cos(b)
		return vec.V3{X: r * math.Cos(a), Y: r * math.Sin(a), Z: small * math.Sin(b)}
	})
}

// plate is a flat square box of n x n quads, all corners on whole numbers.
func plate(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := map[[3]int]int32{}
	v := func(x, y, z int) int32 {
		k := [3]int{x, y, z}
		i, ok := at[k]
		if !ok {
			i = int32(len(m.V))
			at[k] = i
			m.V = append(m.V, vec.V3{X: float64(x), Y: float64(y), Z: float64(z)})
		}
		return i
	}
	quad := func(a, b, c, d int32) { m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d}) }
	for i := range n {
		for j := range n {
			quad(v(i, j, 1), v(i+1, j, 1), v(i+1, j+1, 1), v(i, j+1, 1))
			quad(v(i, j, 0), v(i, j+1, 0), v(i+1, j+1, 0), v(i+1, j, 0))
		}
		quad(v(i, 0, 0), v(i+1, 0, 0), v(i+1, 0, 1), v(i, 0, 1))
		quad(v(i+1, n, 0), v(i, n, 0), v(i, n, 1), v(i+1, n, 1))
		quad(v(0, i+1, 0), v(0, i, 0), v(0, i, 1), v(0, i+1, 1))
		quad(v(n, i, 0), v(n, i+1, 0), v(n, i+1, 1), v(n, i, 1))
	}
	return m
}

// soup is n triangles without any order, some of them without area.
func soup(r *rand.Rand, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n {
		p := point(r, 10)
		m.V = append(m.V, p, p.Add(point(r, 2)), p.Add(point(r, 2)))
		if i%17 == 0 {
			m.V[len(m.V)-1] = m.V[len(m.V)-2]
		}
		m.F = append(m.F, [3]int32{int32(3 * i), int32(3*i + 1), int32(3*i + 2)})
	}
	return m
}

func point(r *rand.Rand, size float64) vec.V3 {
	return vec.V3{X: size * (2*r.Float64() - 1), Y: size * (2*r.Float64() - 1), Z: size * (2*r.Float64() - 1)}
}
