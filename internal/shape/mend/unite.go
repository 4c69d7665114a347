package mend

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/solid"
)

// mostBodies is how many bodies are put in one by one.
const mostBodies = 64

// Unite returns one surface round all points that any shell of m holds: shells
// that cut through each other become one (shape/solid, on its lattice, so m is
// to be in mm and within 500 mm of the centre of its box). want is the volume
// that the union is known to have; false where what comes out is not closed or
// is off by more than 1e-3 of it.
func Unite(m *mesh.Mesh, want float64) (*mesh.Mesh, bool) { return unite(m, want, 0) }

// glue is by how much the surfaces of bodies are moved outward so that faces that lie on each other cut through
// each other, in units of the lattice.
const glue = 2

// Glue is Unite for bodies that lie on each other with their faces: films
// between them thinner than 2e-4 mm go. Corners of m
// that are corners of the union too keep their place.
func Glue(m *mesh.Mesh, want float64) (*mesh.Mesh, bool) { return unite(m, want, glue*solid.Lattice) }

func unite(m *mesh.Mesh, want, out float64) (*mesh.Mesh, bool) {
	box := m.Box()
	o := box.Centre()
	if !(box.Longest() < 500) {
		return nil, false
	}
	in := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	for i, p := range m.V {
		in.V[i] = p.Sub(o)
	}
	var moved map[vec.V3]vec.V3
	if out > 0 {
		moved = grow(in, out)
	}
	c := solid.Block(in.Box().Grow(1), solid.Void)
	// One body after the other: faces that lie on each other are looked for between what is there and what comes.
	t := mesh.TopologyOf(in)
	n := mesh.NestOf(in, t)
	bodies := n.Bodies
	for s := range n.Role {
		if n.Body[s] < 0 || len(bodies) > mostBodies {
			bodies = [][]int32{nil} // all at once
			break
		}
	}
	for _, b := range bodies {
		one := in
		if b != nil {
			one = mesh.Pick(in, t, b)
		}
		err := c.Insert(one, func(l solid.Label) solid.Label {
			if l == solid.Outside {
				return l
			}
			return solid.Metal
		})
		if err != nil {
			return nil, false
		}
	}
	r := c.Solid(solid.Metal)
	for i, p := range r.V {
		if q, ok := moved[p]; ok {
			r.V[i] = q
		}
	}
	if len(r.F) == 0 || !mesh.TopologyOf(r).Watertight || !(math.Abs(r.Volume()-want) < 1e-3*want) {
		return nil, false
	}
	for i, p := range r.V {
		r.V[i] = p.Add(o)
	}
	return r, true
}

// grow moves every corner outward so far that each face at it moves by d, three times that at the most, onto the
// lattice, and returns where each came from.
func grow(m *mesh.Mesh, d float64) map[vec.V3]vec.V3 {
	sum := make([]vec.V3, len(m.V))
	for i := range m.F {
		a, b, c := m.Tri(i)
		n := b.Sub(a).Cross(c.Sub(a)).Unit()
		for k, v := range m.F[i] {
			p, q := m.V[m.F[i][(k+1)%3]].Sub(m.V[v]).Unit(), m.V[m.F[i][(k+2)%3]].Sub(m.V[v]).Unit()
			sum[v] = sum[v].Add(n.Mul(math.Acos(math.Max(-1, math.Min(1, p.Dot(q)))))) // by angle: the same however a face is cut
		}
	}
	least := make([]float64, len(m.V))
	for i := range least {
		least[i] = 1
	}
	for i := range m.F {
		a, b, c := m.Tri(i)
		n := b.Sub(a).Cross(c.Sub(a)).Unit()
		for _, v := range m.F[i] {
			least[v] = math.Min(least[v], n.Dot(sum[v].Unit()))
		}
	}
	from := make(map[vec.V3]vec.V3, len(m.V))
	for i, p := range m.V {
		to := p.Add(sum[i].Unit().Mul(d / math.Max(least[i], 1.0/3)))
		for _, x := range []*float64{&to.X, &to.Y, &to.Z} {
			*x = math.Round(*x/solid.Lattice) * solid.Lattice
		}
		m.V[i], from[to] = to, p
	}
	return from
}
