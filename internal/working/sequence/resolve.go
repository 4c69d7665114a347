package sequence

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mend"
	"pourwright/internal/shape/mesh"
)

// volumeOff is the share of the volume by which a resolved surface may be off
// what the surface held before; leastDeep is the share of the longest side that a place is
// deep from which it is resolved: what is shallower the plan's solids take out
// (block.Solids). Our own figures, no source.
const (
	volumeOff = 5e-3
	leastDeep = 1e-4
)

// crossings asks once for every mesh where it runs through itself.
func (m *Master) crossings(on *mesh.Mesh, t *mesh.Topology) mend.Through {
	if m.asked != on {
		m.asked, m.through = on, mend.Through{}
		if len(on.F) <= mostThrough {
			m.through = mend.Crossings(on, t)
		}
	}
	return m.through
}

// resolve makes shells that run through themselves sound (mend.Resolve): what
// lies within goes. Shells that only cut through each other stay, and count
// once. What cannot be resolved stays too, and is said; as-is refuses.
func (m *Master) resolve(path string, asIs bool, t *mesh.Topology, n *mesh.Nest) (*mesh.Topology, *mesh.Nest, error) {
	found := m.crossings(m.Mesh, t)
	long := m.Mesh.Box().Longest()
	var own []int32
	places, pairs := 0, 0
	var first mend.Crossing
	for _, p := range found.Places { // the deepest first
		if len(p.Own) == 0 || p.Depth < leastDeep*long {
			continue
		}
		if places == 0 {
			first = p
		}
		places++
		pairs += p.Pairs
		own = append(own, p.Own...)
	}
	if places == 0 {
		return t, n, nil
	}
	at := first.At
	if asIs {
		return nil, nil, fault.New(fault.Input, path, "leave out --as-is, or part it there in the program that made it and save it again",
			"the surface runs through itself: %d pairs of triangles cross, the deepest near %.4g, %.4g, %.4g mm", pairs, at.X, at.Y, at.Z)
	}
	if !found.Whole {
		return t, n, nil // told by overlaps
	}
	slices.Sort(own)
	own = slices.Compact(own)
	plain, want := m.Mesh.Volume(), parting.Volume(m.Mesh)
	r, err := m.resolved(t, own, want)
	if err != nil {
		m.note("repair", &at, "", "The surface runs through itself and could not be made sound: %s.", whyNot(err))
		return t, n, nil
	}
	m.note("repair", &at, "look at the place; where it matters, part it in the program that made it (--write saves what is taken)",
		"The surface runs through itself at %s near %.4g, %.4g, %.4g mm.", placesWords(places), at.X, at.Y, at.Z)
	if want-plain >= sameVolume*math.Abs(plain) {
		m.insideOut(plain, want)
	}
	m.Mesh, m.mended = r.Mesh, true
	t = mesh.TopologyOf(m.Mesh)
	volume := m.Mesh.Volume()
	say := fmt.Sprintf("The mesh was repaired: %s (%d), what lies within is left out; the plain sum of the volume was %.6g mm3, what the surface holds %.6g mm3, after this step %.6g mm3", r.Step, places, plain, want, volume)
	if r.Cell > 0 {
		say += fmt.Sprintf(", on cells of %.3g mm", r.Cell)
	}
	if r.Away > 0 {
		say += fmt.Sprintf("; the new surface lies up to %.2g mm off the old one", r.Away)
	}
	m.note("repair", &at, "", "%s.", say)
	m.Said.Repairs = append(m.Said.Repairs, plan.Repair{Step: r.Step, Count: places, At: at.Array(), VolumeChange: volume - plain})
	if r.Cell > 0 {
		m.Said.VolumeBand += math.Abs(volume - want)
	}
	return t, mesh.NestOf(m.Mesh, t), nil
}

// resolved resolves each shell of own for itself, and where that does not hold
// what all shells do together, all as one.
func (m *Master) resolved(t *mesh.Topology, own []int32, want float64) (*mend.Resolved, error) {
	if t.Shells > 1 {
		if r := m.shellwise(t, own); r != nil && math.Abs(parting.Volume(r.Mesh)-want) <= volumeOff*want {
			return r, nil
		}
	}
	return mend.Resolve(m.Mesh, want)
}

func (m *Master) shellwise(t *mesh.Topology, own []int32) *mend.Resolved {
	var rest []int32
	for s := range int32(t.Shells) {
		if _, is := slices.BinarySearch(own, s); !is {
			rest = append(rest, s)
		}
	}
	r := &mend.Resolved{Mesh: &mesh.Mesh{}}
	if len(rest) > 0 {
		r.Mesh.Append(mesh.Pick(m.Mesh, t, rest))
	}
	for _, s := range own {
		one := mesh.Pick(m.Mesh, t, []int32{s})
		x, err := mend.Resolve(one, parting.Volume(one))
		if err != nil {
			return nil
		}
		r.Mesh.Append(x.Mesh)
		if r.Step == "" || x.Away > r.Away {
			r.Step = x.Step
		}
		r.Away, r.Cell = math.Max(r.Away, x.Away), math.Max(r.Cell, x.Cell)
	}
	return r
}

// whyNot is what an error says without the place.
func whyNot(err error) string {
	var f *fault.Error
	if errors.As(err, &f) {
		return f.Text
	}
	return err.Error()
}
