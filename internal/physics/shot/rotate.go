package shot

import "math"

// Hands is the time one caster stands at one mould per shot, s. While metal
// freezes and rubber rests he may serve other moulds.
type Hands struct {
	Pour   float64 // fetch metal, pour, tap
	Open   float64 // open, take out, set to rest
	Powder float64 // powder, close, clamp
}

// Sum returns the time at the mould per shot.
func (h Hands) Sum() float64 { return h.Pour + h.Open + h.Powder }

// Rotation is n moulds served by one caster in turn.
type Rotation struct {
	Moulds  int
	Period  float64 // s from shot to shot
	PerHour float64 // shots
	Rest    float64 // s that each mould really rests: at least what was asked
	Idle    float64 // share of his time in which the caster waits
}

// Rotate returns the least period with which n moulds can be served, wait s with
// metal in and at least rest s empty. Each shot takes two stretches of work at a
// mould: powder, close and pour in one go, and opening. In a steady rotation of
// period p both must lie side by side in p, opening exactly wait after the pour,
// and every mould comes round after n p:
//
//	p >= P,  n p >= P + wait + rest,  k p <= wait <= (k + 1) p - P  for a whole k >= 0
//
// with P the work per shot and k the shots poured while a mould waits. A rest
// that comes out longer only leaves the rubber cooler.
func Rotate(n int, wait, rest float64, h Hands) Rotation {
	work := h.Sum()
	cycle := work + wait + rest
	best := math.Inf(1)
	for k := range n {
		p := max(work, max((wait+work)/float64(k+1), cycle/float64(n)))
		if float64(k)*p <= wait*(1+1e-12) && p < best {
			best = p
		}
	}
	r := Rotation{Moulds: n, Period: best, PerHour: 3600 / best, Rest: float64(n)*best - work - wait, Idle: 1 - work/best}
	if best == 0 || n < 1 {
		return Rotation{Moulds: n}
	}
	return r
}

// gain is the least share by which a further mould must raise the rate, of what
// one more mould could add at best.
const gain = 0.5

// Worth returns the rotations of 1, 2, ... moulds up to the last that is worth
// having: each further mould brings at least half of what the first one did. At
// most limit moulds.
func Worth(limit int, wait, rest float64, h Hands) []Rotation {
	var r []Rotation
	for n := 1; n <= max(1, limit); n++ {
		x := Rotate(n, wait, rest, h)
		if n > 1 && x.PerHour-r[n-2].PerHour < gain*r[0].PerHour {
			// One that gains nothing may stand between two that do.
			y := Rotate(n+1, wait, rest, h)
			if n+1 > limit || y.PerHour-r[n-2].PerHour < 2*gain*r[0].PerHour {
				break
			}
		}
		r = append(r, x)
	}
	return r
}
