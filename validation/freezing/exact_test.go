// Package freezing holds the heat solver against exact answers: fronts that move
// with the square root of time, a corner that freezes from two sides, and the
// series of conduction in slabs and cubes.
//
// Sources: Neumann's two-phase front and the front with a freezing range are
// solutions in error functions (Carslaw & Jaeger 1959; Cho & Sunderland 1969),
// the numbers computed from them to ten digits; the corner is that of Rathjen &
// Jiji 1971, J. Heat Transfer 93, 101, front and temperatures computed on 1000 x
// 1000 cells and their closed form (its constants from memory); slab and cube are
// the Fourier series.
package freezing

import (
	"context"
	"math"
	"os"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
)

// full reports whether the larger grids are asked for.
func full() bool { return os.Getenv("POURWRIGHT_FULL") != "" }

// bar is n cells of metal, or of rubber where metal is false, of length m metres
// along x, and as many across as given.
func bar(length float64, nx, ny, nz int, metal bool) *heat.Body {
	d := 1.0
	if metal {
		d = -1
	}
	g := grid.Grid{H: 1e3 * length / float64(nx), NX: nx, NY: ny, NZ: nz}
	return heat.FromDistance(func(vec.V3) float64 { return d * 1e6 }, g)
}

func start(t *testing.T, p heat.Problem) *heat.Run {
	t.Helper()
	r, err := heat.New(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func advance(t *testing.T, r *heat.Run, seconds float64) {
	t.Helper()
	if err := r.Advance(context.Background(), seconds); err != nil {
		t.Fatal(err)
	}
	if s := math.Abs(r.Energy().Share()); s > 3e-6 {
		t.Errorf("the balance does not close: %.2g of the pour", s)
	}
}

var rubber = heat.Rubber{Density: 1250, Cp: 1250, K: 0.25}

// front is a case of Neumann's problem: solid grows from a wall at t0 into liquid
// poured at ti.
type front struct {
	name                        string
	t0, tm, ti                  float64
	rho, ks, kl, cs, cl, latent float64
	time, x                     float64 // s, m
	at, temperature             []float64
}

var fronts = []front{
	{"tin on a wall of 20 degC", 20, 231.93, 270, 7180, 60, 28, 250, 247, 59200, 10, 0.0199370845203,
		[]float64{.25, .5, .75, 1.5, 3}, []float64{77.917959, 133.72955, 185.55542, 256.56959, 269.88908}},
	{"water on a wall of -10 degC", -10, 0, 10, 917, 2.22, 0.566, 2050, 4200, 334000, 10, 0.00106884118102,
		[]float64{.25, .5, .75, 1.5, 3}, []float64{-7.4810994, -4.9698002, -2.473635, 3.4389008, 8.8473233}},
	{"unit, L 4, superheat 0.3", -1, 0, 0.3, 1, 1, 1, 1, 1, 0.25 * 1, 1, 1.41532305,
		[]float64{.25, .5, .75, 1.5, 3}, []float64{-0.7107696, -0.4390009, -0.19905663, 0.1738118, 0.29746411}},
}

// neumann returns the error of the front and the largest one of the temperatures,
// as a part of the whole range, on n cells over five times the front.
func neumann(t *testing.T, c front, n int) (x, temperature float64) {
	p := heat.Problem{Body: bar(5*c.x, n, 1, 1, true), Rubber: rubber, Air: c.t0, Step: c.time, Growth: 1.5 / float64(n),
		Metal: heat.Metal{Density: c.rho, KSolid: c.ks, KLiquid: c.kl, CpSolid: c.cs, CpLiquid: c.cl, Latent: c.latent,
			Fraction: []heat.Melt{{T: c.tm, F: 0}, {T: c.tm, F: 1}}}}
	p.Sides[heat.XLow].Metal = math.Inf(1)
	r := start(t, p)
	if err := r.Pour(c.ti); err != nil {
		t.Fatal(err)
	}
	advance(t, r, c.time)
	x = (1-r.Liquid())*5 - 1
	f := r.Temperature()
	for i, s := range c.at {
		at := s/5*float64(n) - 0.5
		q := int(at)
		got := float64(f[q]) + (at-float64(q))*float64(f[q+1]-f[q])
		temperature = math.Max(temperature, math.Abs(got-c.temperature[i])/(c.ti-c.t0))
	}
	return x, temperature
}

func TestNeumannFront(t *testing.T) {
	sizes := []int{50, 100, 200}
	if full() {
		sizes = append(sizes, 400, 800)
	}
	for _, c := range fronts {
		var before float64
		for i, n := range sizes {
			x, temp := neumann(t, c, n)
			t.Logf("%-28s %4d cells to the front: front %+.3f %%, temperature %.3f %%", c.name, n/5, 100*x, 100*temp)
			if n == 200 && (math.Abs(x) > 0.005 || temp > 0.01) {
				t.Errorf("%s, %d cells: front off by %.2g, temperatures by %.2g", c.name, n, x, temp)
			}
			if i > 0 && math.Abs(x) > 0.75*before && math.Abs(x) > 5e-4 {
				t.Errorf("%s: the front does not converge: %.2g after %.2g", c.name, x, before)
			}
			before = math.Abs(x)
		}
	}
}
