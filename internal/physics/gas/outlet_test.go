package gas

import (
	"math"
	"testing"
)

// TestFlow holds the law against its own terms: plane Poiseuille and Hagen-Poiseuille where
// the way is long and thin (Batchelor 4.2), the orifice where it is short, and the slope against a
// difference.
func TestFlow(t *testing.T) {
	near := func(name string, got, want, tol float64) {
		if !(math.Abs(got/want-1) < tol) {
			t.Errorf("%s: %g, not %g", name, got, want)
		}
	}
	long := Outlet{Slit, 1e-6, 2e-5, 0.05}
	q := long.Flow(1000)
	near("slit", q, 1e-6*1000*4e-10/(12*viscosity*0.05), 1e-3)
	long.Form = Hole
	q = long.Flow(1000)
	near("hole", q, 1e-6*1000*4e-10/(32*viscosity*0.05), 1e-3)
	long.Form = Powder
	q = long.Flow(1000)
	near("powder", q, 1e-6*1000*4e-10/(viscosity*0.05), 1e-12)
	short := Outlet{Hole, 1e-6, 1e-2, 1e-6}
	q = short.Flow(1000)
	near("orifice", q, 1e-6*math.Sqrt(2*1000/(losses*density)), 1e-3)
	q = short.Flow(1e9)
	near("choked", q, 1e-6*Choked, 1e-12)
	for _, o := range []Outlet{{Slit, 2e-6, 2e-4, 0.02}, {Hole, 1e-6, 1e-3, 0.02}} {
		for _, dp := range []float64{-3000, -1, 0, 10, 5000} {
			q := o.Flow(dp)
			if b := o.Flow(dp + 1e-6); !(b > q) {
				t.Errorf("%v at %g Pa: %g, with more pressure %g", o, dp, q, b)
			}
			if dp != 0 && o.Conductance(dp) > o.Conductance(0) {
				t.Errorf("%v at %g Pa lets more out than at none, for its pressure", o, dp)
			}
			if r := o.Flow(-dp); r != -q {
				t.Errorf("%v at %g Pa: %g one way, %g the other", o, dp, q, r)
			}
		}
	}
	if err := (Outlet{Slit, 1e-6, 0, 1}).Check(); err == nil {
		t.Error("a slit without a gap passed")
	}
}
