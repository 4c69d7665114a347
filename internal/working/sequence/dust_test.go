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

// A speck beside the master is left out and said; one that touches it, or that
// is large enough to be a part, stays.
func TestDust(t *testing.T) {
	ball := sculpt.Ball(15, 24).Mesh
	with := func(r, x float64) *mesh.Mesh {
		m := &mesh.Mesh{V: slices.Clone(ball.V), F: slices.Clone(ball.F)}
		s := sculpt.Ball(r, 8).Mesh
		for i, p := range s.V {
			s.V[i] = p.Add(vec.V3{X: x, Y: 4})
		}
		m.Append(s)
		return m
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		gone bool
	}{
		{"a speck 1 mm off", with(0.4, 16), true},
		{"a speck that cuts the skin", with(0.4, math.Sqrt(15*15-4*4)), false},
		{"a part 1 mm off", with(1.5, 17), false},
	} {
		r, err := Make(context.Background(), parse(t, head+rest), Setting{Version: "test", Mesh: stl(t, c.m)})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		p := r.Plan
		gone := slices.ContainsFunc(p.Master.Repairs, func(r plan.Repair) bool { return r.Step == "left out dust" && r.Count == 1 && r.VolumeChange < 0 })
		said := slices.ContainsFunc(p.Findings, func(f plan.Finding) bool { return f.Code == "repair" && f.At != nil })
		if gone != c.gone || gone && (!said || p.Master.Bodies != 1 || p.Master.Read.Shells != 2 || p.Master.Shells != 1) {
			t.Errorf("%s: repairs %+v, said %t, %d bodies", c.name, p.Master.Repairs, said, p.Master.Bodies)
		}
		if want := ball.Volume(); gone && math.Abs(p.Master.Volume-want) > 1e-6*want {
			t.Errorf("%s: volume %g, want %g", c.name, p.Master.Volume, want)
		}
	}
}
