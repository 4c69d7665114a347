package sequence

import (
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// vents says which pockets of the bare master the layout opens, and how much
// air stays with its vents. A pocket is open where no more than a tenth of it
// is left under the same top.
func (t *trace) vents() {
	after := t.layout.After
	if after == nil {
		return
	}
	s := &t.plan.Stand
	s.TrappedShareUnvented = plan.Ptr(after.Trapped / t.master.Said.Volume)
	near := 0.01 * t.long
	for i := range s.Pockets {
		p := &s.Pockets[i]
		left := 0.0
		for _, q := range after.Pockets {
			if q.At.Dist(vec.FromArray(p.At)) <= near {
				left += q.Volume
			}
		}
		p.Vented = plan.Ptr(left <= 0.1*p.Volume)
	}
}
