package mould

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// TestTurned plans sound meshes turned at random and scaled to 20 to 150 mm:
// the solids must come out whole whatever the position. Three meshes once; at
// full size all of them, castable or not, five times.
func TestTurned(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names, files := outside.Values[struct{ Kind, Format string }](t, dir)
	full := os.Getenv("POURWRIGHT_FULL") == "1"
	rng := rand.New(rand.NewPCG(7, 8))
	for _, name := range names {
		x := files[name]
		if x.Kind != "sound" && x.Kind != "exact" || x.Format == "3mf" || x.Format == "glb" {
			continue
		}
		if !full && !slices.Contains([]string{"cube_notched.stl", "fish.obj", "exact_bridge.stl"}, name) {
			continue
		}
		m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
		if err != nil {
			t.Fatal(err)
		}
		rounds := 1
		if full {
			rounds = 5
		}
		for n := range rounds {
			g := func() vec.V3 { return vec.V3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()} }
			f := vec.Standing(g(), g())
			k := (20 + 130*rng.Float64()) / m.Box().Longest()
			t.Run(fmt.Sprintf("%s/%d", name, n), func(t *testing.T) {
				r := &mesh.Mesh{F: m.F}
				for _, p := range m.V {
					r.V = append(r.V, f.To(p).Mul(k))
				}
				p := finish(t, r, outside.Job)
				if p.plan.Verdict != "no" {
					p.checkSolids(t)
					p.checkMaster(t)
				}
			})
		}
	}
}
