package shot

import (
	"math"

	"pourwright/internal/ground/fault"
)

// Contact is how long bare metal is held and how hot it may then be: the lower
// end of the burn thresholds of ISO 13732-1.
type Contact struct {
	Seconds float64
	Below   float64 // degC
	Source  string
}

// Contacts are the thresholds for bare, uncoated metal.
var Contacts = []Contact{
	{1, 65, "ISO 13732-1, value from memory (65 to 70)"},
	{10, 55, "ISO 13732-1, value from memory (55 to 60)"},
	{60, 51, "ISO 13732-1"},
	{600, 48, "ISO 13732-1"},
	{8 * 3600, 43, "ISO 13732-1, value from memory"},
}

// Casting is a piece of metal that cools in air.
type Casting struct {
	Volume     float64 // mm3
	Area       float64 // mm2, of all its skin
	Density    float64 // kg/m3
	Cp         float64 // J/(kg K), solid
	K          float64 // W/(m K), solid
	Emissivity float64 // of its skin; 0 does not radiate
	H          float64 // W/(m2 K) of the air; 0 takes free convection, which falls as it cools
	Length     float64 // mm, its height, for free convection; 0 takes the cube root of the volume
	Air        float64 // degC
	From       float64 // degC when it is lifted
}

// Tarnished is an emissivity for cast pewter and lead alloys, between bright tin
// (0.05) and oxidised lead (0.63); value from memory.
const Tarnished = 0.2

// Touched is when a casting may be touched.
type Touched struct {
	Contact
	After float64 // s after it was lifted; +Inf if the air itself is too warm
}

const stefan = 5.670374419e-8 // W/(m2 K4)

// flux returns what leaves the skin at T degC, W/m2.
//
//	q = h (T - T_a) + eps sigma (T^4 - T_a^4),  h = 1.42 ((T - T_a)/L)^(1/4) in still air
//
// the last the simplified laminar form for upright plates and cylinders in air, L
// in m (from memory, Incropera & DeWitt, free convection).
func (c *Casting) flux(T float64) float64 {
	h := c.H
	if h == 0 {
		l := c.Length
		if l == 0 {
			l = math.Cbrt(c.Volume)
		}
		h = 1.42 * math.Sqrt(math.Sqrt(max(0, T-c.Air)/(l*1e-3)))
	}
	a, b := T+kelvin, c.Air+kelvin
	return h*(T-c.Air) + c.Emissivity*stefan*(a*a*a*a-b*b*b*b)
}

// Biot returns q/(T - T_a) (V/A)/k at the start: under 0.1 the metal is nearly of
// one temperature throughout (Incropera & DeWitt, lumped capacitance).
func (c *Casting) Biot() float64 {
	if c.From <= c.Air {
		return 0
	}
	return c.flux(c.From) / (c.From - c.Air) * c.Volume / c.Area * 1e-3 / c.K
}

// Touch returns when a lifted casting may be touched for the given contacts.
//
//	rho V c dT/dt = -A q(T),  t = (rho c V/A) integral of dT/q(T) from T to T_0
//
// by the lumped capacitance method (Incropera & DeWitt; with constant h and no
// radiation t = rho c V/(h A) ln((T_0 - T_a)/(T - T_a))), the integral by Gauss's
// rule in ln(T - T_a), within 1e-6. It wants a small Biot number; a casting of
// pewter has 0.001 to 0.005. Thick and thin places even out over
// 2 sqrt(alpha t), 100 mm in 90 s: a lump at the end of a longer or thinner neck
// stays hot longer than this says, so give its own volume and area.
func Touch(c Casting, contacts []Contact) ([]Touched, error) {
	for _, x := range []float64{c.Volume, c.Area, c.Density, c.Cp, c.K} {
		if !(x > 0) || math.IsInf(x, 0) {
			return nil, fault.New(fault.Input, "casting", "give volume, area, density, heat capacity and conductivity above zero",
				"a casting of %g mm3 and %g mm2, density %g, heat capacity %g, conductivity %g cannot be cooled", c.Volume, c.Area, c.Density, c.Cp, c.K)
		}
	}
	if !(c.H >= 0 && c.Emissivity >= 0 && c.Emissivity <= 1 && c.Length >= 0 && c.Air > -kelvin && c.From > -kelvin) ||
		math.IsInf(c.H+c.Length+c.Air+c.From, 0) {
		return nil, fault.New(fault.Input, "casting", "give degrees C, a coefficient of zero or more and an emissivity between 0 and 1",
			"air %g, from %g, coefficient %g, emissivity %g", c.Air, c.From, c.H, c.Emissivity)
	}
	out := make([]Touched, len(contacts))
	for i, n := range contacts {
		out[i] = Touched{n, c.until(n.Below)}
	}
	return out, nil
}

// until returns the time to fall to T.
func (c *Casting) until(T float64) float64 {
	if c.From <= T {
		return 0
	}
	if T <= c.Air {
		return math.Inf(1)
	}
	// Nodes and weights of Gauss-Legendre, 4 points on [-1, 1].
	x := [4]float64{-0.8611363115940526, -0.3399810435848563, 0.3399810435848563, 0.8611363115940526}
	w := [4]float64{0.3478548451374538, 0.6521451548625461, 0.6521451548625461, 0.3478548451374538}
	lo, hi := math.Log(T-c.Air), math.Log(c.From-c.Air)
	const parts = 16
	half := (hi - lo) / (2 * parts)
	s := 0.0
	for p := range parts {
		for i := range x {
			over := math.Exp(lo + half*(float64(2*p+1)+x[i]))
			s += w[i] * half * over / c.flux(c.Air+over)
		}
	}
	return c.Density * c.Cp * c.Volume / c.Area * 1e-3 * s
}
