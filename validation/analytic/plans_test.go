package analytic

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/working/sequence"
)

// planOf plans a body with pull and up given where they are not nil.
func planOf(t *testing.T, m *mesh.Mesh, pull, up *vec.V3) *plan.Plan {
	text := `[master]
mesh = "body.stl"
unit = "mm"
[rubber]
kind = "condensation-heat-30"
[alloy]
kind = "pewter-92-7-1"
origin = "certified"
[order]
castings = 10
use = "decor"
`
	if pull != nil {
		text += fmt.Sprintf("[split]\npull = [%g, %g, %g]\n", pull.X, pull.Y, pull.Z)
	}
	if up != nil {
		text += fmt.Sprintf("[stand]\nup = [%g, %g, %g]\n", up.X, up.Y, up.Z)
	}
	j, err := job.Parse("job.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := meshfile.WriteSTL(&b, m); err != nil {
		t.Fatal(err)
	}
	r, err := sequence.Make(context.Background(), j, sequence.Setting{Mesh: b.Bytes()})
	if err != nil {
		t.Fatal(err)
	}
	var p plan.Plan
	if err := json.Unmarshal(r.JSON, &p); err != nil {
		t.Fatal(err)
	}
	return &p
}

func has(p *plan.Plan, codes ...string) bool {
	return slices.ContainsFunc(p.Findings, func(f plan.Finding) bool { return slices.Contains(codes, f.Code) })
}

// TestPlans walks the whole line: no for what cannot be moulded, with the
// reason; a block for everything else.
func TestPlans(t *testing.T) {
	for _, b := range bodies() {
		p := planOf(t, b.mesh, nil, nil)
		if (p.Verdict == plan.No) != (b.bar != "") {
			t.Errorf("%s: verdict %s, bar %q", b.name, p.Verdict, b.bar)
			for _, f := range p.Findings {
				t.Logf("%s: %s %s: %s", b.name, f.Severity, f.Code, f.Say)
			}
		}
		if b.bar != "" && !has(p, b.bar) {
			t.Errorf("%s: no finding %s", b.name, b.bar)
		}
		if d := math.Abs(p.Master.Volume - b.volume); d > 1e-5*b.volume {
			t.Errorf("%s: volume %.9g, want %.9g", b.name, p.Master.Volume, b.volume)
		}
		if (p.Block == nil) != (p.Verdict == plan.No) {
			t.Errorf("%s: verdict %s with block %t", b.name, p.Verdict, p.Block != nil)
		}
	}
}

// TestHangingPlans pours the blocks with their pin hanging: pewter bridges a
// bore of 3 mm, so the pin asks for a vent of its own; a bore of 8 mm fills.
func TestHangingPlans(t *testing.T) {
	pull, up := v(0, 1, 0), v(0, 0, 1)
	for _, b := range bodies() {
		if len(b.hangs) == 0 {
			continue
		}
		p := planOf(t, b.mesh, &pull, &up)
		if len(p.Stand.DeadEnds) != 1 {
			t.Errorf("%s: dead ends %+v", b.name, p.Stand.DeadEnds)
			continue
		}
		bridged := b.hangs[0].bore < 5
		if d := p.Stand.DeadEnds[0]; d.Bridged == nil || *d.Bridged != bridged {
			t.Errorf("%s: %+v, want bridged %t", b.name, d, bridged)
		}
		if !bridged || p.Block == nil {
			continue
		}
		frame := p.Block.Placements[0].Vec()
		tip := v(0, 0, -b.hangs[0].depth)
		reached := false
		for _, c := range p.Block.Cuts {
			reached = reached || frame.From(vec.FromArray(c.At)).Dist(tip) < 3
		}
		for _, c := range p.Block.FlowOffs {
			reached = reached || frame.From(vec.FromArray(c.At)).Dist(tip) < 3
		}
		if !reached && !has(p, "dead-end") {
			t.Errorf("%s: no cut at the pin's tip and no finding", b.name)
		}
	}
}
