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

// ringed is a ring of round section: radius r of the middle circle, section
// radius a, moved by f.
func ringed(r, a float64, f func(vec.V3) vec.V3) *mesh.Mesh {
	var p []vec.V2
	for k := range 24 {
		s, c := math.Sincos(2 * math.Pi * float64(k) / 24)
		p = append(p, vec.V2{X: r + a*c, Y: a * s})
	}
	m := sculpt.Turned(p, true, 48)
	for i, v := range m.V {
		m.V[i] = f(v)
	}
	return m
}

// joined puts the triangles of two bodies into one mesh.
func joined(a, b *mesh.Mesh) *mesh.Mesh {
	m := &mesh.Mesh{V: slices.Concat(a.V, b.V), F: slices.Clone(a.F)}
	n := int32(len(a.V))
	for _, f := range b.F {
		m.F = append(m.F, [3]int32{f[0] + n, f[1] + n, f[2] + n})
	}
	return m
}

// Linked rings are measured, and their plan says no; the same rings apart are
// no reason to.
func TestPlanOfLinkedRings(t *testing.T) {
	flat := ringed(10, 2, func(p vec.V3) vec.V3 { return p })
	for _, c := range []struct {
		dx     float64
		linked bool
	}{{10, true}, {30, false}} {
		other := ringed(10, 2, func(p vec.V3) vec.V3 { return vec.V3{X: p.X + c.dx, Y: p.Z, Z: -p.Y} })
		both := joined(flat, other)
		r, err := Make(context.Background(), parse(t, head+rest), Setting{Version: "test", Mesh: stl(t, both)})
		if err != nil {
			t.Fatal(err)
		}
		p := r.Plan
		if p.Master.Bodies != 2 || math.Abs(p.Master.Volume/both.Volume()-1) > 1e-6 {
			t.Errorf("%g mm apart: %d bodies of %.6g mm3", c.dx, p.Master.Bodies, p.Master.Volume)
		}
		found := slices.ContainsFunc(p.Findings, func(f plan.Finding) bool { return f.Code == "linked" })
		if found != c.linked || c.linked && (p.Verdict != plan.No || p.Block != nil) {
			t.Errorf("%g mm apart: linked %v, verdict %s, block %v", c.dx, found, p.Verdict, p.Block != nil)
		}
	}
}

// Bodies are named by the numbers of --body, largest first, with size and place.
func TestBodiesAreNamed(t *testing.T) {
	small := ringed(10, 2, func(p vec.V3) vec.V3 { return vec.V3{X: p.X + 12, Y: p.Z, Z: -p.Y} })
	large := ringed(12, 3, func(p vec.V3) vec.V3 { return p })
	both := joined(small, large)
	top := mesh.TopologyOf(both)
	m := &Master{Mesh: both, Topology: top, Nest: mesh.NestOf(both, top)}
	m.several()
	if len(m.Notes) != 3 {
		t.Fatalf("%d notes, want 3: %+v", len(m.Notes), m.Notes)
	}
	for i, want := range []string{"Body 1 is 30 x 30 x 6 mm about 0, 0, 0.", "Body 2 is 24 x 4 x 24 mm about 12, 0, 0."} {
		if got := m.Notes[i+1]; got.Say != want || got.At == nil {
			t.Errorf("note %d is %q at %v, want %q", i+1, got.Say, got.At, want)
		}
	}
	m = &Master{Mesh: large, Topology: mesh.TopologyOf(large), Nest: mesh.NestOf(large, mesh.TopologyOf(large))}
	if m.several(); len(m.Notes) != 0 {
		t.Errorf("one body: %v", m.Notes)
	}
}
