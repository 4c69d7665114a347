package fit

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
)

// Model computes one pour with the parameters p, in the order and units of
// Problem.Params, and returns for each curve that a probe names the temperatures,
// degC, at Problem.Times.
type Model func(ctx context.Context, p []float64) (curves [][]float64, err error)

// Scale says in what a parameter is fitted.
type Scale int

const (
	Log     Scale = iota // the logarithm: a value that is positive and known to a share
	Inverse              // the reciprocal: a coefficient that no longer matters when it is large
)

// Param is an input of the model that is to be found.
type Param struct {
	Name, Unit string
	Start      float64 // what the table says
	Low, High  float64 // what the model can take, both positive
	Scale      Scale
	Spread     float64 // standard deviation of Start as a share of it, where it is known beforehand; 0: not at all
	Widest     float64 // High over Low limit beyond which the recording has not told it; 0: 1.6
}

// Probe is one thermocouple of one recording.
type Probe struct {
	Name    string
	Pour    int       // recordings share their start; counted from 0
	Time, T []float64 // s in the recording, rising; degC, NaN where there is no reading
	Curves  []Curve   // rising in At; one where the place is taken as exact
	ShiftSD float64   // mm: standard deviation of the bead's place along the curves; 0: exact
	BiasSD  float64   // K: of its constant error; 0: none
	GainSD  float64   // share: of its proportional error; 0: none
	DriftSD float64   // K: by how much it wanders from the first reading to the last; 0: not at all
}

// Curve is one of the model's curves: At mm along the probe's line from the
// place where the bead is said to be, positive away from the metal.
type Curve struct {
	At    float64
	Index int
}

// Standard deviations of a thermocouple of kind K, class 1: the tolerance of
// IEC 60584-1 is 1.5 K or 0.4 % of t, whichever is larger (from memory); an even
// distribution between the limits has 1/sqrt(3) of it.
const (
	TypeKBias  = 0.87   // K
	TypeKGain  = 0.0023 // share
	UsualDrift = 0.2    // K over a recording, of logger and cold junction together; common practice, no source
)

// Problem is what is to be fitted.
type Problem struct {
	Params   []Param
	Times    []float64 // s from the pour, rising from 0: where the model gives its curves
	Probes   []Probe
	Jitter   float64           // s: how uncertain the instant of each reading is, as the metal rises past the probes; 0: exact
	Slack    float64           // K: by how much the model itself may be wrong; the slow noise is never taken smaller. 0: 0.1
	Level    float64           // of the limits; 0: 0.95
	MaxRuns  int               // of the model; 0: 15
	Progress func(run, of int) // called before each run of the model, or nil
}

const maxCurves = 4096

func (p *Problem) check() error {
	bad := func(format string, args ...any) error {
		return fault.New(fault.Input, "", "mend what is handed to the fit", format, args...)
	}
	if len(p.Params) == 0 || len(p.Probes) == 0 || len(p.Times) < 4 {
		return bad("nothing to fit: %d parameters, %d probes, %d times", len(p.Params), len(p.Probes), len(p.Times))
	}
	if !rising(p.Times) || p.Times[0] != 0 {
		return bad("the times of the model must rise from 0")
	}
	for _, a := range p.Params {
		if !(a.Low > 0) || !(a.Start >= a.Low) || !(a.High >= a.Start) || math.IsInf(a.High, 0) || !(a.Low < a.High) || a.Spread < 0 || !finite(a.Spread) {
			return bad("%s starts at %g, outside %g to %g, or its spread is %g", a.Name, a.Start, a.Low, a.High, a.Spread)
		}
	}
	for _, b := range p.Probes {
		if len(b.Time) != len(b.T) || len(b.Curves) == 0 || b.Pour < 0 || b.Pour >= len(p.Probes) || !rising(b.Time) {
			return bad("probe %s: %d times, %d readings, %d curves, pour %d; times must rise", b.Name, len(b.Time), len(b.T), len(b.Curves), b.Pour)
		}
		for _, t := range b.T {
			if math.IsInf(t, 0) {
				return bad("probe %s holds a reading that is no number", b.Name)
			}
		}
		for i, c := range b.Curves {
			if c.Index < 0 || c.Index >= maxCurves || !finite(c.At) || i > 0 && !(c.At > b.Curves[i-1].At) {
				return bad("probe %s: the curves must rise in depth", b.Name)
			}
		}
		if !(b.ShiftSD >= 0) || !(b.BiasSD >= 0) || !(b.GainSD >= 0) || !(b.DriftSD >= 0) || b.ShiftSD > 0 && len(b.Curves) < 2 {
			return bad("probe %s: a shift needs two curves, and no deviation is negative", b.Name)
		}
	}
	if !(p.Jitter >= 0) || !(p.Slack >= 0) || p.Level < 0 || p.Level >= 1 || p.MaxRuns < 0 {
		return bad("jitter %g s, level %g, %d runs", p.Jitter, p.Level, p.MaxRuns)
	}
	if need := len(p.Params) + 2; p.runs() < need {
		return bad("%d runs are too few for %d parameters: at least %d", p.runs(), len(p.Params), need)
	}
	return nil
}

func (p *Problem) runs() int {
	if p.MaxRuns == 0 {
		return 15
	}
	return p.MaxRuns
}

func (p *Problem) level() float64 {
	if p.Level == 0 {
		return 0.95
	}
	return p.Level
}

func (p *Problem) slack() float64 {
	if p.Slack == 0 {
		return 0.1
	}
	return p.Slack
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func rising(x []float64) bool {
	for i, v := range x {
		if !finite(v) || i > 0 && !(v > x[i-1]) {
			return false
		}
	}
	return true
}

// inner returns the fitted form of a value: ln(v/start), or start/v.
func (a *Param) inner(v float64) float64 {
	if a.Scale == Inverse {
		return a.Start / v
	}
	return math.Log(v / a.Start)
}

// outer is the value of a fitted form.
func (a *Param) outer(u float64) float64 {
	if a.Scale == Inverse {
		return min(max(a.Start/u, a.Low), a.High)
	}
	return min(max(a.Start*math.Exp(u), a.Low), a.High)
}

// bounds of the fitted form.
func (a *Param) bounds() (lo, hi float64) {
	lo, hi = a.inner(a.Low), a.inner(a.High)
	return min(lo, hi), max(lo, hi)
}

// sd of the prior of the fitted form: what is known, or next to nothing, which
// keeps the equations solvable where the recording says nothing.
func (a *Param) sd() float64 {
	if a.Spread > 0 {
		return a.Spread
	}
	if a.Scale == Inverse {
		return 30
	}
	return 3
}

// widest returns the ratio of limits beyond which a parameter is not told.
func (a *Param) widest() float64 {
	if a.Widest > 1 {
		return a.Widest
	}
	return 1.6
}
