package heat

// Enthalpy is what a metal's heat says of its temperature and its liquid, in J per
// m3 of metal, counted from solid metal at its solidus.
type Enthalpy struct{ t *table }

// Enthalpy returns the metal's table, or what is wrong with the metal's numbers.
func (m *Metal) Enthalpy() (Enthalpy, error) {
	if err := m.check(); err != nil {
		return Enthalpy{}, err
	}
	return Enthalpy{newTable(m)}, nil
}

// Knots returns the points between which temperature (degC) and liquid share go
// in straight lines over the heat (J/m3). The first is solid metal at its solidus;
// under it 1 K is rho c_s, over the last one rho c_l. Points with one temperature
// are a jump of the liquid share.
func (e Enthalpy) Knots() (heat, T, liquid []float64) {
	for i := range e.t.e {
		heat = append(heat, e.t.e[i]*e.t.volume)
		T = append(T, e.t.t[i]+e.t.solidus)
		liquid = append(liquid, e.t.f[i])
	}
	return heat, T, liquid
}

// Of returns the heat of a temperature in degC, J/m3; at a jump that of the liquid.
func (e Enthalpy) Of(T float64) float64 { return e.t.enthalpy(T) * e.t.volume }
