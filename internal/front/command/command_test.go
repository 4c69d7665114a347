package command

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
)

// TestMain keeps results of tests out of the user's own store.
func TestMain(m *testing.M) {
	os.Setenv("POURWRIGHT_CACHE", "off")
	os.Exit(m.Run())
}

// do makes a call.
func do(args ...string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = run(context.Background(), args, &out, &err)
	return code, out.String(), err.String()
}

// slab writes a box of edges x, y, z as STL and returns its path.
func slab(t *testing.T, dir, name string, x, y, z float64) string {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.V = append(m.V, vec.V3{X: x * float64(i&1), Y: y * float64(i>>1&1), Z: z * float64(i>>2&1)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	path := filepath.Join(dir, name)
	if err := meshfile.SaveSTL(path, m); err != nil {
		t.Fatal(err)
	}
	return path
}

const fivekeys = "[master]\nmesh = \"part.stl\"\n[rubber]\nkind = \"condensation-heat-30\"\n[alloy]\nkind = \"pewter-92-7-1\"\n[order]\ncastings = 4\nuse = \"decor\"\n"

func TestWrongCallsAndBadInput(t *testing.T) {
	dir := t.TempDir()
	part := slab(t, dir, "part.stl", 40, 30, 8)
	slab(t, dir, "long.stl", 900, 30, 8)
	other := filepath.Join(dir, "other")
	if err := os.MkdirAll(other, 0o755); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	write("other/letter.txt", "dear")
	open := write("open.obj", "v 0 0 0\nv 9 0 0\nv 0 9 0\nv 0 0 9\nf 1 2 3\nf 1 2 4\n")
	good := write("good.toml", fivekeys)
	for _, c := range []struct {
		args string
		code int
		say  string
	}{
		{"nonsense", 2, "unexpected argument nonsense"},
		{"master", 2, "wants <file> or measures"},
		{"master " + part + " --pull 0,0,0", 2, "--pull"},
		{"master " + part + " --pull 1,2", 2, "three numbers"},
		{"master " + part + " --up nan,0,1", 2, "--up"},
		{"master " + part + " --up 1,inf,1", 2, "--up"},
		{"master " + part + " --unit ft", 2, "use mm, cm, m, in or um"},
		{"master " + part + " --body 2", 2, "the file holds 1 bodies"},
		{"master " + part + " --body -1", 2, "from 1"},
		{"master " + filepath.Join(dir, "none.stl"), 1, "cannot be opened"},
		{"master " + dir, 1, "this is a folder"},
		{"master " + write("empty.stl", ""), 1, "the file is empty"},
		{"master " + write("page.stl", "<html>"), 1, "web page"},
		{"master " + open, 1, "not closed"},
		{"materials lead-gold", 1, "no alloy or rubber"},
		{"plan " + filepath.Join(dir, "none.toml"), 1, "cannot open the job file"},
		{"plan " + write("a.toml", strings.Replace(fivekeys, "condensation-heat-30", "condensation-heat-33", 1)), 1, "nearest"},
		{"plan " + write("b.toml", strings.Replace(fivekeys, "castings = 4\n", "", 1)), 1, "castings"},
		{"plan " + write("c.toml", strings.Replace(fivekeys, "use = \"decor\"\n", "", 1)), 1, "use"},
		{"plan " + write("d.toml", strings.Replace(fivekeys, "part.stl", "open.obj", 1)), 1, "not closed"},
		{"plan " + write("e.toml", strings.Replace(fivekeys, "part.stl", "long.stl", 1)), 1, "900 mm"},
		{"plan " + write("f.toml", strings.Replace(fivekeys, "[order]", "[order", 1)), 1, "f.toml:7"},
		{"plan " + good + " --out " + other, 1, "left alone"},
		{"plan " + good + " --out " + part, 1, "not a folder"},
	} {
		code, out, err := do(strings.Fields(c.args)...)
		if code != c.code || !strings.Contains(err, c.say) || out != "" {
			t.Errorf("%s: exit code %d, want %d\n%s%s", c.args, code, c.code, out, err)
		}
		if !strings.HasPrefix(err, "pourwright: ") || strings.Contains(err, "goroutine") || strings.Contains(err, "fault of pourwright") || strings.Count(err, "\n") < 2 {
			t.Errorf("%s: the message is %q", c.args, err)
		}
	}
	if list, _ := os.ReadDir(other); len(list) != 1 {
		t.Errorf("the other folder holds %v", list)
	}
}

func TestInterrupted(t *testing.T) {
	dir := t.TempDir()
	part := slab(t, dir, "part.stl", 40, 30, 8)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	var out, err bytes.Buffer
	if code := run(ctx, []string{"master", part}, &out, &err); code != 130 || out.Len() > 0 {
		t.Errorf("exit code %d, %s%s", code, out.String(), err.String())
	}
	folder := filepath.Join(dir, "plan")
	if code := run(ctx, []string{"demo", "--out", folder}, &out, &err); code != 130 {
		t.Errorf("exit code %d", code)
	}
	if _, err := os.Stat(folder); err == nil {
		t.Error("a folder was made")
	}
}

func TestMasterOfABox(t *testing.T) {
	part := slab(t, t.TempDir(), "part.stl", 40, 30, 8)
	code, out, err := do("master", part, "--up", "-2,0,0", "--pull", "0,0,3", "--unit", "mm", "--json")
	if code != 0 || err != "" {
		t.Fatalf("exit code %d: %s", code, err)
	}
	var got plan.Inspection
	d := json.NewDecoder(strings.NewReader(out))
	d.DisallowUnknownFields()
	if err := d.Decode(&got); err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want, tol float64) {
		if got < want-tol || got > want+tol {
			t.Errorf("%s %g, want %g", what, got, want)
		}
	}
	near("volume", got.Master.Volume, 9600, 1e-6)
	near("area", got.Master.Area, 2*(1200+320+240), 1e-6)
	near("thinnest", got.Master.Thinnest, 8, 1e-6)
	near("silhouette", got.Split.SilhouetteArea, 1200, 2)
	near("locked", got.Split.LockedVolume, 0, 1)
	near("trapped", got.Stand.TrappedVolume, 0, 1e-6)
	if got.Master.Unit != "mm" || got.Master.UnitFrom != "flag" || got.Master.File != "part.stl" || got.Stand.Up != (plan.P3{-1, 0, 0}) || got.Split.Pull != (plan.P3{0, 0, 1}) {
		t.Errorf("%+v", got.Master)
	}
	if got.Stand.TrappedShareUnvented != nil {
		t.Error("a bare master has no vents")
	}
	code, out, err = do("master", part)
	if code != 0 || !strings.Contains(err, "states no unit") || !strings.Contains(out, "40.00 x 30.00 x 8.00 mm") {
		t.Errorf("exit code %d\n%s%s", code, out, err)
	}
}

func TestBodyAndInsideOut(t *testing.T) {
	dir := t.TempDir()
	a, _, err := meshfile.Read(slab(t, dir, "a.stl", 10, 10, 10), meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := meshfile.Read(slab(t, dir, "b.stl", 20, 20, 20), meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range b.V {
		b.V[i].X += 50
	}
	for i, f := range b.F {
		b.F[i] = [3]int32{f[0], f[2], f[1]}
	}
	a.Append(b)
	path := filepath.Join(dir, "two.stl")
	if err := meshfile.SaveSTL(path, a); err != nil {
		t.Fatal(err)
	}
	for body, want := range map[string]float64{"1": 8000, "2": 1000} {
		code, out, msg := do("master", path, "--unit", "mm", "--body", body, "--json")
		var got plan.Inspection
		if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
			t.Fatalf("exit code %d, %v, %s", code, err, msg)
		}
		if v := got.Master.Volume; v < want*(1-1e-9) || v > want*(1+1e-9) || len(got.Master.Repairs) != 1 || got.Master.Read.Volume > 0 {
			t.Errorf("body %s: volume %g, repairs %v, read %+v", body, v, got.Master.Repairs, got.Master.Read)
		}
	}
}

func TestMaterialsAndVersion(t *testing.T) {
	code, out, _ := do("materials", "--json")
	var got struct{ Materials []sheet }
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
		t.Fatal(code, err)
	}
	var names []string
	for _, m := range got.Materials {
		names = append(names, m.Name)
		for _, v := range m.Values {
			if v.Source == "" || v.Range[0] > v.Value || v.Range[1] < v.Value {
				t.Errorf("%s %s: %+v", m.Name, v.Property, v)
			}
		}
	}
	for _, n := range []string{"condensation-heat-30", "addition-heat-40", "pewter-92-7-1", "tin-bismuth-58-42", "tin"} {
		if !slices.Contains(names, n) {
			t.Errorf("no row %s", n)
		}
	}
	if code, out, _ := do("materials", "tin"); code != 0 || !strings.HasPrefix(out, "tin (alloy)") || strings.Count(out, "\n  liquidus") != 1 {
		t.Errorf("exit code %d\n%s", code, out)
	}
	if code, out, _ := do("version"); code != 0 || out != "pourwright "+Version+"\n" {
		t.Errorf("exit code %d\n%s", code, out)
	}
	if code, out, _ := do("--help"); code != 0 || !strings.Contains(out, "master") {
		t.Errorf("exit code %d\n%s", code, out)
	}
}

// timing is the last key of plan.json, the only one that may differ.
var timing = regexp.MustCompile(`(?s)"timing": \{.*\}\s*\}\s*$`)

// TestDemoIsWholeAndTheSameTwice plans the example on all cores and on one.
func TestDemoIsWholeAndTheSameTwice(t *testing.T) {
	home := t.TempDir()
	first, second := filepath.Join(home, "first"), filepath.Join(home, "second")
	if code, out, err := do("demo", "--no-pour", "--out", first); code != 0 || err != "" {
		t.Fatalf("exit code %d\n%s%s", code, out, err)
	}
	old := runtime.GOMAXPROCS(1)
	code, out, err := do("demo", "--no-pour", "--out", second, "--json")
	runtime.GOMAXPROCS(old)
	if code != 0 || err != "" {
		t.Fatalf("exit code %d\n%s", code, err)
	}
	var p plan.Plan
	if err := json.Unmarshal([]byte(out), &p); err != nil {
		t.Fatal(err)
	}
	if p.Verdict == plan.No || p.Block == nil {
		t.Errorf("the example's verdict is %s", p.Verdict)
	}
	for _, name := range []string{"plan.json", "card.pdf", "templates.pdf", "half-1.stl", "half-1.3mf", "half-2.stl", "half-2.3mf", "cavity.stl",
		"follow-board.stl", "formers.stl", "split.png", "layout.png", "section.png", "pour.json"} {
		a, err1 := os.ReadFile(filepath.Join(first, name))
		b, err2 := os.ReadFile(filepath.Join(second, name))
		if err1 != nil || err2 != nil {
			t.Errorf("%s: %v %v", name, err1, err2)
			continue
		}
		if name == "plan.json" {
			if string(b) != out {
				t.Error("--json prints something else than plan.json")
			}
			if !timing.Match(a) {
				t.Error("timing is not the last key")
			}
			a, b = timing.ReplaceAll(a, nil), timing.ReplaceAll(b, nil)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s differs between all cores and one", name)
		}
		if bytes.Contains(a, []byte(home)) {
			t.Errorf("%s holds the name of the folder", name)
		}
	}
}
