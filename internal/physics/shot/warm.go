package shot

import "math"

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
