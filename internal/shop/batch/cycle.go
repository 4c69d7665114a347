package batch

import (
	"math"

	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
)

// Figures of the cycle. Still air and radiation take about 10 W/(m2 K), a fan
// about 25 (own figure); the caster needs about 3 minutes a shot at the mould.
const (
	stillAir = 10.0
	fanAir   = 25.0
	handling = 180.0 // s
	warming  = 20.0  // K by which the mould may be warmer than at the first pour
)

// HeatOfShot returns the heat in J that one shot leaves in the rubber: charge
// (g) from the pour down to opening; the rest leaves with the casting.
func HeatOfShot(a *material.Alloy, charge, pour, open float64) plan.Figure {
	h := a.Enthalpy(pour) - a.Enthalpy(open)
	return figure("heat of one shot", charge*1e-3*h, "J", "charge / 1000 x (enthalpy when poured - enthalpy when opened)",
		"enthalpy of the alloy's table", in{"charge, g", charge}, in{"enthalpy when poured, J/kg", a.Enthalpy(pour)}, in{"enthalpy when opened, J/kg", a.Enthalpy(open)})
}

// Rise returns the mean rise in K of rubber of a mass in g.
func Rise(heat, mass, capacity float64) plan.Figure {
	return figure("rise of the rubber by one shot", heat/(mass*1e-3*capacity), "K", "heat / (mass / 1000 x heat capacity)", law,
		in{"heat, J", heat}, in{"mass, g", mass}, in{"heat capacity, J/kgK", capacity})
}

// TimeConstant returns the time constant in s with which the halves cool in
// air of h W/(m2 K): closed over the block's outside, opened over the parting
// faces too. The rubber's own resistance counts with a third of the depth the
// heat has to come from: U = 1/(1/h + d/(3 k)).
func TimeConstant(name string, r *material.Rubber, volume float64, size plan.P3, h float64, opened bool) plan.Figure {
	area := 2 * (size[0]*size[1] + size[0]*size[2] + size[1]*size[2])
	depth := math.Min(size[2], math.Min(size[0], size[1])) / 2
	if opened {
		area += 2 * size[0] * size[1]
		depth = size[2] / 4
	}
	u := 1 / (1/h + depth*1e-3/(3*r.Conductivity.X))
	tau := r.Density.X * r.HeatCapacity.X * volume * 1e-9 / (u * area * 1e-6)
	return figure(name, tau, "s", "density x heat capacity x volume / (area / (1/h + depth / (3 conductivity))), all in m", "Newton cooling with the rubber's own resistance; h "+own,
		in{"density, kg/m3", r.Density.X}, in{"heat capacity, J/kgK", r.HeatCapacity.X}, in{"volume, mm3", volume}, in{"area, mm2", area}, in{"h, W/m2K", h},
		in{"depth, mm", depth}, in{"conductivity, W/mK", r.Conductivity.X})
}

// Rest returns the rest in s after which a mould that was raised by one shot
// is back at the temperature it is poured at.
func Rest(name string, tau, rise, warm, room float64) plan.Figure {
	warm = math.Max(warm, room+10)
	return figure(name, tau*math.Log((warm+rise-room)/(warm-room)), "s", "time constant x ln((warm + rise - room) / (warm - room)), warm at least 10 K over the room", "Newton cooling",
		in{"time constant, s", tau}, in{"rise, K", rise}, in{"warm, C", warm}, in{"room, C", room})
}

// PerHour returns the shots in an hour of n moulds with the given cycle, held
// by what one caster can handle.
func PerHour(n int, cycle float64) plan.Figure {
	return figure("shots an hour", math.Min(float64(n)*3600/cycle, 3600/handling), "1/h", "moulds x 3600 / cycle, at most 3600 / 180", own,
		in{"moulds", float64(n)}, in{"cycle, s", cycle})
}
