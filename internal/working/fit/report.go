package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// report turns q into values with limits and says what they are worth.
func (f *fitter) report(done bool) *Result {
	r := &Result{Runs: f.runs, Converged: done, Noise: f.noise, Level: f.p.level()}
	cov, ok := f.equations(f.q, nil).inverse()
	list := f.blocks(f.q, nil)
	if f.ends == nil {
		f.limits(f.errors(f.q))
	}
	t := f.t
	r.Freedom = f.free
	sd := func(k int) float64 {
		if !ok || !(cov.At(k, k) > 0) {
			return 1 / math.Sqrt(f.lay.prec[k])
		}
		return math.Sqrt(cov.At(k, k))
	}
	for k := range f.p.Params {
		f.ends[k][0].u[k] = min(f.ends[k][0].u[k], f.q[k])
		f.ends[k][1].u[k] = max(f.ends[k][1].u[k], f.q[k])
		r.scale = append(r.scale, f.p.Params[k].Scale)
		r.Params = append(r.Params, between(&f.p.Params[k], f.q[k], sd(k), f.ends[k]))
	}
	plain := func(name, unit string, k int) Estimate {
		if k < 0 {
			return Estimate{Name: name, Unit: unit}
		}
		d := t * sd(k)
		return Estimate{Name: name, Unit: unit, Value: f.q[k], Low: f.q[k] - d, High: f.q[k] + d, Told: true, SpreadOf: sd(k)}
	}
	for g := range f.starts {
		e := plain(fmt.Sprintf("start of pour %d", g+1), "s", f.lay.n+g)
		if lo, hi := f.began(g, e.SpreadOf); e.SpreadOf < 10 { // else nothing of this pour was used
			e.Low, e.High = min(lo, e.Value), max(hi, e.Value)
		}
		r.Start = append(r.Start, e)
	}
	at := 0
	for i := range f.probes {
		b := &f.probes[i]
		o := ProbeFit{Name: b.in.Name, Used: b.used, Spikes: b.spikes, Points: len(b.t)}
		if b.used {
			o.Drift = plain("drift", "K", f.lay.probe[i][3])
			o.Shift, o.Bias, o.Gain = plain("shift", "mm", f.lay.probe[i][0]), plain("bias", "K", f.lay.probe[i][1]), plain("gain", "", f.lay.probe[i][2])
			k := &list[at]
			at++
			for j, x := range b.x {
				o.Time = append(o.Time, b.t[j]-f.q[f.lay.n+b.in.Pour])
				o.Read = append(o.Read, x)
				o.Model = append(o.Model, x-k.r[j])
				o.RMS += k.r[j] * k.r[j]
			}
			o.RMS = math.Sqrt(o.RMS / float64(len(b.x)))
		}
		r.Probes = append(r.Probes, o)
	}
	r.Correlation = correlation(cov, ok, f.lay.n)
	f.judge(r)
	return r
}

// quantile returns the degrees of freedom of the limits and Student's t.
func (f *fitter) quantile() (nu, t float64) {
	free := 0
	for _, c := range f.lay.prec {
		if c < 0.02 { // nothing worth the name was known before
			free++
		}
	}
	nu = freedom(f.noise, f.blocks(f.q, nil), f.pace, free)
	return nu, distuv.StudentsT{Sigma: 1, Nu: nu}.Quantile(0.5 + f.p.level()/2)
}

// between turns fitted forms into a value with limits. Of a reciprocal whose lower
// end is open the value has no upper limit: metal and rubber might touch
// perfectly.
func between(a *Param, u, sd float64, ends [2]limit) Estimate {
	lo, hi := ends[0], ends[1]
	if a.Scale == Inverse {
		lo, hi = hi, lo
	}
	e := Estimate{Name: a.Name, Unit: a.Unit, Value: a.outer(u), SpreadOf: sd, LowOpen: lo.open, HighOpen: hi.open}
	e.Low, e.High = min(a.outer(lo.u[lo.k]), e.Value), max(a.outer(hi.u[hi.k]), e.Value)
	e.Told = !e.LowOpen && !e.HighOpen && e.High <= a.widest()*e.Low
	return e
}

func correlation(c *mat.SymDense, ok bool, n int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		for j := range out[i] {
			if i == j {
				out[i][j] = 1
			} else if ok {
				out[i][j] = c.At(i, j) / math.Sqrt(c.At(i, i)*c.At(j, j))
			}
		}
	}
	return out
}

// judge writes the findings.
func (f *fitter) judge(r *Result) {
	add := func(code, severity, do, say string, x ...any) {
		r.Findings = append(r.Findings, Finding{code, severity, fmt.Sprintf(say, x...), do})
	}
	told := 0
	for k, e := range r.Params {
		a := &f.p.Params[k]
		switch {
		case e.Told:
			told++
		case e.LowOpen && e.HighOpen:
			add("not-told", "should", "put a bead nearer to the metal and measure its depth", "the recording says nothing of %s", e.Name)
		case e.HighOpen:
			add("one-sided", "note", "a bead within 2 mm of the metal tells it better", "%s is at least %.3g %s; above, the recording sets no limit", e.Name, e.Low, e.Unit)
		case e.LowOpen:
			add("one-sided", "note", "a bead within 2 mm of the metal tells it better", "%s is at most %.3g %s; below, the recording sets no limit", e.Name, e.High, e.Unit)
		default:
			add("not-told", "should", "log again with two beads at depths measured to 0.2 mm", "%s may be %.3g to %.3g %s: too wide to be used", e.Name, e.Low, e.High, e.Unit)
		}
		if lo, hi := a.bounds(); (f.q[k] <= lo || f.q[k] >= hi) && !(a.Scale == Inverse && e.HighOpen) {
			add("at-bound", "should", "check depths, metal and start of the recording", "%s runs to the end of what is possible, %.3g %s", e.Name, e.Value, e.Unit)
		}
	}
	if told == 0 {
		add("not-told", "must", "log again with two beads at depths measured to 0.2 mm", "the recording tells none of the values: nothing to store")
	}
	for i := range r.Correlation {
		for j := range i {
			if c := r.Correlation[i][j]; math.Abs(c) > 0.95 {
				add("correlated", "should", "a second bead at another depth parts them", "the recording tells %s and %s together, hardly each alone (correlation %.2f)", r.Params[j].Name, r.Params[i].Name, c)
			}
		}
	}
	f.judgeProbes(r, add)
	if !r.Converged {
		add("not-converged", "should", "allow more pours or start nearer", "the values still moved after %d computed pours", r.Runs)
	}
}

func (f *fitter) judgeProbes(r *Result, add func(code, severity, do, say string, x ...any)) {
	for i := range f.probes {
		b, o := &f.probes[i], &r.Probes[i]
		if !b.used {
			add("flat", "note", "check its plug and its place", "probe %s does not rise with the pour and was left out", o.Name)
			continue
		}
		if sd := b.in.ShiftSD; sd > 0 && math.Abs(o.Shift.Value) > 2.5*sd {
			add("shifted", "should", "cut the mould there and measure the bead's depth", "probe %s reads as if it sat %.1f mm off its stated place", o.Name, o.Shift.Value)
		}
		if sd := b.in.BiasSD; sd > 0 && math.Abs(o.Bias.Value) > 4*sd {
			add("shifted", "should", "compare the probe with another in the same water", "probe %s reads %.1f K off", o.Name, o.Bias.Value)
		}
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, x := range o.Read {
			lo, hi = min(lo, x), max(hi, x)
		}
		if o.RMS > 0.06*(hi-lo) {
			add("misfit", "must", "check metal, pouring temperature, the probe's place and whether the mould moved", "probe %s is %.1f K off the best computed pour, of a rise of %.0f K", o.Name, o.RMS, hi-lo)
		}
		if len(o.Time) > 0 && o.Time[0] > -3*f.pace {
			add("no-start", "note", "start the logger a minute before the pour", "probe %s has no readings before the pour", o.Name)
		}
		if n := len(o.Read); n > 0 && o.Read[n-1] >= hi-0.02*(hi-lo) {
			add("short", "note", "log on until the probe has fallen well below its peak", "probe %s is still at its highest when the recording ends", o.Name)
		}
	}
}
