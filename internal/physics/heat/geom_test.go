package heat

import (
	"context"
	"math"
	"os"
	"testing"
)

func TestGeom(t *testing.T) {
	if os.Getenv("STUDY") == "" {
		return
	}
	for _, n := range []int{4, 6, 10} {
		for _, o := range offsets {
			b, _ := shape{2, 10, n, 12}.body(o)
			r, _ := New(context.Background(), Problem{Body: b, Metal: pewter, Rubber: silicone, Air: 25, Start: 25})
			a, cond := 0.0, 0.0
			for _, w := range r.walls {
				a += w.area
				cond += w.area / float64(w.near) / float64(w.normal) / r.h
			}
			v := 0.0
			for _, m := range r.shut.cells {
				v += m.c/r.cell - 1
			}
			n0 := 0
			for q := range r.kind {
				if r.kind[q] != metalCell {
					n0++
				}
			}
			tot := (v+float64(n0))*math.Pow(r.h*1e3, 3) + 4./3*math.Pi*125
			t.Logf("d/%d area %.4f volume %.4f rubber+metal-box %.3f of ball %.1f; cond/area %.3f walls %d", n, a/(4*math.Pi*25e-6), r.Volume/(4./3*math.Pi*125e-9), tot-math.Pow(r.h*1e3, 3)*float64(r.grid.Len()), 4./3*math.Pi*125, cond, len(r.walls))
		}
	}
}
