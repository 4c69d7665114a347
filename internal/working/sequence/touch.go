package sequence

import (
	"cmp"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mend"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/solid"
)

// mostUnited is how many triangles of several bodies are looked at for faces
// that lie on each other.
const mostUnited = 200_000

// unite makes one body of bodies that lie on each other with their faces, as
// glued parts do: the film between them has no thickness, and left in it would
// part what is cast as one. Bodies that cut through each other count once
// anyway and stay; bodies that meet in an edge or a corner stay two.
func (m *Master) unite(t *mesh.Topology, n *mesh.Nest) (*mesh.Topology, *mesh.Nest) {
	if len(n.Bodies) < 2 || len(m.Mesh.F) > mostUnited || slices.Contains(n.Role, mesh.Swallowed) {
		return t, n
	}
	at, near := meet(m.Mesh, t, n)
	if !near {
		return t, n
	}
	was := m.Mesh.Volume()
	one, ok := mend.Unite(m.Mesh, was)
	if !ok || was-one.Volume() > solid.Lattice*m.Mesh.Area() { // more than corners lose on the lattice: they cut through each other
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

// Faces of two bodies lie on each other where their planes are within onFace of the longest side and their normals
// within some 2.5 degrees of opposite; after mostPairs pairs that nearly are, the union is asked.
const (
	onFace    = 2e-6
	opposite  = -0.999
	mostPairs = 2_000_000
)

// meet tells whether a face of one body may lie on one of another, and where
// the first such is.
func meet(m *mesh.Mesh, t *mesh.Topology, n *mesh.Nest) (vec.V3, bool) {
	type face struct {
		body   int
		normal vec.V3
		off    float64 // of its plane along the normal
		box    vec.Box
	}
	tol := onFace * m.Box().Longest()
	o := m.Box().Centre()
	var list []face
	for i, s := range t.Shell {
		if s < 0 || n.Body[s] < 0 {
			continue
		}
		a, b, c := m.Tri(i)
		normal := b.Sub(a).Cross(c.Sub(a)).Unit()
		list = append(list, face{n.Body[s], normal, normal.Dot(a.Sub(o)), vec.Empty().Add(a).Add(b).Add(c).Grow(tol)})
	}
	slices.SortStableFunc(list, func(a, b face) int { return cmp.Compare(a.off, b.off) })
	pairs := 0
	for _, f := range list {
		k, _ := slices.BinarySearchFunc(list, -f.off-tol, func(g face, x float64) int { return cmp.Compare(g.off, x) })
		for ; k < len(list) && list[k].off <= tol-f.off; k++ {
			g := &list[k]
			if pairs++; pairs > mostPairs {
				return f.box.Centre(), true
			}
			if g.body == f.body || !(g.normal.Dot(f.normal) < opposite) {
				continue
			}
			lo, hi := f.box.Min.Max(g.box.Min), f.box.Max.Min(g.box.Max)
			if lo.X <= hi.X && lo.Y <= hi.Y && lo.Z <= hi.Z {
				return lo.Add(hi).Mul(0.5), true
			}
		}
	}
	return vec.V3{}, false
}
