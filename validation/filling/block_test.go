package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/tension"
	"pourwright/validation/outside"
)

// BenchmarkBlock pours 40 cm3/s for 0.1 s (BLOCK_UNTIL) into an open block of 48 mm, half full, on cells of 1 mm (BLOCK_MM): what a
// step costs inside the metal of a large piece, where the figure's is nearly all surface.
func BenchmarkBlock(b *testing.B) {
	h, half, until := number("BLOCK_MM", 1), 24.0, number("BLOCK_UNTIL", 0.1)
	lo, hi := vec.V3{X: -half, Y: -half, Z: -half}, vec.V3{X: half, Y: half, Z: half}
	m := outside.Brick(lo, hi)
	hi.Z -= h / 4
	c := laid(b, m, vec.Box{Min: lo, Max: hi}, h)
	w := stopwatch{}
	steps, iterations := 0, 0
	start := processor()
	for b.Loop() {
		walls, _ := chill.FromMesh(c.Cells, m, vec.Box{Min: lo, Max: hi})
		heat, err := chill.New(chill.Problem{Cells: c.Cells, Walls: walls, Metal: chilledMetal, Rubber: chillRubber, Mould: 60})
		if err != nil {
			b.Fatal(err)
		}
		p := fill.Problem{Cells: c.Cells, Metal: pewter, Gravity: vec.V3{Z: -9.81}, Sections: c.Section, Ports: make([]fill.Beyond, c.Ports),
			Heat: heat, Pour: 300, Quick: true, Ended: w.ended}
		p.Metal.Tension, p.Metal.Angle = 0.53, tension.Powdered
		p.Rise = p.Metal.Bubbles(p.Gravity.Len())
		jets := 0
		for pass := range 2 {
			for k := range p.Ports {
				if x := c.Centre(int32(c.N + k)); math.Hypot(x.X, x.Y) > 3.5e-3 {
					p.Ports[k] = fill.Beyond{Kind: fill.Air}
				} else if pass == 0 {
					jets++
				} else {
					p.Ports[k] = fill.Beyond{Kind: fill.Jet, Speed: 40e-6 / (float64(jets) * c.H * c.H)}
				}
			}
		}
		f := make([]float64, c.Wall+1)
		for i := range c.N {
			if c.Centre(int32(i)).Z < 0 {
				f[i] = 1
			}
		}
		w.last = processor()
		r, err := fill.New(p, f)
		if err != nil {
			b.Fatal(err)
		}
		if err := r.Advance(context.Background(), until); err != nil {
			b.Fatal(err)
		}
		steps += r.Sum.Steps
		iterations += r.Sum.Iterations
		b.ReportMetric(1e3*r.Fastest(), "mm/s")
	}
	n := float64(b.N)
	w.report(b)
	b.ReportMetric((processor()-start)/n, "s-processor")
	b.ReportMetric(float64(steps)/n, "steps")
	b.ReportMetric(float64(iterations)/float64(steps), "iterations/step")
	b.ReportMetric(float64(c.N), "cells")
}
