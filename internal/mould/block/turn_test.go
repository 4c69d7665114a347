package block

import (
	"context"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/sculpt"
)

// A cube pulled askew parts along a line that rises by most of its height, so
// that no ground beside it is level: the keys stand on the slope and hold.
func TestKeysOnASlope(t *testing.T) {
	m := sculpt.Box(100, 100, 100).Mesh
	pull, up := vec.V3{X: 1, Y: 0.25, Z: 0.15}.Unit(), vec.V3{X: -0.25, Y: 1}.Unit()
	sp, err := parting.Find(context.Background(), m, parting.Options{Pull: &pull})
	if err != nil {
		t.Fatal(err)
	}
	st, err := pockets.Find(m, sp.Pull, pockets.Options{Up: &up, Label: sp.Label})
	if err != nil {
		t.Fatal(err)
	}
	l, err := Lay(m, sp, st, Demand{})
	if err != nil {
		t.Fatal(err)
	}
	if l.Keys == nil {
		t.Fatal("no keys")
	}
	checkMould(t, "cube pulled askew", m, l)
	t.Logf("%d keys of %g mm; turned they meet %.0f, %.0f, %.0f mm3", len(l.Keys), l.Keys[0].Diameter, l.Turned('x'), l.Turned('y'), l.Turned('z'))
}
