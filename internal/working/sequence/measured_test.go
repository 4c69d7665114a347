package sequence

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/working/rig"
)

const knob = `title = "knob"
[master.measured]
length = 34
width = 34
height = 28
mass = 96
density = 8.5
thinnest = 9
thickest = 24
class = "figure"
[rubber]
kind = "condensation-heat-30"
[alloy]
kind = "pewter-92-7-1"
[order]
castings = 12
use = "decor"
`

func measuredPlan(t *testing.T, text string) (*Result, error) {
	t.Helper()
	j, err := job.Parse("knob.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return Make(context.Background(), j, Setting{Version: "test", Pour: true})
}

// A plan from measures has what is weighed and waited, says that nothing was
// computed, and holds no solids and no pour.
func TestMeasuredMasterIsPlanned(t *testing.T) {
	r, err := measuredPlan(t, knob)
	if err != nil {
		t.Fatal(err)
	}
	p := r.Plan
	if p.Verdict != plan.Care || p.Computed || p.Fill.Computed || p.Freeze.Computed || p.Freeze.OpenAfter == nil || p.Master.Watertight || p.Master.Triangles != 0 {
		t.Errorf("verdict %s, computed %v, master %+v", p.Verdict, p.Computed, p.Master)
	}
	if x := p.Master.Volume; x < 96e3/8.5-1 || x > 96e3/8.5+1 {
		t.Errorf("volume %g", x)
	}
	var codes []string
	for _, f := range p.Findings {
		codes = append(codes, f.Code+" "+f.Severity)
	}
	for _, c := range []string{"measured should", "not-computed note"} {
		if !slices.Contains(codes, c) {
			t.Errorf("no finding %s in %v", c, codes)
		}
	}
	figure := map[string]float64{}
	for _, f := range p.Figures {
		figure[f.Name] = f.Value
	}
	for _, name := range []string{"rubber of half 1", "rubber of half 2", "rubber of both halves", "one casting", "charge for one shot", "heaviest place solid", "open the mould"} {
		i := slices.IndexFunc(p.Master.Measured.Bands, func(b plan.Band) bool { return b.Name == name })
		if i < 0 {
			t.Errorf("no band of %s", name)
			continue
		}
		if b := p.Master.Measured.Bands[i]; !(b.Low < b.High) || b.Value < b.Low || b.Value > b.High || b.Value != figure[name] {
			t.Errorf("%s is %g, its band %+v", name, figure[name], b)
		}
	}
	if g := p.Guessed[0]; g.Input != "volume of the master, cm3" || g.Flips == nil {
		t.Errorf("the first guess is %+v", g)
	}
	// block = halves + metal
	block := p.Block.Size[0] * p.Block.Size[1] * p.Block.Size[2]
	sum := p.Rubber.Halves[0].Volume + p.Rubber.Halves[1].Volume + p.Metal.ChargeMass/mustJob(t).AlloyRow.DensityLiquid.X*1e6
	if d := sum/block - 1; d > 1e-6 || d < -1e-6 {
		t.Errorf("halves and metal are %.9g mm3, the block %.9g", sum, block)
	}
	var names []string
	for _, f := range r.Files {
		names = append(names, f.Name)
	}
	slices.Sort(names)
	if want := "card.pdf layout.png section.png split.png templates.pdf"; strings.Join(names, " ") != want {
		t.Errorf("files %v, want %s", names, want)
	}
	again, err := measuredPlan(t, knob)
	if err != nil {
		t.Fatal(err)
	}
	a, b := *r.Plan, *again.Plan
	a.Timing, b.Timing = nil, nil
	var x, y bytes.Buffer
	if plan.Write(&x, &a) != nil || plan.Write(&y, &b) != nil || x.String() != y.String() {
		t.Error("the same measures gave another plan")
	}
	dir := filepath.Join(t.TempDir(), "knob-plan")
	if err := Save(context.Background(), r, dir); err != nil {
		t.Fatal(err)
	}
	if _, err := Pour(context.Background(), dir, Changes{}, rig.Options{}); fault.KindOf(err) != fault.Input || !strings.Contains(err.Error(), "measures") || fault.HintOf(err) == "" {
		t.Errorf("a pour of a plan from measures: %v", err)
	}
	var doc map[string]any
	text, _ := os.ReadFile(filepath.Join(dir, "plan.json"))
	if json.Unmarshal(text, &doc) != nil || doc["computed"] != false {
		t.Error("plan.json does not say that it is not computed")
	}
}

func mustJob(t *testing.T) *job.Job {
	j, err := job.Parse("knob.toml", []byte(knob))
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// What the measures leave open, or what contradicts itself, is told; a flat back
// parts on the back.
func TestMeasuredMasterSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"no way to the volume", "mass = 96\n", "", "do not tell the volume"},
		{"more than the box", "mass = 96", "mass = 960", "holds only"},
		{"a section across", "thickest = 24", "thickest = 40", "least way"},
		{"hardly anything", "mass = 96\ndensity = 8.5\nthinnest = 9\nthickest = 24", "mass = 0.2\ndensity = 8.5", "too little"},
		{"tiny", "length = 34\nwidth = 34\nheight = 28\nmass = 96", "length = 4\nwidth = 3\nheight = 3\nmass = 0.2", "longest side"},
		{"hardly anything", "mass = 96", "mass = 20", "ball of the thickest"},
	} {
		text := strings.Replace(knob, c.old, c.new, 1)
		if c.name == "tiny" {
			text = strings.Replace(text, "thinnest = 9\nthickest = 24\n", "", 1)
		}
		_, err := measuredPlan(t, text)
		if fault.KindOf(err) != fault.Input || !strings.Contains(err.Error(), c.want) || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	r, err := measuredPlan(t, strings.Replace(knob, `class = "figure"`, "class = \"disc\"\nsection = \"half-round\"", 1))
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range r.Plan.Master.Measured.Bands {
		if b.Name == "share in half 1" && b.Value != 0 && b.Value != 1 {
			t.Errorf("of a disc with a flat back %g lies in half 1", b.Value)
		}
	}
	r, err = measuredPlan(t, strings.Replace(strings.Replace(knob, "mass = 96\ndensity = 8.5\n", "", 1), "figure", "bar", 1))
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(r.Plan.Findings, func(f plan.Finding) bool { return f.Do == WeighIt && f.Severity == plan.Should }) {
		t.Error("a bar of no section and no mass: nothing asks for a closer reading")
	}
	ring := strings.NewReplacer("length = 34\nwidth = 34\nheight = 28\nmass = 96", "length = 40\nwidth = 40\nheight = 6\nmass = 30", "thinnest = 9\nthickest = 24\n", "", "figure", "ring").Replace(knob)
	if r, err = measuredPlan(t, ring); err != nil {
		t.Fatal(err)
	}
	if s := r.Plan.Master.Measured.StandIn; s != "ring" {
		t.Errorf("for a ring that was weighed stands in a body of the form %s", s)
	}
}
