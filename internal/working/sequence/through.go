package sequence

import (
	"fmt"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mesh"
)

// mostThrough is how many triangles are asked whether they run through each
// other; sameVolume is the share of the volume up to which the plain sum and the
// measured volume are the same. Our own figures, no source.
const (
	mostThrough = 1_500_000
	sameVolume  = 2e-4
)

// overlaps finds where the surface runs through itself and where shells cut
// through each other, says so, and takes for the volume that of the points
// with winding number above 0.
func (m *Master) overlaps() {
	m.Notes = slices.DeleteFunc(m.Notes, func(n Note) bool { return n.anew })
	m.overlap = false
	before := len(m.Notes)
	defer func() {
		for i := before; i < len(m.Notes); i++ {
			m.Notes[i].anew = true
		}
	}()
	swallowed := false
	for _, r := range m.Nest.Role {
		swallowed = swallowed || r == mesh.Swallowed
	}
	found := m.crossings(m.Mesh, m.Topology)
	through := len(found.Places) > 0
	if !found.Whole {
		m.note("not-computed", nil, "", "Whether the surface runs through itself was not asked of all of its %d triangles.", len(m.Mesh.F))
	}
	if !through && !swallowed && !m.mended && found.Touches == 0 && found.Whole {
		return // no shell is in another, and none meets another or itself
	}
	plain, volume := m.Said.Volume, parting.Volume(m.Mesh)
	differs := math.Abs(volume-plain) >= sameVolume*plain
	if !through && !swallowed && !differs {
		return
	}
	if through {
		c := found.Places[0]
		what := "The surface runs through itself"
		if m.Topology.Shell[c.Tris[0]] != m.Topology.Shell[c.Tris[1]] {
			what = "Shells cut through each other"
		}
		m.note("repair", &c.At, "join what cuts through in the program that made it; what lies within is left out of volume, area and thinnest section",
			"%s at %s near %.4g, %.4g, %.4g mm.", what, placesWords(len(found.Places)), c.At.X, c.At.Y, c.At.Z)
	}
	switch {
	case volume > plain && differs:
		m.insideOut(plain, volume)
	case differs || swallowed:
		sum, held := fmt.Sprintf("%.6g", plain), fmt.Sprintf("%.6g", volume)
		switch {
		case m.Topology.Shells == 1:
			m.note("repair", nil, "", "What lies within is counted once: the plain sum of the volume is %s mm3, what the surface holds %s mm3.", sum, held)
		case sum != held || !through:
			m.note("repair", nil, "join the bodies in the program that made them, if the figure looks wrong",
				"the shells overlap: the sum of their volumes is %s mm3, what they hold together %s mm3.", sum, held)
		}
	}
	m.Said.Volume, m.overlap = volume, true
}

// placesWords begins where a surface runs through itself at n places.
func placesWords(n int) string {
	if n > 1 {
		return fmt.Sprintf("%d places, the deepest", n)
	}
	return "one place"
}

// insideOut says that a part of the surface is inside out: it holds more than its
// signed volume.
func (m *Master) insideOut(signed, holds float64) {
	m.note("repair", nil, "turn it round in the program that made it, if it is to be metal",
		"A part of the surface is inside out: its signed volume is %.6g mm3, what it holds %.6g mm3; what is inside out counts as empty.", signed, holds)
	m.Notes[len(m.Notes)-1].Severity = plan.Should
}
