// Package pour holds the computed pour of whole plans against itself on finer
// cells: the error that a plan states must contain what the next finer grid gives.
package pour

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/working/rig"
	"pourwright/internal/working/sequence"
	"pourwright/validation/outside"
)

// folder is a plan without its pour, and what its pour is computed from.
type folder struct {
	master  *mesh.Mesh // of an example
	mould   *rig.Mould
	setting pour.Setting
}

func planned(t *testing.T, j *job.Job, mesh []byte) *folder {
	t.Helper()
	r, err := sequence.Make(context.Background(), j, sequence.Setting{Mesh: mesh})
	if err != nil {
		t.Fatal(err)
	}
	if r.Plan.Verdict == plan.No {
		t.Fatalf("the verdict is no: %v", r.Plan.Findings)
	}
	dir := t.TempDir()
	out := filepath.Join(dir, "plan")
	if err := sequence.Save(context.Background(), r, out); err != nil {
		t.Fatal(err)
	}
	m, d, err := sequence.Folder(out)
	if err != nil {
		t.Fatal(err)
	}
	return &folder{mould: m, setting: d.Setting}
}

// first computes the first shot on cells of h mm.
func (f *folder) first(t *testing.T, h float64) *rig.Result {
	t.Helper()
	s := f.setting
	s.Cell = &h
	r, err := rig.Freeze(context.Background(), f.mould, s, rig.Options{First: true})
	if err != nil {
		t.Fatal(err)
	}
	d := r.Doc
	if d.Freeze.OpenAfter == nil || d.Freeze.Error == nil {
		t.Fatalf("cells of %g mm: no opening time: %+v", h, d.Freeze)
	}
	g := d.Grids[len(d.Grids)-1]
	t.Logf("%.3f mm, %.2g million cells: solid after %.2f s (stated within %.2f), open after %.2f (%.2f), rubber %.1f degC, unfed %.1f mm3, balance %.1e",
		h, float64(g.Cells)/1e6, *d.Freeze.SolidAfter, d.Freeze.Error.SolidAfter, *d.Freeze.OpenAfter, d.Freeze.Error.OpenAfter, *d.Freeze.RubberPeak, *d.Freeze.UnfedVolume, *d.Freeze.Balance)
	if math.Abs(*d.Freeze.Balance) > 1e-5 {
		t.Errorf("cells of %g mm: heat left over, %g of what was poured", h, *d.Freeze.Balance)
	}
	return r
}

// contains holds the error stated on one grid against the next finer one.
func contains(t *testing.T, coarse, fine *pour.Doc) {
	t.Helper()
	a, b, e := coarse.Freeze, fine.Freeze, coarse.Freeze.Error
	if d := math.Abs(*a.SolidAfter - *b.SolidAfter); d > e.SolidAfter {
		t.Errorf("solid after: the next finer grid differs by %.2f s, stated are %.2f", d, e.SolidAfter)
	}
	if d := math.Abs(*a.OpenAfter - *b.OpenAfter); d > e.OpenAfter {
		t.Errorf("open after: the next finer grid differs by %.2f s, stated are %.2f", d, e.OpenAfter)
	}
}

func full() bool { return os.Getenv("POURWRIGHT_FULL") != "" }

// TestDemo refines the example: at full size 1, 0.7 and 0.5 mm, extrapolated.
func TestDemo(t *testing.T) {
	j, data, err := sequence.Demo()
	if err != nil {
		t.Fatal(err)
	}
	f := planned(t, j, data)
	cells := []float64{1.5, 1.1}
	if full() {
		cells = []float64{1, 0.7, 0.5}
	}
	var got []*pour.Doc
	for _, h := range cells {
		got = append(got, f.first(t, h).Doc)
	}
	for i := 1; i < len(got); i++ {
		contains(t, got[i-1], got[i])
	}
	if n := len(got); n == 3 {
		// First order in h, by the last two.
		r := cells[1] / cells[2]
		a, b := *got[2].Freeze.OpenAfter, *got[1].Freeze.OpenAfter
		t.Logf("open after, extrapolated to cells of zero: %.2f s", a+(a-b)/(r-1))
	}
}

// TestMeshes does the same for castable meshes of the outside set at 60 mm; in CI
// for one, on coarse cells.
func TestMeshes(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names, cells := []string{"fish.obj"}, []float64{1.6, 1.15}
	if full() {
		names, cells = []string{"fish.obj", "cat.obj", "spot_low.obj", "bob_small.ply", "koala_low.obj", "nefertiti.obj"}, []float64{1, 0.7}
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, "files", name))
			if err != nil {
				t.Fatal(err)
			}
			m, _, err := meshfile.Parse(data, name, meshfile.Options{})
			if err != nil {
				t.Fatal(err)
			}
			m = outside.At60(m)
			j, err := job.Parse(filepath.Join(t.TempDir(), "job.toml"), []byte(outside.Job))
			if err != nil {
				t.Fatal(err)
			}
			f := planned(t, j, stl(t, m))
			var got []*pour.Doc
			for _, h := range cells {
				got = append(got, f.first(t, h).Doc)
			}
			for i := 1; i < len(got); i++ {
				contains(t, got[i-1], got[i])
			}
		})
	}
}

func stl(t *testing.T, m *mesh.Mesh) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := meshfile.WriteSTL(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
