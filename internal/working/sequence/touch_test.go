package sequence

import (
	"context"
	"math"
	"slices"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// boxed is the box between two corners.
func boxed(a, b vec.V3) *mesh.Mesh {
	s := b.Sub(a)
	m := sculpt.Box(s.X, s.Y, s.Z).Mesh
	for i, p := range m.V {
		m.V[i] = p.Add(a)
	}
	return m
}

// Boxes that lie on each other with their faces are one piece, whichever way
// they stand and whatever the corners of an STL file lose; a gap that a caliper
// shows keeps them two, and so does --body.
func TestBodiesThatLieOnEachOther(t *testing.T) {
	turned := func(p vec.V3) vec.V3 {
		s, c := math.Sincos(0.37)
		p.X, p.Y = c*p.X-s*p.Y, s*p.X+c*p.Y
		s, c = math.Sincos(0.83)
		p.Y, p.Z = c*p.Y-s*p.Z, s*p.Y+c*p.Z
		return p
	}
	for _, c := range []struct {
		name     string
		gap      float64
		turn     bool
		from, to vec.V3 // of the second box, without the gap
		bodies   int
		area     float64
	}{
		{"on the side", 0, false, vec.V3{X: 20, Y: 5, Z: 5}, vec.V3{X: 40, Y: 15, Z: 15}, 1, 2400 + 800},
		{"turned", 0, true, vec.V3{X: 20, Y: 5, Z: 5}, vec.V3{X: 40, Y: 15, Z: 15}, 1, 2400 + 800},
		{"turned, far out", 0, true, vec.V3{X: 20, Y: 5, Z: 5}, vec.V3{X: 80, Y: 15, Z: 15}, 1, 2400 + 2400},
		{"half over the edge", 0, true, vec.V3{X: 20, Y: 5, Z: 5}, vec.V3{X: 40, Y: 15, Z: 30}, 1, 2400 + 1900 - 2*150},
		{"from below", 0, false, vec.V3{X: 5, Y: 5, Z: -10}, vec.V3{X: 15, Y: 15, Z: 0}, 1, 2400 + 400},
		{"apart", 0.1, true, vec.V3{X: 20, Y: 5, Z: 5}, vec.V3{X: 40, Y: 15, Z: 15}, 2, 2400 + 1000},
		{"edge on edge", 0, false, vec.V3{X: 20, Y: 20, Z: 0}, vec.V3{X: 40, Y: 40, Z: 20}, 2, 4800},
	} {
		shift := vec.V3{X: c.gap}
		both := together(boxed(vec.V3{}, vec.V3{X: 20, Y: 20, Z: 20}), boxed(c.from.Add(shift), c.to.Add(shift)))
		if c.turn {
			for i, p := range both.V {
				both.V[i] = turned(p)
			}
		}
		m, err := Check(Source{Path: "boxes.stl", Data: stl(t, both), Unit: "mm", From: "flag"})
		if err != nil {
			t.Fatal(err)
		}
		if m.Said.Bodies != c.bodies || math.Abs(m.Said.Volume/both.Volume()-1) > 1e-5 || math.Abs(m.Said.Area/c.area-1) > 2e-5 {
			t.Errorf("%s: %d bodies, %.8g mm3 of %.8g, %.8g mm2 of %.8g", c.name, m.Said.Bodies, m.Said.Volume, both.Volume(), m.Said.Area, c.area)
		}
		told := slices.ContainsFunc(m.Said.Repairs, func(r plan.Repair) bool { return r.Step == "united bodies that lie on each other" })
		if told != (c.bodies == 1) {
			t.Errorf("%s: told %v", c.name, told)
		}
		alone, err := Check(Source{Path: "boxes.stl", Data: stl(t, both), Unit: "mm", From: "flag", Body: 1})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(alone.Said.Volume/8000-1) > 1e-6 {
			t.Errorf("%s: body 1 holds %g mm3", c.name, alone.Said.Volume)
		}
	}
	glued := together(boxed(vec.V3{}, vec.V3{X: 20, Y: 20, Z: 20}), boxed(vec.V3{X: 20, Y: 5, Z: 5}, vec.V3{X: 40, Y: 15, Z: 15}))
	r, err := Make(context.Background(), parse(t, head+rest), Setting{Version: "test", Mesh: stl(t, glued)})
	if err != nil {
		t.Fatal(err)
	}
	if r.Plan.Verdict == plan.No || r.Plan.Master.Bodies != 1 {
		t.Errorf("verdict %s, %d bodies: %+v", r.Plan.Verdict, r.Plan.Master.Bodies, r.Plan.Findings)
	}
	if !mesh.TopologyOf(glued).Watertight {
		t.Error("the boxes are not closed")
	}
}
