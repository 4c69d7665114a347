package freezing

import (
	"math"
	"testing"

	"pourwright/internal/physics/heat"
)

// slabSeries is the temperature in the middle of a slab whose faces are held at 0
// from the start at 1, Fo on half the thickness.
func slabSeries(fo float64) float64 {
	s := 0.0
	for n := range 50 {
		z := (float64(n) + 0.5) * math.Pi
		s += 2 * math.Pow(-1, float64(n)) / z * math.Exp(-z*z*fo)
	}
	return s
}

// convective is the same with faces that lose heat to 0 by a coefficient, Bi on
// half the thickness.
func convective(bi, fo float64) float64 {
	s := 0.0
	for n := range 50 {
		lo, hi := float64(n)*math.Pi, (float64(n)+0.5)*math.Pi
		for range 100 {
			if z := (lo + hi) / 2; z*math.Tan(z) < bi {
				lo = z
			} else {
				hi = z
			}
		}
		z := lo
		s += 4 * math.Sin(z) / (2*z + math.Sin(2*z)) * math.Exp(-z*z*fo)
	}
	return s
}

// middle returns the temperature in the middle of a body of rubber cells after
// Fo, with steps of rest seconds at most (an explicit step takes 0.11 s), of the
// sides given.
func middle(t *testing.T, nx, ny, nz int, coefficient, fo, rest float64, sides ...int) float64 {
	p := heat.Problem{Body: bar(0.02, nx, ny, nz, false), Rubber: rubber, Start: 1, Rest: rest,
		Metal: heat.Metal{Density: 1, KSolid: 1, KLiquid: 1, CpSolid: 1, CpLiquid: 1, Latent: 1, Fraction: []heat.Melt{{T: 0, F: 0}, {T: 0, F: 1}}}}
	for _, s := range sides {
		p.Sides[s].H = coefficient
	}
	r := start(t, p)
	before := r.Energy()
	advance(t, r, fo*1e-4/rubber.Diffusivity())
	if e := r.Energy(); math.Abs(e.Left) > 1e-4*before.Rubber { // changes under half a unit in the last place of float32 are lost in slow cooling
		t.Errorf("%.2g J of %.2g J do not add up", e.Left, before.Rubber)
	}
	return float64(r.Temperature()[(nz/2*ny+ny/2)*nx+nx/2])
}

func TestSeries(t *testing.T) {
	inf := math.Inf(1)
	// The series against values computed independently.
	for _, c := range [][2]float64{{slabSeries(0.2), 0.7723116069}, {slabSeries(1), 0.1079770444},
		{convective(0.1, 0.5), 0.967980746}, {convective(1, 1), 0.5338594014}, {convective(10, 0.2), 0.8292547308}} {
		if math.Abs(c[0]-c[1]) > 1e-9 {
			t.Errorf("series: %.10g, want %.10g", c[0], c[1])
		}
	}
	for _, fo := range []float64{0.05, 0.1, 0.2, 0.3, 0.5, 1} {
		got, want := middle(t, 61, 1, 1, inf, fo, 0.1, heat.XLow, heat.XHigh), slabSeries(fo)
		t.Logf("slab, Fo %g: %+.4f %%", fo, 100*(got/want-1))
		if math.Abs(got/want-1) > 0.002 {
			t.Errorf("slab, Fo %g: %.6g, want %.6g", fo, got, want)
		}
	}
	for _, fo := range []float64{0.05, 0.1, 0.2, 0.3, 0.5} {
		got, want := middle(t, 61, 61, 61, inf, fo, 0.1, 0, 1, 2, 3, 4, 5), math.Pow(slabSeries(fo), 3)
		t.Logf("cube, Fo %g: %+.4f %%", fo, 100*(got/want-1))
		if math.Abs(got/want-1) > 0.002 {
			t.Errorf("cube, Fo %g: %.6g, want %.6g", fo, got, want)
		}
	}
	for _, bi := range []float64{0.1, 1, 10} {
		for _, fo := range []float64{0.2, 0.5, 1} {
			got, want := middle(t, 61, 1, 1, bi*rubber.K/0.01, fo, 0.1, heat.XLow, heat.XHigh), convective(bi, fo)
			t.Logf("slab, Bi %g, Fo %g: %+.4f %%", bi, fo, 100*(got/want-1))
			if math.Abs(got/want-1) > 0.002 {
				t.Errorf("slab, Bi %g, Fo %g: %.6g, want %.6g", bi, fo, got, want)
			}
		}
	}
	// long steps of a mould at rest: within three parts in a thousand of the range
	for _, fo := range []float64{0.05, 0.2, 0.5, 1} {
		got, want := middle(t, 61, 1, 1, inf, fo, 60, heat.XLow, heat.XHigh), slabSeries(fo)
		cube := middle(t, 61, 61, 61, inf, fo, 60, 0, 1, 2, 3, 4, 5) - math.Pow(want, 3)
		t.Logf("long steps, Fo %g: slab %+.4f, cube %+.4f of the range", fo, got-want, cube)
		if math.Abs(got-want) > 0.003 || math.Abs(cube) > 0.003 {
			t.Errorf("long steps, Fo %g: slab off by %.2g, cube by %.2g of the range", fo, got-want, cube)
		}
	}
}

// An insulated bar that parts in the middle: each half is half a slab that loses
// heat through the open face, and its far end is the middle of that slab.
func TestOpenParting(t *testing.T) {
	const n = 120
	b := bar(0.02, n, 1, 1, false)
	b.Half = make([]uint8, n)
	for i := range b.Half {
		b.Half[i] = uint8(1 + 2*i/n)
	}
	for _, bi := range []float64{0.1, 1, 10} {
		for _, rest := range []float64{0.02, 60} {
			r := start(t, heat.Problem{Body: b, Rubber: rubber, Start: 1, Rest: rest,
				Metal: heat.Metal{Density: 1, KSolid: 1, KLiquid: 1, CpSolid: 1, CpLiquid: 1, Latent: 1, Fraction: []heat.Melt{{T: 0, F: 0}, {T: 0, F: 1}}}})
			if err := r.Open(bi * rubber.K / 0.01); err != nil {
				t.Fatal(err)
			}
			const fo = 0.5
			advance(t, r, fo*1e-4/rubber.Diffusivity())
			f := r.Temperature()
			want := convective(bi, fo)
			t.Logf("open, Bi %g, steps up to %g s: %+.4f and %+.4f", bi, rest, float64(f[0])-want, float64(f[n-1])-want)
			if math.Abs(float64(f[0])-want) > 0.002 || f[0] != f[n-1] {
				t.Errorf("open, Bi %g: %.6g and %.6g, want %.6g", bi, f[0], f[n-1], want)
			}
			if e := r.Energy(); !(e.LostOpen > 0) || math.Abs(e.Left) > 1e-4*e.Start {
				t.Errorf("balance %+v", e)
			}
		}
	}
}

// A bar between 100 K over the air on one side and air behind a board on the other:
// in the end a straight line through the resistances, whatever the board stores.
func TestBoards(t *testing.T) {
	const n, length = 40, 0.02
	for _, capacity := range []float64{0, 8000} {
		for _, rest := range []float64{10, 60} {
			p := heat.Problem{Body: bar(length, n, 1, 1, false), Rubber: rubber, Air: 20, Start: 20, Rest: rest,
				Metal: heat.Metal{Density: 1, KSolid: 1, KLiquid: 1, CpSolid: 1, CpLiquid: 1, Latent: 1, Fraction: []heat.Melt{{T: 0, F: 0}, {T: 0, F: 1}}}}
			p.Sides[heat.XLow] = heat.Side{H: math.Inf(1), T: 100}
			p.Sides[heat.XHigh] = heat.Side{H: 10, Board: 0.12, Capacity: capacity}
			r := start(t, p)
			advance(t, r, 40000)
			f := r.Temperature()
			all := length/rubber.K + 0.12 + 0.1
			for i, x := range f {
				want := 120 - 100*(float64(i)+0.5)*length/n/rubber.K/all
				if math.Abs(float64(x)-want) > 0.05 {
					t.Errorf("capacity %g, steps to %g s, cell %d: %.3f degC, want %.3f", capacity, rest, i, x, want)
					break
				}
			}
			e := r.Energy()
			board := capacity * 1e-6 * length * length / n / n * 1e6 * 100 * (0.06 + 0.1) / all
			if math.Abs(e.Boards-board) > 1e-3*board || math.Abs(e.Left) > 1e-4*e.Rubber {
				t.Errorf("capacity %g, steps to %g s: boards hold %g J, want %g; %g J do not add up", capacity, rest, e.Boards, board, e.Left)
			}
		}
	}
}
