package command

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/working/rig"
)

// poured writes by hand the folder of a plan, a plate that stands open at the cup in
// a block of 56 x 50 x 44 mm, and the log of an invented pour of it with a rubber of
// 0.26 W/mK; it returns both paths.
func poured(t *testing.T, dir string) (folder, log string) {
	t.Helper()
	folder = filepath.Join(dir, "plan")
	if err := os.MkdirAll(folder, 0o755); err != nil {
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
	d := pour.Empty(rig.SettingOf(j, rig.Ask{Metal: 285, Mould: 45, Shots: 3, Thin: 8}))
	var text bytes.Buffer
	if err := pour.Write(&text, d); err != nil {
		t.Fatal(err)
	}
	p := &plan.Plan{Block: &plan.Block{Size: plan.P3{56, 50, 44}, Cavities: 1, Ingates: []plan.Ingate{{At: plan.P3{0, 10, 0}}}}}
	block, err := json.Marshal(map[string]any{"schema": "pourwright/plan/1", "metal": map[string]any{"kind": "pewter-92-7-1"}, "block": p.Block})
	if err != nil {
		t.Fatal(err)
	}
	half, cavity := slabAt(t, vec.V3{X: -28, Y: -25}, vec.V3{X: 56, Y: 50, Z: 22}), slabAt(t, vec.V3{X: -11, Y: -12, Z: -4}, vec.V3{X: 22, Y: 37, Z: 8})
	for name, data := range map[string][]byte{"plan.json": block, pour.Name: text.Bytes()} {
		if err := os.WriteFile(filepath.Join(folder, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for name, m := range map[string]*mesh.Mesh{"half-1.stl": half, "cavity.stl": cavity} {
		if err := meshfile.SaveSTL(filepath.Join(folder, name), m); err != nil {
			t.Fatal(err)
		}
	}
	s := d.Setting
	s.Mould = 30
	b, err := rig.NewBeads(context.Background(), rig.NewMould(p, cavity, half), s, 1.2, 0, []rig.Bead{{Name: "a", At: vec.V3{Z: 6}}, {Name: "b", At: vec.V3{X: 2, Y: -2, Z: -9}}})
	if err != nil {
		t.Fatal(err)
	}
	times := []float64{0}
	for x := 0.0; x < 280; x++ {
		times = append(times, x+1)
	}
	y, err := b.Pour(context.Background(), 0.26, 1500, times, nil)
	if err != nil {
		t.Fatal(err)
	}
	var w strings.Builder
	w.WriteString("s;near =2 (C);far (C)\n")
	for i := -60; i < 270; i++ {
		fmt.Fprintf(&w, "%d;%.1f;%.1f\n", i+60, y[3][max(i, 0)]+0.1*float64(i*i%7-3), y[10][max(i, 0)]-0.3+0.1*float64(i*i%5-2))
	}
	log = filepath.Join(dir, "pour 7.csv")
	if err := os.WriteFile(log, []byte(strings.ReplaceAll(w.String(), ".", ",")), 0o644); err != nil {
		t.Fatal(err)
	}
	return folder, log
}

// slabAt is a box of a size from a corner on.
func slabAt(t *testing.T, at, size vec.V3) *mesh.Mesh {
	m, _, err := meshfile.Read(slab(t, t.TempDir(), "a.stl", size.X, size.Y, size.Z), meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range m.V {
		m.V[i] = m.V[i].Add(at)
	}
	return m
}

// From a log to a row that the verb materials lists.
func TestThermocoupleOfAFolder(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(dir, "settings"))
	t.Setenv("HOME", dir)
	t.Chdir(dir)
	folder, log := poured(t, dir)
	base := []string{"thermocouple", folder, log, "--cell", "1.6", "--depth-error", "0.1", "--bead", "near =2=0,0,6", "--bead", "3=2,-2,-9"}
	code, out, err := do(append(base, "--keep", "red-30-may", "--date", "2026-05-12")...)
	own := filepath.Join(dir, "settings", "pourwright", material.OwnFile)
	if code != 0 || !strings.Contains(err, "MB") || !strings.Contains(out, "95 %") || !strings.Contains(out, "[rubber] kind = \"red-30-may\"") || !strings.Contains(out, own) {
		t.Fatalf("exit code %d\n%s%s", code, out, err)
	}
	for _, row := range []string{"red-30-may", ""} {
		code, out, err = do(strings.Fields("materials " + row)...)
		if code != 0 || !strings.Contains(out, "red-30-may (own rubber, otherwise condensation-heat-30)") || !strings.Contains(out, "own measurement, 2026-05-12, pour 7.csv") || !strings.Contains(out, "interface") {
			t.Errorf("materials %s: exit code %d\n%s%s", row, code, out, err)
		}
	}
	code, out, err = do(append(base, "--to", "rows.toml", "--keep", "red-30-b", "--date", "2026-05-12", "--json")...)
	var d fitted
	if e := json.Unmarshal([]byte(out), &d); code != 0 || e != nil {
		t.Fatalf("exit code %d, %v\n%s%s", code, e, out, err)
	}
	k := d.Params[0]
	if k.Name != "conductivity" || !k.Told || *k.Low > 0.26 || *k.High < 0.26 || d.Kept == nil || *d.Kept != "red-30-b" || d.MouldFrom != "log" || len(d.Beads) != 2 || d.Beads[0].Depth != 2 || d.Beads[1].Column != 3 {
		t.Errorf("%s", out)
	}
	if b, e := os.ReadFile("rows.toml"); e != nil || !strings.Contains(string(b), "red-30-b") {
		t.Errorf("%s %v", b, e)
	}
	before, _ := os.ReadFile(own)

	refused(t, "no date", "date", 2, append(base, "--keep", "red-30-c")...)
	refused(t, "a date alone", "--keep", 2, append(base, "--date", "2026-05-12")...)
	refused(t, "name taken", "red-30-may", 1, append(base, "--keep", "red-30-may", "--date", "2026-05-12")...)
	refused(t, "no column", "nearest", 1, append(base, "--bead", "nea =2=0,0,6")...)
	refused(t, "two coordinates", "x,y,z", 2, append(base, "--bead", "2=0,6")...)
	refused(t, "no place", "COLUMN", 2, append(base, "--bead", "near")...)
	refused(t, "in metal", "in the metal", 1, "thermocouple", folder, log, "--bead", "2=0,0,3")
	refused(t, "no bead", "no bead", 2, "thermocouple", folder, log)
	refused(t, "no plan", "plan.json", 1, append([]string{"thermocouple", dir}, base[2:]...)...)
	refused(t, "depth", "depth", 2, append(base, "--depth-error", "-0.1")...)
	refused(t, "opened before", "--wait", 2, append(base, "--wait", "-1m")...)
	refused(t, "no folder to write in", "own rows", 1, append(base, "--keep", "red", "--date", "2026-05-12", "--to", filepath.Join(log, "rows.toml"))...)

	// a mould that was said to be far too warm: told, but not kept
	code, out, err = do(append(base, "--mould", "75", "--wait", "90s", "--keep", "red-30-e", "--date", "2026-05-12")...)
	if code != 1 || !strings.Contains(out, "None of this can be used") || !strings.Contains(out, "must: ") || !strings.Contains(out, "The beads read") || !strings.Contains(err, "nothing that may be kept") {
		t.Errorf("a misfit: exit code %d\n%s%s", code, out, err)
	}

	ctx, stop := context.WithCancel(context.Background())
	var o, e bytes.Buffer
	code = run(ctx, append(base, "--keep", "red-30-d", "--date", "2026-05-12"), &o, stopper{&e, stop})
	if code != 130 || o.Len() > 0 {
		t.Errorf("stopped: exit code %d\n%s%s", code, o.String(), e.String())
	}
	if after, _ := os.ReadFile(own); string(after) != string(before) {
		t.Error("a refused call has written a row")
	}
}

// stopper stops a call at its first message.
type stopper struct {
	*bytes.Buffer
	stop func()
}

func (s stopper) Write(b []byte) (int, error) {
	s.stop()
	return s.Buffer.Write(b)
}
