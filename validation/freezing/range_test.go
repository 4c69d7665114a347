package freezing

import (
	"math"
	"testing"

	"pourwright/internal/physics/heat"
)

// mushy is a front with a freezing range: the latent heat is released evenly
// between ts and tl, with the same conductivity in all three zones.
type mushy struct {
	name                         string
	t0, ts, tl, tp               float64
	rho, k, cs, cl, latent, time float64
}

var mushies = []mushy{
	{"unit", -1, 0, 0.25, 0.5, 1, 1, 1, 1, 1, 1},
	{"pewter-like on a wall of 25 degC", 25, 235, 260, 300, 7150, 40, 256, 247, 62000, 10},
	{"tin-lead 50-50-like on a wall of 25 degC", 25, 183, 214, 250, 8900, 40, 180, 190, 53000, 10},
}

// similarity solves for the two fronts, in units of 2 sqrt(t): solid
// T0 + (Ts - T0) erf/erf, mush A + B erf, liquid Tp - (Tp - Tl) erfc/erfc, flux
// continuous at both fronts; c of the mush is c_m + L/(Tl - Ts).
func (m mushy) similarity() (x1, x2 float64) {
	a1 := m.k / (m.rho * m.cs)
	a2 := m.k / (m.rho * ((m.cs+m.cl)/2 + m.latent/(m.tl-m.ts)))
	a3 := m.k / (m.rho * m.cl)
	s1, s2, s3 := math.Sqrt(a1), math.Sqrt(a2), math.Sqrt(a3)
	g := func(u float64) float64 { return math.Exp(-u * u) }
	b := func(x1, x2 float64) float64 { return (m.tl - m.ts) / (math.Erf(x2/s2) - math.Erf(x1/s2)) }
	bisect := func(lo, hi float64, f func(float64) float64) float64 {
		for range 200 {
			if mid := (lo + hi) / 2; f(mid) > 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		return (lo + hi) / 2
	}
	outer := func(x1 float64) float64 { // the liquidus front for a solidus front
		return bisect(x1, 8*s1, func(x2 float64) float64 {
			return b(x1, x2)*g(x2/s2)/s2 - (m.tp-m.tl)/math.Erfc(x2/s3)*g(x2/s3)/s3
		})
	}
	x1 = bisect(1e-6*s1, 4*s1, func(x1 float64) float64 {
		return (m.ts-m.t0)/math.Erf(x1/s1)*g(x1/s1)/s1 - b(x1, outer(x1))*g(x1/s2)/s2
	})
	return x1, outer(x1)
}

func TestSimilarityOfTheExactSolution(t *testing.T) {
	// the unit case as computed independently: lambda of solidus and liquidus
	x1, x2 := mushies[0].similarity()
	if math.Abs(2*x1-0.915424968967) > 1e-9 || math.Abs(2*x2-1.36352875354) > 1e-9 {
		t.Errorf("fronts at %.12g and %.12g", 2*x1, 2*x2)
	}
}

// crossing returns where a rising profile passes a value, in cells.
func crossing(f []float32, v float64) float64 {
	for q := 1; q < len(f); q++ {
		if float64(f[q]) >= v {
			return float64(q) - 0.5 + (v-float64(f[q-1]))/float64(f[q]-f[q-1])
		}
	}
	return math.NaN()
}

func TestFreezingRange(t *testing.T) {
	sizes := []int{100, 200}
	if full() {
		sizes = append(sizes, 400, 800)
	}
	for _, c := range mushies {
		x1, x2 := c.similarity()
		x1, x2 = 2*x1*math.Sqrt(c.time), 2*x2*math.Sqrt(c.time)
		for _, n := range sizes {
			length := 5 * x2
			p := heat.Problem{Body: bar(length, n, 1, 1, true), Rubber: rubber, Air: c.t0, Step: c.time, Growth: 1.5 / float64(n),
				Metal: heat.Metal{Density: c.rho, KSolid: c.k, KLiquid: c.k, CpSolid: c.cs, CpLiquid: c.cl, Latent: c.latent,
					Fraction: []heat.Melt{{T: c.ts, F: 0}, {T: c.tl, F: 1}}}}
			p.Sides[heat.XLow].Metal = math.Inf(1)
			r := start(t, p)
			if err := r.Pour(c.tp); err != nil {
				t.Fatal(err)
			}
			advance(t, r, c.time)
			f := r.Temperature()
			h := length / float64(n)
			e1, e2 := crossing(f, c.ts)*h/x1-1, crossing(f, c.tl)*h/x2-1
			t.Logf("%-40s %4d cells to the liquidus: solidus %+.3f %%, liquidus %+.3f %%", c.name, n/5, 100*e1, 100*e2)
			if n == 200 && !(math.Abs(e1) < 0.01 && math.Abs(e2) < 0.01) {
				t.Errorf("%s: fronts off by %.2g and %.2g", c.name, e1, e2)
			}
		}
	}
}
