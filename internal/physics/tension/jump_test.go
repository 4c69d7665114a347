package tension

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/validation/outside"
)

// slot is a plane reservoir 40 wide and 12 high over a slot of w cells, 14 deep.
func slot(t testing.TB, w int) *cells.Cells {
	t.Helper()
	dim := [3]int{40, 1, 26}
	s := cells.Shares{H: 1e-3, Dim: dim, V: make([]float64, 40*26)}
	for d := range s.A {
		s.A[d] = make([]float64, 40*26)
	}
	for k := range 26 {
		for i := range 40 {
			q := i + 40*k
			if k >= 14 || i >= 10 && i < 10+w {
				s.V[q], s.A[0][q], s.A[1][q], s.A[2][q] = 1, 1, 1, 1
			}
		}
	}
	c, _, err := cells.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// hang fills the reservoir, and the slot down to an arc whose ends lie at height
// end and meet its walls at an angle.
func hang(c *cells.Cells, w int, deg, end float64) []float64 {
	cos := -math.Cos(deg * math.Pi / 180)
	if math.Abs(cos) < 1e-9 {
		return cells.Level(c, vec.V3{Z: -1}, vec.V3{Z: end * 1e-3})
	}
	half := float64(w) / 2
	r := half / cos // > 0: bulges down
	at := vec.V3{X: 10 + half, Z: end + math.Sqrt(r*r-half*half)*math.Copysign(1, r)}
	var F []float64
	if r > 0 {
		F = fill(c, rod(at, r), 5)
	} else {
		inner := rod(at, -r)
		F = fill(c, func(x vec.V3) (float64, vec.V3) {
			d, n := inner(x)
			return -d, n.Mul(-1)
		}, 5)
	}
	for i := range c.N {
		p := c.I[i]
		switch z := float64(p[2]); {
		case p[2] >= 14, r > 0 && z >= at.Z, r < 0 && z > end+1:
			F[i] = 1
		case r < 0 && z < at.Z:
			F[i] = 0
		}
	}
	return F
}

// mean is the mean jump over the sides between metal and gas across z, Pa.
func mean(f *Field, F []float64) float64 {
	c := f.c
	sum, n := 0.0, 0.0
	for i := range int32(c.N) {
		o := c.Nb[4][i]
		if F[i] >= 0.5 && int(o) < c.N && F[o] < 0.5 {
			sum += f.Jump(i, 4, F[i]+F[o]-0.5)
			n++
		}
	}
	return sum / n
}

// TestEntryOfSlot: the largest jump on the way from a flat surface at the mouth to the
// arc at the advancing angle is what the head has to pass: 2 sigma cos/w
// (Young-Laplace).
func TestEntryOfSlot(t *testing.T) {
	const sigma, deg = 0.5, 140.0
	for _, w := range []int{1, 2, 3, 4, 5, 6, 8} {
		c := slot(t, w)
		var thin []Thin
		if w <= 5 {
			thin = make([]Thin, c.Wall+1)
			for i := range c.N {
				if c.I[i][2] < 14 {
					thin[i] = Thin{Wet: 2 / (float64(w) * 1e-3), Blend: min(1, max(0, float64(5-w)))}
				}
			}
		}
		f, err := New(c, sigma, Angle{Rest: deg}, thin)
		if err != nil {
			t.Fatal(err)
		}
		want := -2 * sigma * math.Cos(deg*math.Pi/180) / (float64(w) * 1e-3)
		largest := 0.0
		for k := range 11 {
			a := 90 + (deg-90)*float64(k)/10
			F := hang(c, w, a, 14-1e-3)
			if k == 10 {
				F = hang(c, w, a, 13.6) // just inside
			}
			f.Update(F, nil)
			largest = max(largest, mean(f, F))
		}
		inside := hang(c, w, deg, 9.3)
		f.Update(inside, nil)
		in := mean(f, inside)
		t.Logf("slot of %d cells: largest at the mouth %.1f Pa, inside %.1f, want %.1f", w, largest, in, want)
		if math.Abs(largest/want-1) > 0.1 || math.Abs(in/want-1) > 0.1 {
			t.Errorf("slot of %d cells: at the mouth %.1f Pa, inside %.1f, want %.1f", w, largest, in, want)
		}
	}
}

// TestHeldLines: between receding and advancing angle a line keeps its angle; beyond
// it acts with the limit; a tap frees it.
func TestHeldLines(t *testing.T) {
	const sigma, w = 0.5, 12
	c := slot(t, w)
	p := func(deg float64) float64 { return -2 * sigma * math.Cos(deg*math.Pi/180) / (w * 1e-3) }
	f, err := New(c, sigma, Angle{Rest: 120, Advance: 140, Recede: 80}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, deg := range []float64{85, 100, 120, 135} {
		F := hang(c, w, deg, 8.3)
		f.Tap(false)
		f.Update(F, nil)
		held := mean(f, F)
		f.Tap(true)
		f.Update(F, nil)
		free := mean(f, F)
		t.Logf("arc at %g degrees: held %.1f Pa, that of the arc %.1f, tapped %.1f", deg, held, p(deg), free)
		if math.Abs(held-p(deg)) > 0.04*p(140) {
			t.Errorf("arc at %g degrees: %.1f Pa, want %.1f", deg, held, p(deg))
		}
		// A line under the resting angle is drawn to it.
		if d := free - held; (deg < 115 && d < 0.05*p(140)) || (deg > 125 && d > -0.05*p(140)) {
			t.Errorf("arc at %g degrees: tapped %.1f Pa, held %.1f", deg, free, held)
		}
	}
	thin := make([]Thin, c.Wall+1)
	for i := range thin {
		thin[i] = Thin{Wet: 2000, Blend: 1}
	}
	f, err = New(c, sigma, Angle{Rest: 120, Advance: 140, Recede: 80}, thin)
	if err != nil {
		t.Fatal(err)
	}
	F := hang(c, w, 100, 8.3)
	f.Update(F, nil)
	lo, hi := f.Range(c.At(15, 0, 12), 4, 0.5)
	if math.Abs(lo+1000*math.Cos(80*math.Pi/180)) > 1e-9 || math.Abs(hi+1000*math.Cos(140*math.Pi/180)) > 1e-9 {
		t.Errorf("a thin meniscus stands from %g to %g Pa", lo, hi)
	}
}

// TestBoth: of the thin form and the curvature the one that presses harder acts.
func TestBoth(t *testing.T) {
	const sigma, w = 0.5, 12
	c := slot(t, w)
	thin := make([]Thin, c.Wall+1)
	mean140 := func(wet float64, both bool) float64 {
		for i := range thin {
			thin[i] = Thin{Wet: wet, Blend: 1, Both: both}
		}
		f, err := New(c, sigma, Angle{Rest: 140}, thin)
		if err != nil {
			t.Fatal(err)
		}
		F := hang(c, w, 140, 8.3)
		f.Update(F, nil)
		return mean(f, F)
	}
	cos := math.Cos(140 * math.Pi / 180)
	arc := -2 * sigma * cos / (w * 1e-3)
	for _, c := range []struct{ wet, want float64 }{{20, arc}, {2000, -sigma * 2000 * cos}} {
		if p := mean140(c.wet, true); math.Abs(p/c.want-1) > 0.04 {
			t.Errorf("wet %g: %.1f Pa, want %.1f", c.wet, p, c.want)
		}
		if p := mean140(c.wet, false); math.Abs(p/(-sigma*c.wet*cos)-1) > 1e-9 {
			t.Errorf("wet %g, thin form alone: %.1f Pa", c.wet, p)
		}
	}
}

func TestErrors(t *testing.T) {
	c := slot(t, 3)
	for _, a := range []Angle{{}, {Rest: 180}, {Rest: 100, Advance: 90}, {Rest: 100, Recede: 110}, {Rest: math.NaN()}} {
		if _, err := New(c, 0.5, a, nil); err == nil {
			t.Errorf("%+v was taken", a)
		}
	}
	if _, err := New(c, math.NaN(), Powdered, nil); err == nil {
		t.Error("a tension that is no number was taken")
	}
	if _, err := New(c, 0.5, Powdered, make([]Thin, 3)); err == nil {
		t.Error("too few sections were taken")
	}
}

// TestMeniscusInHole: round holes from a mesh at any tilt, the meniscus at 140
// degrees: 4 sigma cos/d, without the thin form.
func TestMeniscusInHole(t *testing.T) {
	for _, k := range []struct{ d, limit, rms float64 }{{4, 0.2, 0.12}, {5, 0.1, 0.08}, {6, 0.08, 0.05}, {8, 0.06, 0.03}, {10, 0.05, 0.02}} {
		for _, lean := range []vec.V3{{Z: 1}, {X: 0.3, Y: 0.1, Z: 1}, {X: 1, Z: 1}} {
			axis := lean.Unit()
			m := outside.Prism(96, k.d/2, 20).OutOf(vec.AlongZ(axis))
			box := m.Box().Grow(3)
			g, err := cells.Lay(m, box, 1)
			if err != nil {
				t.Fatal(err)
			}
			hole, err := cells.FromMesh(context.Background(), m, g, box, cells.Extra{})
			if err != nil {
				t.Fatal(err)
			}
			c := hole.Cells
			R := k.d / 2 / -math.Cos(140*math.Pi/180)
			low := c.Origin.Mul(1 / c.H)
			at := axis.Mul(10.3 - R).Sub(low)
			F := fill(c, ball(at, R), 4)
			for i := range c.N {
				if axis.Dot(c.Centre(int32(i)).Mul(1e3).Sub(low).Sub(at)) < 0 {
					F[i] = 1
				}
			}
			worst, rms, n := spread(laid(t, c, F, 140), F, steady(2/R), nil)
			t.Logf("hole of %g cells along %v: largest %.3f, rms %.3f (%d sides)", k.d, lean, worst, rms, n)
			if worst > k.limit || rms > k.rms {
				t.Errorf("hole of %g cells along %v: largest error %.3f, rms %.3f", k.d, lean, worst, rms)
			}
		}
	}
}
