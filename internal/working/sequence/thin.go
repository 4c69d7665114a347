package sequence

import (
	"pourwright/internal/book/plan"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/thin"
)

// A mesh of more than heavy triangles is thinned to that many for the steps
// after the check; no corner goes further than thinLimit of the longest side from
// what it stands for. Our own figures, no source.
const (
	heavy     = 400_000
	thinLimit = 2e-4
)

// thin puts a coarser mesh in the place of a very fine one and says how far the
// two lie apart. The figures of the master stay those of the fine one.
func (m *Master) thin() {
	if len(m.Mesh.F) <= heavy {
		return
	}
	long := m.Mesh.Box().Longest()
	r := thin.Reduce(m.Mesh, heavy, thinLimit*long)
	t := mesh.TopologyOf(r)
	if !t.Watertight || t.Shells != m.Topology.Shells {
		return
	}
	d := thin.Apart(m.Mesh, r, 5*thinLimit*long)
	m.Said.Thinned = &plan.Thinned{Triangles: len(r.F), Apart: d.Most, Found: d.Found, At: d.At.Array()}
	m.note("repair", &d.At, "", "The mesh of %d triangles was thinned to %d for the steps after this: the two surfaces lie at most %.2g mm apart where measured (all corners), and nowhere more than %.2g mm.",
		len(m.Mesh.F), len(r.F), d.Found, d.Most)
	m.Mesh, m.Topology = r, t
	m.Nest = mesh.NestOf(r, t)
}
