package sequence

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
)

// splitting is what the job asks of the split.
type splitting struct {
	pull *vec.V3
}

// split finds the pull and what it locks.
func split(m *Master, o splitting) (*parting.Split, error) {
	if o.pull != nil {
		see := parting.Measure(m.Mesh, *o.pull)
		return &parting.Split{Pull: *o.pull, Silhouette: see.Silhouette, Locked: see.Locked}, nil
	}
	best := &parting.Split{Locked: math.Inf(1)}
	for _, d := range []vec.V3{{Z: 1}, {Y: 1}, {X: 1}, {X: 1, Y: 1, Z: 1}, {X: -1, Y: 1, Z: 1}, {X: 1, Y: -1, Z: 1}, {X: 1, Y: 1, Z: -1}} {
		d = d.Unit()
		see := parting.Measure(m.Mesh, d)
		best.Tried = append(best.Tried, parting.Axis{Pull: d, Locked: see.Locked, Score: see.Locked})
		if see.Locked < best.Locked-1e-6*m.Said.Volume {
			best.Pull, best.Silhouette, best.Locked = d, see.Silhouette, see.Locked
		}
	}
	return best, nil
}

// standing is what the job asks of the stand.
type standing struct {
	up         *vec.V3
	bare       bool // up need not stand across the pull
	show, hide []vec.V3
	bore       float64 // below which the metal bridges, mm; 0 where no metal is known
}

// stand finds the way up and the air it traps.
func stand(m *Master, s *parting.Split, o standing) (*pockets.Stand, error) {
	body := pockets.Prepare(m.Mesh)
	if o.bare && o.up != nil {
		t, err := body.Evaluate(*o.up, pockets.Outlets{}, 0)
		if err == nil {
			t.DeadEnds = body.Hanging(*o.up, pockets.Widest)
		}
		return t, err
	}
	return body.Find(s.Pull, pockets.Options{Up: o.up, Show: o.show, Hide: o.hide, Label: s.Label, Bore: o.bore})
}
