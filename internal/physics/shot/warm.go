package shot

import (
	"context"
	"math"
)

// WarmUp returns how many shots pass before castings are alike: from the next on
// all times to solid and all opening temperatures (degC) lie within share of the
// steady shot's. ok is false where the last shot is not alike yet, or the steady
// one does not freeze; n then counts all shots.
func WarmUp(shots []Shot, steady Shot, share float64) (n int, ok bool) {
	near := func(x, y float64) bool { return math.Abs(x-y) <= share*math.Abs(y) }
	n = len(shots)
	if steady.Solid == 0 {
		return n, false
	}
	for n > 0 && shots[n-1].Solid > 0 && near(shots[n-1].Solid, steady.Solid) && near(shots[n-1].OpenAt, steady.OpenAt) {
		n--
	}
	return n, n < len(shots)
}

// Warm plays the series of a choice from a state as of Slow until the castings are
// alike within share, at most so many shots, and returns how many were not. The
// setting's own How, Rest and Shots are not used.
func Warm(ctx context.Context, m Mould, start []float32, c Choice, s Setting, share float64, most int, watch Watch) (n int, ok bool, err error) {
	if err := m.SetSlow(start); err != nil {
		return 0, false, err
	}
	if c.Steady == nil {
		return 0, false, nil
	}
	s.How, s.Rest = c.How, c.Rest
	q := newSearch(watch, nil)
	for n = range most {
		x, err := q.play(ctx, m, s)
		if err != nil {
			return 0, false, err
		}
		if _, ok := WarmUp([]Shot{x}, c.Steady.Shot, share); ok {
			return n, true, nil
		}
	}
	return most, false, nil
}
