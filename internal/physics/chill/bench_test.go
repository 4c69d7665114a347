package chill

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
)

// A filling of 37 000 cells of 1 mm, half full, a tenth of the metal's cells mixed:
// bars of 5 x 5 mm, so that two thirds of all cells have a wall.
func BenchmarkStep(b *testing.B) {
	c := where(b, [3]int{60, 60, 15}, 1e-3, func(_, j, k int) bool { return j%6 < 5 && k%3 < 3 })
	s := state(b, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 45})
	f, q := make([]float64, c.Wall+1), make([]float64, c.Wall+1)
	var p Planes
	wet := 0
	for i := range c.N {
		x := c.I[i][0]
		switch {
		case x < 30:
			f[i] = 1
		case x < 33:
			f[i] = 0.5
			p.Cells, p.Normal, p.Offset = append(p.Cells, int32(i)), append(p.Normal, vec.V3{X: math.Sqrt(0.5), Y: math.Sqrt(0.5)}), append(p.Offset, math.Sqrt(0.5))
		}
		q[i] = f[i] * s.Poured(300)
		if f[i] > 0 {
			wet++
		}
	}
	b.ResetTimer()
	for range b.N {
		s.Step(2.5e-4, f, q, p)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)*3e-3, "s/3000steps")
	b.ReportMetric(float64(c.N), "cells")
	b.ReportMetric(float64(wet), "wet")
	b.ReportMetric(float64(len(s.w.Patch)), "walls")
}
