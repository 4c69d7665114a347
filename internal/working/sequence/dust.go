package sequence

import (
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// dustShare is the share of the master's volume under which a loose body is
// taken for dust of the scan; our own figure, no source.
const dustShare = 1e-4

// dust leaves out loose bodies under dustShare of the volume: specks of a scan,
// which would lie in the rubber where no metal reaches them.
func (m *Master) dust() error {
	n := m.Nest
	all := 0.0
	for s := range n.Volume {
		all += n.Volume[s]
	}
	// Bodies come the largest first.
	k := len(n.Bodies)
	for k > 1 && n.Volume[n.Bodies[k-1][0]] < dustShare*all {
		k--
	}
	if k == len(n.Bodies) {
		return nil
	}
	small := make([]bool, m.Topology.Shells)
	for _, b := range n.Bodies[k:] {
		for _, s := range b {
			small[s] = true
		}
	}
	var large []int32
	for s, x := range small {
		if !x {
			large = append(large, int32(s))
		}
	}
	rest := mesh.Pick(m.Mesh, m.Topology, large)
	tree := bvh.Build(rest)
	var gone []int32
	keep := large
	for _, b := range n.Bodies[k:] {
		if loose(mesh.Pick(m.Mesh, m.Topology, b), rest, tree) {
			gone = append(gone, b...)
		} else {
			keep = append(keep, b...)
		}
	}
	if len(gone) == 0 {
		return nil
	}
	before := m.Said.Volume
	at := n.At[gone[0]]
	m.Mesh = mesh.Pick(m.Mesh, m.Topology, keep)
	m.Topology = mesh.TopologyOf(m.Mesh)
	m.Nest = mesh.NestOf(m.Mesh, m.Topology)
	if err := m.measure(m.Said.File); err != nil {
		return err
	}
	m.Notes = slices.DeleteFunc(m.Notes, func(n Note) bool { return n.Code == "masters" })
	m.several()
	m.Said.Repairs = append(m.Said.Repairs, plan.Repair{Step: "left out dust", Count: len(gone), At: at.Array(), VolumeChange: m.Said.Volume - before})
	m.note("repair", &at, "", "%d loose specks of %.3g mm3 together were left out: no metal would reach them.", len(gone), before-m.Said.Volume)
	return nil
}

// loose reports whether body m, which lies in no other, keeps clear of the rest
// by a thousandth of its own size.
func loose(m, rest *mesh.Mesh, tree *bvh.Tree) bool {
	size := m.Box().Longest()
	for _, p := range m.V {
		if _, i, _ := tree.Closest(p, 1e-3*size); i >= 0 {
			return false
		}
	}
	own := bvh.Build(m)
	for t := range m.F {
		if cuts(m, t, tree) {
			return false
		}
	}
	free := true
	tree.BoxQuery(m.Box(), func(t int) bool {
		free = !cuts(rest, t, own)
		return free
	})
	return free
}
