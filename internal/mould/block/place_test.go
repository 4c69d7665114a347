package block

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
)

// TestTurnedAndFarAway lays out a body turned at random and moved by 10 000
// times its size, with pull and up turned along: the same mould comes out.
func TestTurnedAndFarAway(t *testing.T) {
	for _, b := range bodies() {
		here := layOut(t, b.m, Demand{})
		f := vec.AlongZ(vec.V3{X: 0.3, Y: -0.5, Z: 0.7})
		long := b.m.Box().Longest()
		f.Origin = vec.V3{X: 0.6, Y: 0.64, Z: -0.48}.Mul(1e4 * long)
		m := &mesh.Mesh{V: make([]vec.V3, len(b.m.V)), F: b.m.F}
		for i, p := range b.m.V {
			m.V[i] = f.From(p)
		}
		far, err := Lay(m, &parting.Split{Pull: f.Z}, &pockets.Stand{Up: f.Y}, Demand{})
		if err != nil {
			t.Errorf("%s: %v", b.name, err)
			continue
		}
		for k := range 3 {
			if d := math.Abs(far.Size.At(k) - here.Size.At(k)); d > 2*spacing(long) {
				t.Errorf("%s: the block's side %d is %.3f mm there and %.3f here", b.name, k, far.Size.At(k), here.Size.At(k))
			}
		}
		if math.Abs(far.Head-here.Head) > 0.5 || len(far.Keys) < 3 {
			t.Errorf("%s: head %.2f and %d keys there, %.2f and %d here", b.name, far.Head, len(far.Keys), here.Head, len(here.Keys))
		}
		checkMould(t, b.name+" far away", m, far)
	}
}
