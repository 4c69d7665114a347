package pockets

import (
	"math"
	"path/filepath"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

type stated struct {
	Kind string
	Read struct{ Volume float64 }
	Unit struct {
		Stated any
	}
	Pockets []struct {
		Up      [3]float64
		Trapped float64
		Tol     float64 `json:"trapped_tol"`
		Small   float64
		Good    bool `json:"reliable"`
		Tied    bool `json:"tied_tops"`
		Pockets []struct {
			Volume float64
			Top    *[3]float64
			Saddle float64
		}
	}
}

func TestPocketsOfOutsideMeshes(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names, files := outside.Values[stated](t, dir)
	tested := 0
	for _, name := range names {
		f := files[name]
		if f.Kind != "exact" && f.Kind != "sound" {
			continue
		}
		m := load(t, filepath.Join(dir, "files", name))
		body := Prepare(m)
		if !body.closed {
			t.Errorf("%s: not taken as closed", name)
		}
		for k, p := range f.Pockets {
			s, err := body.Evaluate(vec.FromArray(p.Up), Outlets{}, 0)
			if err != nil {
				t.Fatal(err)
			}
			if d := math.Abs(s.Volume-f.Read.Volume) / f.Read.Volume; d > 1e-6 {
				t.Errorf("%s: volume %g, want %g", name, s.Volume, f.Read.Volume)
			}
			if !p.Good || p.Tied {
				continue
			}
			tested++
			d := math.Abs(s.Trapped - p.Trapped)
			t.Logf("%s up %v: trapped %g, theirs %g, off %.2g of V (band %.2g)", name, p.Up, s.Trapped, p.Trapped, d/f.Read.Volume, p.Tol/f.Read.Volume)
			if d > p.Tol+5e-3*f.Read.Volume {
				t.Errorf("%s up %v: trapped %g, want %g", name, p.Up, s.Trapped, p.Trapped)
			}
			if f.Kind == "exact" && len(s.Pockets) != len(p.Pockets) {
				t.Errorf("%s: %d pockets, want %d", name, len(s.Pockets), len(p.Pockets))
			}
			if k > 1 {
				continue
			}
			g, err := body.byColumns(vec.FromArray(p.Up).Unit(), Outlets{}, 400)
			if err != nil {
				t.Fatal(err)
			}
			area := 0.0
			for _, q := range s.Pockets {
				area += q.Area
			}
			band := p.Tol + 5e-3*f.Read.Volume + area*body.size/200
			if d := math.Abs(g.Trapped - p.Trapped); d > band {
				t.Errorf("%s up %v: by columns %g, want %g, band %g", name, p.Up, g.Trapped, p.Trapped, band)
			}
		}
	}
	t.Logf("%d directions", tested)
}

// load reads a mesh.
func load(t testing.TB, path string) *mesh.Mesh {
	m, _, err := meshfile.Read(path, meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}
