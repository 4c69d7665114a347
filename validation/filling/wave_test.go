package filling

import (
	"context"
	"math"
	"math/cmplx"
	"testing"

	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/tension"
)

// faddeeva is w(z) = exp(-z^2) erfc(-iz) for Im z >= 0: Weideman, SIAM J. Numer. Anal. 31
// (1994) 1497, with the coefficients summed instead of transformed.
func faddeeva(z complex128) complex128 {
	const n = 40
	l := math.Sqrt(n / math.Sqrt2)
	const m = 2 * n
	f := make([]float64, 2*m)
	theta := make([]float64, 2*m)
	for k := -m + 1; k < m; k++ {
		theta[k+m] = float64(k) * math.Pi / m
		t := l * math.Tan(theta[k+m]/2)
		f[k+m] = math.Exp(-t*t) * (l*l + t*t)
	}
	zz := (complex(l, 0) + 1i*z) / (complex(l, 0) - 1i*z)
	p := complex(0, 0)
	for j := n; j >= 1; j-- { // coefficients 1 .. n of the Fourier series of f
		a := 0.0
		for k := 1; k < 2*m; k++ {
			a += f[k] * math.Cos(float64(j)*theta[k])
		}
		p = p*zz + complex(a/(2*m), 0)
	}
	return 2*p/((complex(l, 0)-1i*z)*(complex(l, 0)-1i*z)) + complex(1/math.Sqrt(math.Pi), 0)/(complex(l, 0)-1i*z)
}

// scaled is exp(z^2) erfc(z).
func scaled(z complex128) complex128 {
	if real(z) >= 0 {
		return faddeeva(1i * z)
	}
	return 2*cmplx.Exp(z*z) - faddeeva(-1i*z)
}

// prosperetti is the height of a small standing wave of one viscous fluid, deep, over its
// height at the start from rest (Prosperetti, Phys. Fluids 24 (1981) 1217, with nothing above;
// the formula from memory, held in TestProsperetti against what it must do):
//
//	z^4 + 2 e z^2 + 4 e^(3/2) z + e^2 + w^2 = 0,   e = nu k^2, w^2 = sigma k^3/rho
//	a/a0 = 4 e^2/(8 e^2 + w^2) erfc(sqrt(e t)) + sum_i z_i/Z_i w^2/(z_i^2 - e) exp((z_i^2 - e) t) erfc(z_i sqrt t)
//	Z_i = prod_(j /= i) (z_j - z_i)
func prosperetti(nu, w2, k, t float64) float64 {
	e := nu * k * k
	z := quartic([5]complex128{complex(e*e+w2, 0), complex(4*math.Pow(e, 1.5), 0), complex(2*e, 0), 0, 1})
	s := complex(4*e*e/(8*e*e+w2)*math.Erfc(math.Sqrt(e*t)), 0)
	for i := range z {
		p := complex(1, 0)
		for j := range z {
			if j != i {
				p *= z[j] - z[i]
			}
		}
		// exp((z^2 - e) t) erfc(z sqrt t) = exp(-e t) scaled(z sqrt t)
		s += z[i] / p * complex(w2, 0) / (z[i]*z[i] - complex(e, 0)) * complex(math.Exp(-e*t), 0) * scaled(z[i]*complex(math.Sqrt(t), 0))
	}
	return real(s)
}

// quartic finds the roots of c0 + c1 z + .. + c4 z^4 (Durand and Kerner).
func quartic(c [5]complex128) (z [4]complex128) {
	r := math.Pow(cmplx.Abs(c[0]), 0.25)
	for i := range z {
		z[i] = complex(r, 0) * cmplx.Pow(0.4+0.9i, complex(float64(i), 0))
	}
	for range 500 {
		for i := range z {
			p, q := c[4], complex(1, 0)
			for j := 3; j >= 0; j-- {
				p = p*z[i] + c[j]
			}
			for j := range z {
				if j != i {
					q *= z[i] - z[j]
				}
			}
			z[i] -= p / q
		}
	}
	return z
}

// TestProsperetti: the formula starts at 1 from rest, swings at w where there is little friction, and decays
// at 2 nu k^2 (Lamb, Hydrodynamics, art. 348).
func TestProsperetti(t *testing.T) {
	const k, w2 = 314.159, 2347.0
	for _, nu := range []float64{1e-9, 2.57e-7} {
		if a := prosperetti(nu, w2, k, 1e-9); math.Abs(a-1) > 1e-6 {
			t.Errorf("nu %g: starts at %.9f", nu, a)
		}
		period := 2 * math.Pi / math.Sqrt(w2)
		want := math.Exp(-2 * nu * k * k * period)
		if a := prosperetti(nu, w2, k, period); math.Abs(a-want) > 0.01 {
			t.Errorf("nu %g: after a period %.5f, Lamb %.5f", nu, a, want)
		}
	}
}

// TestCapillaryWave: a standing wave 20 mm long and 0.2 mm high on deep metal. Source: Prosperetti 1981, one
// fluid. Asked: period within 1 % on 32 cells, order 1.7 at least over 16, 32, 64 (64 in full).
func TestCapillaryWave(t *testing.T) {
	const long, high = 0.02, 1e-4
	m := pewter
	m.Angle = tension.Angle{Rest: 90}
	nu, k := m.Viscosity/m.Density, 2*math.Pi/long
	w2 := m.Tension * k * k * k / m.Density
	// The first crossings of the exact wave.
	exact := crossings(func(t float64) float64 { return prosperetti(nu, w2, k, t) }, 1.7*2*math.Pi/math.Sqrt(w2))
	sizes := []int{16, 32}
	if full() {
		sizes = append(sizes, 64)
	}
	first := 0.0
	for _, n := range sizes {
		h := long / float64(n)
		dim := [3]int{n / 2, 1, n*3/2 + 1}
		c, err := cells.Box(dim, h)
		if err != nil {
			t.Fatal(err)
		}
		f := make([]float64, c.Wall+1)
		for i := range int32(c.N) {
			p := c.Centre(i)
			x0, x1 := (p.X-h/2)*k, (p.X+h/2)*k
			z := long + 0.3*h + high*(math.Sin(x1)-math.Sin(x0))/(x1-x0) // the mean over the cell's width
			f[i] = math.Min(1, math.Max(0, (z-(p.Z-h/2))/h))
		}
		r, err := fill.New(fill.Problem{Cells: c, Metal: m, Slip: true, Share: 1e-5}, f)
		if err != nil {
			t.Fatal(err)
		}
		height := func() float64 { // the part of the wave in cos k x
			s, w := 0.0, 0.0
			for i := range dim[0] {
				z := 0.0
				for j := range dim[2] {
					z += r.F[c.At(i, 0, j)] * h
				}
				x := math.Cos((float64(i) + 0.5) * h * k)
				s, w = s+x*z, w+x*x
			}
			return s / w / high
		}
		var at, a []float64
		for r.Time < exact[2]*1.1 {
			at, a = append(at, r.Time), append(a, height())
			if err := r.Advance(context.Background(), r.Time+exact[0]/100); err != nil {
				t.Fatal(err)
			}
		}
		var got []float64
		for i := 1; i < len(a); i++ {
			if a[i-1]*a[i] < 0 {
				got = append(got, at[i-1]+(at[i]-at[i-1])*a[i-1]/(a[i-1]-a[i]))
			}
		}
		if len(got) < 3 {
			t.Fatalf("%d cells: crosses its mean at %v", n, got)
		}
		period, want := got[2]-got[0], exact[2]-exact[0]
		e := math.Abs(period/want - 1)
		// The largest departure from the wave, over its height.
		far := 0.0
		for i := range at {
			if at[i] > 0 {
				far = math.Max(far, math.Abs(a[i]-prosperetti(nu, w2, k, at[i])))
			}
		}
		if n == sizes[0] {
			first = e
		}
		order := math.Log2(first/e) / math.Log2(float64(n)/float64(sizes[0]))
		t.Logf("%d cells: period %.5f s, exact %.5f: %+.2f %%, order from 16 cells on %.2f; largest departure %.4f of the height; %d steps", n, period, want, 100*(period/want-1), order, far, r.Sum.Steps)
		if n >= 32 && e > 0.01 {
			t.Errorf("%d cells: period off by %.2f %%", n, 100*e)
		}
		if n > sizes[0] && order < 1.7 {
			t.Errorf("%d cells: order %.2f", n, order)
		}
	}
}

// crossings returns where f changes its sign up to end.
func crossings(f func(float64) float64, end float64) (at []float64) {
	const n = 20000
	was := f(1e-9)
	for i := 1; i <= n; i++ {
		t := end * float64(i) / n
		x := f(t)
		if x*was < 0 {
			at = append(at, t-end/n*x/(x-was))
		}
		was = x
	}
	return at
}
