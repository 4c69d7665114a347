package cells

import (
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

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
