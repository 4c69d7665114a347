package shot

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
)

// Limits is what a rest must keep.
type Limits struct {
	Rating  float64 // degC, no point of the rubber hotter; 0 is not asked
	Mould   float64 // degC, mean of the rubber before a pour; 0 is not asked
	Ready   float64 // s, every casting ready by then; 0 takes Opening.Wait or Longest, where both are 0 half as long again as in a rested mould; or Quickest
	Longest float64 // s, longest rest to think of; 0 takes four hours
	Step    float64 // s, rests are whole multiples of it; 0 takes 10
	Within  float64 // K, of the steady states; 0 takes 0.2

	Memory *Memory // shots of a search that was stopped, and those of this one; nil remembers nothing
}

// Quickest as Limits.Ready asks for no time: among rests whose cycle is within 3 %
// of the shortest there is, the longest is taken. A warm mould holds castings
// longer but needs less rest; the cycle is flat at its shortest, and the cooler
// mould gives the better castings.
const Quickest = -1

func (l Limits) filled() Limits {
	if l.Longest == 0 {
		l.Longest = 4 * 3600
	}
	if l.Step == 0 {
		l.Step = 10
	}
	if l.Within == 0 {
		l.Within = 0.2
	}
	return l
}

func (l Limits) check() error {
	if !(l.Longest > 0 && l.Longest <= 1e7 && l.Step > 0 && l.Step <= l.Longest && l.Within > 0) || !(l.Ready >= 0 && l.Ready <= 1e7 || l.Ready == Quickest) || math.IsNaN(l.Rating+l.Mould) || math.IsInf(l.Rating+l.Mould, 0) {
		return fault.New(fault.Input, "rest", "give steps and the longest rest above zero", "rests up to %g s in steps of %g s within %g K, rating %g degC, ready after %g s", l.Longest, l.Step, l.Within, l.Rating, l.Ready)
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
	Ready  float64 // s, by which castings were asked to be ready; the steady one's own time where that was Quickest
	Bound  Bound   // what holds the rest where it is
	Steady *Steady // at that rest; where Why is TooLong at the longest; nil for Burns and NoFreeze
	Rested Shot    // the shot in a mould that has rested for ever
	Slack  float64 // of the tighter limit at that rest, see Slack
	Played int     // shots computed for this choice
}

// Bound is what holds a rest where it is.
type Bound int

const (
	Nothing Bound = iota // no rest at all is needed
	ByRating
	ByWait
	ByMould
	ByPace
)

func (b Bound) String() string {
	return [...]string{"nothing", "the rubber's rating", "freezing within the wait", "the mould's temperature", "the pace"}[min(max(b, 0), ByPace)]
}

// Slack returns how far a shot is from its limits, 0 at a limit and below 0 past
// it: kelvin to the rating or to the mould's temperature over 10, or seconds of the
// wait left over a tenth of it, whichever is least. -20 and below is a casting that
// was not ready at all.
func Slack(s Setting, l Limits, x Shot) (float64, Bound) {
	v := slacks(s, l, x)
	by := ByWait
	for _, b := range bounds {
		if v[b] < v[by] {
			by = b
		}
	}
	return v[by], by
}

// bounds are those that have a slack.
var bounds = []Bound{ByRating, ByWait, ByMould}

// slacks returns the slack of each bound.
func slacks(s Setting, l Limits, x Shot) (v [ByPace]float64) {
	v[Nothing], v[ByRating], v[ByMould] = math.Inf(1), math.Inf(1), math.Inf(1)
	if l.Rating != 0 {
		v[ByRating] = (l.Rating - x.Peak) / 10
	}
	if l.Mould != 0 {
		v[ByMould] = (l.Mould - x.Mould) / 10
	}
	asked := l.Ready
	if asked <= 0 {
		asked = s.Open.asked()
	}
	v[ByWait] = (asked - x.Ready) / (0.1 * asked)
	if x.Ready == 0 {
		v[ByWait] = -20 - 5*x.Liquid
	}
	return v
}

// FindRest finds for each way to rest the shortest rest with which every shot of a
// long series keeps the limits: no rubber over its rating, every casting ready in
// time (or, with Quickest, the rest that makes shots follow each other soonest).
//
// The mould warms from shot to shot up to the steady one, so that is the shot that
// is held to the limits; a mould that does not settle in forty shots does not keep
// them. A series that begins warmer has its worst shot first: play it to see.
// Castings that are not ready are left in up to three times as long during the
// search, so that it can see by how much.
//
// The rests in question are bracketed and closed in on by the slack in the steady
// state, each of which begins where the last two lead (lead.go). On cells of two to
// three times the size a few seconds; Prove then tries the rest on the full grid,
// RestOf does both.
func FindRest(ctx context.Context, m Mould, s Setting, hows []How, l Limits, watch Watch) ([]Choice, error) {
	return findRest(ctx, m, s, hows, l, newSearch(watch, l.Memory))
}

func findRest(ctx context.Context, m Mould, s Setting, hows []How, l Limits, q *search) ([]Choice, error) {
	l = l.filled()
	if err := l.check(); err != nil {
		return nil, err
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	f := newFinder(ctx, m, s, l, q)
	cold, err := f.cold()
	if err != nil {
		return nil, err
	}
	f.asked(cold)
	out := make([]Choice, len(hows))
	first := 0.0
	var none *trial // no rest at all is the same for all ways
	for i, how := range hows {
		c := &out[i]
		if cold.slack < 0 {
			*c = never(how, cold)
			continue
		}
		c.How, c.Rested = how, cold.shot
		f.s.How, f.played = how, 0
		if none == nil {
			if none, err = f.at(0); err != nil {
				return nil, err
			}
		} else if err = m.SetSlow(none.steady.Field); err != nil {
			return nil, err
		}
		pick := f.choose
		if l.Ready == Quickest {
			pick = f.quickest
		}
		if err := pick(c, none, cold, first); err != nil {
			return nil, err
		}
		if c.Played = f.played; c.Why == Found {
			first = f.within(0.6*c.Rest, f.l.Step, f.l.Longest) // ways come from the least to the most trouble
		}
	}
	return out, nil
}

// never is the choice where even a rested mould passes a limit.
func never(how How, cold *trial) Choice {
	c := Choice{How: how, Why: NoFreeze, Bound: cold.by, Slack: cold.slack, Rested: cold.shot}
	switch cold.by {
	case ByRating:
		c.Why = Burns
	case ByMould: // the air is warmer than the mould may be
		c.Why = TooLong
	}
	return c
}

// later is by how much later than in a rested mould a casting may be ready where
// nothing else is asked.
const later = 1.5

// newFinder makes a finder, which asks castings to be ready when limits and opening
// say, and leaves them in for three times as long. Where the quickest is wanted they
// may take as long as they are left in.
func newFinder(ctx context.Context, m Mould, s Setting, l Limits, q *search) finder {
	f := finder{ctx: ctx, m: m, s: s, l: l, search: q}
	if l.Ready == Quickest {
		f.exact = true
		f.l.Ready = s.Open.longest()
		return f
	}
	for _, asked := range []float64{s.Open.Wait, s.Open.Longest} {
		if f.l.Ready == 0 {
			f.l.Ready = asked
		}
	}
	f.patient()
	return f
}

func (f *finder) patient() {
	if f.l.Ready > 0 {
		f.s.Open.Longest = max(f.s.Open.longest(), 3*f.l.Ready)
	}
}

// finder carries what a search needs.
type finder struct {
	ctx    context.Context
	m      Mould
	s      Setting
	l      Limits
	search *search
	tau    float64  // s, of the slowest mode without a rest
	seen   []*trial // of this way: the mould that rested for ever, then the others
	played int
	exact  bool // no rough steady states
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
	x, err := f.search.play(f.ctx, f.m, f.s)
	if err != nil {
		return nil, err
	}
	return f.judge(math.Inf(1), x), nil
}

// asked sets what castings are asked to take where nothing was said.
func (f *finder) asked(cold *trial) {
	if f.l.Ready == 0 && cold.shot.Ready > 0 {
		f.l.Ready = later * cold.shot.Ready
		f.patient()
		cold.slack, cold.by = Slack(f.s, f.l, cold.shot)
	}
}

// judge makes a trial of a shot.
func (f *finder) judge(rest float64, x Shot) *trial {
	t := &trial{rest: rest, shot: x}
	t.slack, t.by = Slack(f.s, f.l, x)
	return t
}

// at finds the steady state of a rest, starting from the mould as it is. Far from
// the limits a rough one does: a kelvin for each unit of slack, at most five.
func (f *finder) at(rest float64) (*trial, error) {
	s := f.s
	s.Rest = rest
	loose := func(x Shot) float64 {
		slack, _ := Slack(s, f.l, x)
		return min(5, math.Abs(slack))
	}
	if f.exact {
		loose = nil
	}
	if err := f.start(rest); err != nil {
		return nil, err
	}
	st, err := settle(f.ctx, f.m, s, f.l.Within, f.tau, loose, f.search)
	if err != nil {
		return nil, err
	}
	f.played += st.Shots
	if st.Shots > 3 {
		f.tau = st.Tau
	}
	t := f.judge(rest, st.Shot)
	t.steady = st
	if !st.Closed && t.slack >= 0 {
		t.slack = -1 // a mould that does not settle goes on warming: it may pass its limits yet
	}
	f.seen = append(f.seen, t)
	return t, nil
}

// choose closes in on the shortest rest between none and for ever. first is the
// rest to try first, 0 for the guess of a lumped mould.
func (f *finder) choose(c *Choice, none, cold *trial, first float64) error {
	take := func(t *trial) {
		c.Rest, c.Steady, c.Slack, c.Ready = t.rest, t.steady, t.slack, f.l.Ready
	}
	if none.slack >= 0 {
		take(none)
		c.Bound = Nothing
		return nil
	}
	f.seen = append(f.seen[:0], cold, none)
	lo, rest := none, first
	if rest == 0 {
		rest = f.within(f.lead(none, none), f.l.Step, f.l.Longest)
	}
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
			next := min(max(1.1*f.lead(lo, t), 1.3*rest), 4*rest)
			lo, rest = t, f.within(next, t.rest+f.l.Step, f.l.Longest)
		}
	}
	_, hi, err := f.close(lo, hi)
	if err != nil {
		return err
	}
	take(hi)
	c.Bound = hi.by
	return nil
}

// close narrows a bracket until it is a step or 3 % of the rest wide, or the
// rest to which the trials lead is that close under its longer end.
func (f *finder) close(lo, hi *trial) (*trial, *trial, error) {
	slow := 0 // trials since the bracket last shrank to half
	mark := hi.rest - lo.rest
	for {
		tol := max(f.l.Step, 0.03*hi.rest) * 1.001
		x := f.lead(lo, hi)
		if hi.rest-lo.rest <= tol || x > lo.rest && x < hi.rest && hi.rest-x <= tol && hi.rest < 2*lo.rest {
			return lo, hi, nil
		}
		if slow > 2 || !(x > lo.rest && x < hi.rest) {
			x = math.Sqrt((lo.rest+30)*(hi.rest+30)) - 30
		} else {
			x += 0.4 * max(f.l.Step, 0.03*x) // rather a little too long: that side is to be met
		}
		t, err := f.at(f.within(x, lo.rest+f.l.Step, hi.rest-f.l.Step))
		if err != nil {
			return nil, nil, err
		}
		if t.slack >= 0 {
			hi = t
		} else {
			lo = t
		}
		if slow++; hi.rest-lo.rest <= 0.5*mark {
			slow, mark = 0, hi.rest-lo.rest
		}
	}
}

// within returns x as a multiple of the step between lo and hi; lo where x is no
// number.
func (f *finder) within(x, lo, hi float64) float64 {
	if !(x > lo) {
		x = lo
	}
	return min(hi, math.Ceil(x/f.l.Step-1e-9)*f.l.Step)
}
