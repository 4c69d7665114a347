package shot

import (
	"math"
	"sort"
)

// near is how much longer than the shortest a cycle may be.
const near = 1.03

// cycle returns the steady time from pour to pour of a trial, s; none where it does
// not settle or is never ready.
func cycle(t *trial) float64 {
	if t.shot.Ready == 0 || !t.steady.Closed {
		return math.Inf(1)
	}
	return t.steady.Cycle
}

// quickest finds the rest with the shortest cycle, or rather the longest rest whose
// cycle is nearly as short, and where that passes a limit the shortest rest that
// keeps them all: longer rests only make the cycle longer. Rests are tried until one
// lies between two that are worse; a parabola through the three leads to the rest
// that is taken.
func (f *finder) quickest(c *Choice, none, cold *trial, first float64) error {
	f.seen = append(f.seen[:0], cold, none)
	all := []*trial{none}
	best, err := f.valley(&all, first)
	if err != nil {
		return err
	}
	t := all[best]
	if math.IsInf(cycle(t), 1) {
		c.Why, c.Bound, c.Rest, c.Steady, c.Slack = TooLong, ByWait, t.rest, t.steady, t.slack
		return nil
	}
	if best+1 < len(all) {
		rest := f.within(edge(all, best), t.rest, all[best+1].rest)
		if rest != t.rest && rest != all[best+1].rest {
			u, err := f.at(rest)
			if err != nil {
				return err
			}
			all = append(all, u)
		}
		for _, u := range all {
			if u.rest > t.rest && cycle(u) <= near*cycle(all[best]) {
				t = u
			}
		}
	}
	c.Rest, c.Steady, c.Slack, c.Ready, c.Bound = t.rest, t.steady, t.slack, t.shot.Ready, ByPace
	if t.slack >= 0 {
		return nil
	}
	if err := f.choose(c, t, cold, 0); err != nil || c.Why != Found {
		return err
	}
	c.Ready = c.Steady.Shot.Ready
	return nil
}

// valley tries rests until the one with the shortest cycle has neighbours that are
// worse, sorted by rest; it returns its place. A rest of 0 has none below, the
// longest none above.
func (f *finder) valley(all *[]*trial, first float64) (int, error) {
	next := first
	if next == 0 {
		next = min(0.2*cycle((*all)[0]), 600)
	}
	for {
		t, err := f.at(f.within(next, f.l.Step, f.l.Longest))
		if err != nil {
			return 0, err
		}
		*all = append(*all, t)
		a := *all
		sort.Slice(a, func(i, j int) bool { return a[i].rest < a[j].rest })
		b := 0
		for i := range a {
			if cycle(a[i]) < cycle(a[b]) {
				b = i
			}
		}
		switch {
		case math.IsInf(cycle(a[b]), 1) || b == len(a)-1: // still falling, or never ready yet
			b = max(b, 0)
			last := a[len(a)-1]
			if last.rest >= f.l.Longest {
				return b, nil
			}
			next = 2 * last.rest
		case a[b+1].rest > 3*(a[b].rest+f.l.Step) && cycle(a[b+1]) > near*cycle(a[b]): // far above
			next = math.Sqrt((a[b].rest + f.l.Step) * a[b+1].rest)
		case b > 0 && cycle(a[b-1]) > 1.2*cycle(a[b]) && a[b].rest-a[b-1].rest > 2*f.l.Step: // far below
			next = (a[b-1].rest + a[b].rest) / 2
		default:
			return b, nil
		}
	}
}

// edge returns where the parabola through the best trial and its neighbours is as
// much above its lowest point as a cycle may be, beyond it. Without a neighbour
// below it is the line to the one above.
func edge(all []*trial, b int) float64 {
	t, u := all[b], all[b+1]
	x, y := u.rest-t.rest, cycle(u)-cycle(t)
	rise := (near - 1) * cycle(t)
	if b > 0 && !math.IsInf(cycle(all[b-1]), 1) {
		// y = p x + q x^2 through both neighbours
		v := all[b-1]
		xv, yv := v.rest-t.rest, cycle(v)-cycle(t)
		q := (y/x - yv/xv) / (x - xv)
		p := y/x - q*x
		if q > 0 {
			return t.rest - p/(2*q) + math.Sqrt(rise/q)
		}
	}
	if y <= rise {
		return u.rest
	}
	return t.rest + x*rise/y
}
