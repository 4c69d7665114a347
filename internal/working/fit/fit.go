package fit

import (
	"context"
	"errors"
	"math"
	"sort"

	"pourwright/internal/ground/fault"
)

// fitter holds the state of one fit.
type fitter struct {
	p      *Problem
	model  Model
	probes []series
	starts []float64 // s, of each pour; first as aligned
	lay    layout
	base   stand
	noise  Noise
	q      []float64
	need   []int   // the curves that probes name
	pace   float64 // s, median between readings
	span   float64 // s
	runs   int
	loose  bool       // a bead's place was given up
	free   float64    // degrees of freedom
	t      float64    // Student's
	ends   [][2]limit // of each parameter
}

// series is a probe with its readings made ready.
type series struct {
	in           *Probe
	used         bool
	rise, second float64
	spikes       int
	t, x, extra  []float64
}

// first is the first step of a parameter, in its fitted form: a third of the width
// of what tables say of a rubber.
const first = 0.25

// Fit finds the parameters. It is an error where the recording holds no pour or
// the model fails; what the recording cannot tell is a finding. The model is run
// at most p.MaxRuns times. A cancelled ctx ends it with fault.Interrupted.
func Fit(ctx context.Context, p Problem, m Model) (*Result, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	f := &fitter{p: &p, model: m}
	if err := f.ready(); err != nil {
		return nil, err
	}
	u := make([]float64, len(p.Params))
	for k := range u {
		u[k] = p.Params[k].inner(p.Params[k].Start)
	}
	y, err := f.run(ctx, u)
	if err != nil {
		return nil, err
	}
	f.base = stand{times: p.Times}
	f.base.add(u, y)
	f.align()
	if err := f.open(); err != nil {
		return nil, err
	}
	for k := range u { // one step of each parameter, to have derivatives
		v := append([]float64(nil), u...)
		if lo, hi := p.Params[k].bounds(); hi-u[k] > u[k]-lo {
			v[k] = min(u[k]+first, hi)
		} else {
			v[k] = max(u[k]-first, lo)
		}
		if err := f.visit(ctx, v); err != nil {
			return nil, err
		}
	}
	done, err := f.walk(ctx)
	if err != nil {
		return nil, err
	}
	return f.report(done), nil
}

// ready cleans the readings and finds their rises.
func (f *fitter) ready() error {
	pours, any := 0, false
	for i := range f.p.Probes {
		b := &f.p.Probes[i]
		s := series{in: b}
		s.t, s.x, s.spikes = clean(b.Time, b.T)
		s.rise, s.second, s.used = rise(b.Time, b.T)
		any = any || s.used
		pours = max(pours, b.Pour+1)
		f.probes = append(f.probes, s)
	}
	f.starts = make([]float64, pours)
	if !any {
		return fault.New(fault.Input, "", "log from a minute before the pour, with the bead 2 to 6 mm from the metal",
			"no probe rises by 3 K and out of its noise: the recording holds no pour")
	}
	return nil
}

// open begins the fit once the readings are cut: numbering, first noise.
func (f *fitter) open() error {
	var steps []float64
	big := 0.0
	for i := range f.probes {
		b := &f.probes[i]
		if !b.used {
			continue
		}
		lo, hi := math.Inf(1), math.Inf(-1)
		for k, x := range b.x {
			lo, hi = min(lo, x), max(hi, x)
			if k > 0 {
				steps = append(steps, b.t[k]-b.t[k-1])
			}
		}
		big = max(big, hi-lo)
		b.extra = make([]float64, len(b.t))
		f.span = max(f.span, b.t[len(b.t)-1]-b.t[0])
	}
	if len(steps) == 0 {
		return fault.New(fault.Input, "", "check that the recording goes on after the pour and that the model covers it",
			"fewer than 8 readings of any probe lie within the pour")
	}
	sort.Float64s(steps)
	f.pace = steps[len(steps)/2]
	f.need = named(f.p.Probes)
	f.number()
	f.q = append([]float64(nil), f.lay.centre...)
	for i := range f.lay.n {
		f.q[i] = f.base.runs[0].u[i]
	}
	f.noise = Noise{White: max(0.005*big, 0.05), Slow: 0.05 * big, Memory: max(f.span/10, 2*f.pace)}
	return nil
}

// run computes one pour.
func (f *fitter) run(ctx context.Context, u []float64) ([][]float64, error) {
	if ctx.Err() != nil {
		return nil, fault.New(fault.Interrupted, "", "", "the fit was stopped after %d pours", f.runs)
	}
	if f.p.Progress != nil {
		f.p.Progress(f.runs+1, f.p.runs())
	}
	p := make([]float64, len(u))
	for k := range p {
		p[k] = f.p.Params[k].outer(u[k])
	}
	y, err := f.model(ctx, p)
	if err != nil {
		if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
			return nil, &fault.Error{Kind: fault.Interrupted, Text: "the fit was stopped", Cause: err}
		}
		return nil, err
	}
	f.runs++
	for i := range f.p.Probes {
		for _, c := range f.p.Probes[i].Curves {
			if c.Index >= len(y) || len(y[c.Index]) != len(f.p.Times) {
				return nil, fault.New(fault.Internal, "", "", "the model gave no curve %d of %d times", c.Index, len(f.p.Times))
			}
			for k, x := range y[c.Index] {
				if !finite(x) {
					return nil, fault.New(fault.Unstable, "", "compute the pour alone with these values and see where it breaks",
						"the computed pour has no number at %g s for %v", f.p.Times[k], p)
				}
			}
		}
	}
	return y, nil
}
