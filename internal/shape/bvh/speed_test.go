package bvh

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"pourwright/internal/ground/vec"
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

func BenchmarkBuild(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	cpu := cpuSeconds()
	for b.Loop() {
		Build(m)
	}
	b.ReportMetric(1e3*(cpuSeconds()-cpu)/float64(b.N), "cpu-ms/op")
}

// raysOf reports million rays a second for n rays a round, by the clock and by
// processor time since cpu.
func raysOf(b *testing.B, n int, cpu float64) {
	m := float64(n) * float64(b.N) / 1e6
	b.ReportMetric(m/b.Elapsed().Seconds(), "Mrays/s")
	if s := cpuSeconds() - cpu; s > 0 {
		b.ReportMetric(m/s, "Mrays/cpu-s")
	}
}

const side1024 = 1024

// BenchmarkGridAllHits casts 1024 x 1024 rays along +z through the box, one
// per cell, one after the other on one core.
func BenchmarkGridAllHits(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	t := Build(m)
	s := t.box.Size()
	hits := 0
	var buf []Hit
	cpu := cpuSeconds()
	for b.Loop() {
		hits = 0
		for j := range side1024 {
			for i := range side1024 {
				o := t.box.Min.Add(vec.V3{X: (float64(i) + 0.5) / side1024 * s.X, Y: (float64(j) + 0.5) / side1024 * s.Y, Z: -s.Z})
				buf = t.AllHits(o, vec.V3{Z: 1}, buf)
				hits += len(buf)
			}
		}
	}
	raysOf(b, side1024*side1024, cpu)
	b.ReportMetric(float64(hits), "hits")
}

// BenchmarkSheetAllHits casts the same rays as one sheet.
func BenchmarkSheetAllHits(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	t := Build(m)
	s := t.box.Size()
	u, v := vec.V3{X: s.X / side1024}, vec.V3{Y: s.Y / side1024}
	sheet := Sheet{t.box.Min.Add(u.Mul(0.5)).Add(v.Mul(0.5)), u, v, vec.V3{Z: 1}, side1024, side1024}
	hits := 0
	cpu := cpuSeconds()
	for b.Loop() {
		hits = t.SheetHits(sheet).Len()
	}
	raysOf(b, side1024*side1024, cpu)
	b.ReportMetric(float64(hits), "hits")
}

// BenchmarkRandomFirst casts rays from a sphere round the body at points of
// its box.
func BenchmarkRandomFirst(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	t := Build(m)
	l, c := t.box.Longest(), t.box.Centre()
	r := rand.New(rand.NewPCG(1, 1))
	const n = 1 << 16
	var rays [n][2]vec.V3
	for k := range rays {
		o := c.Add(point(r, 1).Unit().Mul(l))
		p := point(r, 0.35)
		s := t.box.Size()
		rays[k] = [2]vec.V3{o, c.Add(vec.V3{X: p.X * s.X, Y: p.Y * s.Y, Z: p.Z * s.Z}).Sub(o)}
	}
	cpu := cpuSeconds()
	for b.Loop() {
		for k := range rays {
			t.First(rays[k][0], rays[k][1], math.Inf(1))
		}
	}
	raysOf(b, n, cpu)
}

// BenchmarkClosest asks from points near the surface and from points of the
// whole box.
func BenchmarkClosest(b *testing.B) {
	m := bust(b)
	if m == nil {
		return
	}
	t := Build(m)
	l, c := t.box.Longest(), t.box.Centre()
	r := rand.New(rand.NewPCG(2, 2))
	const n = 1 << 14
	var near, wide [n]vec.V3
	for k := range near {
		near[k] = m.V[r.IntN(len(m.V))].Add(point(r, l/200))
		wide[k] = c.Add(point(r, l/2))
	}
	for _, x := range []struct {
		name string
		p    []vec.V3
	}{{"near", near[:]}, {"wide", wide[:]}} {
		b.Run(x.name, func(b *testing.B) {
			cpu := cpuSeconds()
			for b.Loop() {
				for _, p := range x.p {
					t.Closest(p, math.Inf(1))
				}
			}
			b.ReportMetric((cpuSeconds()-cpu)*1e9/float64(b.N)/n, "cpu-ns/point")
		})
	}
	b.Run("winding", func(b *testing.B) {
		t.Winding(wide[0])
		cpu := cpuSeconds()
		for b.Loop() {
			for _, p := range wide[:] {
				t.Winding(p)
			}
		}
		b.ReportMetric((cpuSeconds()-cpu)*1e9/float64(b.N)/n, "cpu-ns/point")
	})
}
