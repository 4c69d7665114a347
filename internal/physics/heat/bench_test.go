package heat

import (
	"context"
	"fmt"
	"math"
	"testing"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

// figure is a union of capsules 2 mm to 18 mm thick, about 27.4 cm3, in a block
// of 160 x 90 x 60 mm: the body that speeds are compared on.
func figure(h float64) *Body {
	capsules := [][7]float64{{-50, 0, 0, 0, 0, 0, 9}, {0, 0, 0, 45, 10, 5, 6}, {0, 0, 0, 30, -22, -3, 4},
		{-30, 0, 0, -10, 25, 8, 2.5}, {-30, 0, 0, -20, -28, -8, 1.5}, {10, 4, 2, 40, 28, 0, 1},
		{-60, -20, -10, -60, 20, 10, 5}, {-70, 0, 0, -45, 0, 0, 5}}
	g := grid.Grid{H: h, NX: int(math.Round(160 / h)), NY: int(math.Round(90 / h)), NZ: int(math.Round(60 / h))}
	c := vec.V3{X: (float64(g.NX/2)+.37)*h + 12, Y: (float64(g.NY/2) + .21) * h, Z: (float64(g.NZ/2) + .43) * h}
	return FromDistance(func(p vec.V3) float64 {
		p = p.Sub(c)
		m := math.Inf(1)
		for _, q := range capsules {
			a := vec.V3{X: q[0], Y: q[1], Z: q[2]}
			b := vec.V3{X: q[3], Y: q[4], Z: q[5]}.Sub(a)
			t := min(max(p.Sub(a).Dot(b)/b.Dot(b), 0), 1)
			m = min(m, p.Sub(a).Sub(b.Mul(t)).Len()-q[6])
		}
		return m
	}, g)
}

func figureRun(tb testing.TB, h float64) *Run {
	p := Problem{Body: figure(h), Metal: pewter, Rubber: silicone, Air: 25, Start: 25}
	for i := range p.Sides {
		p.Sides[i].H = 10
	}
	r, err := New(context.Background(), p)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// BenchmarkFreeze is one pour and ten minutes in the closed mould.
func BenchmarkFreeze(b *testing.B) {
	for _, h := range []float64{2, 1, 0.5} {
		b.Run(fmt.Sprintf("%gmm", h), func(b *testing.B) {
			for b.Loop() {
				r := figureRun(b, h)
				if err := r.Pour(275); err != nil {
					b.Fatal(err)
				}
				if err := r.Advance(context.Background(), 600); err != nil {
					b.Fatal(err)
				}
				x := r.Times()
				b.ReportMetric(x.Solid, "solid-s")
				b.ReportMetric(x.Cold, "cold-s")
				b.ReportMetric(float64(r.Steps), "steps")
				b.ReportMetric(float64(r.Sweeps), "sweeps")
				b.ReportMetric(r.Energy().Share(), "left")
			}
		})
	}
}

// BenchmarkShots is twenty shots of 240 s in the mould and 1200 s open.
func BenchmarkShots(b *testing.B) {
	for _, h := range []float64{2, 1} {
		b.Run(fmt.Sprintf("%gmm", h), func(b *testing.B) {
			for b.Loop() {
				r := figureRun(b, h)
				for range 20 {
					shot(b, r, 275, 240, 1200)
				}
				b.ReportMetric(float64(r.Sweeps), "sweeps")
				b.ReportMetric(1e9*r.Energy().Share(), "left-1e-9")
			}
		})
	}
}

// BenchmarkPlane is the explicit step of the rubber alone, to be set against the
// same kernel in C: million cells a second are 1e3/(ns/cell).
func BenchmarkPlane(b *testing.B) {
	for _, n := range [][3]int{{64, 64, 64}, {160, 90, 60}, {256, 256, 256}, {320, 180, 120}} {
		for _, k := range []struct {
			name string
			set  *kernel
		}{{"plain", &plain}, {"fastest", fastest()}} {
			b.Run(fmt.Sprintf("%dx%dx%d/%s", n[0], n[1], n[2], k.name), func(b *testing.B) {
				p := pad(n[0], n[1], n[2])
				x, y := make([]float32, p.n), make([]float32, p.n)
				for i := range x {
					x[i] = 25 + float32(i*2654435761%1000)/10
				}
				for b.Loop() {
					par.For(p.nz, max(1, p.nz/8), func(lo, hi int) {
						for z := lo; z < hi; z++ {
							at := p.id(0, 0, z)
							k.set.plane(y[at:], x, at, &p, 0.158)
						}
					})
					x, y = y, x
				}
				cells := float64(n[0] * n[1] * n[2])
				ns := float64(b.Elapsed().Nanoseconds()) / float64(b.N) / cells
				b.ReportMetric(ns, "ns/cell")
				b.ReportMetric(8/ns, "GB/s")
			})
		}
	}
}

// BenchmarkTriad is a[i] = b[i] + 3 c[i] in float64 over 576 MiB: the memory
// bandwidth that a kernel can hope for, 24 bytes an element.
func BenchmarkTriad(b *testing.B) {
	const n = 24 << 20
	x, y, z := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range y {
		y[i], z[i] = 1, 2
	}
	for b.Loop() {
		par.For(n, n/8, func(lo, hi int) {
			u, v, w := x[lo:hi], y[lo:hi], z[lo:hi]
			for i := range u {
				u[i] = v[i] + 3*w[i]
			}
		})
	}
	b.ReportMetric(24*n/(float64(b.Elapsed().Nanoseconds())/float64(b.N)), "GB/s")
}
