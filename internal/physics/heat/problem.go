package heat

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// Side says what one side of the block is exposed to.
type Side struct {
	H        float64 // W/(m2 K), convection and radiation of the outermost surface; 0 is insulated
	Board    float64 // m2 K/W, resistance of boards between rubber and that surface; 0 is none
	Capacity float64 // J/(m2 K), heat the boards store; 0 is none
	T        float64 // K over Problem.Air of what lies outside; 0 in the open air
	Metal    float64 // W/(m2 K) where the metal itself reaches this side (cup, ingate); 0 is covered
}

// Sides of the block in the order of Problem.Sides.
const (
	XLow = iota
	XHigh
	YLow
	YHigh
	ZLow
	ZHigh
)

// Problem is everything a Run needs to know. The Body must not be changed while
// a Run uses it.
type Problem struct {
	Body   *Body
	Metal  Metal
	Rubber Rubber

	Contact float64   // W/(m2 K) between metal and rubber; 0 takes 1000
	Air     float64   // degC
	Sides   [6]Side   // XLow, XHigh, YLow, YHigh, ZLow, ZHigh
	Start   float64   // degC, the mould before the first pour
	Field   []float32 // degC, per cell; nil takes Start everywhere
	Feed    []vec.Box // mm, metal in these boxes feeds; nil takes metal on the block's sides
	FeedTo  float64   // liquid share down to which metal can be fed through a place; 0 takes 0.3
	Rating  float64   // degC the rubber bears; 0 is not asked
	Step    float64   // s, longest coupling step; 0 takes 4
	Growth  float64   // longest coupling step as part of the time since the pour; 0 takes 0.03
	Rest    float64   // s, longest step of an empty mould; 0 takes 60
	Plain   bool      // plain kernels instead of the fast ones; the bytes are the same
}

// DefaultContact is used where Problem.Contact is zero, W/(m2 K): common
// practice for dry casting against silicone, no source.
const DefaultContact = 1000

func (p *Problem) fill() {
	if p.Contact == 0 {
		p.Contact = DefaultContact
	}
	if p.Step == 0 {
		p.Step = 4
	}
	if p.Rest == 0 {
		p.Rest = 60
	}
	if p.Growth == 0 {
		p.Growth = 0.03
	}
	if p.FeedTo == 0 {
		p.FeedTo = 0.3
	}
}

// check says what is wrong with the numbers, with the first thing found.
func (p *Problem) check() error {
	if p.Body == nil {
		return fault.New(fault.Input, "heat", "make one with FromMesh or FromDistance", "there is no body")
	}
	if err := p.Body.check(); err != nil {
		return err
	}
	if err := p.Metal.check(); err != nil {
		return err
	}
	if !positive(p.Rubber.Density, p.Rubber.Cp, p.Rubber.K) {
		return fault.New(fault.Input, "rubber", "give density, heat capacity and conductivity in SI units",
			"density %g, heat capacity %g, conductivity %g: each must be above zero", p.Rubber.Density, p.Rubber.Cp, p.Rubber.K)
	}
	if !positive(p.Contact, p.Step, p.Growth, p.Rest) || !(p.FeedTo >= 0 && p.FeedTo < 1) {
		return fault.New(fault.Input, "heat", "coefficients and steps are above zero, FeedTo lies between 0 and 1",
			"contact %g W/(m2 K), step %g s, growth %g, feeding down to %g liquid", p.Contact, p.Step, p.Growth, p.FeedTo)
	}
	for i, s := range p.Sides {
		if !(s.H >= 0 && s.Board >= 0 && s.Capacity >= 0 && s.Metal >= 0) || math.IsInf(s.Board+s.Capacity, 0) ||
			math.IsNaN(s.T) || math.IsInf(s.T, 0) {
			return fault.New(fault.Input, "side "+sideNames[i], "coefficients, boards and capacities are zero or more",
				"coefficient %g, board %g, capacity %g, outside %g K over the air, metal %g", s.H, s.Board, s.Capacity, s.T, s.Metal)
		}
	}
	for _, t := range []float64{p.Air, p.Start, p.Rating} {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			return fault.New(fault.Input, "heat", "give temperatures in degrees C", "air %g, mould %g, rating %g", p.Air, p.Start, p.Rating)
		}
	}
	if p.Field != nil {
		if len(p.Field) != p.Body.Grid.Len() {
			return fault.New(fault.Input, "heat", "give one temperature per cell", "the mould's temperatures hold %d values for %d cells",
				len(p.Field), p.Body.Grid.Len())
		}
		for q, t := range p.Field {
			if t-t != 0 {
				return fault.New(fault.Input, "heat", "give temperatures in degrees C", "the mould's temperature in cell %d is not a number", q)
			}
		}
	}
	return nil
}

var sideNames = [6]string{"x low", "x high", "y low", "y high", "z low", "z high"}
