package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
)

// ghia holds the velocity along the lid on the upright middle line of a square cavity whose lid slides
// at 1: Ghia, Ghia & Shin, J. Comput. Phys. 48 (1982) 387, table I. At y = 0.1719 and Reynolds
// number 100 copies differ (-0.10150, -0.10372); that point is left out.
var ghia = []struct{ y, at100, at400 float64 }{
	{0.0547, -0.03717, -0.08186}, {0.0625, -0.04192, -0.09266}, {0.0703, -0.04775, -0.10338},
	{0.1016, -0.06434, -0.14612}, {0.1719, math.NaN(), -0.24299}, {0.2813, -0.15662, -0.32726},
	{0.4531, -0.2109, -0.17119}, {0.5, -0.20581, -0.11477}, {0.6172, -0.13641, 0.02135},
	{0.7344, 0.00332, 0.16256}, {0.8516, 0.23151, 0.29093}, {0.9531, 0.68717, 0.55892},
	{0.9609, 0.73722, 0.61756}, {0.9688, 0.78871, 0.68439}, {0.9766, 0.84123, 0.75837},
}

// TestCavity: a closed square full of metal under a sliding lid, from rest until it is steady,
// against Ghia's table. Asked are 0.02 of the lid's speed at 64 cells and 0.03 at 128;
// 32 cells are held to our own bound.
func TestCavity(t *testing.T) {
	type row struct {
		re    float64
		n     int
		until float64 // times the side over the lid's speed
		bound float64
	}
	list := []row{{100, 32, 14, 0.02}}
	if full() {
		list = append(list, row{100, 64, 16, 0.02}, row{400, 128, 40, 0.03})
	}
	for _, x := range list {
		c, err := cells.Box([3]int{x.n, 1, x.n}, 1/float64(x.n))
		if err != nil {
			t.Fatal(err)
		}
		f := make([]float64, c.Wall+1)
		for i := range c.N {
			f[i] = 1
		}
		p := fill.Problem{Cells: c, Metal: fill.Metal{Density: 1, Viscosity: 1 / x.re}, Share: 1e-3}
		p.Slide[5] = vec.V3{X: 1}
		r, err := fill.New(p, f)
		if err != nil {
			t.Fatal(err)
		}
		u := func(y float64) float64 { // on the middle line, between the centres of sides
			at := func(k int) float64 {
				switch {
				case k < 0:
					return -r.U[0][c.At(x.n/2, 0, 0)]
				case k >= x.n:
					return 2 - r.U[0][c.At(x.n/2, 0, x.n-1)]
				}
				return r.U[0][c.At(x.n/2, 0, k)]
			}
			z := y*float64(x.n) - 0.5
			k := int(math.Floor(z))
			return at(k)*(1-(z-float64(k))) + at(k+1)*(z-float64(k))
		}
		worst := func() (d, where float64) {
			for _, g := range ghia {
				want := g.at100
				if x.re == 400 {
					want = g.at400
				}
				if e := math.Abs(u(g.y) - want); e > d {
					d, where = e, g.y
				}
			}
			return d, where
		}
		if err := r.Advance(context.Background(), x.until-2); err != nil {
			t.Fatal(err)
		}
		was := u(0.5)
		if err := r.Advance(context.Background(), x.until); err != nil {
			t.Fatal(err)
		}
		d, where := worst()
		t.Logf("Re %g, %d cells: off by %.4f at most, at y = %.4f; middle changed by %.1e in the last 2; %+v", x.re, x.n, d, where, u(0.5)-was, r.Sum)
		if !(d <= x.bound) || !(math.Abs(u(0.5)-was) < 2e-3) {
			t.Errorf("Re %g, %d cells: off by %.4f at y = %.4f, still changing by %.1e", x.re, x.n, d, where, u(0.5)-was)
		}
	}
}
