package sequence

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/working/rig"
)

// cuboid is a closed box between two corners.
func cuboid(lo, hi vec.V3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		f := vec.V3{X: float64(i & 1), Y: float64(i >> 1 & 1), Z: float64(i >> 2)}
		m.V = append(m.V, vec.V3{X: lo.X + f.X*(hi.X-lo.X), Y: lo.Y + f.Y*(hi.Y-lo.Y), Z: lo.Z + f.Z*(hi.Z-lo.Z)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// plateFolder writes the folder of a plan by hand: a plate of 24 x 8 mm that stands
// open at the cup in a block of 60 x 56 x 48 mm, in an invented rubber of the table.
func plateFolder(t *testing.T, change func(*job.Job)) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "plan")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	j := &job.Job{}
	var err error
	if j.AlloyRow, err = material.FindAlloy("pewter-92-7-1"); err != nil {
		t.Fatal(err)
	}
	if j.RubberRow, err = material.FindRubber("condensation-heat-30"); err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(j)
	}
	s := rig.SettingOf(j, rig.Ask{Metal: 290, Mould: 45, Shots: 3, BoardName: "MDF", BoardThick: 12, Thin: 8})
	var b strings.Builder
	if err := pour.Write(&b, pour.Empty(s)); err != nil {
		t.Fatal(err)
	}
	p, err := json.Marshal(map[string]any{"schema": "pourwright/plan/1", "metal": map[string]any{"pour_temperature": 290},
		"block": map[string]any{"size": plan.P3{60, 56, 48}, "cavities": 1, "ingates": []any{map[string]any{"at": plan.P3{0, 15, 0}}}}})
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"plan.json": p, pour.Name: []byte(b.String()),
		"cavity.stl": stl(t, cuboid(vec.V3{X: -12, Y: -14, Z: -4}, vec.V3{X: 12, Y: 28, Z: 4})),
		"half-1.stl": stl(t, cuboid(vec.V3{X: -30, Y: -28}, vec.V3{X: 30, Y: 28, Z: 24}))} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// The real pour of these tests: values that the plan does not have, metal and mould
// of that day, beads that sit a little off their stated places.
var (
	beadNear = vec.V3{X: 2, Z: 6}
	beadFar  = vec.V3{X: -3, Y: -2, Z: -9}
)

const (
	trueK, trueH = 0.27, 1700.0
	pouredAt     = 72.4 // s into the log
)

// day is what happened on the day of a pour.
type day struct {
	k, h  float64
	shift [2]float64 // mm by which the beads sit deeper than stated
	bias  [2]float64 // K of the probes
	cell  float64    // mm, of the pour that stands for the real one
	seed  uint64
}

var thatDay = day{k: trueK, h: trueH, shift: [2]float64{0.08, 0.1}, bias: [2]float64{0.7, -0.4}, cell: 0.9, seed: 4}

// record writes a logger's file of a pour of the folder's mould, computed on finer
// cells than the fit has: semicolons, decimal commas, clocks, 0.1 K steps, noise,
// constant errors of the probes, one open circuit.
func record(t *testing.T, dir, name string, seconds float64, o day) string {
	t.Helper()
	m, d, err := Folder(dir)
	if err != nil {
		t.Fatal(err)
	}
	s := d.Setting
	s.Metal, s.Mould = 281, 31.5
	b, err := rig.NewBeads(context.Background(), m, s, o.cell, 0, []rig.Bead{
		{Name: "a", At: beadNear.Add(vec.V3{Z: o.shift[0]})}, {Name: "b", At: beadFar.Add(vec.V3{Z: -o.shift[1]})}})
	if err != nil {
		t.Fatal(err)
	}
	times := rig.Times(seconds)
	y, err := b.Pour(context.Background(), o.k, o.h, times, nil)
	if err != nil {
		t.Fatal(err)
	}
	curve := func(bead int, x float64) float64 {
		c := y[7*bead+3] // seven points a bead where nothing is in doubt
		if x <= 0 {
			return c[0]
		}
		i := 1
		for i < len(times)-1 && times[i] < x {
			i++
		}
		f := (x - times[i-1]) / (times[i] - times[i-1])
		return c[i-1] + f*(c[i]-c[i-1])
	}
	r := rand.New(rand.NewPCG(11, o.seed))
	var w strings.Builder
	w.WriteString("Logger;invented\n\nTime;wall 2 mm (°C);spare (°C);wall 5 mm (°C)\n")
	for x := 0.0; x < pouredAt+seconds-5; x++ {
		line := fmt.Sprintf("14:%02d:%02d;%.1f;OL;%.1f\n", int(x)/60, int(x)%60,
			curve(0, x-pouredAt)+o.bias[0]+0.1*r.NormFloat64(), curve(1, x-pouredAt)+o.bias[1]+0.1*r.NormFloat64())
		if x == 40 {
			line = "14:00:40;OL;OL;9999\n"
		}
		w.WriteString(strings.ReplaceAll(line, ".", ","))
	}
	path := filepath.Join(filepath.Dir(dir), name)
	if err := os.WriteFile(path, []byte(w.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func num2(x float64) *float64 { return &x }

// recorded is how the call of these tests looks.
func recorded(dir, log string) Recording {
	return Recording{Dir: dir, Log: log, DepthError: 0.12,
		Beads:   []Bead{{Column: "wall 2 mm", At: beadNear}, {Column: "4", At: beadFar}},
		Changes: Changes{Metal: num2(281), Cell: num2(1.4)}}
}

// home keeps the user's own rows out of a test.
func home(t *testing.T) string {
	dir := t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(dir, "settings"))
	t.Setenv("HOME", dir)
	t.Chdir(dir)
	return filepath.Join(dir, "settings", "pourwright", material.OwnFile)
}

// From the log of an invented pour on fine cells to conductivity and coefficient on
// coarse ones, to a row of the workshop, to a job that names it.
func TestThermocouple(t *testing.T) {
	own := home(t)
	dir := plateFolder(t, func(j *job.Job) { j.RubberRow.HeatCapacity.X = 1250 })
	r := recorded(dir, record(t, dir, "pour-7.csv", 420, thatDay))
	var cost Cost
	stages := map[string]bool{}
	r.Before = func(c Cost) { cost = c }
	r.Progress = func(stage string, done float64) { stages[stage] = true }
	r.Keep = &Keep{Name: "red-30-may", Date: "2026-05-12"}
	f, err := Thermocouple(context.Background(), r)
	if err != nil {
		t.Fatal(err, fault.HintOf(err))
	}
	if f.NotKept != nil {
		t.Fatal(f.NotKept, fault.HintOf(f.NotKept), f.Findings)
	}
	k, h := f.Params[0], f.Params[1]
	t.Logf("k %.3f (%.3f to %.3f), h %.0f (%.0f to %.0f, open %v), %d runs, cells right to %.2f K, noise %+v, start %+v", k.Value, k.Low, k.High, h.Value, h.Low, h.High, h.HighOpen, f.Runs, f.GridError, f.Noise, f.Start[0])
	if !k.Told || k.Low > trueK || k.High < trueK || math.Abs(k.Value/trueK-1) > 0.15 {
		t.Errorf("conductivity %+v, %v", k, f.Findings)
	}
	if h.Low > trueH || h.High < trueH && !h.HighOpen {
		t.Errorf("coefficient %+v", h)
	}
	if d := f.Start[0].Value - pouredAt; math.Abs(d) > 1.5 {
		t.Errorf("the pour begins %g s off", d)
	}
	if f.MouldFrom != "log" || math.Abs(f.Setting.Mould-31.5) > 0.5 || math.Abs(f.LogSpread-1.1) > 0.2 || f.Setting.Metal != 281 {
		t.Errorf("mould of %g by the %s, metal of %g", f.Setting.Mould, f.MouldFrom, f.Setting.Metal)
	}
	if !stages["as planned"] || !stages["on coarser cells"] || !stages["4 of at most 15"] || cost.Cell != 1.4 || cost.Cells < 50000 || cost.Seconds <= 0 || cost.Bytes < 64<<20 {
		t.Errorf("stages %v, cost %+v", stages, cost)
	}
	if f.KeptIn != own {
		t.Errorf("kept in %s", f.KeptIn)
	}
	work := filepath.Join(t.TempDir(), "job.toml")
	if err := os.WriteFile(work, []byte("[master]\nmesh = \"a.stl\"\n[rubber]\nkind = \"red-30-may\"\n[alloy]\nkind = \"tin\"\n[order]\ncastings = 2\nuse = \"decor\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	j, err := job.Load(work)
	if err != nil {
		t.Fatal(err)
	}
	s := rig.SettingOf(j, rig.Ask{})
	if math.Abs(s.Rubber.Conductivity/k.Value-1) > 1e-3 || s.Rubber.Capacity != 1250 || (j.Interface != nil) != (h.Told || h.HighOpen && !h.LowOpen) || j.Interface != nil && math.Abs(s.Contact/h.Value-1) > 1e-3 {
		t.Errorf("the job has %+v, contact %g", s.Rubber, s.Contact)
	}
	r.Keep.Name = "red-30-june"
	again, err := Thermocouple(context.Background(), r)
	if err != nil || !reflect.DeepEqual(again.Result, f.Result) {
		t.Errorf("the same log gave other numbers, %v", err)
	}
}

// How often the limits hold, over invented days: conductivity, coefficient, places and
// errors of the probes differ, the real pour is one on cells of 0.7 to 1 mm, the fit has
// those of 1.2 and 1.6.
func TestThermocoupleCoverage(t *testing.T) {
	if os.Getenv("POURWRIGHT_FULL") == "" {
		t.Log("not run: POURWRIGHT_FULL is not set")
		return
	}
	home(t)
	dir := plateFolder(t, nil)
	const days = 24
	var held, told, contact, runs int
	worst := 0.0
	for n := range uint64(days) {
		r := rand.New(rand.NewPCG(5, n))
		o := day{k: 0.22 + 0.2*r.Float64(), h: 500 * math.Exp(2*r.Float64()), cell: 0.7 + 0.3*r.Float64(), seed: n}
		for i := range 2 {
			o.shift[i], o.bias[i] = 0.12*r.NormFloat64(), 0.87*r.NormFloat64()
		}
		call := recorded(dir, record(t, dir, fmt.Sprintf("pour-%d.csv", n), 420, o))
		call.Changes.Cell = num2([]float64{1.2, 1.6}[n%2])
		f, err := Thermocouple(context.Background(), call)
		if err != nil {
			t.Fatal(err)
		}
		k, h := f.Params[0], f.Params[1]
		if k.Low <= o.k && o.k <= k.High {
			held++
		}
		if k.Told {
			told++
		}
		if h.Low <= o.h && (o.h <= h.High || h.HighOpen) {
			contact++
		}
		worst = math.Max(worst, math.Abs(k.Value/o.k-1))
		runs += f.Runs
		t.Logf("k %.3f: %.3f (%.3f to %.3f), h %.0f: %.0f (%.0f to %.0f), %d runs, grid %.2f K", o.k, k.Value, k.Low, k.High, o.h, h.Value, h.Low, h.High, f.Runs, f.GridError)
	}
	t.Logf("of %d: k within its limits %d, told %d, h within its limits %d; k off by %.0f %% at most, %.1f runs", days, held, told, contact, 100*worst, float64(runs)/days)
	if held < days-4 || contact < days-6 || told < days/2 {
		t.Error("the limits hold too seldom, or tell too little")
	}
}

// What is asked wrongly is refused before anything is computed, and nothing is
// written.
func TestThermocoupleRefused(t *testing.T) {
	own := home(t)
	dir := plateFolder(t, nil)
	log := record(t, dir, "pour.csv", 60, thatDay)
	flat := filepath.Join(filepath.Dir(dir), "flat.csv")
	var b strings.Builder
	b.WriteString("Time (s),wall 2 mm (C),x (C),y (C)\n")
	for i := range 100 {
		fmt.Fprintf(&b, "%d,22.%d,21.%d,22.0\n", i, i%3, i%2)
	}
	if err := os.WriteFile(flat, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := material.SaveOwn(own, material.OwnRubber{Name: "taken", Base: "condensation-heat-30", Values: []material.OwnValue{{Property: "conductivity", Value: 0.3}}}); err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(own)
	for name, c := range map[string]struct {
		kind   fault.Kind
		say    string
		change func(*Recording)
	}{
		"column":        {fault.Input, "no channel", func(r *Recording) { r.Beads[0].Column = "wall 3 mm" }},
		"dead column":   {fault.Input, "no channel", func(r *Recording) { r.Beads[0].Column = "spare" }},
		"twice":         {fault.Usage, "two beads", func(r *Recording) { r.Beads[0].Column = "4" }},
		"metal":         {fault.Input, "in the metal", func(r *Recording) { r.Beads[0].At.Z = 2 }},
		"outside":       {fault.Input, "outside the block", func(r *Recording) { r.Beads[1].At.Z = -24 }},
		"touching":      {fault.Input, "nearer than", func(r *Recording) { r.Beads[0].At.Z = 4.1 }},
		"no bead":       {fault.Usage, "no bead", func(r *Recording) { r.Beads = nil }},
		"no log":        {fault.Input, "cannot open", func(r *Recording) { r.Log += "x" }},
		"no pour":       {fault.Input, "no pour", func(r *Recording) { r.Log = flat }},
		"no plan":       {fault.Input, "plan.json", func(r *Recording) { r.Dir = filepath.Dir(r.Dir) }},
		"no folder":     {fault.Input, "plan.json", func(r *Recording) { r.Dir += "x" }},
		"unit":          {fault.Usage, "unit", func(r *Recording) { r.Unit = "R" }},
		"depth":         {fault.Usage, "depth", func(r *Recording) { r.DepthError = -1 }},
		"cold metal":    {fault.Input, "liquid", func(r *Recording) { r.Changes.Metal = num2(210) }},
		"fine cells":    {fault.Input, "free", func(r *Recording) { r.Changes.Cell = num2(0.1); r.Room = 1 << 30 }},
		"no date":       {fault.Usage, "date", func(r *Recording) { r.Keep = &Keep{Name: "red"} }},
		"odd date":      {fault.Usage, "date", func(r *Recording) { r.Keep = &Keep{Name: "red", Date: "2026-02-30"} }},
		"taken":         {fault.Input, "taken", func(r *Recording) { r.Keep = &Keep{Name: "taken", Date: "2026-05-12"} }},
		"of the table":  {fault.Input, "the table has", func(r *Recording) { r.Keep = &Keep{Name: "addition-heat-40", Date: "2026-05-12"} }},
		"odd name":      {fault.Input, "small letters", func(r *Recording) { r.Keep = &Keep{Name: "Red 30", Date: "2026-05-12"} }},
		"file of rows?": {fault.Input, "own rows", func(r *Recording) { r.Keep = &Keep{Name: "red", Date: "2026-05-12", File: r.Log} }},
	} {
		r := recorded(dir, log)
		c.change(&r)
		r.Progress = func(stage string, _ float64) { t.Errorf("%s: computes %s", name, stage) }
		_, err := Thermocouple(context.Background(), r)
		if fault.KindOf(err) != c.kind || fault.HintOf(err) == "" || !strings.Contains(fmt.Sprint(err), c.say) {
			t.Errorf("%s: %v (%s)", name, err, fault.HintOf(err))
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	r := recorded(dir, log)
	r.Keep = &Keep{Name: "red", Date: "2026-05-12"}
	r.Progress = func(stage string, done float64) {
		if strings.HasPrefix(stage, "2 of") && done > 0.3 {
			stop()
		}
	}
	if f, err := Thermocouple(ctx, r); fault.KindOf(err) != fault.Interrupted || f != nil {
		t.Errorf("stopped: %v", err)
	}
	stop()
	if after, _ := os.ReadFile(own); string(after) != string(before) {
		t.Error("the file of own rows has changed")
	}
	if list, _ := os.ReadDir(dir); len(list) != 4 {
		t.Errorf("the plan's folder holds %v", list)
	}
}

// A rubber that was measured before keeps what is not measured again, and its base.
func TestMeasuredAgain(t *testing.T) {
	own := home(t)
	if err := material.SaveOwn(own, material.OwnRubber{Name: "red-30", Base: "condensation-heat-30", Words: "red, 30 Shore", Values: []material.OwnValue{
		{Property: "conductivity", Value: 0.3}, {Property: "heat", Value: 1420, Note: "by a calorimeter"}}}); err != nil {
		t.Fatal(err)
	}
	r := Recording{Dir: "plan", Keep: &Keep{Name: "red-30-b", Date: "2026-06-01"}}
	row, file, err := r.row(pour.Matter{Kind: "red-30", Capacity: 1420, Density: 1310})
	if err != nil || file != own || row.Base != "condensation-heat-30" || row.Words != "red, 30 Shore" {
		t.Fatalf("%+v, %s, %v", row, file, err)
	}
	have := map[string]float64{}
	for _, v := range row.Values {
		have[v.Property] = v.Value
	}
	if !reflect.DeepEqual(have, map[string]float64{"conductivity": 0.3, "heat": 1420, "density": 1.31}) {
		t.Errorf("%v", have)
	}
	if _, _, err := r.row(pour.Matter{Kind: "blue-20", Capacity: 1420, Density: 1310}); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
		t.Errorf("a rubber that nobody knows: %v", err)
	}
}
