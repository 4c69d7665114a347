package judge

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
)

func filling() *pour.Filling {
	return &pour.Filling{Computed: true, Open: 30e3, Runs: []pour.Run{{Poured: 40e3}, {Poured: 40e3}, {Poured: 40e3}, {Poured: 40e3}}, Middle: pour.Middle{Castings: pour.Spread{Median: 0.99}, Volume: 1e-13, Energy: 1e-9}}
}

// What each kind of fault says: code, severity, what is computed against what, and the verdict.
func TestFill(t *testing.T) {
	at := plan.P3{1, 2, 3}
	air := func(m, lo, hi float64, runs int) func(*pour.Filling) {
		return func(f *pour.Filling) {
			f.Air = []pour.Air{{At: at, Volume: pour.Spread{Median: m, Low: lo, High: hi}, Runs: runs}}
		}
	}
	meet := func(m pour.Meeting) func(*pour.Filling) {
		m.At = at
		return func(f *pour.Filling) { f.Meetings = []pour.Meeting{m} }
	}
	for _, c := range []struct {
		name, want, says, verdict string
		change                    func(*pour.Filling)
	}{
		{"sound", "", "", plan.Pour, func(*pour.Filling) {}},
		{"a speck of air", "", "", plan.Pour, air(4, 3, 4.9, 4)},
		{"a bubble", "pocket/note", "a bubble of 20 mm³ (10 mm³ to 30 mm³)", plan.Pour, air(20, 10, 30, 4)},
		{"air", "pocket/should", "0.2 cm³ of air", plan.Care, air(200, 195, 205, 4)},
		{"much air", "pocket/must", "1.2 cm³ (0.9 cm³ to 1.4 cm³)", plan.Care, air(1200, 900, 1400, 4)},
		{"in half of the pours", "pocket/note", "2 of 4 pours, up to 0.9 cm³", plan.Pour, air(100, 0, 900, 2)},
		{"seldom and little", "", "", plan.Pour, air(0, 0, 50, 1)},
		{"misrun", "misrun/should", "40 mm³ here stays empty: the metal freezes", plan.Care, func(f *pour.Filling) { f.Short = []pour.Place{{At: at, Volume: 40, Frozen: true}} }},
		{"large misrun", "misrun/must", "freezes", plan.Care, func(f *pour.Filling) { f.Short = []pour.Place{{At: at, Volume: 400, Frozen: true}} }},
		{"no head", "misrun/should", "head does not push", plan.Care, func(f *pour.Filling) { f.Short = []pour.Place{{At: at, Volume: 40}} }},
		{"warm meeting", "", "", plan.Pour, meet(pour.Meeting{Length: 20, Coldest: 280})},
		{"cool meeting", "cold-shut/note", "a line may show", plan.Pour, meet(pour.Meeting{Length: 20, Coldest: 250})},
		{"short cool meeting", "", "", plan.Pour, meet(pour.Meeting{Length: 2, Coldest: 250})},
		{"cold shut", "cold-shut/should", "do not become one", plan.Care, meet(pour.Meeting{Length: 2, Coldest: 239, Cold: true})},
		{"second ladle", "cold-shut/should", "the pause leaves a line", plan.Care, meet(pour.Meeting{Length: 20, Coldest: 250, Ladle: true})},
		{"cold second ladle", "cold-shut/must", "does not become one with the first", plan.Care, meet(pour.Meeting{Length: 20, Coldest: 239, Ladle: true, Cold: true})},
		{"bridged", "dead-end/should", "shuts in 60 mm³", plan.Care, func(f *pour.Filling) { f.Bridged = []pour.Place{{At: at, Volume: 60}} }},
		{"overflow", "ladle/should", "3 cm³ of metal runs over", plan.Pour, func(f *pour.Filling) { f.Middle.Overflow.Median = 3000 }},
		{"a drop over", "", "", plan.Pour, func(f *pour.Filling) { f.Middle.Overflow.Median = 1000 }},
		{"leaks", "not-computed/note", "beyond its limit", plan.Pour, func(f *pour.Filling) { f.Middle.Volume = 1e-3 }},
		{"no number", "not-computed/note", "beyond its limit", plan.Pour, func(f *pour.Filling) { f.Middle.Energy = math.NaN() }},
		{"voids all over", "misrun/should", "the castings fill to 88 % only", plan.Care, func(f *pour.Filling) { f.Middle.Castings.Median = 0.88 }},
		{"a place says why", "pocket/must", "air stays here", plan.Care, func(f *pour.Filling) {
			air(1200, 900, 1400, 4)(f)
			f.Middle.Castings.Median = 0.88
		}},
		{"not computed", "", "", plan.Pour, func(f *pour.Filling) { air(1200, 900, 1400, 4)(f); f.Computed = false }},
	} {
		f := filling()
		c.change(f)
		got := Fill(f, 242, func(p plan.P3) plan.P3 { return plan.P3{p[0] + 10, p[1], p[2]} })
		v := Verdict{Decide(got), got}
		if said(v) != c.want || v.Verdict != c.verdict {
			t.Errorf("%s: %s, %s", c.name, v.Verdict, said(v))
			continue
		}
		for _, x := range got {
			if !strings.Contains(x.Say, c.says) || x.Do == "" || !slices.Contains(plan.Codes, x.Code) {
				t.Errorf("%s: %q, %q", c.name, x.Say, x.Do)
			}
			if x.At != nil && *x.At != (plan.P3{11, 2, 3}) {
				t.Errorf("%s: at %v", c.name, *x.At)
			}
			if x.Computed != nil && math.IsNaN(*x.Computed) {
				t.Errorf("%s: %v", c.name, *x.Computed)
			}
		}
	}
	if Fill(nil, 242, nil) != nil {
		t.Error("something said of nothing")
	}
}
