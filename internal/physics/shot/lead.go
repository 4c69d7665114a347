package shot

import (
	"math"

	"pourwright/internal/ground/par"
)

// start puts the mould where the steady states of the two nearest rests lead,
// straight in ln(rest + cycle). Where there are no two near enough it stays as it is.
func (f *finder) start(rest float64) error {
	var a, b *trial
	far := func(t *trial) float64 { return math.Abs(t.rest - rest) }
	for _, t := range f.seen {
		if t.steady == nil || t.steady.Error > 5 {
			continue
		}
		if a == nil || far(t) < far(a) {
			a, b = t, a
		} else if b == nil || far(t) < far(b) {
			b = t
		}
	}
	if a == nil || b == nil {
		return nil
	}
	u := func(r float64) float64 { return math.Log(r + a.steady.Cycle - a.rest) }
	w := (u(rest) - u(a.rest)) / (u(b.rest) - u(a.rest))
	if !(w >= -1 && w <= 1) {
		return nil
	}
	x, y := a.steady.Field, b.steady.Field
	z := make([]float32, len(x))
	par.For(len(x), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			z[i] = x[i] + float32(w)*(y[i]-x[i])
		}
	})
	return f.m.SetSlow(z)
}

// lead returns the rest to which trials a and b lead, one of which may stand for
// both. The mean of the mould at which slack is 0 is taken from all trials, by
// inverse interpolation through the three whose slack is nearest to 0 on both
// sides, for each bound by itself. Rests go with it as in a lumped mould, which each shot raises by the
// same and which falls by its slowest mode:
//
//	over = rise q/(1 - q),  q = exp(-cycle/tau),  so  rest = tau ln(1 + rise/over) - rest of the cycle
//
// with tau and the constant such that a and b are met.
func (f *finder) lead(a, b *trial) float64 {
	air := f.seen[0].shot.Mould
	want := f.zero() - air
	oa, ob := a.shot.Mould-air, b.shot.Mould-air
	q := min(max(a.steady.Slow, 0.05), 0.98)
	rise := oa * (1 - q) / q
	if !(want > 0 && rise > 0 && oa > 0 && ob > 0) {
		return math.NaN()
	}
	u := func(over float64) float64 { return math.Log(1 + rise/over) }
	tau := -a.steady.Cycle / math.Log(q)
	if d := u(ob) - u(oa); a.rest != b.rest && (b.rest-a.rest)/d > 0 {
		tau = (b.rest - a.rest) / d
	}
	return a.rest + tau*(u(want)-u(oa))
}

// zero returns the mould's mean at which the slack of the tighter bound is 0.
func (f *finder) zero() float64 {
	cool := math.Inf(1)
	for _, by := range bounds {
		if t, ok := f.zeroOf(by); ok {
			cool = min(cool, t)
		}
	}
	return cool
}

// zeroOf is zero for one bound; ok is false where no line leads to it.
func (f *finder) zeroOf(by Bound) (mean float64, ok bool) {
	at := func(t *trial) float64 { return slacks(f.s, f.l, t.shot)[by] }
	var lo, hi, third *trial // slack below 0; 0 and more; the next best
	for _, t := range f.seen {
		if s := at(t); s < 0 {
			if lo == nil || s > at(lo) {
				lo = t
			}
		} else if hi == nil || s < at(hi) {
			hi = t
		}
	}
	if hi == nil {
		return 0, false
	}
	if lo == nil { // go on along the line through the two with the least slack
		for _, t := range f.seen {
			if t != hi && (third == nil || at(t) < at(third)) {
				third = t
			}
		}
		if third == nil || math.IsInf(at(hi), 0) || !((at(third)-at(hi))*(hi.shot.Mould-third.shot.Mould) > 0) {
			return 0, false
		}
		return hi.shot.Mould + (hi.shot.Mould-third.shot.Mould)*at(hi)/(at(third)-at(hi)), true
	}
	for _, t := range f.seen {
		if s := at(t); t != lo && t != hi && s > -20 && (third == nil || math.Abs(s) < math.Abs(at(third))) {
			third = t
		}
	}
	a, b := at(lo), at(hi)
	line := hi.shot.Mould + (lo.shot.Mould-hi.shot.Mould)*b/(b-a)
	if third == nil {
		return line, true
	}
	c := at(third)
	x := lo.shot.Mould*b*c/((a-b)*(a-c)) + hi.shot.Mould*a*c/((b-a)*(b-c)) + third.shot.Mould*a*b/((c-a)*(c-b))
	if (x-hi.shot.Mould)*(x-lo.shot.Mould) < 0 {
		return x, true
	}
	return line, true
}
