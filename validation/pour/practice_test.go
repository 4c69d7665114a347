package pour

import (
	"cmp"
	"context"
	"slices"
	"testing"

	"pourwright/examples"
	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/voxel"
	"pourwright/internal/working/rig"
)

// practice is how a piece fills by the steady hand on the preview's cells and how it freezes on cells of 0.75 mm.
type practice struct {
	doc *pour.Filling
	// late is the largest, over the quarter of the castings' cells that freezes first, of the time at which metal comes over the
	// time at which the last of the cell is solid when the cavity is full at once.
	late float64
}

// castings tells of each cell of a grid over the mould whether its middle lies in a casting: channels and vents are none.
func castings(t *testing.T, f *folder, name string, g grid.Grid) []bool {
	t.Helper()
	in := make([]bool, g.Len())
	for _, p := range examples.Pieces() {
		if p.Name != name {
			continue
		}
		for _, at := range f.mould.Block.Placements {
			m, err := p.Make()
			if err != nil {
				t.Fatal(err)
			}
			frame := vec.Frame{Origin: vec.FromArray(at.Origin), X: vec.FromArray(at.X), Y: vec.FromArray(at.Y), Z: vec.FromArray(at.Z)}
			for i, v := range m.V {
				m.V[i] = frame.To(v)
			}
			for i, x := range voxel.Cells(m, g) {
				in[i] = in[i] || x > 0
			}
		}
	}
	return in
}

func practised(t *testing.T, name string) practice {
	t.Helper()
	f := example(t, name)
	one := 1
	s := f.setting
	s.Fill, s.Pours = true, &one
	filled, err := rig.Fill(context.Background(), f.mould, s, rig.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h := 0.75
	s = f.setting
	s.Cell = &h
	frozen, err := rig.Freeze(context.Background(), f.mould, s, rig.Options{First: true})
	if err != nil {
		t.Fatal(err)
	}
	a, b := filled.Fields, frozen.Fields
	last := make([]float32, len(a.Time)) // s, by cells of the filling
	in := castings(t, f, name, b.Grid)
	for i, x := range b.Solid {
		if x < 0 || !in[i] {
			continue
		}
		if i, j, k, ok := a.Grid.Find(b.Grid.Centre(b.Grid.Cell(i))); ok {
			c := a.Grid.At(i, j, k)
			last[c] = max(last[c], x)
		}
	}
	type cell struct{ come, solid float64 }
	var all []cell
	for j, x := range a.Time {
		if x >= 0 && last[j] > 0 {
			all = append(all, cell{float64(x), float64(last[j])})
		}
	}
	slices.SortStableFunc(all, func(x, y cell) int { return cmp.Compare(x.solid, y.solid) })
	thin := all[:len(all)/4]
	var late []float64
	for _, c := range thin {
		late = append(late, c.come/c.solid)
	}
	slices.Sort(late)
	p := practice{&filled.Doc, late[len(late)-1]}
	t.Logf("%s: fills to %.3f in %.2f s; the quarter of %d cells that freezes first is solid within %.1f s, metal comes by %.2f of that at the latest, %.2f in the middle",
		name, p.doc.Middle.Castings.Median, p.doc.Middle.Time.Median, len(all), thin[len(thin)-1].solid, p.late, late[len(late)/2])
	return p
}

// TestCommonPractice: what casters say of every pour, as the computed ones have it. Metal reaches every thin end in well under a
// third of its freezing time; a hand-sized mould fills in one to three seconds; two ladles with a pause leave a
// visible line. Source: common practice, no source.
func TestCommonPractice(t *testing.T) {
	if !full() {
		t.Skip("a minute; POURWRIGHT_FULL=1 runs it")
	}
	var times []float64
	for _, c := range []struct {
		name string
		hard bool // a staff of 1.2 mm: casters call it hard and expect a low yield
	}{{"escutcheon", false}, {"escutcheon-thin", false}, {"figurine", true}, {"buckle", false}} {
		p := practised(t, c.name)
		times = append(times, p.doc.Middle.Time.Median)
		if late := p.late > 1./3; late != c.hard {
			t.Errorf("%s: metal comes to thin places by %.2f of their freezing time", c.name, p.late)
		}
	}
	slices.Sort(times)
	if m := (times[1] + times[2]) / 2; m < 1 || m > 3 {
		t.Errorf("hand-sized moulds fill in %.2f s", times)
	}
	f := example(t, "buckle")
	for _, pause := range []float64{0, 2} {
		d := filled(t, f, 0, func(s *pour.Setting) {
			one := 1
			s.Pours = &one
			if pause > 0 {
				s.Pouring.Ladle, s.Pouring.Pause = plan.Ptr(4e3), pause
			}
		})
		line := 0.0
		for _, m := range d.Meetings {
			if m.Ladle {
				line += m.Length
			}
		}
		t.Logf("pause of %g s: charge %.1f cm3, a line of %.0f mm", pause, d.Charge/1e3, line)
		if (line > 0) != (pause > 0) {
			t.Errorf("a pause of %g s between ladles leaves a line of %.1f mm", pause, line)
		}
	}
}
