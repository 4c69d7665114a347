package heat

import (
	"math"

	"pourwright/internal/ground/fault"
)

// Metal is an alloy. One density stands for solid and liquid, as nothing moves.
type Metal struct {
	Density           float64   // kg/m3
	KSolid, KLiquid   float64   // W/(m K), linear between by the liquid fraction
	CpSolid, CpLiquid float64   // J/(kg K), likewise
	Latent            float64   // J/kg, without sensible heat
	Fraction          []Melt    // liquid fraction by temperature, from 0 at the solidus to 1 at the liquidus
	Heat              []float64 // J/kg at each point of Fraction, any zero; nil takes heat capacities and Latent
}

// Melt is one point of a liquid fraction table. Two points at one temperature
// are a jump: {183, 0}, {183, 1} is a eutectic or a pure metal.
type Melt struct {
	T float64 // degC
	F float64 // liquid share, 0..1
}

// Rubber is the mould's material, the same in both halves.
type Rubber struct {
	Density float64 // kg/m3
	Cp      float64 // J/(kg K)
	K       float64 // W/(m K)
}

// Diffusivity returns k/(rho c) in m2/s.
func (r Rubber) Diffusivity() float64 { return r.K / (r.Density * r.Cp) }

// Solidus returns the temperature below which all is solid, degC: the last point
// without liquid.
func (m *Metal) Solidus() float64 {
	i, _ := m.melting()
	return m.Fraction[i].T
}

// Liquidus returns the temperature from which all is liquid, degC: the first
// point without solid.
func (m *Metal) Liquidus() float64 {
	_, j := m.melting()
	return m.Fraction[j].T
}

// melting returns the last point without liquid and the first without solid.
func (m *Metal) melting() (first, last int) {
	for i, p := range m.Fraction {
		if p.F == 0 {
			first = i
		}
		if p.F == 1 {
			return first, i
		}
	}
	return first, len(m.Fraction) - 1
}

func positive(x ...float64) bool {
	for _, v := range x {
		if !(v > 0) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// check says what is wrong with the alloy's numbers.
func (m *Metal) check() error {
	bad := func(hint, format string, args ...any) error {
		return fault.New(fault.Input, "alloy", hint, format, args...)
	}
	if !positive(m.Density, m.KSolid, m.KLiquid, m.CpSolid, m.CpLiquid) || m.Heat == nil && !positive(m.Latent) {
		return bad("give density, conductivities, heat capacities and latent heat in SI units",
			"density %g, conductivity %g and %g, heat capacity %g and %g, latent heat %g: each must be above zero",
			m.Density, m.KSolid, m.KLiquid, m.CpSolid, m.CpLiquid, m.Latent)
	}
	n := len(m.Fraction)
	const hint = "list temperature and liquid fraction from 0 at the solidus to 1 at the liquidus, both rising"
	if n < 2 {
		return bad(hint, "the liquid fraction needs two points, it has %d", n)
	}
	for i, p := range m.Fraction {
		if s := p.T + p.F; math.IsNaN(s) || math.IsInf(s, 0) {
			return bad(hint, "point %d of the liquid fraction is not a number", i+1)
		}
		if i > 0 && (p.T < m.Fraction[i-1].T || p.F < m.Fraction[i-1].F) {
			return bad(hint, "the liquid fraction falls from point %d to point %d", i, i+1)
		}
	}
	if m.Fraction[0].F != 0 || m.Fraction[n-1].F != 1 {
		return bad(hint, "the liquid fraction runs from %g to %g, not from 0 to 1", m.Fraction[0].F, m.Fraction[n-1].F)
	}
	if m.Heat == nil {
		return nil
	}
	if len(m.Heat) != n {
		return bad("give one heat per point of the liquid fraction", "%d heats for %d points", len(m.Heat), n)
	}
	i, j := m.melting()
	for k := i + 1; k <= j; k++ {
		if d := m.Heat[k] - m.Heat[k-1]; !(d > 0) || math.IsInf(d, 0) {
			return bad("heat rises with temperature", "the heat does not rise from point %d to point %d", k, k+1)
		}
	}
	return nil
}

// table holds an alloy's enthalpy for the kernels. Enthalpy is counted in kelvin
// of solid, e = (h - h_solidus)/c_s, and temperature from the solidus, T - T_s:
//
//	e <= 0       T = e
//	0 < e < top  T piecewise linear between the points of the liquid fraction,
//	             c_s de = c_m dT + L df, c_m the heat capacity at the mean fraction
//	e >= top     T = T_l + (e - top) c_s/c_l
type table struct {
	solidus float64
	e, t, f []float64 // points: enthalpy, temperature, liquid fraction
	ratio   float64   // c_s/c_l
	volume  float64   // rho c_s, J/(m3 K): heat of one unit of e
	pieces  []piece   // the pieces along which T changes, for the kernels
	steep   float64   // largest dT/de
}

// piece is a stretch of T(e): T grows by slope along [from, from+wide].
type piece struct{ from, wide, slope float32 }

func newTable(m *Metal) *table {
	t := &table{solidus: m.Solidus(), ratio: m.CpSolid / m.CpLiquid, volume: m.Density * m.CpSolid}
	t.steep = max(1, t.ratio)
	e := 0.0
	first, last := m.melting()
	for i := first; i <= last; i++ {
		p := m.Fraction[i]
		if i > first {
			q := m.Fraction[i-1]
			c := m.CpSolid + (m.CpLiquid-m.CpSolid)*0.5*(p.F+q.F)
			d := (c*(p.T-q.T) + m.Latent*(p.F-q.F)) / m.CpSolid
			if m.Heat != nil {
				d = (m.Heat[i] - m.Heat[i-1]) / m.CpSolid
			}
			if d <= 0 {
				continue
			}
			if p.T > q.T {
				s := (p.T - q.T) / d
				t.pieces = append(t.pieces, piece{float32(e), float32(d), float32(s)})
				t.steep = max(t.steep, s)
			}
			e += d
		}
		t.e, t.t, t.f = append(t.e, e), append(t.t, p.T-t.solidus), append(t.f, p.F)
	}
	return t
}

// top is the enthalpy at the liquidus.
func (t *table) top() float64 { return t.e[len(t.e)-1] }

// find returns i with e[i-1] < e <= e[i]; e lies above 0 and below top.
func (t *table) find(e float64) int {
	lo, hi := 1, len(t.e)-1
	for lo < hi {
		if m := (lo + hi) / 2; e > t.e[m] {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}

// temperature returns T - T_s of an enthalpy.
func (t *table) temperature(e float64) float64 {
	switch n := len(t.e) - 1; {
	case e <= 0:
		return e
	case e >= t.e[n]:
		return t.t[n] + (e-t.e[n])*t.ratio
	}
	i := t.find(e)
	return t.t[i-1] + (t.t[i]-t.t[i-1])*(e-t.e[i-1])/(t.e[i]-t.e[i-1])
}

// liquid returns the liquid fraction of an enthalpy.
func (t *table) liquid(e float64) float64 {
	switch n := len(t.e) - 1; {
	case e <= 0:
		return 0
	case e >= t.e[n]:
		return 1
	}
	i := t.find(e)
	return t.f[i-1] + (t.f[i]-t.f[i-1])*(e-t.e[i-1])/(t.e[i]-t.e[i-1])
}

// enthalpy returns e of a temperature in degC; at a jump that of the liquid.
func (t *table) enthalpy(T float64) float64 {
	x, n := T-t.solidus, len(t.e)-1
	if x >= t.t[n] {
		return t.e[n] + (x-t.t[n])/t.ratio
	}
	if x < 0 {
		return x
	}
	i := n
	for i > 1 && t.t[i-1] > x {
		i--
	}
	if t.t[i] == t.t[i-1] {
		return t.e[i]
	}
	return t.e[i-1] + (t.e[i]-t.e[i-1])*(x-t.t[i-1])/(t.t[i]-t.t[i-1])
}
