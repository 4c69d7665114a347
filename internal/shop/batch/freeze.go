package batch

import (
	"math"

	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
)

// OpenCooling is how far the solid cools below its solidus before the mould is
// opened, K.
const OpenCooling = 20.0

// Chvorinov returns C in s/mm2 of t = C (V/A)^2 for a casting in an insulating
// mould:
//
//	C = (pi/4) [rho q / ((Tf - T0) b)]^2,  q = L + c_l dT
//
// rho kg/m3, q J/kg given off, Tf freezing and T0 mould temperature, b effusivity
// W s^0.5/(m2 K). Flemings, Solidification Processing (1974). Zero or negative
// Tf - T0 gives +Inf: it never freezes.
func Chvorinov(rho, q, Tf, T0, b float64) float64 {
	if Tf <= T0 {
		return math.Inf(1)
	}
	x := rho * q / ((Tf - T0) * b)
	return math.Pi / 4 * x * x * 1e-6
}

// freezing returns the one temperature an alloy freezes at in the formula: the
// middle between its solidus and where it flows.
func freezing(a *material.Alloy) float64 { return (a.Solidus.X + a.Flows()) / 2 }

// FreezeConstant returns s/mm2 of (V/A)^2 for the alloy poured at pour into
// rubber at mould (degC): all superheat and latent heat.
func FreezeConstant(a *material.Alloy, r *material.Rubber, pour, mould float64) plan.Figure {
	return constant("freezing constant", a, r, pour, mould, 0)
}

// OpenConstant is the same with OpenCooling of the solid added.
func OpenConstant(a *material.Alloy, r *material.Rubber, pour, mould float64) plan.Figure {
	return constant("opening constant", a, r, pour, mould, OpenCooling)
}

func constant(name string, a *material.Alloy, r *material.Rubber, pour, mould, cool float64) plan.Figure {
	tf, b := freezing(a), r.Effusivity()
	super := math.Max(0, pour-tf)
	q := a.Latent.X + a.CpLiquid.X*super + a.CpSolid.X*cool
	return figure(name, Chvorinov(a.DensityHot.X, q, tf, mould, b), "s/mm2",
		"(pi/4) [density (latent + c_l superheat + c_s cooling) / ((freezing - mould) effusivity)]^2 x 1e-6", flemings,
		in{"density, kg/m3", a.DensityHot.X}, in{"latent, J/kg", a.Latent.X}, in{"c_l, J/kgK", a.CpLiquid.X}, in{"superheat, K", super},
		in{"c_s, J/kgK", a.CpSolid.X}, in{"cooling, K", cool}, in{"freezing, C", tf}, in{"mould, C", mould}, in{"effusivity, W s^0.5/m2K", b})
}

// TimeOf returns the time in s of a place of modulus V/A in mm.
func TimeOf(name string, constant, modulus float64) plan.Figure {
	return figure(name, constant*modulus*modulus, "s", "constant x modulus^2", flemings, in{"constant, s/mm2", constant}, in{"modulus, mm", modulus})
}

// Heats is the two temperatures of the pour, degC.
type Heats struct {
	Pour, Mould float64
	PourForced  bool // the job fixed it
	HeldDown    bool // the rubber's rating holds the metal down
	TooHot      bool // no temperature that pours stays within the rating
	Least       float64
}

// Superheats above the temperature where the alloy flows, K: what is taken,
// what it ranges over in practice, and the least that still pours.
const (
	Superheat      = 50.0
	SuperheatLow   = 40.0
	SuperheatHigh  = 80.0
	SuperheatLeast = 25.0
)

// MouldWarm is the mould's temperature at the first pour where the job does not
// say, degC; practice ranges from 30 to 93.
const MouldWarm = 45.0

// Choose returns the temperatures: 50 K above where the alloy flows, up to the
// next 5, but never above the rubber's rating; a job's own temperatures stand.
// With forced > 0 that is the metal's temperature.
func Choose(a *material.Alloy, r *material.Rubber, forced, mould float64) Heats {
	h := Heats{Mould: mould, Least: a.Flows() + SuperheatLeast}
	if forced > 0 {
		h.Pour, h.PourForced = forced, true
		h.TooHot = forced > r.Rating.X
		return h
	}
	h.Pour = up(a.Flows()+Superheat, 5)
	if h.Pour > r.Rating.X {
		h.HeldDown = true
		h.Pour = math.Floor(r.Rating.X/5) * 5
	}
	if h.Pour < h.Least {
		h.Pour = up(h.Least, 5)
		h.TooHot, h.HeldDown = h.Pour > r.Rating.X, h.Pour <= r.Rating.X
	}
	return h
}
