package pour

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
)

// Pouring is how a person pours.
type Pouring struct {
	Ladle  *float64   `json:"ladle"`  // mm3 of metal that one ladle gives; null: enough for the whole mould
	Rate   *float64   `json:"rate"`   // mm3/s; null: by ingate and ladle
	Height float64    `json:"height"` // mm from the lip down to the rim of the cup
	Pause  float64    `json:"pause"`  // s from the end of one ladle to the start of the next
	Tilt   [2]float64 `json:"tilt"`   // degrees that the block leans: towards +x, and towards half 1 (+z)
	Tap    bool       `json:"tap"`    // the mould is tapped, so that a held meniscus lets go
}

// Limits of a pour by hand. Common practice, no source: a lip is held from just
// over the cup to a forearm's length above it, and a hand that leans a block by
// more than a quarter turn empties the cup.
const (
	HeightMost = 500.0 // mm
	TiltMost   = 60.0  // degrees
	PauseMost  = 60.0  // s
	LadleLeast = 10.0  // mm3
	LadleMost  = 2e7   // mm3
	RateLeast  = 10.0  // mm3/s
	RateMost   = 5e6   // mm3/s
)

// Check refuses a way to pour that no hand pours in. Errors are of kind Input and
// name the value in the words in which it is asked for.
func (p *Pouring) Check(place string) error {
	within := func(what, unit, do string, x, lo, hi float64) error {
		if x >= lo && x <= hi {
			return nil
		}
		return fault.New(fault.Input, place, do, "%s is %g %s; it may be %g to %g", what, x, unit, lo, hi)
	}
	if p.Ladle != nil {
		if err := within("the ladle", "cm3", "give the metal that one ladle carries", *p.Ladle/1e3, LadleLeast/1e3, LadleMost/1e3); err != nil {
			return err
		}
	}
	if p.Rate != nil {
		if err := within("the rate of pouring", "cm3/s", "a ladle gives 5 to 100 cm3/s", *p.Rate/1e3, RateLeast/1e3, RateMost/1e3); err != nil {
			return err
		}
	}
	if err := within("the height of pouring", "mm", "measure from the ladle's lip down to the rim of the cup", p.Height, 0, HeightMost); err != nil {
		return err
	}
	if err := within("the pause", "s", "give the seconds from one ladle to the next", p.Pause, 0, PauseMost); err != nil {
		return err
	}
	for _, t := range p.Tilt {
		if err := within("the tilt", "degrees", "lean the block less", t, -TiltMost, TiltMost); err != nil {
			return err
		}
	}
	return nil
}

// NoFilling is the filling that was not computed.
func NoFilling(p Pouring) Filling {
	return Filling{Pouring: p, Grids: []FillGrid{}, Runs: []Run{}, Broken: []string{}, Air: []Air{}, Short: []Place{}, Meetings: []Meeting{}, Bridged: []Place{}}
}

// flows refuses a metal that no filling can be computed for. bad says which value is wrong.
func (s *Setting) flows(place string, bad func(what string, x float64) error) error {
	f := &s.Flow
	for _, x := range []struct {
		what      string
		x, lo, hi float64
	}{
		{"the metal's viscosity, Pa s,", f.Viscosity, 1e-5, 1}, {"the metal's surface tension, N/m,", f.Tension, 0.01, 5},
		{"the liquid metal's density, kg/m3,", s.Alloy.LiquidDensity, 500, 25000},
		{"the metal's angle on rubber where it recedes, degrees,", f.Recede, 5, f.Rest},
		{"the metal's angle on rubber at rest, degrees,", f.Rest, f.Recede, f.Advance},
		{"the metal's angle on rubber where it advances, degrees,", f.Advance, f.Rest, 175},
	} {
		if !(x.x >= x.lo && x.x <= x.hi) {
			return bad(x.what, x.x)
		}
	}
	if !(f.Gap >= 0 && f.Gap <= 1e-3) {
		return bad("the gap of the parting, m,", f.Gap)
	}
	if n := s.Pours; n != nil && !(*n >= 1 && *n <= 100) {
		return bad("the number of pours", float64(*n))
	}
	if c := s.FillCell; c != nil && !(*c >= 0.1 && *c <= 20) {
		return bad("the cell of the filling, mm,", *c)
	}
	return s.Pouring.Check(place)
}

// Filling is the computed filling: of each run of the ensemble, and of all.
type Filling struct {
	Computed bool       `json:"computed"`
	Pouring  Pouring    `json:"pouring"`
	Failed   string     `json:"failed"` // why it could not be computed, else empty
	Rate     float64    `json:"rate"`   // mm3/s of the steady hand
	Open     float64    `json:"open"`   // mm3 that metal can fill, on the coarsest grid
	Charge   float64    `json:"charge"` // mm3 that the ladles give
	Grids    []FillGrid `json:"grids"`  // coarsest first
	Runs     []Run      `json:"runs"`   // of the ensemble, on the coarsest grid
	Broken   []string   `json:"broken"` // hands whose pour broke down, and why; the others make up the ensemble
	Middle   Middle     `json:"middle"`
	Air      []Air      `json:"air"` // over the ensemble, the largest median first
	Short    []Place    `json:"short"`
	Meetings []Meeting  `json:"meetings"`
	Bridged  []Place    `json:"bridged"`  // hanging dead ends that metal lay over
	Handover *Handover  `json:"handover"` // to the freezing; null where there was none
	Picture  *Run       `json:"picture"`  // the run that the pictures show and from which freezing starts, on the finest grid; no figure of the ensemble rests on it
}

// Handover is by what shares the freezing's volume and heat, on its finest grid, differ at its start
// from what the filling left.
type Handover struct {
	Volume float64 `json:"volume"`
	Energy float64 `json:"energy"`
}

// FillGrid is one grid of the filling.
type FillGrid struct {
	Cell  float64 `json:"cell"`
	Cells int     `json:"cells"` // open ones
	Lost  float64 `json:"lost"`  // mm3 of the cavity that the cells do not hold
}

// Run is one computed pour.
type Run struct {
	Name     string    `json:"name"`
	Cell     float64   `json:"cell"`
	Rate     float64   `json:"rate"`     // mm3/s asked of the ladle
	Time     float64   `json:"time"`     // s from the first metal in the cup until nothing more goes in
	Filled   float64   `json:"filled"`   // share of the open volume
	Castings float64   `json:"castings"` // the same of what lies below the cups
	Trapped  float64   `json:"trapped"`  // share of the open volume that air keeps
	Short    float64   `json:"short"`    // share that metal did not reach for cold
	Coldest  *float64  `json:"coldest"`  // degC, coldest metal at the end
	Fastest  float64   `json:"fastest"`  // mm/s, of the front, 95 % quantile over the cells that it passed
	Poured   float64   `json:"poured"`   // mm3 that left the ladle
	Overflow float64   `json:"overflow"` // mm3 that ran over the cup
	Steps    int       `json:"steps"`
	Volume   float64   `json:"volume_balance"` // left of poured
	Energy   float64   `json:"energy_balance"`
	Air      []Place   `json:"air"`
	Misruns  []Place   `json:"misruns"`
	Meetings []Meeting `json:"meetings"`
	Bridged  []Place   `json:"bridged"`
}

// Place is a volume at a place.
type Place struct {
	At     plan.P3 `json:"at"`
	Volume float64 `json:"volume"` // mm3
	Frozen bool    `json:"frozen"` // metal that froze bounds it
}

// Air is air that stays at one place, over the ensemble; a run without it there counts as 0.
type Air struct {
	At     plan.P3 `json:"at"`
	Volume Spread  `json:"volume"` // mm3
	Runs   int     `json:"runs"`   // that have it
}

// Meeting is a line along which two fronts met.
type Meeting struct {
	At      plan.P3   `json:"at"`
	Line    []plan.P3 `json:"line"`
	Length  float64   `json:"length"`
	Coldest float64   `json:"coldest"` // degC of the colder front
	Cold    bool      `json:"cold"`    // a cold shut: they did not become one
	Ladle   bool      `json:"ladle"`   // left by a pause between ladles
}

// Spread is a median with the least and the most of a set.
type Spread struct {
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

// Middle are the figures of the ensemble.
type Middle struct {
	Time     Spread  `json:"time"`
	Filled   Spread  `json:"filled"`
	Castings Spread  `json:"castings"`
	Trapped  Spread  `json:"trapped"`
	Short    Spread  `json:"short"`
	Fastest  Spread  `json:"fastest"`
	Overflow Spread  `json:"overflow"`
	Coldest  *Spread `json:"coldest"`
	Volume   float64 `json:"volume_balance"` // the worst of all runs
	Energy   float64 `json:"energy_balance"`
}

// Plan returns the filling as the plan's section says it. Shares and times are
// medians of the ensemble; Spread is half the range of the trapped share. Cell is
// that of the ensemble, since the figures are.
func (f *Filling) Plan() plan.Fill {
	if f == nil || !f.Computed || len(f.Runs) == 0 {
		return plan.Fill{}
	}
	m := f.Middle
	unit := func(x float64) *float64 { return plan.Known(math.Max(0, math.Min(1, x))) }
	r := plan.Fill{
		Computed: true, Cell: plan.Ptr(f.Runs[0].Cell), Time: plan.Known(m.Time.Median),
		FilledShare: unit(m.Filled.Median), CastShare: unit(m.Castings.Median), TrappedShare: unit(m.Trapped.Median), MisrunShare: unit(m.Short.Median),
		Overflow: plan.Known(m.Overflow.Median), Balance: &plan.FillBalance{Volume: m.Volume, Energy: m.Energy},
		Spread: plan.Known((m.Trapped.High - m.Trapped.Low) / 2),
	}
	if m.Coldest != nil {
		r.Coldest = plan.Known(m.Coldest.Median)
	}
	lines := [][]plan.P3{}
	for _, x := range f.Meetings {
		if len(x.Line) > 1 {
			lines = append(lines, x.Line)
		}
	}
	r.Meeting = &lines
	return r
}
