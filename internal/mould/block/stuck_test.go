package block

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/sculpt"
)

// A kernel error blames the mesh only where the mesh runs through itself.
func TestStuckBlamesTheMeshOnlyWhereItCrosses(t *testing.T) {
	l := &Layout{Frame: vec.Frame{Origin: vec.V3{X: 100}, X: vec.V3{X: 1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: 1}}}
	sound := frustum(0, 0, 0, 10, 20, 8)
	crossed := frustum(0, 0, 0, 10, 20, 8)
	crossed.Append(frustum(4, 0, -5, 6, 9, 5))
	cause := errors.New("2 pairs of triangles still cross")
	for name, c := range map[string]struct {
		err       error
		say, hint string
	}{
		"crossed": {l.stuck("casting 1", crossed, cause), "runs through itself", "repair the mesh there"},
		"sound":   {l.stuck("casting 1", sound, cause), "the mesh is sound", "[split] pull = [0.0175, 0.0000, 0.9998]"},
		"channel": {l.stuck("sprue", crossed, cause), "still cross", "[split] pull"},
	} {
		if !strings.Contains(c.err.Error(), c.say) || !strings.Contains(fault.HintOf(c.err), c.hint) || fault.KindOf(c.err) != fault.Input {
			t.Errorf("%s: %v\n%s", name, c.err, fault.HintOf(c.err))
		}
		if name != "sound" != strings.Contains(c.err.Error(), "the master runs") && name != "channel" {
			t.Errorf("%s: %v", name, c.err)
		}
		if !strings.Contains(c.err.Error(), "10") { // a place of the master's frame, 100 mm away
			t.Errorf("%s: no place: %v", name, c.err)
		}
	}
	if x := sculpt.Crossings(sound); len(x) > 0 {
		t.Errorf("the sound body crosses itself: %v", x)
	}
}

// The head that a thin end asks is its own figure, never below zero, and the
// ends that are handed on are those of the layout.
func TestHeadOverAThinEndIsWhatItsInputsGive(t *testing.T) {
	for name, m := range map[string]struct {
		x, y, z float64
	}{"plate": {60, 40, 2}, "bar": {60, 12, 12}, "lump": {30, 30, 30}} {
		l := layOut(t, sculpt.Box(m.x, m.y, m.z).Mesh, Demand{})
		var heads, rims int
		for _, f := range l.Figures {
			switch f.Name {
			case "head over a thin end":
				heads++
				in := f.Inputs
				want := 2e6 * in["gamma, N/m"] * (1/in["t, mm"] + 1/in["w, mm"]) / (in["rho, kg/m3"] * 9.80665)
				if f.Value < 0 || f.Value < 0.999*want || f.Value > 1.001*want {
					t.Errorf("%s: %s %g, its inputs give %g", name, f.Name, f.Value, want)
				}
			case "rim over the casting's top for that end":
				rims++
				if want := max(0, f.Inputs["y, mm"]+f.Inputs["head, mm"]+3); math.Abs(f.Value-want) > 1e-9 || f.Value > l.Head+1e-9 && l.Head < mostHead {
					t.Errorf("%s: %s %g, want %g, the head is %g", name, f.Name, f.Value, want, l.Head)
				}
			}
		}
		if heads != 1 || rims != 1 || len(l.Ends) != 2 {
			t.Errorf("%s: %d heads, %d rims, ends %v", name, heads, rims, l.Ends)
		}
		for _, e := range l.Ends {
			if !(e.Thickness > 0) || e.Width < e.Thickness || !(e.Head > 0) {
				t.Errorf("%s: end %+v", name, e)
			}
		}
	}
}
