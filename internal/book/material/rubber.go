package material

import "math"

// Rubber is one row of the rubber table.
type Rubber struct {
	Name, Words string
	Chemistry   string // condensation, addition
	ForHeat     bool   // filled for casting metal

	Density      Value // kg/m3, cured and mixed
	Shore        Value // Shore A
	Elongation   Value // strain at break
	Tear         Value // N/m
	Hardener     Value // mass of part B per mass of part A
	PotLife      Value // s at 23 degC
	Cure         Value // s at 23 degC until the mould may be opened
	Shrink       Value // share of length, cure at room temperature
	Rating       Value // degC, short contact
	Conductivity Value // W/(m K)
	HeatCapacity Value // J/(kg K)
	Expansion    Value // 1/K, linear
	Doubling     Value // K that double the rate of cure
}

// Chemistries.
const (
	Condensation = "condensation"
	Addition     = "addition"
)

// FindRubber returns the row of that name.
func FindRubber(name string) (Rubber, error) {
	var names []string
	for _, r := range tables().rubbers {
		if r.Name == name {
			return r, nil
		}
		names = append(names, r.Name)
	}
	return Rubber{}, unknown("rubber", name, names)
}

// Rubbers returns the whole table in its order.
func Rubbers() []Rubber { return append([]Rubber(nil), tables().rubbers...) }

// Effusivity returns sqrt(k rho c), W s^0.5/(m2 K): how hard the rubber draws
// heat from the metal.
func (r *Rubber) Effusivity() float64 {
	return math.Sqrt(r.Conductivity.X * r.Density.X * r.HeatCapacity.X)
}

// Diffusivity returns k/(rho c), m2/s.
func (r *Rubber) Diffusivity() float64 {
	return r.Conductivity.X / (r.Density.X * r.HeatCapacity.X)
}

// Modulus returns Young's modulus in Pa from the Shore A hardness S:
//
//	E = 0.0981 (56 + 7.62336 S) / (0.137505 (254 - 2.54 S)) MPa
//
// A.N. Gent, Rubber Chem. Technol. 31 (1958) 896 (formula from memory). Beyond
// Shore A 40 other fits are up to twice as stiff.
func (r *Rubber) Modulus() float64 {
	s := min(max(r.Shore.X, 1), 95)
	return 1e6 * 0.0981 * (56 + 7.62336*s) / (0.137505 * (254 - 2.54*s))
}

// StrainLimits returns the strain above which a release wants care and the one
// above which it is refused: 0.6 and 1.2 at Shore A 20, 0.35 and 0.8 at 40, 0.2
// and 0.5 at 60, straight lines between, held beyond (a proposal without a
// source: log the tears to tune it), never above a third of the elongation at
// break, and half of it where the rubber is hot when the casting is peeled out.
func (r *Rubber) StrainLimits(hot bool) (care, refuse float64) {
	s := r.Shore.X
	care = line(s, 20, 0.6, 40, 0.35, 60, 0.2)
	refuse = line(s, 20, 1.2, 40, 0.8, 60, 0.5)
	third := r.Elongation.X / 3
	care, refuse = min(care, third), min(refuse, third)
	if hot {
		care, refuse = care/2, refuse/2
	}
	return care, refuse
}

func line(x, x0, y0, x1, y1, x2, y2 float64) float64 {
	switch {
	case x <= x0:
		return y0
	case x <= x1:
		return y0 + (y1-y0)*(x-x0)/(x1-x0)
	case x <= x2:
		return y1 + (y2-y1)*(x-x1)/(x2-x1)
	}
	return y2
}

// Slowing returns the factor by which pot life and cure at T (degC) are longer
// than at 23: 2^((23 - T)/d), d the kelvins that double the rate. The law holds
// between 18 and 30 degC; T is held there, and the caller says so.
func (r *Rubber) Slowing(T float64) float64 {
	T = min(max(T, CureCold), CureWarm)
	return math.Exp2((23 - T) / r.Doubling.X)
}

// CureCold and CureWarm bound the temperatures, degC, between which the cure
// law is used.
const (
	CureCold = 18.0
	CureWarm = 30.0
)
