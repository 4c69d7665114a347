package lens

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
)

// looking returns a camera that stands at the given tilt and turn.
func looking(tilt, turn, dist, f, k1 float64) Camera {
	st, ct := math.Sincos(tilt)
	sa, ca := math.Sincos(turn)
	fwd := vec.V3{X: st * ca, Y: st * sa, Z: -ct}
	right := vec.V3{X: sa, Y: -ca}
	down := fwd.Cross(right)
	o := fwd.Mul(-dist)
	c := Camera{R: [3]vec.V3{right, down, fwd}, F: f, C: vec.V2{X: 700, Y: 500}, Radial: k1}
	c.T = vec.V3{X: -right.Dot(o), Y: -down.Dot(o), Z: -fwd.Dot(o)}
	return c
}

func TestRayUndoesSee(t *testing.T) {
	for _, k1 := range []float64{-0.08, 0, 0.06} {
		c := looking(0.6, 1.1, 300, 1300, k1)
		for _, p := range []vec.V3{{X: 3, Y: 4}, {X: -60, Y: 30, Z: 5}, {X: 80, Y: -40, Z: 2}} {
			q, ok := c.See(p)
			back, ok2 := c.On(q, p.Z)
			if !ok || !ok2 || back.Sub(vec.V2{X: p.X, Y: p.Y}).Len() > 1e-6 {
				t.Errorf("k1 %g: %v came back as %v", k1, p, back)
			}
		}
		if d := c.Centre().Sub(vec.V3{}).Len(); math.Abs(d-300) > 1e-9 {
			t.Errorf("the camera stands %g mm away, want 300", d)
		}
		if math.Abs(c.Tilt()-0.6) > 1e-9 {
			t.Errorf("tilt %g", c.Tilt())
		}
	}
}

func TestFitFindsTheCamera(t *testing.T) {
	true1 := looking(0.5, 0.4, 280, 1250, 0.03)
	var a, b []vec.V2
	for y := -60.0; y <= 60; y += 15 {
		for x := -80.0; x <= 80; x += 16 {
			q, _ := true1.See(vec.V3{X: x, Y: y})
			a, b = append(a, vec.V2{X: x, Y: y}), append(b, q)
		}
	}
	begin, ok := Begin(a, b, 1400, true1.C)
	if !ok {
		t.Fatal("no first camera")
	}
	got, ok := Fit(begin, Prior{F: 1400, SpreadF: 0.3, Radial: 0.1}, 2*len(a), 0.02, 1, func(c *Camera, r []float64) {
		for i := range a {
			p, ok := c.On(b[i], 0)
			if !ok {
				r[2*i], r[2*i+1] = math.NaN(), 0
				continue
			}
			d := p.Sub(a[i])
			r[2*i], r[2*i+1] = d.X, d.Y
		}
	})
	if !ok || math.Abs(got.F-1250) > 1 || math.Abs(got.Radial-0.03) > 1e-3 || got.Centre().Dist(true1.Centre()) > 0.3 {
		t.Errorf("f %.2f, k1 %.4f, centre %v against %v, rms %g", got.F, got.Radial, got.Centre(), true1.Centre(), got.RMS)
	}
}

func TestPointsOnOneLineGiveNothing(t *testing.T) {
	p := []vec.V2{{X: 0}, {X: 1}, {X: 2}, {X: 3}}
	if _, ok := Begin(p, p, 1000, vec.V2{}); ok {
		t.Error("four points on a line gave a camera")
	}
}
