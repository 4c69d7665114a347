package block

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"pourwright/examples"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// scaled reads a mesh of the set and scales it to 60 mm longest side.
func scaled(t testing.TB, dir, name string) *mesh.Mesh {
	t.Helper()
	m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return outside.At60(m)
}

// searched splits and stands a master as a plan does, and lays it out.
func searched(t testing.TB, m *mesh.Mesh, d Demand) *Layout {
	t.Helper()
	sp, err := parting.Find(context.Background(), m, parting.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(sp.Bars) > 0 {
		return nil
	}
	st, err := pockets.Find(m, sp.Pull, pockets.Options{Label: sp.Label, Show: d.Show, Hide: d.Hide})
	if err != nil {
		t.Fatal(err)
	}
	l, err := Lay(m, sp, st, d)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestRulesOnScans(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names := []string{"spot_low.obj", "fish.obj", "goathead.obj", "plate_holes.stl", "torus_unit.obj", "bob_small.ply"}
	if os.Getenv("POURWRIGHT_FULL") != "" {
		names = append(names, "ball_bumpy.off", "bracket_top.ply", "cat.obj", "cube48.obj", "cube_notched.stl", "koala_low.obj",
			"nefertiti.obj", "sphere_ico.obj", "torus_stl.stl", "boot.obj")
	}
	for _, n := range names {
		m := scaled(t, dir, n)
		if l := searched(t, m, Demand{}); l != nil {
			checkMould(t, n, m, l)
		}
	}
}

func TestRulesOnExamples(t *testing.T) {
	for _, p := range examples.Pieces() {
		if os.Getenv("POURWRIGHT_FULL") == "" && p.Name != "fern-pull" && p.Name != "drawer-pull" && p.Name != "escutcheon" {
			continue
		}
		m, err := p.Make()
		if err != nil {
			t.Fatal(err)
		}
		d := Demand{}
		if p.Name == "drawer-pull" { // two up, screwed down by its feet
			d.Cavities = 2
			d.Hide = []vec.V3{{X: -34}, {X: 34}}
			d.Show = []vec.V3{{Y: 30}}
		}
		if l := searched(t, m, d); l != nil {
			checkMould(t, p.Name, m, l)
		}
	}
}

// cut4 cuts every triangle into four.
func cut4(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: append([]vec.V3{}, m.V...)}
	mid := map[[2]int32]int32{}
	half := func(a, b int32) int32 {
		k := [2]int32{min(a, b), max(a, b)}
		if i, ok := mid[k]; ok {
			return i
		}
		i := int32(len(r.V))
		r.V = append(r.V, m.V[a].Lerp(m.V[b], 0.5))
		mid[k] = i
		return i
	}
	for _, t := range m.F {
		a, b, c := half(t[0], t[1]), half(t[1], t[2]), half(t[2], t[0])
		r.F = append(r.F, [3]int32{t[0], a, c}, [3]int32{a, t[1], b}, [3]int32{c, b, t[2]}, [3]int32{a, b, c})
	}
	return r
}

// BenchmarkLay lays out and builds a bust of 280 000 triangles.
func BenchmarkLay(b *testing.B) {
	dir := outside.Meshes(b)
	if dir == "" {
		return
	}
	m := cut4(scaled(b, dir, "nefertiti.obj"))
	sp, err := parting.Find(context.Background(), m, parting.Options{})
	if err != nil {
		b.Fatal(err)
	}
	st, err := pockets.Find(m, sp.Pull, pockets.Options{Label: sp.Label})
	if err != nil {
		b.Fatal(err)
	}
	var l *Layout
	b.Run("lay", func(b *testing.B) {
		for b.Loop() {
			if l, err = Lay(m, sp, st, Demand{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("build", func(b *testing.B) {
		for b.Loop() {
			if _, err := l.Build(); err != nil {
				b.Fatal(err)
			}
		}
	})
}
