// Package outside finds the meshes that are not part of the repository, for the
// tests of validation.
package outside

import (
	"os"
	"path/filepath"
	"testing"

	"pourwright/internal/shape/mesh"
)

// Meshes returns the folder of the mesh set, which holds values.json and files:
// POURWRIGHT_MESHES, or ../shared/meshes beside the checkout. Where it is absent
// the test fails in CI; elsewhere it says what is not run and gets "".
func Meshes(t testing.TB) string {
	t.Helper()
	dir := os.Getenv("POURWRIGHT_MESHES")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "meshes")
	}
	if _, err := os.Stat(filepath.Join(dir, "values.json")); err == nil {
		return dir
	}
	if os.Getenv("CI") != "" {
		t.Fatal("the mesh set is absent: put it at ../shared/meshes or name it in POURWRIGHT_MESHES")
	}
	t.Log("not run: outside masters (needs the mesh set)")
	return ""
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
