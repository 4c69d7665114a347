package sequence

import (
	"context"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/internal/shop/batch"
)

// walked is a plan with all stages but the drawing done.
func walked(t *testing.T, m *mesh.Mesh, text string) *trace {
	t.Helper()
	j, err := job.Parse("a.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := meshfile.WriteSTL(&b, m); err != nil {
		t.Fatal(err)
	}
	w := &trace{job: j, set: Setting{Mesh: []byte(b.String())}, current: newClock(context.Background(), nil)}
	for _, f := range []func() error{w.readMaster, w.checkMaster, w.findSplit, w.findStand, w.layOut, w.build, w.figure, w.judge} {
		if err := f(); err != nil {
			t.Fatal(err)
		}
	}
	return w
}

func text(rubber, extra string) string {
	return "[master]\nmesh=\"a.stl\"\nunit=\"mm\"\n[rubber]\nkind=\"" + rubber + "\"\n[alloy]\nkind=\"pewter-92-7-1\"\norigin=\"certified\"\n[order]\ncastings=4\nuse=\"decor\"\n" + extra
}

func guessOf(t *testing.T, p *plan.Plan, name string) plan.Guess {
	t.Helper()
	for _, g := range p.Guessed {
		if strings.HasPrefix(g.Input, name) {
			return g
		}
	}
	t.Fatalf("%s is not among the guesses", name)
	return plan.Guess{}
}

// With nothing changed the verdict of the guesses is that of the plan, or what
// flips would compare with another plan.
func TestVerdictOfTheGuessesIsThatOfThePlan(t *testing.T) {
	demo, err := sculpt.Demo()
	if err != nil {
		t.Fatal(err)
	}
	waist := sculpt.Turned([]vec.V2{{X: 0, Y: -16}, {X: 14, Y: -16}, {X: 14, Y: -10}, {X: 5, Y: -4}, {X: 5, Y: 4}, {X: 14, Y: 10}, {X: 14, Y: 16}, {X: 0, Y: 16}}, false, 48)
	for _, c := range []struct {
		name, text string
		m          *mesh.Mesh
	}{
		{"demo", sculpt.DemoJob, demo},
		{"plate", text("condensation-heat-30", ""), sculpt.Box(60, 40, 1.5).Mesh},
		{"ball", text("addition-20", ""), sculpt.Ball(15, 32).Mesh},
		{"hanging", text("condensation-heat-30", "[stand]\nup=[0,0,1]\n[split]\npull=[0,1,0]\n"), sculpt.Hanging(15, 12, 5.2, 20, 32).Mesh},
		{"waist", text("condensation-heat-40", "[split]\npull=[0,0,1]\n"), waist},
	} {
		w := walked(t, c.m, c.text)
		var i batch.Input
		var sheet []plan.Finding
		if w.layout == nil {
			i = w.asked()
		} else {
			i, sheet = w.quantities(), w.sheet.Findings
			i.Contact, i.Gap = batch.ContactEnd, batch.ContactGap
		}
		// the plan's own findings are there by now, as when the guesses were made
		if got := w.verdict(&i, sheet); got != w.plan.Verdict {
			t.Errorf("%s: %s for the guesses, %s for the plan", c.name, got, w.plan.Verdict)
		}
		if len(w.plan.Guessed) < 3 {
			t.Errorf("%s: guesses %v", c.name, w.plan.Guessed)
		}
		for _, g := range w.plan.Guessed {
			if g.Flips == nil {
				t.Errorf("%s: %s is not judged", c.name, g.Input)
			}
		}
	}
}

// The strain of a waist hangs on the hardness, a thin end on the surface
// tension, the heat on the rating: each flips where a harder rubber, a heavier
// tension or a lower rating gives another verdict, and only there.
func TestGuessesThatFlip(t *testing.T) {
	plate := sculpt.Box(60, 40, 4).Mesh
	w := walked(t, plate, text("condensation-heat-30", "[bench]\nmould_c=45\n"))
	if g := guessOf(t, w.plan, "rubber rating"); w.plan.Verdict != plan.Pour || !*g.Flips {
		t.Errorf("verdict %s, %+v flips %v", w.plan.Verdict, g, *g.Flips)
	}
	for _, name := range []string{"surface tension", "contact angle at thin ends", "rubber conductivity", "rubber hardness"} {
		if g := guessOf(t, w.plan, name); *g.Flips {
			t.Errorf("%s flips the verdict on a plate of 4 mm", g.Input)
		}
	}
	i, sheet := w.quantities(), w.sheet.Findings
	for k := range i.Ends {
		i.Ends[k].Head = 1.02 * 2e6 * 0.533 / (6973 * 9.80665) * (1/i.Ends[k].Thickness + 1/i.Ends[k].Width)
	}
	i.Contact, i.Gap = batch.ContactEnd, batch.ContactGap
	if v := w.verdict(&i, sheet); v != plan.Pour {
		t.Errorf("a head just above what is asked: %s", v)
	}
	i.Alloy.SurfaceTension.X *= 1.05
	if v := w.verdict(&i, sheet); v != plan.Care {
		t.Errorf("a head below what is asked: %s", v)
	}
}
