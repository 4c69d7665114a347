package batch

import (
	"sort"
	"strings"

	"pourwright/internal/book/plan"
)

// guess is one input that was not measured, with how to change it.
type guess struct {
	input     string
	used      float64
	low, high float64
	set       func(*Input, *settings, float64)
}

// listed is how many guesses are named at least where fewer would flip.
const listed = 5

// guesses lists the inputs that were not measured. flips says whether a value
// at either end of the range changes what the sheet must say. Those that flip
// come first; up to five in all, more where more flip.
func guesses(i Input, s settings, base *Sheet) []plan.Guess {
	want := signature(i, base)
	var flip, rest []plan.Guess
	for _, g := range candidates(i, s) {
		flips := false
		for _, x := range []float64{g.low, g.high} {
			j, t := i, s
			g.set(&j, &t, x)
			if signature(j, assess(j, t)) != want {
				flips = true
			}
		}
		p := plan.Guess{Input: g.input, Used: g.used, Range: [2]float64{g.low, g.high}, Flips: plan.Ptr(flips)}
		if flips {
			flip = append(flip, p)
		} else {
			rest = append(rest, p)
		}
	}
	if n := max(0, listed-len(flip)); len(rest) > n {
		rest = rest[:n]
	}
	return append(flip, rest...)
}

// candidates are the inputs that nobody measured, those that matter most
// first.
func candidates(i Input, s settings) []guess {
	var out []guess
	b := &i.Job.Bench
	add := func(missing bool, g guess) {
		if missing {
			out = append(out, g)
		}
	}
	r, a := &i.Rubber, &i.Alloy
	// the metal's temperature is no guess: the maker sets it by probe
	add(!r.Rating.Measured(), guess{"rubber rating, °C", r.Rating.X, r.Rating.Low, r.Rating.High,
		func(i *Input, _ *settings, x float64) { i.Rubber.Rating.X = x }})
	add(b.Mould == nil, guess{"mould when poured, °C", s.mould, 30, 93, func(_ *Input, s *settings, x float64) { s.mould = x }})
	add(!r.Conductivity.Measured(), guess{"rubber conductivity, W/mK", r.Conductivity.X, r.Conductivity.Low, r.Conductivity.High,
		func(i *Input, _ *settings, x float64) { i.Rubber.Conductivity.X = x }})
	add(!r.Density.Measured(), guess{"rubber density, kg/m3", r.Density.X, r.Density.Low, r.Density.High,
		func(i *Input, _ *settings, x float64) { i.Rubber.Density.X = x }})
	add(len(i.Ends) > 0 && !a.SurfaceTension.Measured(), guess{"surface tension, N/m", a.SurfaceTension.X, a.SurfaceTension.Low, a.SurfaceTension.High,
		func(i *Input, _ *settings, x float64) { i.Alloy.SurfaceTension.X = x }})
	add(!r.PotLife.Measured(), guess{"pot life at 23 °C, min", r.PotLife.X / 60, r.PotLife.Low / 60, r.PotLife.High / 60,
		func(i *Input, _ *settings, x float64) { i.Rubber.PotLife.X = x * 60 }})
	add(!r.Hardener.Measured(), guess{"part B for 100 g of part A, g", r.Hardener.X * 100, r.Hardener.Low * 100, r.Hardener.High * 100,
		func(i *Input, _ *settings, x float64) { i.Rubber.Hardener.X = x / 100 }})
	add(b.ScaleStep == nil, guess{"step of the scale, g", s.step, 0.01, 1, func(i *Input, s *settings, x float64) {
		if s.stepB == s.step {
			s.stepB = x
		}
		s.step = x
	}})
	add(b.Room == nil, guess{"room, °C", s.room, 15, 30, func(_ *Input, s *settings, x float64) { s.room = x }})
	add(b.Altitude == nil && b.PumpGauge != nil, guess{"altitude, m", s.altitude, 0, 1000, func(_ *Input, s *settings, x float64) { s.altitude = x }})
	add(s.pump && b.Pump == nil && b.PumpGauge == nil, guess{"pressure the pump reaches, mbar", s.end, 5, 100, func(_ *Input, s *settings, x float64) { s.end = x }})
	add(true, guess{"shots of one mould", s.life, s.life / 2, s.life * 1.5, func(_ *Input, s *settings, x float64) { s.life = x }})
	add(i.Job.Order.Reject == nil, guess{"castings that fail, share", s.reject, 0.05, 0.3, func(_ *Input, s *settings, x float64) { s.reject = x }})
	return out
}

// signature is what the sheet must say: every must by code, and which thin
// ends fill. Two sheets with the same signature give the same verdict.
func signature(i Input, s *Sheet) string {
	var words []string
	for _, f := range s.Findings {
		if f.Severity == plan.Must || f.Code == "too-hot" {
			words = append(words, f.Code+" "+f.Severity)
		}
	}
	sort.Strings(words)
	for _, e := range i.Ends {
		need := 2e6 * i.Alloy.SurfaceTension.X / (i.Alloy.DensityLiquid.X * 9.80665 * e.Thickness)
		if e.Pin {
			need *= 2
		}
		if e.Head > need {
			words = append(words, "fills")
		} else {
			words = append(words, "short")
		}
	}
	return strings.Join(words, "; ")
}
