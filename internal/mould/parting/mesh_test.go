package parting

import (
	"math"
	"path/filepath"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

type meshValue struct {
	Kind     string
	Format   string
	Castable *bool
	Read     struct {
		Volume float64
		Genus  *int
		Shells int
	}
	Expected struct{ Volume float64 }
	Undercut []struct {
		Axis         [3]float64
		Silhouette   float64 `json:"silhouette_area"`
		SilhouetteSE float64 `json:"silhouette_se"`
		Locked       float64 `json:"locked_void"`
		LockedSE     float64 `json:"locked_void_se"`
	}
}

type foreign struct {
	name string
	m    *mesh.Mesh
	v    meshValue
}

// meshes reads every mesh of the kinds asked for that can be read.
func meshes(t testing.TB, kinds ...string) []foreign {
	dir := outside.Meshes(t)
	if dir == "" {
		return nil
	}
	names, all := outside.Values[meshValue](t, dir)
	names = slices.DeleteFunc(names, func(n string) bool { return !slices.Contains(kinds, all[n].Kind) })
	var r []foreign
	for _, n := range names {
		m, _, err := meshfile.Read(filepath.Join(dir, "files", n), meshfile.Options{})
		if err != nil {
			if v := all[n].Kind; v == "exact" || v == "sound" {
				t.Fatal(err)
			}
			continue // what the reader refuses does not come here
		}
		r = append(r, foreign{n, m, all[n]})
	}
	return r
}

func one(t testing.TB, name string) *mesh.Mesh {
	dir := outside.Meshes(t)
	if dir == "" {
		return nil
	}
	m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestMeasureOutside(t *testing.T) {
	for _, o := range meshes(t, "exact", "sound") {
		for _, u := range o.v.Undercut {
			s := Measure(o.m, vec.FromArray(u.Axis))
			if d := math.Abs(s.Silhouette - u.Silhouette); d > 4*u.SilhouetteSE+3e-3*u.Silhouette {
				t.Errorf("%s %v: silhouette %.7g, want %.7g (off %.2e)", o.name, u.Axis, s.Silhouette, u.Silhouette, d/u.Silhouette)
			}
			if d := math.Abs(s.Locked - u.Locked); d > 4*u.LockedSE+2e-3*o.v.Read.Volume {
				t.Errorf("%s %v: locked %.7g, want %.7g (off %.2e V)", o.name, u.Axis, s.Locked, u.Locked, d/o.v.Read.Volume)
			}
			if testing.Verbose() {
				t.Logf("%-16s silhouette off %9.1e  locked off %9.1e V", o.name, s.Silhouette/u.Silhouette-1, (s.Locked-u.Locked)/o.v.Read.Volume)
			}
		}
	}
}

var splits = map[string]*Split{}

// splitOf returns the split of a mesh of the set, found once.
func splitOf(t *testing.T, o foreign) *Split {
	t.Helper()
	if splits[o.name] == nil {
		splits[o.name] = find(t, o.m, Options{})
	}
	return splits[o.name]
}
