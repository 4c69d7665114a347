package mend

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/solid"
)

// Unite returns one surface round all points that any shell of m holds: shells
// that cut through each other become one (shape/solid, on its lattice, so m is
// to be in mm and within 500 mm of the centre of its box). want is the volume
// that the union is known to have; false where what comes out is not closed or
// is off by more than 1e-3 of it.
func Unite(m *mesh.Mesh, want float64) (*mesh.Mesh, bool) {
	box := m.Box()
	o := box.Centre()
	if !(box.Longest() < 500) {
		return nil, false
	}
	in := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	for i, p := range m.V {
		in.V[i] = p.Sub(o)
	}
	c := solid.Block(in.Box().Grow(1), solid.Void)
	err := c.Insert(in, func(l solid.Label) solid.Label {
		if l == solid.Outside {
			return l
		}
		return solid.Metal
	})
	if err != nil {
		return nil, false
	}
	out := c.Solid(solid.Metal)
	if len(out.F) == 0 || !mesh.TopologyOf(out).Watertight || !(math.Abs(out.Volume()-want) < 1e-3*want) {
		return nil, false
	}
	for i, p := range out.V {
		out.V[i] = p.Add(o)
	}
	return out, true
}
