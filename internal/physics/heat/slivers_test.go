package heat

import (
	"context"
	"testing"

	"pourwright/internal/ground/vec"
)

// Time that is cut into odd pieces gives the same shot: the face of the rubber
// never jumps because a step before was a sliver.
func TestSliversOfTime(t *testing.T) {
	bg := context.Background()
	play := func(pieces ...float64) Times {
		r, err := New(bg, Problem{Body: ballIn(9, 40, 2.5, vec.V3{X: .3, Y: .2, Z: .1}), Metal: pewter, Rubber: silicone, Air: 25, Start: 25})
		do(t, err, r.Pour(275))
		for n := 0; r.Poured < 149.999; n++ {
			do(t, r.Advance(bg, min(150-r.Poured, pieces[n%len(pieces)])))
		}
		return r.Times()
	}
	whole := play(150)
	for _, p := range [][]float64{{7.3}, {6.1926, 1e-6}, {12, 1e-9, 0.5}, {3.0963000001}} {
		cut := play(p...)
		if d := cut.Surface - whole.Surface; d > 0.5 || d < -0.5 {
			t.Errorf("in pieces of %g s the rubber's face is at most %.2f degC, in one %.2f", p, cut.Surface, whole.Surface)
		}
		if d := cut.Cold/whole.Cold - 1; d > 0.01 || d < -0.01 {
			t.Errorf("in pieces of %g s cold after %.2f s, in one %.2f", p, cut.Cold, whole.Cold)
		}
	}
}
