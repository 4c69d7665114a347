package sequence

import (
	"fmt"

	"pourwright/internal/book/plan"
)

// tried lists the pulls and the ways up that competed.
func (t *trace) tried() {
	for _, a := range t.split.Tried {
		t.plan.Tried = append(t.plan.Tried, plan.Trial{
			What:   fmt.Sprintf("pull along %.3f, %.3f, %.3f", a.Pull.X, a.Pull.Y, a.Pull.Z),
			Result: fmt.Sprintf("locks %.1f mm3", a.Locked), Score: plan.Ptr(a.Score), Kept: a.Pull == t.split.Pull,
		})
	}
	for _, a := range t.stand.Tried {
		t.plan.Tried = append(t.plan.Tried, plan.Trial{
			What:   fmt.Sprintf("up along %.3f, %.3f, %.3f", a.Up.X, a.Up.Y, a.Up.Z),
			Result: fmt.Sprintf("traps %.1f mm3", a.Trapped), Score: plan.Ptr(a.Score), Kept: a.Up == t.stand.Up,
		})
	}
}
