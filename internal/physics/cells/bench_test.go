package cells

import (
	"context"
	"path/filepath"
	"testing"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// scan returns a scan from the mesh set at 60 mm, or nil.
func scan(t testing.TB, name string) *mesh.Mesh {
	dir := outside.Meshes(t)
	if dir == "" {
		return nil
	}
	m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return outside.At60(m)
}

// BenchmarkScan is a bust of 280 k triangles, 60 mm.
func BenchmarkScan(b *testing.B) {
	m := scan(b, "nefertiti.obj")
	if m == nil {
		return
	}
	m = outside.Quartered(m)
	for _, h := range []struct {
		name string
		mm   float64
	}{{"2mm", 2}, {"1mm", 1}, {"0.5mm", 0.5}} {
		b.Run(h.name, func(b *testing.B) {
			block := m.Box().Grow(10)
			g, err := Lay(m, block, h.mm)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				c, err := FromMesh(context.Background(), m, g, block, Extra{})
				if err != nil {
					b.Fatal(err)
				}
				n = c.N
			}
			b.ReportMetric(float64(n), "cells")
		})
	}
}
