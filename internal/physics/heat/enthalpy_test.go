package heat

import (
	"math"
	"testing"
)

// The table that is handed out is the one the solver works with.
func TestEnthalpyKnots(t *testing.T) {
	m := Metal{Density: 7000, KSolid: 50, KLiquid: 26, CpSolid: 240, CpLiquid: 250, Latent: 60e3,
		Fraction: []Melt{{236, 0}, {236, 0.2}, {240, 0.95}, {290, 1}}}
	e, err := m.Enthalpy()
	if err != nil {
		t.Fatal(err)
	}
	h, T, f := e.Knots()
	tab := newTable(&m)
	for i := range h {
		if math.Abs(tab.temperature(h[i]/tab.volume)+tab.solidus-T[i]) > 1e-9 || math.Abs(tab.liquid(h[i]/tab.volume)-f[i]) > 1e-12 {
			t.Errorf("knot %d: %g J/m3, %g degC, liquid %g", i, h[i], T[i], f[i])
		}
	}
	if n := len(h); n != 4 || h[0] != 0 || f[n-1] != 1 || math.Abs(h[1]-7000*0.2*60e3) > 1 {
		t.Errorf("knots %v %v %v", h, T, f)
	}
	if x := e.Of(300) - e.Of(290); math.Abs(x-7000*250*10) > 1 {
		t.Errorf("10 K of liquid are %g J/m3", x)
	}
	m.Density = 0
	if _, err := m.Enthalpy(); err == nil {
		t.Error("a metal without density was taken")
	}
}
