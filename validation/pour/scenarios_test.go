package pour

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"pourwright/examples"
	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/working/rig"
)

// example plans a piece of the examples.
func example(t *testing.T, name string) *folder {
	t.Helper()
	for _, p := range examples.Pieces() {
		if p.Name != name {
			continue
		}
		m, err := p.Make()
		if err != nil {
			t.Fatal(err)
		}
		j, err := job.Load(filepath.Join("..", "..", "examples", name, "job.toml"))
		if err != nil {
			t.Fatal(err)
		}
		f := planned(t, j, stl(t, m))
		f.master = m
		return f
	}
	t.Fatalf("no example is called %s", name)
	return nil
}

// filled computes the filling of a mould by one hand on cells of so many mm, at full size by all on the preview's cells.
func filled(t *testing.T, f *folder, cell float64, change func(s *pour.Setting)) *rig.Filled {
	t.Helper()
	s := f.setting
	one := 1
	s.Fill, s.FillCell, s.Pours = true, &cell, &one
	if full() {
		s.FillCell, s.Pours = nil, nil
	}
	if change != nil {
		change(&s)
	}
	r, err := rig.Fill(context.Background(), f.mould, s, rig.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := &r.Doc
	m := d.Middle
	for _, x := range d.Meetings {
		t.Logf("line of %.0f mm at %.0f, %.0f, %.0f, colder front %.0f degC, cold %v", x.Length, x.At[0], x.At[1], x.At[2], x.Coldest, x.Cold)
	}
	if m.Coldest != nil {
		t.Logf("coldest %.1f degC", m.Coldest.Median)
	}
	t.Logf("%d pours on %d cells of %.2g mm: castings filled %.3f (%.3f to %.3f), all %.3f, in %.2f s, trapped %.4f (%.4f to %.4f), short %.4f, %d lines, over %.3f; volume %.0e, heat %.0e",
		len(d.Runs), d.Grids[0].Cells, d.Grids[0].Cell, m.Castings.Median, m.Castings.Low, m.Castings.High, m.Filled.Median, m.Time.Median, m.Trapped.Median, m.Trapped.Low, m.Trapped.High,
		m.Short.Median, len(d.Meetings), m.Overflow.Median/d.Charge, m.Volume, m.Energy)
	if !(math.Abs(m.Volume) <= 1e-10) || !(math.Abs(m.Energy) <= 1e-6) {
		t.Errorf("of what was poured %g of the volume and %g of the heat are left over", m.Volume, m.Energy)
	}
	return r
}

// length adds up those lines that are asked for, mm.
func length(lines []pour.Meeting, asked func(m *pour.Meeting) bool) float64 {
	l := 0.0
	for i := range lines {
		if asked(&lines[i]) {
			l += lines[i].Length
		}
	}
	return l
}

// cold adds up the lines along which two fronts do not become one, mm: the middle of the pours. One pour
// alone says little: its lines come and go.
func cold(d *pour.Filling) float64 {
	var all []float64
	for _, x := range d.Runs {
		all = append(all, length(x.Meetings, func(m *pour.Meeting) bool { return m.Cold }))
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// TestEscutcheon: two plates of 1.5 mm can be filled before they freeze, two of 1.0 mm are the greater
// risk: less of them fills. In both, fronts meet that do not become one. Source: common practice, own figures.
func TestEscutcheon(t *testing.T) {
	if !full() {
		t.Skip("two minutes; POURWRIGHT_FULL=1 runs it")
	}
	thick := &filled(t, example(t, "escutcheon"), 0, nil).Doc
	thin := &filled(t, example(t, "escutcheon-thin"), 0, nil).Doc
	if x := thick.Middle.Castings.Median; x < 0.95 {
		t.Errorf("the plate of 1.5 mm fills to %g", x)
	}
	if a, b := thick.Middle.Castings.Median, thin.Middle.Castings.Median; b > a {
		t.Errorf("filled to %g at 1.5 mm and to %g at 1.0", a, b)
	}
	// Cold shuts stay in both. Which of the two has more is not told by the thickness: the ladle fills the thinner pair
	// in half the time.
	a, b := cold(thick), cold(thin)
	t.Logf("%.0f mm of cold shuts at 1.5 mm and %.0f at 1.0", a, b)
	if !(a > 0 && b > 0) {
		t.Errorf("%g mm of cold shuts at 1.5 mm and %g at 1.0", a, b)
	}
}

// TestFigurine: a figure with a staff of 1.2 mm held away from it. With its vents it fills; without any way out the air stays.
// Source: common practice, no source.
func TestFigurine(t *testing.T) {
	f := example(t, "figurine")
	vented := &filled(t, f, 4, nil).Doc
	f.mould.Block.Cuts = []plan.Cut{}
	tight := &filled(t, f, 4, func(s *pour.Setting) { s.Flow.Gap = 0 }).Doc
	a, b := &vented.Middle, &tight.Middle
	if a.Castings.Median < 0.85 || a.Trapped.Median > 0.05 {
		t.Errorf("with vents filled to %g, trapped %g", a.Castings.Median, a.Trapped.Median)
	}
	if b.Trapped.Median < a.Trapped.Median+0.05 || b.Castings.Median > a.Castings.Median {
		t.Errorf("without a way out filled to %g, trapped %g", b.Castings.Median, b.Trapped.Median)
	}
}

// TestBuckle: metal runs round a ring both ways, and fronts meet in the third of it that lies opposite the gate.
// Source: common practice, no source.
func TestBuckle(t *testing.T) {
	if !full() {
		t.Skip("a minute; POURWRIGHT_FULL=1 runs it")
	}
	f := example(t, "buckle")
	d := &filled(t, f, 0, nil).Doc
	if x := d.Middle.Castings.Median; x < 0.9 {
		t.Errorf("filled to %g", x)
	}
	gate := f.mould.Block.Ingates[0].At[1]
	low := f.mould.Cavity.Box().Min.Y
	opposite := false
	for _, m := range d.Meetings {
		opposite = opposite || m.At[1] < low+(gate-low)/3
	}
	if !opposite {
		t.Errorf("no fronts meet below y = %.0f", low+(gate-low)/3)
	}
}
