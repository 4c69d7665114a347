package sequence

import (
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mend"
	"pourwright/internal/shape/mesh"
)

// mostUnited is how many triangles of several bodies are looked at for faces
// that lie on each other.
const mostUnited = 200_000

// inCommon is the share of the volume that bodies may have in common, by the
// rounding of their corners, and still only lie on each other.
const inCommon = 2e-6

// unite makes one body of bodies that lie on each other with their faces, as
// glued parts do: the film between them has no thickness, and left in it would
// part what is cast as one. Bodies that cut through each other count once
// anyway and stay; bodies that meet in an edge or a corner stay two.
func (m *Master) unite(t *mesh.Topology, n *mesh.Nest) (*mesh.Topology, *mesh.Nest) {
	at, near := meet(m.Mesh, t, n)
	if !near || len(m.Mesh.F) > mostUnited || slices.Contains(n.Role, mesh.Swallowed) {
		return t, n
	}
	was := m.Mesh.Volume()
	one, ok := mend.Unite(m.Mesh, was)
	if !ok || was-one.Volume() > inCommon*was { // they cut through each other
		return t, n
	}
	if one, ok = mend.Glue(m.Mesh, was); !ok {
		return t, n
	}
	one = mesh.Canonical(one)
	u := mesh.TopologyOf(one)
	k := mesh.NestOf(one, u)
	fewer := len(n.Bodies) - len(k.Bodies)
	if !u.Watertight || fewer < 1 {
		return t, n
	}
	m.Said.Repairs = append(m.Said.Repairs, plan.Repair{Step: "united bodies that lie on each other", Count: fewer, At: at.Array(), VolumeChange: one.Volume() - was})
	m.note("repair", &at, "part them by --body N, or in the program that made them, if they are not to be cast as one",
		"Bodies lie on each other with their faces and were made one: %d bodies became %d, near %.4g, %.4g, %.4g mm.", len(n.Bodies), len(k.Bodies), at.X, at.Y, at.Z)
	m.Mesh = one
	return u, k
}

// meet tells whether the boxes of two bodies touch, and where first.
func meet(m *mesh.Mesh, t *mesh.Topology, n *mesh.Nest) (vec.V3, bool) {
	if len(n.Bodies) < 2 {
		return vec.V3{}, false
	}
	box := make([]vec.Box, len(n.Bodies))
	for i := range box {
		box[i] = vec.Empty()
	}
	for i, s := range t.Shell {
		if s < 0 || n.Body[s] < 0 || n.Role[s] != mesh.Outer {
			continue
		}
		b := &box[n.Body[s]]
		for _, v := range m.F[i] {
			*b = b.Add(m.V[v])
		}
	}
	close := 1e-6 * m.Box().Longest()
	for i := range box {
		a := box[i].Grow(close)
		for _, b := range box[i+1:] {
			lo, hi := a.Min.Max(b.Min), a.Max.Min(b.Max)
			if lo.X <= hi.X && lo.Y <= hi.Y && lo.Z <= hi.Z {
				return lo.Add(hi).Mul(0.5), true
			}
		}
	}
	return vec.V3{}, false
}
