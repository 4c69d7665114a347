package drawing

import (
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// A finding counts its cavity from 1: the mark stands on that cavity's master
// and the sheet says the same number.
func TestFindingsCountCavitiesFromOne(t *testing.T) {
	in := sample(1, 0.8)
	p := in.Plan
	second := p.Block.Frame
	second.Origin[0] -= 40
	p.Block.Cavities, p.Block.Placements = 2, []plan.Frame{p.Block.Frame, second}
	at := plan.P3{1, 2, 3}
	p.Split.Undercuts = nil
	for n := 1; n <= 2; n++ {
		p.Findings = []plan.Finding{{Code: "pocket", Severity: plan.Should, At: &at, Cavity: &n, Say: "Air stays.", Do: "Prick it."}}
		fresh := &Input{Plan: p, Paper: in.Paper, Names: in.Names, Bench: in.Bench, Master: in.Master, Metal: in.Metal, Surface: in.Surface}
		v := fresh.look()
		want := p.Block.Placements[n-1].Vec().To(vec.FromArray(at))
		if len(v.marks) != 1 || v.marks[0].at.Dist(want) > 1e-9 {
			t.Errorf("cavity %d: marks %v, want one at %v", n, v.marks, want)
		}
		c := &card{in: fresh}
		if w := c.where(p.Findings[0]); !strings.Contains(w, "piece "+string(rune('0'+n))) {
			t.Errorf("cavity %d is said as %q", n, w)
		}
	}
}

// Every finding with a place in the mould has a number, and of many undercuts
// only those that ask for something, or are among the three largest, have one.
func TestNumbersStandForPlaces(t *testing.T) {
	in := sample(1, 0.8)
	p := in.Plan
	at := plan.P3{1, 2, 3}
	p.Findings = []plan.Finding{
		{Code: "vacuum", Severity: plan.Note, Say: "No pump."},
		{Code: "sink", Severity: plan.Note, At: &at, Say: "A sink."},
		{Code: "undercut", Severity: plan.Should, At: &plan.P3{5, 0, 0}, Say: "It stretches."},
	}
	p.Split.Undercuts = nil
	for i := range 9 {
		x := 5 + 3*float64(i)
		strain := 0.01
		if i == 0 {
			strain = 0.4
		}
		p.Split.Undercuts = append(p.Split.Undercuts, plan.Undercut{At: plan.P3{x, 0, 0}, Box: [2]plan.P3{{x - 0.1, 0, 0}, {x + 0.1, 0, 0}}, Volume: 10 - float64(i), Depth: 0.2, Strain: plan.Ptr(strain), Action: plan.Ptr("release")})
	}
	v := in.look()
	if got := v.numbers; got[0] != 0 || got[1] != 1 || got[2] != 2 {
		t.Errorf("numbers of findings %v", got)
	}
	for i, want := range []int{2, 3, 4, 0, 0, 0, 0, 0, 0} {
		if v.under[i] != want {
			t.Errorf("undercut %d has number %d, want %d", i, v.under[i], want)
		}
	}
}
