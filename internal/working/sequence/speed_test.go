package sequence

import (
	"context"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
)

// quartered cuts every triangle into four.
func quartered(m *mesh.Mesh) *mesh.Mesh {
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

// BenchmarkPlan plans a bust of 280 000 triangles at 99 mm (without the mesh
// set: an egg) and saves its folder; one figure for each stage, and the most
// memory that the process ever held.
func BenchmarkPlan(b *testing.B) {
	var m *mesh.Mesh
	if dir := meshSet(b); dir != "" {
		var err error
		if m, _, err = meshfile.Read(filepath.Join(dir, "files", "nefertiti.obj"), meshfile.Options{}); err != nil {
			b.Fatal(err)
		}
		m = quartered(m)
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
