package gas

import (
	"math"

	"pourwright/internal/ground/fault"
)

// Values of air at 20 degC; the viscosity holds within a fifth up to 80 degC.
const (
	Atmosphere  = 101325.0 // Pa, the pressure outside
	viscosity   = 1.82e-5  // Pa s
	density     = 1.204    // kg/m3
	losses      = 1.5      // of entry and exit, in rho v2/2
	temperature = 293.15   // K
	constant    = 287.05   // J/(kg K)
)

// Form is the section of an outlet.
type Form int

const (
	Slit   Form = iota // Gap is its thickness
	Hole               // Gap is its diameter
	Powder             // Gap is the square root of its permeability
)

// Outlet is a way out for air.
type Outlet struct {
	Form   Form
	Area   float64 // m2 of the section
	Gap    float64 // m
	Length float64 // m, the way to the outside
}

// Check says whether the figures make an outlet.
func (o Outlet) Check() error {
	for _, x := range []float64{o.Area, o.Gap, o.Length} {
		if !(x > 0) || math.IsInf(x, 0) {
			return fault.New(fault.Input, "vent", "give an area, a gap and a length above 0", "a way out for air has an area of %g m2, a gap of %g m and a length of %g m", o.Area, o.Gap, o.Length)
		}
	}
	return nil
}

// Choked is the speed of isothermal air that leaves as fast as it can, m/s.
var Choked = math.Sqrt(constant * temperature / math.E)

// Conductance is what Flow gives over dp, m3/(s Pa), also at 0.
func (o Outlet) Conductance(dp float64) float64 {
	if !(o.Area > 0) {
		return 0
	}
	k := viscosity * o.Length / (o.Gap * o.Gap)
	c := losses * density / 2
	switch o.Form {
	case Slit:
		k *= 12
	case Hole:
		k *= 32
	default:
		c = 0
	}
	d := math.Abs(dp)
	// c v^2 + k v = d, without the difference of two large numbers
	root := math.Sqrt(k*k + 4*c*d)
	g := 2 / (k + root)
	if g*d > Choked {
		g = Choked / d
	}
	return g * o.Area
}

// Flow returns the volume that leaves at a pressure dp, Pa over that outside, in m3/s at
// the pressure within; below 0 where air comes in.
func (o Outlet) Flow(dp float64) float64 { return o.Conductance(dp) * dp }
