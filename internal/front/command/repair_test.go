package command

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
)

// A box without its lid is closed and said, left alone with --as-is, and saved
// with --write; the file that was read stays as it was.
func TestMasterIsRepaired(t *testing.T) {
	dir := t.TempDir()
	m, _, err := meshfile.Read(slab(t, dir, "whole.stl", 40, 30, 8), meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	open := &mesh.Mesh{V: m.V}
	for i, f := range m.F {
		if a, b, c := m.Tri(i); a.Z+b.Z+c.Z < 23 {
			open.F = append(open.F, f)
		}
	}
	open.F[0][1], open.F[0][2] = open.F[0][2], open.F[0][1]
	file := filepath.Join(dir, "open.stl")
	if err := meshfile.SaveSTL(file, open); err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(file)
	for _, name := range []string{"fixed.stl", "fixed.3mf"} {
		fixed := filepath.Join(dir, name)
		code, out, text := do("master", file, "--unit", "mm", "--json", "--write", fixed)
		var said plan.Inspection
		if err := json.Unmarshal([]byte(out), &said); code != 0 || err != nil {
			t.Fatalf("exit code %d, %v\n%s", code, err, text)
		}
		r := said.Master
		if len(r.Repairs) != 2 || math.Abs(r.Volume-9600) > 1e-3 || r.Read.Watertight || r.Read.Triangles != 10 || !r.Watertight || r.Triangles != 12 || r.VolumeBand != 0 {
			t.Errorf("%+v", r)
		}
		for _, s := range []string{"turned triangles that disagreed about the outside (1)", "closed the open flat side (standing face) (1)"} {
			if !strings.Contains(text, s) {
				t.Errorf("the notes lack %q: %s", s, text)
			}
		}
		if st, err := os.Stat(fixed); err != nil || st.Size() == 0 {
			t.Fatal(err)
		}
	}
	again, _, err := meshfile.Read(filepath.Join(dir, "fixed.stl"), meshfile.Options{})
	if err != nil || !mesh.TopologyOf(again).Watertight || math.Abs(again.Volume()-9600) > 1e-3 {
		t.Errorf("the saved mesh: %v, %g", err, again.Volume())
	}
	_, out, _ := do("master", file, "--unit", "mm")
	if !strings.Contains(out, "repaired") || !strings.Contains(out, "mm3") {
		t.Error(out)
	}
	link := filepath.Join(dir, "link.stl")
	if err := os.Symlink(file, link); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args string
		code int
		say  string
	}{
		{"--as-is", 1, "not closed"},
		{"--write " + file, 2, "is the file that was read"},
		{"--write " + filepath.Join(dir, "x", "..", "open.stl"), 2, "is the file that was read"},
		{"--write " + link, 2, "is the file that was read"},
		{"--write " + dir + "/a.obj", 2, "ends in .stl or .3mf"},
		{"--write " + dir + "/none/a.stl", 1, "cannot be written"},
	} {
		code, _, text := do(append([]string{"master", file, "--unit", "mm"}, strings.Fields(c.args)...)...)
		if code != c.code || !strings.Contains(text, c.say) || strings.Contains(text, "goroutine") {
			t.Errorf("%s: exit code %d, want %d\n%s", c.args, code, c.code, text)
		}
	}
	if after, _ := os.ReadFile(file); string(after) != string(before) {
		t.Error("the file that was read has changed")
	}
	// A speck beside the master is left out, and stays with --as-is.
	speck := &mesh.Mesh{V: append([]vec.V3{}, m.V...), F: append([][3]int32{}, m.F...)}
	speck.Append(&mesh.Mesh{V: []vec.V3{{X: 50}, {X: 50.5}, {X: 50, Y: 0.5}, {X: 50, Z: 0.5}}, F: [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {0, 3, 2}}})
	dusty := filepath.Join(dir, "dusty.stl")
	if err := meshfile.SaveSTL(dusty, speck); err != nil {
		t.Fatal(err)
	}
	if _, out, text := do("master", dusty, "--unit", "mm"); !strings.Contains(out, "left out dust: 1") || strings.Contains(out, "bodies") {
		t.Errorf("dust: %s%s", out, text)
	}
	if _, out, text := do("master", dusty, "--unit", "mm", "--as-is"); strings.Contains(out, "left out dust") || !strings.Contains(out, "bodies       2") {
		t.Errorf("dust as it is: %s%s", out, text)
	}
	if code, _, text := do("master", filepath.Join(dir, "whole.stl"), "--as-is", "--unit", "mm"); code != 0 {
		t.Errorf("a whole mesh as it is: exit code %d\n%s", code, text)
	}
}
