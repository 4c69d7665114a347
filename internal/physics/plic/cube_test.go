package plic

import (
	"math"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// odd normals: along axes and diagonals, with parts that hardly count.
var oddNormals = [][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, 1}, {1, 1, 0}, {-1, 0, 1}, {1, 1, 1}, {1, -1, 1}, {1, 1, 2}, {1, 2, 3}, {1, 1, 1e-3}, {1, 1e-6, 1e-9},
	{1e-15, 1, 1e-15}, {1, 1e-300, 0}, {1, 1 - 1e-15, 1 + 1e-15}, {0.5, 0.5, 1 - 1e-14}, {1e200, 2e200, -1e199}, {3e-200, 1e-200, 1e-201}}

func normals(n int) [][3]float64 {
	r := rand.New(rand.NewPCG(1, 2))
	list := append([][3]float64{}, oddNormals...)
	for range n {
		m := [3]float64{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
		if r.IntN(3) == 0 {
			m[r.IntN(3)] *= math.Pow(10, -16*r.Float64())
		}
		if r.IntN(5) == 0 {
			m[1] = m[0] * (1 + 1e-9*r.NormFloat64())
		}
		list = append(list, m)
	}
	return list
}

var shares = []float64{0, 1e-300, 1e-18, 1e-12, 1e-6, 0.01, 1.0 / 6, 0.25, 1.0 / 3, 0.4999999, 0.5, 0.5000001, 2.0 / 3, 0.9, 1 - 1e-6, 1 - 1e-12, 1}

// TestConstantIsTheInverseOfShare: there and back to 1e-14, and the same plane as the slower
// closed forms of cells.
func TestConstantIsTheInverseOfShare(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, m := range normals(3000) {
		for k := range len(shares) + 4 {
			f := r.Float64()
			if k < len(shares) {
				f = shares[k]
			}
			p := through(m, f)
			x, y, z := math.Abs(p.m[0]), math.Abs(p.m[1]), math.Abs(p.m[2])
			if back := share(x, y, z, p.a); !(math.Abs(back-f) <= 1e-14) {
				t.Fatalf("normal %v, share %g: plane at %g holds %g (%g)", m, f, p.a, back, back-f)
			}
			n := vec.FromArray(p.m)
			if want := cells.CubePlane(n, f); math.Abs(p.offset()-want) > 1e-14 && math.Abs(cells.CubeUnder(n, p.offset())-f) > 1e-14 {
				t.Fatalf("normal %v, share %g: offset %g, want %g", m, f, p.offset(), want)
			}
		}
	}
}

// TestSlabAgainstThePart: the metal of a slab beside the polyhedron that cells makes of it, and
// the slabs of a cube add up to its share.
func TestSlabAgainstThePart(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, m := range normals(400) {
		f, w, d := r.Float64(), r.Float64(), r.IntN(3)
		p := through(m, f)
		low, high := p.slab(d, false, w), p.slab(d, true, 1-w)
		if sum := low*w + high*(1-w); math.Abs(sum-f) > 1e-14 {
			t.Fatalf("normal %v, share %g: slabs of %g and %g add up to %g more", m, f, w, 1-w, sum-f)
		}
		lo, hi := vec.V3{}.Array(), vec.V3{X: 1, Y: 1, Z: 1}.Array()
		hi[d] = w
		part := cells.PartIn(vec.FromArray(lo), vec.FromArray(hi), vec.V3{}, 0)
		if want := part.Under(vec.FromArray(p.m), p.offset()); math.Abs(low-want) > 1e-12 {
			t.Fatalf("normal %v, share %g, slab %g along %d: %g, want %g", m, f, w, d, low, want)
		}
	}
}

func TestPolygonAgainstThePart(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, m := range normals(2000) {
		p := through(m, r.Float64())
		area, x := p.polygon()
		_, want, centre := cells.CubeCut(vec.FromArray(p.m), p.offset())
		if math.Abs(area-want) > 1e-9 || want > 1e-6 && centre.Dist(vec.FromArray(x)) > 1e-9 {
			t.Fatalf("normal %v, constant %g: area %.15g at %v, want %.15g at %v", m, p.a, area, x, want, centre)
		}
	}
	for _, m := range oddNormals {
		for _, f := range shares {
			p := through(m, f)
			area, x := p.polygon()
			if !(area >= 0 && area <= math.Sqrt(3)) || !vec.FromArray(x).Finite() {
				t.Errorf("normal %v, share %g: area %g, centre %v", m, f, area, x)
			}
		}
	}
}
