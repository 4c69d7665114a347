package chill

import "pourwright/internal/physics/heat"

// alloy is temperature and liquid share over heat, J/m3 of metal from the solid
// at its solidus: straight between knots and beyond.
type alloy struct {
	h, t, f     []float64
	slope       []float64 // K per J/m3 before each knot
	melts       []float64 // liquid share per J/m3 before each knot
	over        float64   // K per J/m3 beyond the last
	table       heat.Enthalpy
	solid, melt float64 // W/(m K)
}

func newAlloy(m *heat.Metal) (*alloy, error) {
	e, err := m.Enthalpy()
	if err != nil {
		return nil, err
	}
	a := &alloy{table: e, over: 1 / (m.Density * m.CpLiquid), solid: m.KSolid, melt: m.KLiquid}
	a.h, a.t, a.f = e.Knots()
	n := len(a.h)
	a.slope, a.melts = make([]float64, n), make([]float64, n)
	a.slope[0] = 1 / (m.Density * m.CpSolid)
	for i := 1; i < n; i++ {
		a.slope[i] = (a.t[i] - a.t[i-1]) / (a.h[i] - a.h[i-1])
		a.melts[i] = (a.f[i] - a.f[i-1]) / (a.h[i] - a.h[i-1])
	}
	return a, nil
}

// knot returns the first knot at or over h, len(a.h) beyond the last.
func (a *alloy) knot(h float64) int {
	n := len(a.h)
	if h > a.h[n-1] {
		return n
	}
	for i, x := range a.h {
		if h <= x {
			return i
		}
	}
	return n
}

// at returns temperature and liquid share of a heat.
func (a *alloy) at(h float64) (T, liquid float64) {
	i, n := a.knot(h), len(a.h)
	if i == n {
		return a.t[n-1] + (h-a.h[n-1])*a.over, 1
	}
	return a.t[i] + (h-a.h[i])*a.slope[i], a.f[i] + (h-a.h[i])*a.melts[i]
}

// meets solves h + g T(h) = r for the temperature; g >= 0. The left side rises in
// straight pieces, so the answer is exact.
func (a *alloy) meets(g, r float64) float64 {
	n := len(a.h)
	for i, h := range a.h {
		if x := h + g*a.t[i]; r <= x {
			return a.t[i] + (r-x)*a.slope[i]/(1+g*a.slope[i])
		}
	}
	return a.t[n-1] + (r-a.h[n-1]-g*a.t[n-1])*a.over/(1+g*a.over)
}

// liquidAt returns the temperature at which the liquid share is f as the metal cools.
func (a *alloy) liquidAt(f float64) float64 {
	for i := 1; i < len(a.h); i++ {
		if a.f[i] >= f && a.f[i] > a.f[i-1] {
			return a.t[i-1] + (a.t[i]-a.t[i-1])*(f-a.f[i-1])/(a.f[i]-a.f[i-1])
		}
	}
	return a.t[len(a.t)-1]
}
