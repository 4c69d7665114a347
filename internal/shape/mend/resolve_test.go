package mend

import (
	"math"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// TestResolve: the cut surface keeps every corner of the old one that it has,
// and the one built anew lies near it; both hold what they must.
func TestResolve(t *testing.T) {
	tube := outside.EightTube(32)
	want := tube.Volume() - 16./3*8
	r, err := Resolve(tube, want)
	if err != nil || r.Cell != 0 || r.Away != 0 {
		t.Fatalf("%+v, %v", r, err)
	}
	at := map[[3]float64]bool{}
	for _, p := range tube.V {
		at[p.Array()] = true
	}
	kept := 0
	for _, p := range r.Mesh.V {
		if at[p.Array()] {
			kept++
		}
	}
	if kept < len(r.Mesh.V)*9/10 {
		t.Errorf("%d of %d corners are those of the old surface", kept, len(r.Mesh.V))
	}
	r, err = redraw(tube, want)
	if err != nil {
		t.Fatal(err)
	}
	top := mesh.TopologyOf(r.Mesh)
	t.Logf("built anew: %d triangles, cells of %.3g mm, %.4g mm off, %.6g mm3 for %.6g", len(r.Mesh.F), r.Cell, r.Away, r.Mesh.Volume(), want)
	if !top.Watertight || math.Abs(r.Mesh.Volume()-want) > cutOff*want || r.Away <= 0 || r.Away > mostAway*tube.Box().Longest() {
		t.Errorf("%+v: %g mm3 for %g", top, r.Mesh.Volume(), want)
	}
	// A volume that it does not hold is refused, with both.
	if _, err := Resolve(tube, 1.1*want); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
		t.Errorf("%v", err)
	}
}
