package cells

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// brick is the box lo .. hi.
func brick(lo, hi vec.V3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for c := range 8 {
		p := lo
		if c&1 != 0 {
			p.X = hi.X
		}
		if c&2 != 0 {
			p.Y = hi.Y
		}
		if c&4 != 0 {
			p.Z = hi.Z
		}
		m.V = append(m.V, p)
	}
	for _, q := range [6][4]int32{{0, 4, 6, 2}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 2, 3, 1}, {4, 5, 7, 6}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// ball is an octahedron cut n times and blown up to radius r.
func ball(n int, r float64) *mesh.Mesh {
	m := &mesh.Mesh{
		V: []vec.V3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}},
		F: [][3]int32{{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}},
	}
	for range n {
		m = outside.Quartered(m)
		for i, p := range m.V {
			m.V[i] = p.Unit()
		}
	}
	for i, p := range m.V {
		m.V[i] = p.Mul(r)
	}
	return m
}

// rod is a prism with n sides along z.
func rod(n int, r, length float64) *mesh.Mesh {
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

func moved(m *mesh.Mesh, d vec.V3) *mesh.Mesh {
	r := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		r.V = append(r.V, p.Add(d))
	}
	return r
}

// leant turns a body so that its z axis points along d.
func leant(m *mesh.Mesh, d vec.V3) *mesh.Mesh { return m.OutOf(vec.AlongZ(d)) }

func joined(parts ...*mesh.Mesh) *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, p := range parts {
		m.Append(p)
	}
	return m
}

// islands returns the volumes, in cells, of what hangs together.
func islands(c *Cells) []float64 {
	seen := make([]bool, c.Wall+1)
	var r []float64
	for i := range int32(c.N) {
		if seen[i] {
			continue
		}
		seen[i] = true
		todo, v := []int32{i}, 0.0
		for len(todo) > 0 {
			k := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			v += c.V[k]
			for d := range c.Nb {
				if o := c.Nb[d][k]; int(o) < c.N && !seen[o] {
					seen[o] = true
					todo = append(todo, o)
				}
			}
		}
		r = append(r, v)
	}
	return r
}

// amiss returns what is wrong with a list, or "".
func amiss(c *Cells) string {
	for i := range int32(c.Wall) {
		for d := range 3 {
			for s := range 2 {
				o := c.Nb[2*d+s][i]
				if int(o) == c.Wall {
					continue
				}
				if int(i) < c.N && c.Nb[2*d+1-s][o] != i {
					return "a side leads one way only"
				}
				p := c.I[i]
				p[d] += int32(2*s - 1)
				if c.I[o] != p {
					return "neighbours are not beside each other"
				}
				face := i
				if s == 1 {
					face = o
				}
				if !(c.A[d][face] > 0) {
					return "an open side has no area"
				}
			}
			if int(c.Nb[2*d][i]) == c.Wall && c.A[d][i] != 0 {
				return "a shut side has an area"
			}
		}
		if int(i) < c.N && (!(c.V[i] >= Least*c.widest(i)*(1-1e-9)) || !(c.V[i] > 0)) {
			return "a cell is small beside its sides"
		}
	}
	return ""
}
