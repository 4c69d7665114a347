package shot

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
)

// RestOf finds the shortest rest of each way on a coarse mould and proves it on a
// fine one of the same block. A shot in a rested mould on both shows how far the
// coarse cells are off: the rating is moved by the difference of its peaks, the
// wait by the ratio of its times, so that the coarse mould is held to what stands
// for the limits there. Whether a rested mould keeps the limits at all is judged
// on the fine cells, and all that comes back is theirs. Coarse cells of two to
// three times the size make a search of fifty shots cost as much as one to three
// fine ones.
func RestOf(ctx context.Context, coarse, fine *Run, s Setting, hows []How, l Limits, watch Watch) ([]Choice, error) {
	rough := l.filled()
	if err := rough.check(); err != nil {
		return nil, err
	}
	q := newSearch(watch, l.Memory)
	f := newFinder(ctx, fine, s, rough, q)
	there, err := f.cold()
	if err != nil {
		return nil, err
	}
	f.asked(there)
	rough.Ready = f.l.Ready
	out := make([]Choice, len(hows))
	if there.slack < 0 {
		for i, how := range hows {
			out[i] = never(how, there)
		}
		return out, nil
	}
	f.m = coarse
	here, err := f.cold()
	if err != nil {
		return nil, err
	}
	if l.Rating > 0 {
		rough.Rating += here.shot.Peak - there.shot.Peak
	}
	slow, r := s, here.shot.Ready/there.shot.Ready
	if !(r > 0) {
		r = 1
	}
	slow.Open.Wait, slow.Open.Longest, rough.Ready = s.Open.Wait*r, s.Open.Longest*r, rough.Ready*r
	if l.Ready == Quickest {
		rough.Ready = Quickest
	}
	found, err := findRest(ctx, coarse, slow, hows, rough, q)
	if err != nil {
		return nil, err
	}
	for i, c := range found {
		out[i] = c
		out[i].Rested, out[i].Ready = there.shot, c.Ready/r
		if c.Why != Found {
			continue
		}
		x, err := Carry(c.Steady.Field, coarse, fine)
		if err != nil {
			return nil, err
		}
		if out[i], err = proveRest(ctx, fine, x, out[i], s, l, q); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// proofs is the most rests that Prove tries.
const proofs = 7

// Prove takes a rest that was found on coarser cells to a finer mould. It settles
// the mould at that rest from the state given (the coarse one carried over, see
// Carry), and then goes by the slack to the shortest rest that the fine mould
// stands, castings ready by Choice.Ready, taking Choice.Rested for a cold mould: usually one to three rests of one
// to five shots each, since the steady state is nearly there. Coarse cells read the
// rubber's face a few kelvin off, which moves a rest that the rating holds by a
// third and more; so without a proof a coarse rest is a guess.
//
// The choice that comes back is that of the fine mould, Rested as it was. Where
// seven rests do not do, it is the shortest that stood, or TooLong. The rest is
// right within a step and 5 %, the steady state within Limits.Within, 0.5 K where
// that is 0.
func Prove(ctx context.Context, m Mould, start []float32, c Choice, s Setting, l Limits, watch Watch) (Choice, error) {
	return proveRest(ctx, m, start, c, s, l, newSearch(watch, l.Memory))
}

func proveRest(ctx context.Context, m Mould, start []float32, c Choice, s Setting, l Limits, q *search) (Choice, error) {
	if c.Why != Found {
		return Choice{}, fault.New(fault.Input, "rest", "prove only a rest that was found", "there is no rest to prove: %v", c.Why)
	}
	s.How = c.How
	if l.Within == 0 {
		l.Within = 0.5
	}
	l = l.filled()
	if c.Ready > 0 {
		l.Ready = c.Ready
	}
	if err := l.check(); err != nil {
		return Choice{}, err
	}
	f := newFinder(ctx, m, s, l, q)
	if c.Steady != nil {
		f.tau = c.Steady.Tau
	}
	if err := m.SetSlow(start); err != nil {
		return Choice{}, err
	}
	cold := f.judge(math.Inf(1), c.Rested)
	f.asked(cold)
	f.seen = []*trial{cold}
	lo, hi, err := f.prove(c.Rest)
	if err != nil {
		return Choice{}, err
	}
	paced := c.Bound == ByPace
	c.Played, c.Bound = f.played, Nothing
	t := hi
	if hi == nil {
		t, c.Why = lo, TooLong
	}
	if t.rest > 0 {
		c.Bound = t.by
	}
	if paced && t.by == ByWait {
		c.Bound = ByPace
	}
	c.Rest, c.Steady, c.Slack = t.rest, t.steady, t.slack
	return c, nil
}

// prove returns the longest rest that did not stand and the shortest that did;
// either may be nil.
func (f *finder) prove(rest float64) (lo, hi *trial, err error) {
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
		if last == nil {
			last = t
		}
		x := f.lead(last, t)
		if lo != nil && hi != nil {
			x = f.lead(lo, hi)
		}
		last = t
		tol := f.l.Step + 0.05*rest
		if hi != nil && (hi.rest == 0 || hi == t && hi.rest-x <= tol || lo != nil && hi.rest-lo.rest <= tol) || hi == nil && rest >= f.l.Longest {
			break
		}
		if x-x != 0 {
			x = 0.7 * rest
			if t.slack < 0 {
				x = 1.4*rest + f.l.Step
			}
		}
		// Not further than it may be trusted, and inside what is known.
		x = min(max(x+0.5*tol, rest/3-f.l.Step), 2*rest+600)
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
