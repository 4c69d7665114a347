package sequence

import (
	"context"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// BenchmarkPlan plans a bust of 280 000 triangles at 99 mm (without the mesh
// set: an egg) and saves its folder; one figure for each stage, and the most
// memory that the process ever held.
func BenchmarkPlan(b *testing.B) {
	var m *mesh.Mesh
	if dir := outside.Meshes(b); dir != "" {
		var err error
		if m, _, err = meshfile.Read(filepath.Join(dir, "files", "nefertiti.obj"), meshfile.Options{}); err != nil {
			b.Fatal(err)
		}
		m = outside.Quartered(m)
		for i := range m.V {
			m.V[i] = m.V[i].Mul(0.2)
		}
	} else {
		m = sculpt.Ball(30, 390).Mesh
	}
	path := filepath.Join(b.TempDir(), "part.stl")
	if err := meshfile.SaveSTL(path, m); err != nil {
		b.Fatal(err)
	}
	j := parse(b, head+rest)
	j.Master.Mesh = path
	b.Logf("%d triangles", len(m.F))
	sum := map[string]float64{}
	out := filepath.Join(b.TempDir(), "plan")
	n := 0.0
	for b.Loop() {
		r, err := Make(context.Background(), j, Setting{Version: "bench"})
		if err != nil {
			b.Fatal(err)
		}
		if err := Save(context.Background(), r, out); err != nil {
			b.Fatal(err)
		}
		for k, x := range r.clock.timing {
			sum[k] += x
		}
		n++
	}
	for _, k := range Stages {
		b.ReportMetric(sum[k]/n, strings.ReplaceAll(k, " ", "-")+"-s")
	}
	var use syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &use) == nil {
		b.ReportMetric(float64(use.Maxrss)/1024, "peak-MB")
	}
}
