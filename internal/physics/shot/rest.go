package shot

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
)

// Limits is what a rest must keep.
type Limits struct {
	Rating  float64 // degC, no point of the rubber hotter; 0 is not asked
	Longest float64 // s, longest rest to think of; 0 takes four hours
	Step    float64 // s, rests are whole multiples of it; 0 takes 10
	Within  float64 // K, of the steady states; 0 takes 0.5
}

func (l Limits) filled() Limits {
	if l.Longest == 0 {
		l.Longest = 4 * 3600
	}
	if l.Step == 0 {
		l.Step = 10
	}
	if l.Within == 0 {
		l.Within = 0.5
	}
	return l
}

func (l Limits) check() error {
	if !(l.Longest > 0 && l.Longest <= 1e7 && l.Step > 0 && l.Step <= l.Longest && l.Within > 0) || math.IsNaN(l.Rating) || math.IsInf(l.Rating, 0) {
		return fault.New(fault.Input, "rest", "give steps and the longest rest above zero", "rests up to %g s in steps of %g s within %g K, rating %g degC", l.Longest, l.Step, l.Within, l.Rating)
	}
	return nil
}

// Why a rest was not found.
type Why int

const (
	Found    Why = iota // a rest was found
	Burns               // even a wholly rested mould passes the rating
	NoFreeze            // even in a wholly rested mould the casting is not ready within the wait
	TooLong             // it would take more than Limits.Longest
)

func (w Why) String() string {
	return [...]string{"found", "passes the rating even in a rested mould", "not ready within the wait even in a rested mould",
		"rests longer than the longest"}[min(max(w, 0), TooLong)]
}

// Choice is one way to rest.
type Choice struct {
	How    How
	Why    Why
	Rest   float64 // s, where Why is Found
	Bound  Bound   // what holds the rest where it is
	Steady *Steady // at that rest; where Why is TooLong at the longest; nil for Burns and NoFreeze
	Rested Shot    // the shot in a mould that has rested for ever
	Slack  float64 // of the tighter limit at that rest, see Slack
	Slope  float64 // 1/s, by how much a second more raises Slack there, where known
	Played int     // shots computed for this choice
}

// Bound is what holds a rest where it is.
type Bound int

const (
	Nothing Bound = iota // no rest at all is needed
	ByRating
	ByWait
)

func (b Bound) String() string {
	return [...]string{"nothing", "the rubber's rating", "freezing within the wait"}[min(max(b, 0), ByWait)]
}

// Slack returns how far a shot is from its limits, 0 at a limit and below 0 past
// it: kelvin to the rating over 10, or seconds of the wait left over a tenth of
// it, whichever is less. For a casting that was not ready it is below 0 by the
// heat that must still leave.
func Slack(s Setting, l Limits, below float64, x Shot) (float64, Bound) {
	slack, by := math.Inf(1), Nothing
	if l.Rating > 0 {
		slack, by = (l.Rating-x.Peak)/10, ByRating
	}
	wait := s.Open.longest()
	left := (wait - x.Ready) / (0.1 * wait)
	if x.Ready == 0 {
		left = -(math.Max(x.OpenAt-below, 1)/20 + 5*x.Liquid)
	}
	if left < slack {
		slack, by = left, ByWait
	}
	return slack, by
}

// FindRest finds for each way to rest the shortest rest with which every shot of
// a long series keeps the limits: no rubber over its rating, every casting ready
// within the wait (Opening.Longest where Opening.Wait is 0). The mould warms from
// shot to shot up to the steady one, so that is the one that is held to the
// limits; the other end is a mould that has rested for ever. A series that begins warmer than the steady shot has its worst
// shot first: play it to see.
//
// The rests in question are bracketed and closed in on by the slack in the steady
// state (Illinois's rule in ln(cycle)), each steady state begun from the last one.
// On a grid of two to three times the cells a few seconds; Prove then tries the
// rest on the full grid.
func FindRest(ctx context.Context, m Mould, s Setting, hows []How, l Limits, watch Watch) ([]Choice, error) {
	l = l.filled()
	if err := l.check(); err != nil {
		return nil, err
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	f := finder{ctx: ctx, m: m, s: s, l: l, watch: watch, below: s.Open.Below(m.Solidus())}
	cold, err := f.cold()
	if err != nil {
		return nil, err
	}
	out := make([]Choice, len(hows))
	var none *trial // no rest at all is the same for all ways
	for i, how := range hows {
		c := &out[i]
		c.How, c.Rested = how, cold.shot
		if cold.slack < 0 {
			c.Why, c.Bound, c.Slack = NoFreeze, cold.by, cold.slack
			if cold.by == ByRating {
				c.Why = Burns
			}
			continue
		}
		f.s.How, f.played = how, 0
		if none == nil {
			if none, err = f.at(0); err != nil {
				return nil, err
			}
		} else if err = m.SetSlow(none.steady.Field); err != nil {
			return nil, err
		}
		if err := f.choose(c, none, cold); err != nil {
			return nil, err
		}
		c.Played = f.played
	}
	return out, nil
}

// finder carries what a search needs.
type finder struct {
	ctx    context.Context
	m      Mould
	s      Setting
	l      Limits
	watch  Watch
	below  float64
	played int
}

// trial is a rest that was tried.
type trial struct {
	rest   float64
	slack  float64
	by     Bound
	steady *Steady
	shot   Shot
}

// cold plays the shot of a mould that has rested for ever.
func (f *finder) cold() (*trial, error) {
	if err := f.m.SetSlow(f.m.Rested()); err != nil {
		return nil, err
	}
	s := f.s
	s.Shots = 1
	res, err := Play(f.ctx, f.m, s, f.watch)
	if err != nil {
		return nil, err
	}
	t := &trial{rest: math.Inf(1), shot: res.Shots[0]}
	t.slack, t.by = Slack(s, f.l, f.below, t.shot)
	return t, nil
}

// at finds the steady state of a rest, starting from the mould as it is.
func (f *finder) at(rest float64) (*trial, error) {
	s := f.s
	s.Rest = rest
	st, err := Settle(f.ctx, f.m, s, f.l.Within, f.watch)
	if err != nil {
		return nil, err
	}
	f.played += st.Shots
	t := &trial{rest: rest, steady: st, shot: st.Shot}
	t.slack, t.by = Slack(s, f.l, f.below, st.Shot)
	return t, nil
}

// choose closes in on the shortest rest between none and for ever.
func (f *finder) choose(c *Choice, none, cold *trial) error {
	take := func(t *trial) {
		c.Rest, c.Steady, c.Slack = t.rest, t.steady, t.slack
	}
	if none.slack >= 0 {
		take(none)
		c.Bound = Nothing
		return nil
	}
	lo, rest := none, f.guess(none, cold)
	var hi *trial
	for hi == nil {
		t, err := f.at(rest)
		if err != nil {
			return err
		}
		switch {
		case t.slack >= 0:
			hi = t
		case rest >= f.l.Longest:
			take(t)
			c.Why, c.Bound = TooLong, t.by
			return nil
		default:
			lo = t
			rest = math.Min(f.l.Longest, f.round(2*rest+60))
		}
	}
	lo, hi, err := f.close(lo, hi)
	if err != nil {
		return err
	}
	take(hi)
	c.Bound = lo.by
	if hi.rest > lo.rest {
		c.Slope = (hi.slack - lo.slack) / (hi.rest - lo.rest)
	}
	return nil
}

// close narrows the bracket until it is one step or 3 % of the rest wide.
func (f *finder) close(lo, hi *trial) (*trial, *trial, error) {
	same := 0 // times the same end has moved
	wl, wh := lo.slack, hi.slack
	for hi.rest-lo.rest > math.Max(f.l.Step*1.001, 0.03*hi.rest) {
		c := lo.steady.Cycle - lo.rest
		a, b := math.Log(lo.rest+c), math.Log(hi.rest+c)
		x := math.Exp((a*wh-b*wl)/(wh-wl)) - c
		w := 0.1 * (hi.rest - lo.rest)
		x = f.round(math.Min(math.Max(x, lo.rest+w), hi.rest-w))
		if x <= lo.rest || x >= hi.rest {
			x = f.round((lo.rest + hi.rest) / 2)
		}
		if x <= lo.rest || x >= hi.rest {
			break
		}
		t, err := f.at(x)
		if err != nil {
			return nil, nil, err
		}
		if t.slack >= 0 {
			hi, wh = t, t.slack
			if same = max(same, 0) + 1; same > 1 {
				wl /= 2
			}
		} else {
			lo, wl = t, t.slack
			if same = min(same, 0) - 1; same < -1 {
				wh /= 2
			}
		}
	}
	return lo, hi, nil
}

// round returns the next multiple of the step, at least one step.
func (f *finder) round(rest float64) float64 {
	return math.Max(1, math.Ceil(rest/f.l.Step-1e-9)) * f.l.Step
}

// guess returns the rest of a lumped mould: its mean over the air's temperature
// falls by the slowest mode, each shot raises it by the same, and slack falls
// straight with it from the cold mould's to that without a rest.
//
//	over = rise q/(1 - q),  q = exp(-cycle/tau)
func (f *finder) guess(none, cold *trial) float64 {
	q := math.Min(math.Max(none.steady.Slow, 0.05), 0.98)
	tau := -none.steady.Cycle / math.Log(q)
	over := none.shot.Mould - cold.shot.Mould
	rise := over * (1 - q) / q
	want := over * cold.slack / (cold.slack - none.slack)
	if !(want > 0 && rise > 0) {
		return f.round(600)
	}
	rest := tau*math.Log(1+rise/want) - none.steady.Cycle
	return math.Min(f.l.Longest, f.round(math.Max(rest, 30)))
}

// Prove tries a rest that was found on coarser cells: it settles the mould at that
// rest from the state given (the coarse one carried over, see Carry) and, where a
// limit is passed, lengthens the rest by what the slope asks and settles again, up
// to five times. Where there is room for a shorter rest it is not looked for: the
// coarse rest stands. The choice that comes back is that of the fine mould.
func Prove(ctx context.Context, m Mould, start []float32, c Choice, s Setting, l Limits, watch Watch) (Choice, error) {
	l = l.filled()
	if err := l.check(); err != nil {
		return Choice{}, err
	}
	if c.Why != Found {
		return Choice{}, fault.New(fault.Input, "rest", "prove only a rest that was found", "there is no rest to prove: %v", c.Why)
	}
	s.How = c.How
	f := finder{ctx: ctx, m: m, s: s, l: l, watch: watch, below: s.Open.Below(m.Solidus())}
	if err := m.SetSlow(start); err != nil {
		return Choice{}, err
	}
	rest, slope := c.Rest, c.Slope
	var last *trial
	for range 6 {
		t, err := f.at(rest)
		if err != nil {
			return Choice{}, err
		}
		c.Rest, c.Steady, c.Slack, c.Played, c.Why = rest, t.steady, t.slack, f.played, Found
		if t.slack >= 0 {
			return c, nil
		}
		c.Bound, c.Why = t.by, TooLong
		if rest >= l.Longest {
			return c, nil
		}
		if last != nil && t.slack > last.slack {
			slope = (t.slack - last.slack) / (rest - last.rest)
		}
		more := 0.1*rest + l.Step
		if slope > 0 {
			more = math.Min(-1.2*t.slack/slope, rest+600)
		}
		last, rest = t, math.Min(l.Longest, f.round(rest+math.Max(more, l.Step)))
	}
	return c, nil
}
