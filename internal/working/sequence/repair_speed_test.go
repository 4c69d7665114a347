package sequence

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// BenchmarkSet reads, checks and repairs each file of the mesh set that can be
// read.
func BenchmarkSet(b *testing.B) {
	dir, names, _ := meshSet(b)
	for _, name := range names {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			b.Fatal(err)
		}
		s := Source{Path: name, Data: data, Unit: "mm", From: "flag"}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Check(s)
			}
		})
	}
}

// BenchmarkScan does the same with a scan of 2.2 million triangles: whole, and
// with holes, triangles the wrong way round, doubles and corners not joined.
func BenchmarkScan(b *testing.B) {
	dir := outside.Meshes(b)
	if dir == "" {
		return
	}
	m, _, err := meshfile.Read(filepath.Join(dir, "files", "torus_stl.stl"), meshfile.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for range 4 {
		m = outside.Quartered(m)
	}
	r := rand.New(rand.NewPCG(5, 5))
	broken := &mesh.Mesh{V: m.V}
	for i, f := range m.F {
		if i%50000 < 40 { // along the surface: holes of some hundred edges
			continue
		}
		if r.IntN(20) == 0 {
			f[1], f[2] = f[2], f[1]
		}
		broken.F = append(broken.F, f)
		if r.IntN(50) == 0 {
			broken.F = append(broken.F, f)
		}
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{{"whole", m}, {"broken", broken}} {
		var buf bytes.Buffer
		if err := meshfile.WriteSTL(&buf, c.m); err != nil {
			b.Fatal(err)
		}
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Check(Source{Path: "a.stl", Data: buf.Bytes(), Unit: "mm", From: "flag"}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
