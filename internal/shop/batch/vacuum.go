package batch

import (
	"math"

	"pourwright/internal/book/plan"
)

// PotTimes is how many times the mix a pot or cup must hold.
const PotTimes = 4.0

// LidStress is the stress in Pa above which an acrylic lid is refused (value
// from memory; practice ranges 5.5-10.3 MPa, glass rules take a tenth of the
// strength).
const LidStress = 5e6

// GrowthWanted is the growth under which bubbles grow but do not break: 28 inHg
// at sea level.
const GrowthWanted = 15.5

// Outside returns the pressure of the air in mbar at an altitude in m:
// 1013.25 (1 - 2.25577e-5 h)^5.25588.
func Outside(altitude float64) plan.Figure {
	return figure("air pressure at this altitude", 1013.25*math.Pow(1-2.25577e-5*altitude, 5.25588), "mbar",
		"1013.25 (1 - 2.25577e-5 altitude)^5.25588", "standard atmosphere, ISO 2533 (constants from memory)", in{"altitude, m", altitude})
}

// PotPressure returns the absolute pressure in mbar behind a gauge reading in
// mbar below the outside. It may come out at or below zero: then the gauge is
// wrong.
func PotPressure(outside, gauge float64) plan.Figure {
	return figure("pressure in the pot", outside-gauge, "mbar", "outside - gauge", law, in{"outside, mbar", outside}, in{"gauge, mbar", gauge})
}

// Growth returns how many times a bubble grows (Boyle).
func Growth(outside, pot float64) plan.Figure {
	return figure("growth of bubbles under vacuum", outside/pot, "times", "outside / pot", "Boyle", in{"outside, mbar", outside}, in{"pot, mbar", pot})
}

// PotVolume returns what pot and cup must hold at least, litres, for a mix in
// g of a density in kg/m3.
func PotVolume(mix, density float64) plan.Figure {
	return figure("vacuum pot and cup, at least", PotTimes*mix/density, "l", "4 x mix / density", "trade advice, 3-5 times the mix",
		in{"mix, g", mix}, in{"density, kg/m3", density})
}

// PumpDown returns the time in s an ideal pump of speed S (l/min) takes from
// outside to pot: t = (V/S) ln(p0/p1). Real pumps are slower near their end.
func PumpDown(volume, speed, outside, pot float64) plan.Figure {
	return figure("pump down, at least", volume/speed*60*math.Log(outside/pot), "s", "volume / speed x 60 x ln(outside / pot)",
		"ideal pump, no outgassing", in{"volume, l", volume}, in{"speed, l/min", speed}, in{"outside, mbar", outside}, in{"pot, mbar", pot})
}

// Lid returns the stress in Pa and the sag in mm of a flat acrylic lid resting
// on a ring of diameter span, t thick (mm), under pressure q (Pa):
//
//	s = 3 (3 + nu) q a^2 / (8 t^2),  w = (5 + nu) q a^4 / (64 (1 + nu) D),
//	D = E t^3 / (12 (1 - nu^2)),  a = span/2, E = 3 GPa, nu = 0.37
//
// simply supported (Timoshenko; Roark; formulas and E from memory). It only
// refuses: a lid under the limit may still break where it is scratched or
// crazed by solvent.
func Lid(span, t, q float64) (stress, sag plan.Figure) {
	const E, nu = 3e9, 0.37
	a, h := span/2e3, t/1e3
	D := E * h * h * h / (12 * (1 - nu*nu))
	const source = "circular plate, simply supported (Timoshenko; Roark), acrylic E 3 GPa, nu 0.37 from memory"
	stress = figure("stress in the lid", 3*(3+nu)*q*a*a/(8*h*h), "Pa", "3 (3 + nu) q (span/2)^2 / (8 t^2)", source,
		in{"span, mm", span}, in{"t, mm", t}, in{"q, Pa", q}, in{"nu", nu})
	sag = figure("sag of the lid", 1e3*(5+nu)*q*a*a*a*a/(64*(1+nu)*D), "mm", "(5 + nu) q (span/2)^4 / (64 (1 + nu) D)", source,
		in{"span, mm", span}, in{"t, mm", t}, in{"q, Pa", q}, in{"nu", nu})
	return stress, sag
}

// BubbleLeft returns the diameter in mm of the smallest bubble that rises
// through depth (mm) of mix within time (s) without a pump (Stokes):
//
//	d = sqrt(18 mu depth / (rho g time)), mu = 20 Pa s
//
// 20 Pa s is where trade advice begins to ask for a pump.
func BubbleLeft(depth, density, time float64) plan.Figure {
	const mu, g = 20.0, 9.80665
	return figure("smallest bubble that rises out without a pump", 1e3*math.Sqrt(18*mu*depth*1e-3/(density*g*time)), "mm",
		"1000 sqrt(18 x 20 x depth / 1000 / (density x 9.80665 x time))", "Stokes; 20 Pa s by trade advice",
		in{"depth, mm", depth}, in{"density, kg/m3", density}, in{"time, s", time})
}

// BrushCoat returns the rubber in g of a first coat 1 mm thick that is brushed
// on a surface in mm2, the way without a pump. It is part of the mix.
func BrushCoat(area, density float64) plan.Figure {
	return figure("first coat by brush", area*density*1e-6, "g", "area x 1 mm x density x 1e-6", craft, in{"area, mm2", area}, in{"density, kg/m3", density})
}
