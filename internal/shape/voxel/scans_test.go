package voxel

import (
	"math"
	"path/filepath"
	"slices"
	"testing"

	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// TestScans casts the closed bodies of the outside set along x, y, z and askew:
// every line must balance, and the spans must add up to the stated volume.
func TestScans(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	_, files := outside.Values[struct {
		Kind, Format string
		Read         struct {
			Watertight bool
			Volume     float64
		}
		Expected struct {
			Volume float64
		}
	}](t, dir)
	var names []string
	for name, f := range files {
		if (f.Kind == "exact" || f.Kind == "sound") && f.Read.Watertight && slices.Contains([]string{"stl", "obj", "ply"}, f.Format) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	if len(names) < 10 {
		t.Fatalf("only %d bodies in %s", len(names), dir)
	}
	for _, name := range names {
		m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		g := gridOver(t, m, 200)
		o := g.Origin.Array()
		n := [3]int{g.NX, g.NY, g.NZ}
		for axis := range 3 {
			a := [3]int{(axis + 1) % 3, (axis + 2) % 3, axis}
			c := cast(m, a, n[a[0]], n[a[1]], o[a[0]]+g.H/2, o[a[1]]+g.H/2, g.H)
			if c.Bad != 0 {
				t.Errorf("%s along axis %d: %d lines do not balance", name, axis, c.Bad)
			}
		}
		// Flat sides along the lines make the sum depend on where the lines stand;
		// turned askew, every body comes out.
		r := turned(m)
		g = gridOver(t, r, 400)
		c := Cast(r, g.NX, g.NY, g.Origin.X+g.H/2, g.Origin.Y+g.H/2, g.H)
		want := files[name].Expected.Volume
		if v := c.Volume(); c.Bad != 0 || want > 0 && math.Abs(v-want) > 2e-3*want {
			t.Errorf("%s askew: volume %g, want %g; %d lines do not balance", name, v, want, c.Bad)
		}
	}
	t.Logf("%d bodies", len(names))
}
