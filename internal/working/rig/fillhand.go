package rig

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// Hand is one way in which the same pour may go: the same hand does not pour twice
// alike, and another one pours faster or less steadily.
type Hand struct {
	Name  string
	Share float64 // of the rate asked
	Sway  float64 // share by which the rate sways at most
	Seed  uint64  // of the sway
	Start float64 // s from the first drop to the full stream, smooth
}

// Hands are those of the ensemble, the plain one first. Shares and sways are ours:
// a caster keeps a rate within a third, common practice, no source.
var Hands = []Hand{
	{Name: "steady", Share: 1, Start: 0.1},
	{Name: "unsteady, first", Share: 1, Sway: 0.3, Seed: 1, Start: 0.1},
	{Name: "unsteady, second", Share: 1, Sway: 0.3, Seed: 2, Start: 0.1},
	{Name: "slow", Share: 0.67, Start: 0.1},
	{Name: "fast", Share: 1.5, Start: 0.1},
	{Name: "hesitant start", Share: 1, Start: 0.4},
	{Name: "sudden start", Share: 1, Start: 0.02},
}

// swayTones are the frequencies of a hand's sway, Hz: slow drift and the tremor of an
// arm that carries a load. Not multiples of each other, so that no pattern returns.
var swayTones = [4]float64{0.7, 1.6, 3.1, 5.3}

// sway is a smooth function of time within -1 .. 1 with mean 0: four tones of equal
// strength whose phases come from the seed.
func sway(seed uint64, t float64) float64 {
	s := 0.0
	for k, f := range swayTones {
		s += math.Sin(2*math.Pi*(f*t+phase(seed, uint64(k)))) / float64(len(swayTones))
	}
	return s
}

// phase is a number in 0 .. 1 that seed and k alone decide (splitmix64; Steele,
// Lea & Flood, OOPSLA 2014, from memory).
func phase(seed, k uint64) float64 {
	z := (seed*31 + k + 1) * 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64((z^z>>31)>>11) / (1 << 53)
}

// Stream is metal on its way from ladles into the cup. What has left the ladle is
// kept exactly: the sum of what Take gave is Poured, and no more than the
// charge leaves. mm3, s.
type Stream struct {
	Rate   float64 // mm3/s at the full stream
	Ladle  float64 // mm3 that one ladle gives
	Charge float64 // mm3 in all
	Pause  float64 // s between two ladles
	Hand   Hand

	Time   float64 // s since the first drop
	Since  float64 // s since this ladle's first drop; below 0 in a pause
	Poured float64 // mm3 that have left the ladles
	Held   float64 // mm3 left in this ladle
	Ladles int     // begun
}

// NewStream starts the first ladle. rate is that of the steady hand.
func NewStream(p *pour.Pouring, rate, charge float64, h Hand) *Stream {
	s := &Stream{Rate: rate * h.Share, Charge: charge, Ladle: charge, Pause: p.Pause, Hand: h, Ladles: 1}
	if p.Ladle != nil {
		s.Ladle = math.Min(*p.Ladle, charge)
	}
	s.Held = s.Ladle
	return s
}

// now is the rate a ladle gives at t after its first drop, mm3/s.
func (s *Stream) now(t float64) float64 {
	if t < 0 {
		return 0
	}
	r := s.Rate * (1 + s.Hand.Sway*sway(s.Hand.Seed+uint64(s.Ladles)<<32, t))
	if t < s.Hand.Start {
		x := t / s.Hand.Start
		r *= x * x * (3 - 2*x)
	}
	return r
}

// Now is what the ladle gives at this moment, mm3/s.
func (s *Stream) Now() float64 {
	if s.Done() {
		return 0
	}
	return s.now(s.Since)
}

// Done tells whether all has left the ladles.
func (s *Stream) Done() bool { return s.Poured >= s.Charge }

// Paused tells whether the caster reaches for the next ladle.
func (s *Stream) Paused() bool { return s.Since < 0 && !s.Done() }

// Until is the time to the next change that a step should not pass over: the end of a pause.
func (s *Stream) Until() float64 {
	if s.Paused() {
		return -s.Since
	}
	return math.Inf(1)
}

// Take lets dt pass and returns what left the ladle in it, mm3. The rate is integrated by two Gauss points,
// exact to third order; a pause that ends within dt is met exactly.
func (s *Stream) Take(dt float64) float64 {
	sum := 0.0
	for dt > 0 {
		step := math.Min(dt, s.Until())
		dt -= step
		s.Time += step
		if s.Done() {
			return sum
		}
		if s.Paused() {
			if s.Since += step; s.Since > -1e-12 {
				s.Since = 0
			}
			continue
		}
		const g = 0.2113248654051871 // (1 - 1/sqrt 3)/2
		v := step / 2 * (s.now(s.Since+g*step) + s.now(s.Since+(1-g)*step))
		s.Since += step
		rest := math.Min(s.Held, s.Charge-s.Poured)
		if v < rest {
			s.Held, s.Poured, sum = s.Held-v, s.Poured+v, sum+v
			continue
		}
		sum += rest
		if s.Poured += rest; s.Charge-s.Poured <= 1e-9*s.Charge {
			s.Poured, s.Held = s.Charge, 0
			continue
		}
		s.Ladles++
		s.Held, s.Since = math.Min(s.Ladle, s.Charge-s.Poured), -s.Pause
	}
	return sum
}

// Entry is what the opening of the cup is to the solver during one step.
type Entry struct {
	Full  bool    // the cup stands full: metal enters under Head, as much as goes
	Rate  float64 // mm3/s that come from the ladle while the cup is not full
	Speed float64 // mm/s at which the stream meets the rim, from its fall
	Head  float64 // mm of metal over the rim while the cup is full
}

// Cup is the open mouth under the ladle. While its surface is below the rim it takes
// what the ladle gives. From then on it is held full, so that the cavity takes what
// its heads let in, and what the ladle gives beyond it runs over.
type Cup struct {
	Height   float64 // mm from the lip to the rim
	Over     float64 // mm that metal stands over a full rim
	Full     bool
	Overflow float64 // mm3
	Falling  float64 // mm3 that left the ladle and are not in the cavity yet; below 0: taken ahead of the ladle
}

// Shares of its mouth covered by metal at which a cup begins and ceases to be full.
// Apart, so that a ripple does not switch it at every step; well under 1, since a stream
// given at its speed must never meet a cavity without a surface.
const (
	cupFull  = 0.85
	cupSpare = 0.60
)

// catchUp is the time in which metal under way comes in, s: what a solver's steps
// took more or less than the ladle gave is made good by then.
const catchUp = 0.005

// fall is g in mm/s2.
const fall = 9806.65

// Step says how the cup stands from now on; covered is the share of its mouth that
// metal covers, rate what the ladle gives now, mm3/s, and left what it still holds, mm3. A
// stream that ends thins out, so that steps of up to catchUp take no more than there is.
func (c *Cup) Step(covered, rate, left float64) Entry {
	switch {
	case rate <= 0 || covered < cupSpare:
		c.Full = false
	case covered >= cupFull:
		c.Full = true
	}
	return Entry{Full: c.Full, Rate: math.Max(0, math.Min(rate*catchUp, left)+c.Falling) / catchUp, Speed: math.Sqrt(2 * fall * c.Height), Head: c.Over}
}

// Settle books what was since the last call, mm3: the ladle gave offered, in went
// into the cavity through the cup and out came back. It returns what ran over. Only a
// full cup turns the stream away, and what comes back to it is taken again; what comes out
// of another one has splashed over its rim. A cavity that takes more than the ladle gives draws on what comes.
func (c *Cup) Settle(offered, in, out float64) float64 {
	c.Falling += offered - in
	over := out
	if c.Full {
		c.Falling += out
		over = math.Max(0, c.Falling)
		c.Falling -= over
	}
	c.Overflow += over
	return over
}

// Gravity is the direction of gravity in the block that leans by the given
// degrees towards +x and towards half 1 (+z); (0, -1, 0) where it stands.
func Gravity(tilt [2]float64) vec.V3 {
	const rad = math.Pi / 180
	return vec.V3{X: math.Tan(tilt[0] * rad), Y: -1, Z: math.Tan(tilt[1] * rad)}.Unit()
}

// Values of a hand that nobody told: common practice, no source.
const (
	handRate   = 40e3 // mm3/s that a hand pours at most
	discharge  = 0.6  // of a sharp-edged opening; textbook value
	lipHeight  = 50.0 // mm
	ladleShare = 0.8  // of what a ladle holds when full
)

// PouringOf returns how the mould is poured when only the bench is known: from 50 mm, at
// the rate of RateOf, ladles filled to four fifths. ladle is what one holds in g, nil where it is not
// known; density is that of the liquid, kg/m3.
func PouringOf(ladle *float64, density float64) pour.Pouring {
	p := pour.Pouring{Height: lipHeight, Pause: 2}
	if ladle != nil && *ladle > 0 && density > 0 {
		p.Ladle = plan.Ptr(ladleShare * *ladle / (density * 1e-6))
	}
	return p
}

// RateOf is the rate at which the steady hand pours, mm3/s: as given, else what the ingates take
// under the head of the block (Torricelli, C_d 0.6), at most 40 cm3/s.
func RateOf(p *pour.Pouring, b *plan.Block) float64 {
	if p.Rate != nil {
		return *p.Rate
	}
	area := 0.0
	for _, g := range b.Ingates {
		area += g.Area
	}
	r := discharge * area * math.Sqrt(2*fall*math.Max(0, headOf(b)))
	if !(r > 0) {
		return handRate
	}
	return math.Min(r, handRate)
}

// headOf is the mean drop from the block's upper edge to its ingates, weighted by
// their areas, mm.
func headOf(b *plan.Block) float64 {
	sum, area := 0.0, 0.0
	for _, g := range b.Ingates {
		sum += g.Area * (b.Size[1]/2 - g.At[1])
		area += g.Area
	}
	if area <= 0 {
		return 0
	}
	return sum / area
}
