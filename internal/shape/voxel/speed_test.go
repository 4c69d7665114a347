package voxel

import (
	"path/filepath"
	"testing"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// bust is the scan of the speed figures, every triangle cut into four:
// 280 000 triangles. nil where the mesh set is absent.
func bust(b *testing.B) *mesh.Mesh {
	dir := outside.Meshes(b)
	if dir == "" {
		return nil
	}
	m, _, err := meshfile.Read(filepath.Join(dir, "files", "nefertiti.obj"), meshfile.Options{KeepOrder: true})
	if err != nil {
		b.Fatal(err)
	}
	return outside.Quartered(m)
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
