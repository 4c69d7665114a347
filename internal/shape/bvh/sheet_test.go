package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// TestSheetAgainstRays compares each line of random sheets with the single ray.
func TestSheetAgainstRays(t *testing.T) {
	eachBody(t, 13, func(t *testing.T, r *rand.Rand, m *mesh.Mesh, tr *Tree) {
		l := tr.Box().Longest()
		hits := 0
		for range 12 {
			s := Sheet{U: point(r, l/20), V: point(r, l/20), D: point(r, 1), NU: 1 + r.IntN(40), NV: 1 + r.IntN(40)}
			mid := s.U.Mul(float64(s.NU) / 2).Add(s.V.Mul(float64(s.NV) / 2))
			s.O = tr.Box().Centre().Sub(mid).Add(point(r, l/4))
			c := tr.SheetHits(s)
			for j := range s.NV {
				for i := range s.NU {
					back := 1e3 * l / s.D.Len()
					o := s.O.Add(s.U.Mul(float64(i))).Add(s.V.Mul(float64(j)))
					want := tr.AllHits(o.Sub(s.D.Mul(back)), s.D, nil)
					got := c.At(i, j)
					hits += len(got)
					same := len(got) == len(want)
					for k := 0; same && k < len(got); k++ {
						// Triangles without area and equal heights may change places.
						same = math.Abs(got[k].T-(want[k].T-back)) < 1e-6*back
					}
					if !same {
						t.Fatalf("%+v line %d %d: %v, want %v (less %g)", s, i, j, got, want, back)
					}
					sum := 0
					for k, h := range got {
						sum += int(h.Sign) - int(want[k].Sign)
					}
					if sum != 0 {
						t.Fatalf("signs: %v, want %v", got, want)
					}
				}
			}
			if n := len(c.hit); n != c.Len() || n != int(c.start[len(c.start)-1]) {
				t.Fatal("lengths")
			}
		}
		t.Logf("%d hits", hits)
	})
}

// TestSheetBalances puts lines exactly through the corners of a plate.
func TestSheetBalances(t *testing.T) {
	tr := Build(plate(40))
	for _, d := range []vec.V3{{Z: 1}, {Z: -2}, {X: 1, Z: 1}, {X: 0.5, Y: 0.25, Z: 1}} {
		c := tr.SheetHits(Sheet{O: vec.V3{X: -20, Y: -20}, U: vec.V3{X: 1}, V: vec.V3{Y: 1}, D: d, NU: 80, NV: 80})
		n := 0
		for j := range 80 {
			for i := range 80 {
				sum := 0
				for _, h := range c.At(i, j) {
					sum += int(h.Sign)
					n++
				}
				if sum != 0 {
					t.Fatalf("along %v: line %d %d: %v", d, i, j, c.At(i, j))
				}
			}
		}
		if n < 3200 {
			t.Errorf("along %v: only %d hits", d, n)
		}
		if d.X == 0 && n != 3200 { // 40 x 40 lines, two hits each
			t.Errorf("along %v: %d hits, want 3200", d, n)
		}
	}
}

func TestSheetOfNothing(t *testing.T) {
	tr := Build(outside.Ball(2, 1))
	for _, s := range []Sheet{
		{}, {U: vec.V3{X: 1}, V: vec.V3{X: 2}, D: vec.V3{Z: 1}, NU: 3, NV: 3},
		{O: vec.V3{X: math.NaN()}, U: vec.V3{X: 1}, V: vec.V3{Y: 1}, D: vec.V3{Z: 1}, NU: 3, NV: 3},
		{U: vec.V3{X: 1}, V: vec.V3{Y: 1}, D: vec.V3{Z: 1}, NU: -1, NV: 3},
	} {
		if c := tr.SheetHits(s); c.Len() != 0 {
			t.Error(s)
		}
	}
}
