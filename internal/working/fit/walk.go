package fit

import (
	"context"
	"math"
	"slices"
)

// named returns the curves that the probes name, each once, in order.
func named(list []Probe) []int {
	var out []int
	for i := range list {
		for _, c := range list[i].Curves {
			out = append(out, c.Index)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// visit runs the model at u and takes it into the stand-in.
func (f *fitter) visit(ctx context.Context, u []float64) error {
	y, err := f.run(ctx, u)
	if err != nil {
		return err
	}
	f.base.add(u, y)
	return nil
}

// listen estimates the noise anew from the residuals at q.
func (f *fitter) listen(q []float64) {
	l := f.base.at(q[:f.lay.n], f.need)
	for i := range f.probes {
		if b := &f.probes[i]; b.used && f.p.Jitter > 0 {
			s := f.base.probe(&l, b.in, b.t, q[f.lay.n+b.in.Pour], f.lay.get(q, i, 0))
			for k, d := range s.dt {
				b.extra[k] = d * d * f.p.Jitter * f.p.Jitter
			}
		}
	}
	off := make([]float64, len(q))
	for i := range q {
		off[i] = q[i] - f.lay.centre[i]
	}
	f.noise = estimate(f.noise, f.blocks(q, nil), f.lay.prec, off, f.pace, f.span, f.p.slack())
}

// reach is how far beyond the runs the stand-in is trusted for the next run, in
// the fitted forms: a factor of 1.6.
const reach = 0.5

// walk runs the model at the best place of the stand-in until that place has been
// computed, and then at the limits, where the stand-in must be true as well. done
// is false where the runs did not suffice for the best place.
func (f *fitter) walk(ctx context.Context) (done bool, err error) {
	left := func() int { return f.p.runs() - f.runs }
	f.q, _ = f.settle(f.q, reach, nil)
	f.listen(f.q)
	for {
		f.q, _ = f.settle(f.q, reach, nil)
		wide := f.errors(f.q)
		if done = f.known(f.q, wide, 0.25); !done {
			if left() == 0 {
				return false, nil
			}
			old := append([]float64(nil), f.q...)
			if err := f.visit(ctx, f.q[:f.lay.n]); err != nil {
				return false, err
			}
			f.q, _ = f.settle(f.q, reach, nil)
			if f.far(old, f.q, wide) || f.runs <= f.lay.n+3 {
				f.listen(f.q)
			}
			continue
		}
		if f.loosen() {
			continue
		}
		f.limits(wide)
		next := f.unknown(wide)
		if next == nil || left() == 0 {
			return true, nil
		}
		if err := f.visit(ctx, next); err != nil {
			return false, err
		}
	}
}

// loosen frees the bead that sits farthest from its stated place, where at least
// three tell on it: beyond 2.5 deviations its place is a mistake, not an error of
// measurement, and must not pull the others along. It does so once.
func (f *fitter) loosen() bool {
	worst, at, used := 2.5, -1, 0
	for i := range f.probes {
		if !f.probes[i].used {
			continue
		}
		used++
		k := f.lay.probe[i][0]
		if k < 0 {
			continue
		}
		if z := math.Abs(f.q[k]) / f.probes[i].in.ShiftSD; z > worst {
			worst, at = z, k
		}
	}
	if f.loose || at < 0 || used < 3 {
		return false
	}
	f.loose = true
	f.lay.prec[at] /= 100
	return true
}

// errors returns the standard errors of the fitted forms of the parameters.
func (f *fitter) errors(q []float64) []float64 {
	out := make([]float64, f.lay.n)
	c, ok := f.equations(q, nil).inverse()
	for k := range out {
		out[k] = f.p.Params[k].sd()
		if ok && c.At(k, k) > 0 {
			out[k] = math.Sqrt(c.At(k, k))
		}
	}
	return out
}

// known reports whether a run lies within a share of the standard errors of q,
// or so near that another would tell nothing.
func (f *fitter) known(q, wide []float64, share float64) bool {
	for i := range f.base.runs {
		near := true
		for k := range f.lay.n {
			near = near && math.Abs(q[k]-f.base.runs[i].u[k]) <= max(share*wide[k], 2e-3)
		}
		if near {
			return true
		}
	}
	return false
}

func (f *fitter) far(a, b, wide []float64) bool {
	for k := range f.lay.n {
		if math.Abs(a[k]-b[k]) > 0.5*wide[k] {
			return true
		}
	}
	return false
}

// limit is one end of the limits of a parameter: where, with all else fitted
// again, the sum of squares is t^2 above the lowest.
type limit struct {
	u    []float64 // all parameters there
	x    float64   // the entry of q itself
	k    int       // whose limit it is
	open bool      // the sum stays below as far as the model goes
}

// limits finds both ends for every parameter on the stand-in (the profile of the
// likelihood; Venzon and Moolgavkar, Appl. Statist. 37 (1988) 87, from memory).
// Where the stand-in is far from linear, they are not even about the value.
func (f *fitter) limits(wide []float64) {
	f.free, f.t = f.quantile()
	f.ends = make([][2]limit, f.lay.n)
	for k := range f.ends {
		for side := range 2 {
			f.ends[k][side] = f.end(k, 2*side-1, wide[k])
		}
	}
}

// began finds the limits of the start of a pour in the same way.
func (f *fitter) began(pour int, wide float64) (lo, hi float64) {
	k := f.lay.n + pour
	return f.end(k, -1, wide).x, f.end(k, 1, wide).x
}

// end walks from the value to one side, first by what the standard error says,
// then by halving.
func (f *fitter) end(k, side int, wide float64) limit {
	bound := math.Inf(side)
	if k < f.lay.n {
		lo, hi := f.p.Params[k].bounds()
		bound = lo
		if side > 0 {
			bound = hi
		}
	}
	held := func(i int) bool { return i == k }
	_, base := f.settle(f.q, math.Inf(1), held)
	target := base + f.t*f.t
	q := append([]float64(nil), f.q...)
	over := func(u float64) ([]float64, float64) {
		p := append([]float64(nil), q...)
		p[k] = u
		p, v := f.settle(p, math.Inf(1), held)
		return p, v - target
	}
	a, fa := f.q[k], -f.t*f.t
	b := f.q[k] + float64(side)*f.t*min(wide, 1)
	for range 12 {
		if (b-bound)*float64(side) > 0 {
			b = bound
		}
		p, v := over(b)
		if v >= 0 {
			return f.halve(k, a, fa, b, v, p, over)
		}
		q = p
		if b == bound {
			return limit{u: p[:f.lay.n], x: p[k], k: k, open: true}
		}
		// as a parabola through the lowest place says, at most doubled
		grow := min(2, max(1.15, 1.05*math.Sqrt(f.t*f.t/max(v+f.t*f.t, 1e-9))))
		a, fa, b = b, v, f.q[k]+(b-f.q[k])*grow
	}
	return limit{u: q[:f.lay.n], x: q[k], k: k, open: true}
}

// halve finds where over passes 0 between a (below) and b (above).
func (f *fitter) halve(k int, a, fa, b, fb float64, at []float64, over func(float64) ([]float64, float64)) limit {
	for range 8 {
		if fb < 0.02*f.t*f.t || math.Abs(b-a) < 1e-4 {
			break
		}
		// the secant of the roots, which are nearly straight
		ra, rb := math.Sqrt(max(fa+f.t*f.t, 0)), math.Sqrt(fb+f.t*f.t)
		x := a + (b-a)*min(max((f.t-ra)/(rb-ra), 0.1), 0.9)
		p, v := over(x)
		if v >= 0 {
			b, fb, at = x, v, p
		} else {
			a, fa = x, v
			if v > -0.02*f.t*f.t {
				return limit{u: p[:f.lay.n], x: p[k], k: k, open: false}
			}
		}
	}
	return limit{u: append([]float64(nil), at[:f.lay.n]...), x: at[k], k: k, open: false}
}

// unknown returns the limit farthest from all runs, nil where each is near one:
// by 0.06 of its fitted form or a third of its distance from the value.
func (f *fitter) unknown(wide []float64) []float64 {
	var out []float64
	most := 1.0
	for k := range f.ends {
		for _, e := range f.ends[k] {
			u := append([]float64(nil), e.u...)
			for i := range u { // not farther than the stand-in is trusted
				u[i] = min(max(u[i], f.q[i]-1), f.q[i]+1)
			}
			if share := f.base.apart(u) / max(0.06, 0.33*away(u, f.q[:f.lay.n])); share > most {
				most, out = share, u
			}
		}
	}
	return out
}
