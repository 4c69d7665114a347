package voxel

import (
	"os"
	"path/filepath"
	"testing"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
)

// outside returns the path of a mesh of the outside set; empty, with a word
// about it, where the set is absent. Under CI its absence is a failure.
func outside(t testing.TB, name string) string {
	dir := os.Getenv("POURWRIGHT_MESHES")
	if dir == "" {
		at, _ := os.Getwd()
		for at != filepath.Dir(at) {
			if _, err := os.Stat(filepath.Join(at, "go.mod")); err == nil {
				dir = filepath.Join(at, "..", "shared", "meshes")
				break
			}
			at = filepath.Dir(at)
		}
	}
	for _, sub := range []string{"files", ""} {
		p := filepath.Join(dir, sub, name)
		if _, err := os.Stat(p); err == nil {
			return p
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("mesh set not found at %q: set POURWRIGHT_MESHES", dir)
	}
	t.Logf("not run: %s with %s (needs the mesh set)", t.Name(), name)
	return ""
}

// bust is the scan of the speed figures, every triangle cut into four:
// 280 000 triangles. nil where the mesh set is absent.
func bust(b *testing.B) *mesh.Mesh {
	path := outside(b, "nefertiti.obj")
	if path == "" {
		return nil
	}
	m, _, err := meshfile.Read(path, meshfile.Options{KeepOrder: true})
	if err != nil {
		b.Fatal(err)
	}
	return cut(m)
}

// BenchmarkCells: centre samples, 256 cells on the longest side.
func BenchmarkCells(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	g := gridOver(b, m, 256)
	var cells []uint8
	cpu := cpuSeconds()
	for b.Loop() {
		cells = Cells(m, g)
	}
	b.ReportMetric(1e3*(cpuSeconds()-cpu)/float64(b.N), "cpu-ms/op")
	inside := 0
	for _, x := range cells {
		inside += int(x)
	}
	b.ReportMetric(float64(inside), "cells")
}

// BenchmarkFractions: 128 cells on the longest side, 3 x 3 lines in each.
func BenchmarkFractions(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	g := gridOver(b, m, 128)
	for b.Loop() {
		Fractions(m, g, 3)
	}
}

// BenchmarkCast: columns with exact ends, 384 on the longest side.
func BenchmarkCast(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	box := m.Box()
	h := box.Longest() / 384
	for b.Loop() {
		Cast(m, int(box.Size().X/h), int(box.Size().Y/h), box.Min.X+h/2, box.Min.Y+h/2, h)
	}
}
