package shot

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
)

// proofs is the most rests that Prove tries.
const proofs = 7

// Prove takes a rest that was found on coarser cells to a finer mould. It settles
// the mould at that rest from the state given (the coarse one carried over, see
// Carry), and then goes by the slope of the slack to the shortest rest that the
// fine mould stands: usually two or three rests of three shots each, since the
// steady state is nearly there. Coarse cells read the rubber's face a few kelvin
// off, which moves a rest that the rating holds by a third and more; so without a
// proof a coarse rest is a guess. The choice that comes back is that of the fine
// mould; Rested is still that of the coarse one. Where seven rests do not do, it
// is the shortest that stood, or TooLong.
func Prove(ctx context.Context, m Mould, start []float32, c Choice, s Setting, l Limits, watch Watch) (Choice, error) {
	l = l.filled()
	if err := l.check(); err != nil {
		return Choice{}, err
	}
	if c.Why != Found {
		return Choice{}, fault.New(fault.Input, "rest", "prove only a rest that was found", "there is no rest to prove: %v", c.Why)
	}
	s.How = c.How
	f := finder{ctx: ctx, m: m, s: patient(s), l: l, watch: watch}
	if c.Steady != nil {
		f.tau = c.Steady.Tau
	}
	if err := m.SetSlow(start); err != nil {
		return Choice{}, err
	}
	lo, hi, err := f.prove(c.Rest, c.Slope)
	if err != nil {
		return Choice{}, err
	}
	c.Played, c.Bound = f.played, Nothing
	t := hi
	if hi == nil {
		t, c.Why = lo, TooLong
	}
	if lo != nil {
		c.Bound = lo.by
	} else if hi.rest > 0 {
		c.Bound = hi.by
	}
	c.Rest, c.Steady, c.Slack = t.rest, t.steady, t.slack
	if lo != nil && hi != nil {
		c.Slope = (hi.slack - lo.slack) / (hi.rest - lo.rest)
	}
	return c, nil
}

// prove returns the longest rest that did not stand and the shortest that did;
// either may be nil.
func (f *finder) prove(rest, slope float64) (lo, hi *trial, err error) {
	var last *trial
	for range proofs {
		t, err := f.at(rest)
		if err != nil {
			return nil, nil, err
		}
		if t.slack >= 0 {
			hi = t
		} else {
			lo = t
		}
		if last != nil && (t.slack-last.slack)/(t.rest-last.rest) > 0 {
			slope = (t.slack - last.slack) / (t.rest - last.rest)
		}
		last = t
		tol := math.Max(f.l.Step, 0.03*rest) * 1.001
		x := rest - t.slack/slope // where slack is 0
		if !(slope > 0) {
			x = rest*0.7 - f.l.Step
			if t.slack < 0 {
				x = rest*1.4 + f.l.Step
			}
		}
		if hi != nil && (hi.rest == 0 || hi == t && hi.rest-x <= tol || lo != nil && hi.rest-lo.rest <= tol) || hi == nil && rest >= f.l.Longest {
			break
		}
		// Not further than the slope may be trusted, and inside what is known.
		x = math.Min(math.Max(x+0.4*tol, rest/3-f.l.Step), 2*rest+600)
		low, high := 0.0, f.l.Longest
		if lo != nil {
			low = lo.rest + f.l.Step
		}
		if hi != nil {
			high = hi.rest - f.l.Step
		}
		rest = f.within(x, low, high)
	}
	return lo, hi, nil
}
