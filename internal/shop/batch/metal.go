package batch

import (
	"math"

	"pourwright/internal/book/plan"
)

// LadleShare is the share of a ladle or pot that one charge may take.
const LadleShare = 0.8

// CastingMass returns one casting in g: the volume of its cavity (mm3) times
// the density of the solid at its solidus (kg/m3), since it fills the cavity
// until it is solid.
func CastingMass(volume, density float64) plan.Figure {
	return figure("one casting", volume*density*1e-6, "g", "volume x density x 1e-6", law, in{"volume, mm3", volume}, in{"density, kg/m3", density})
}

// ChargeMass returns the metal of one shot in g: everything it fills times the
// density of the liquid. What is drawn in on freezing comes from the cup.
func ChargeMass(volume, density float64) plan.Figure {
	return figure("charge for one shot", volume*density*1e-6, "g", "all volumes x density x 1e-6", law,
		in{"all volumes, mm3", volume}, in{"density, kg/m3", density})
}

// WholeMass returns what one shot weighs uncut: the metal that was poured.
// Lighter is short, air or a leak; heavier is flash.
func WholeMass(charge float64) plan.Figure {
	return figure("whole weight, uncut", charge, "g", "charge", law, in{"charge, g", charge})
}

// Yield returns the castings' share of the charge.
func Yield(castings, charge float64) plan.Figure {
	return figure("yield", castings/charge, "share", "castings / charge", law, in{"castings, g", castings}, in{"charge, g", charge})
}

// Ladles returns how many ladles a charge takes, none filled beyond 0.8.
func Ladles(charge, ladle float64) plan.Figure {
	return figure("ladles for one shot", math.Max(1, math.Ceil(charge/(LadleShare*ladle)-1e-9)), "", "charge / (0.8 ladle), up", craft,
		in{"charge, g", charge}, in{"ladle, g", ladle})
}
