// Package same plans jobs twice, on one core, and from shuffled triangles, and
// compares the folders byte for byte. Of plan.json the value of timing may
// differ, and with shuffled triangles the hash of the master's file.
package same

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"testing"

	"pourwright/examples"
	"pourwright/internal/book/job"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/working/sequence"
	"pourwright/validation/outside"
)

func full() bool { return os.Getenv("POURWRIGHT_FULL") == "1" }

// folder plans the job and returns the files as written.
func folder(t *testing.T, j *job.Job, master []byte) map[string][]byte {
	t.Helper()
	r, err := sequence.Make(context.Background(), j, sequence.Setting{Mesh: master})
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "plan")
	if err := sequence.Save(context.Background(), r, dir); err != nil {
		t.Fatal(err)
	}
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for _, e := range list {
		if files[e.Name()], err = os.ReadFile(filepath.Join(dir, e.Name())); err != nil {
			t.Fatal(err)
		}
	}
	return files
}

var timing = regexp.MustCompile(`(?s)"timing": \{[^{}]*\}\s*\}\s*$`)

// compare reports every file that differs. Of a shuffled master the hash must
// differ and is set right before plan.json is compared.
func compare(t *testing.T, what string, a, b map[string][]byte, shuffled bool) {
	t.Helper()
	if !slices.Equal(slices.Sorted(maps.Keys(a)), slices.Sorted(maps.Keys(b))) {
		t.Errorf("%s: other files: %v, %v", what, slices.Sorted(maps.Keys(a)), slices.Sorted(maps.Keys(b)))
		return
	}
	var one, two struct{ Master struct{ SHA256 string } }
	for _, x := range []struct {
		text []byte
		to   any
	}{{a["plan.json"], &one}, {b["plan.json"], &two}} {
		if err := json.Unmarshal(x.text, x.to); err != nil {
			t.Fatal(err)
		}
	}
	if shuffled == (one.Master.SHA256 == two.Master.SHA256) || len(one.Master.SHA256) != 64 {
		t.Errorf("%s: hashes %s, %s", what, one.Master.SHA256, two.Master.SHA256)
	}
	for _, name := range slices.Sorted(maps.Keys(a)) {
		x, y := a[name], b[name]
		if name == "plan.json" {
			if !timing.Match(x) || !timing.Match(y) {
				t.Errorf("%s: timing is not the last key of plan.json", what)
			}
			x, y = timing.ReplaceAll(x, nil), timing.ReplaceAll(y, nil)
			y = bytes.ReplaceAll(y, []byte(two.Master.SHA256), []byte(one.Master.SHA256))
		}
		if !bytes.Equal(x, y) {
			n := 0
			for n < min(len(x), len(y)) && x[n] == y[n] {
				n++
			}
			t.Errorf("%s: %s differs from byte %d on: %.60q, %.60q", what, name, n, x[n:], y[n:])
		}
	}
}

// check plans a job on all cores twice, on one core, and shuffled.
func check(t *testing.T, j *job.Job, m *mesh.Mesh) {
	stl := func(m *mesh.Mesh) []byte {
		var b bytes.Buffer
		if err := meshfile.WriteSTL(&b, m); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	first := folder(t, j, stl(m))
	compare(t, "again", first, folder(t, j, stl(m)), false)

	cores := runtime.GOMAXPROCS(1)
	one := folder(t, j, stl(m))
	runtime.GOMAXPROCS(cores)
	compare(t, "on one core", first, one, false)

	r := rand.New(rand.NewPCG(3, 14))
	mixed := &mesh.Mesh{V: m.V, F: slices.Clone(m.F)}
	r.Shuffle(len(mixed.F), func(i, k int) { mixed.F[i], mixed.F[k] = mixed.F[k], mixed.F[i] })
	compare(t, "triangles shuffled", first, folder(t, j, stl(mixed)), true)
	if !full() {
		return
	}
	for i, f := range mixed.F { // and begun at another corner
		n := r.IntN(3)
		mixed.F[i] = [3]int32{f[n], f[(n+1)%3], f[(n+2)%3]}
	}
	compare(t, "triangles shuffled and turned on", first, folder(t, j, stl(mixed)), true)
}

// TestExamples takes the demo piece and two others; at full size all of them.
func TestExamples(t *testing.T) {
	for _, p := range examples.Pieces() {
		if !full() && !slices.Contains([]string{"fern-pull", "escutcheon", "figurine"}, p.Name) {
			continue
		}
		t.Run(p.Name, func(t *testing.T) {
			m, err := p.Make()
			if err != nil {
				t.Fatal(err)
			}
			j, err := job.Load(filepath.Join("..", "..", "examples", p.Name, "job.toml"))
			if err != nil {
				t.Fatal(err)
			}
			check(t, j, m)
		})
	}
}

const jobText = `[master]
mesh = "piece.stl"
unit = "mm"
[rubber]
kind = "addition-heat-40"
[alloy]
kind = "tin-bismuth-58-42"
origin = "certified"
[order]
castings = 10
use = "decor"
`

// TestScan takes one scan; at full size four.
func TestScan(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names := []string{"goathead.obj"}
	if full() {
		names = append(names, "fish.obj", "koala_low.obj", "bracket_top.ply")
	}
	for _, n := range names {
		t.Run(n, func(t *testing.T) {
			m, _, err := meshfile.Read(filepath.Join(dir, "files", n), meshfile.Options{})
			if err != nil {
				t.Fatal(err)
			}
			j, err := job.Parse("job.toml", []byte(jobText))
			if err != nil {
				t.Fatal(err)
			}
			check(t, j, outside.At60(m))
		})
	}
}
