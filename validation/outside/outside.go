// Package outside finds the meshes that are not part of the repository, for tests
// and benchmarks, and brings them to the sizes that those ask for.
package outside

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Job is a job for a master that is written as piece.stl in mm.
const Job = `[master]
mesh = "piece.stl"
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

// Meshes returns the folder of the mesh set, which holds values.json and files:
// POURWRIGHT_MESHES, or ../shared/meshes beside the checkout. Where it is absent
// the test fails in CI; elsewhere it says what is not run and gets "".
func Meshes(t testing.TB) string {
	t.Helper()
	dir := os.Getenv("POURWRIGHT_MESHES")
	if dir == "" {
		dir = filepath.Join(checkout(), "..", "shared", "meshes")
	}
	if _, err := os.Stat(filepath.Join(dir, "values.json")); err == nil {
		return dir
	}
	if os.Getenv("CI") != "" {
		t.Fatal("the mesh set is absent: put it at ../shared/meshes or name it in POURWRIGHT_MESHES")
	}
	t.Logf("not run: %s with outside masters (needs the mesh set)", t.Name())
	return ""
}

// Values returns the names of the files of the set in a folder from Meshes, in order, and what
// values.json states of each, as far as V has room for it.
func Values[V any](t testing.TB, dir string) (names []string, all map[string]V) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "values.json"))
	if err != nil {
		t.Fatal(err)
	}
	var set struct {
		Files map[string]V `json:"files"`
	}
	if err := json.Unmarshal(data, &set); err != nil {
		t.Fatal(err)
	}
	for name := range set.Files {
		names = append(names, name)
	}
	slices.Sort(names)
	return names, set.Files
}

// Castable returns the names of the meshes in a folder from Meshes that could be cast at
// 60 mm, in order.
func Castable(t testing.TB, dir string) []string {
	t.Helper()
	names, all := Values[struct {
		Castable bool `json:"castable"`
	}](t, dir)
	names = slices.DeleteFunc(names, func(n string) bool { return !all[n].Castable })
	if len(names) < 10 {
		t.Fatalf("%d castable meshes in %s", len(names), dir)
	}
	return names
}

// checkout is the folder with go.mod above the one that a test runs in.
func checkout() string {
	at, _ := os.Getwd()
	for at != filepath.Dir(at) {
		if _, err := os.Stat(filepath.Join(at, "go.mod")); err == nil {
			break
		}
		at = filepath.Dir(at)
	}
	return at
}

// At60 returns a copy about its box's centre whose longest side is 60 mm.
func At60(m *mesh.Mesh) *mesh.Mesh {
	b := m.Box()
	o, k := b.Centre(), 60/b.Longest()
	r := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		r.V = append(r.V, p.Sub(o).Mul(k))
	}
	return r
}

// Quartered returns a copy in which every triangle is cut into four at the middles
// of its sides.
func Quartered(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: append([]vec.V3{}, m.V...)}
	opp := mesh.Opposite(m)
	mid := make([]int32, len(opp))
	for h := range opp {
		if o := opp[h]; o >= 0 && int(o) < h {
			mid[h] = mid[o]
			continue
		}
		mid[h] = int32(len(r.V))
		r.V = append(r.V, m.V[m.Tail(int32(h))].Lerp(m.V[m.Head(int32(h))], 0.5))
	}
	for i, f := range m.F {
		x, y, z := mid[3*i], mid[3*i+1], mid[3*i+2]
		r.F = append(r.F, [3]int32{f[0], x, z}, [3]int32{x, f[1], y}, [3]int32{z, y, f[2]}, [3]int32{x, y, z})
	}
	return r
}
