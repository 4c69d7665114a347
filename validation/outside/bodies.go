package outside

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Brick is the box between two corners, of twelve triangles.
func Brick(lo, hi vec.V3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		p := lo
		if i&1 != 0 {
			p.X = hi.X
		}
		if i&2 != 0 {
			p.Y = hi.Y
		}
		if i&4 != 0 {
			p.Z = hi.Z
		}
		m.V = append(m.V, p)
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// Ball is an octahedron cut n times and blown up to radius r.
func Ball(n int, r float64) *mesh.Mesh {
	m := &mesh.Mesh{
		V: []vec.V3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}},
		F: [][3]int32{{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}},
	}
	for range n {
		m = Quartered(m)
		for i, p := range m.V {
			m.V[i] = p.Unit()
		}
	}
	for i, p := range m.V {
		m.V[i] = p.Mul(r)
	}
	return m
}

// Prism has n sides about z, from 0 to its length.
func Prism(n int, r, length float64) *mesh.Mesh {
	m := &mesh.Mesh{V: []vec.V3{{}, {Z: length}}}
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		p := vec.V3{X: r * math.Cos(a), Y: r * math.Sin(a)}
		m.V = append(m.V, p, p.Add(vec.V3{Z: length}))
	}
	for i := range n {
		a, b := int32(2+2*i), int32(2+2*((i+1)%n))
		m.F = append(m.F, [3]int32{0, b, a}, [3]int32{1, a + 1, b + 1}, [3]int32{a, b, b + 1}, [3]int32{a, b + 1, a + 1})
	}
	return m
}
