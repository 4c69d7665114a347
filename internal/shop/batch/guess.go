package batch

import (
	"math"
	"sort"
	"strings"

	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
)

// guess is one input that was not measured, with how to change it.
type guess struct {
	input     string
	used      float64
	low, high float64
	set       func(*Input, *settings, float64)
	early     bool // it counts where nothing is laid out, too
}

// guesses lists the inputs that were not measured. flips says whether a value
// at either end of the range gives the plan another verdict, for the mould as
// it is laid out: what is set at the bench, as the heat of the metal, is set
// anew. Those that flip come first, then those that matter most.
func guesses(i Input, s settings) []plan.Guess {
	return judged(i, s, candidates(i, s), func(j Input, t settings) []plan.Finding { return assess(j, t).Findings })
}

// Early lists the guesses of a master of which no mould can be laid out: those
// that the split and the sections hang on. The input needs no volumes.
func Early(i Input) []plan.Guess {
	s := settingsOf(&i)
	var list []guess
	for _, g := range candidates(i, s) {
		if g.early {
			list = append(list, g)
		}
	}
	return judged(i, s, list, func(Input, settings) []plan.Finding { return nil })
}

func judged(i Input, s settings, list []guess, sheet func(Input, settings) []plan.Finding) []plan.Guess {
	verdict := i.Verdict
	if verdict == nil {
		verdict = musts
	}
	want := verdict(&i, sheet(i, s))
	var flip, rest []plan.Guess
	for _, g := range list {
		flips := false
		for _, x := range []float64{g.low, g.high} {
			j, t := i, s
			g.set(&j, &t, x)
			flips = flips || verdict(&j, sheet(j, t)) != want
		}
		p := plan.Guess{Input: g.input, Used: g.used, Range: [2]float64{g.low, g.high}, Flips: plan.Ptr(flips)}
		if flips {
			flip = append(flip, p)
		} else {
			rest = append(rest, p)
		}
	}
	return append(flip, rest...)
}

// What a scan may miss of a thin section: scans thicken thin parts and miss the
// scale by up to 3 % (practice); 0.2 mm is an own figure.
const (
	scanThick = 0.2
	scanScale = 0.03
)

// HumidityUsual is the relative humidity of a room of which nothing is known,
// percent.
const HumidityUsual = 50.0

// candidates are the inputs that nobody measured, those that matter most
// first. The metal's temperature is no guess: the maker sets it by probe.
func candidates(i Input, s settings) []guess {
	var out []guess
	add := func(missing bool, g guess) {
		if missing {
			out = append(out, g)
		}
	}
	value := func(name string, v material.Value, k float64, early bool, of func(*Input) *material.Value) {
		add(!v.Measured(), guess{name, v.X * k, v.Low * k, v.High * k, func(i *Input, _ *settings, x float64) { of(i).X = x / k }, early})
	}
	r, b, t := &i.Rubber, &i.Job.Bench, i.Thinnest
	value("rubber rating, °C", r.Rating, 1, false, func(i *Input) *material.Value { return &i.Rubber.Rating })
	add(i.Scanned && t > 0, guess{"thinnest section of the scan, mm", t, math.Max(t*(1-scanScale)-scanThick, t/2), t * (1 + scanScale),
		func(i *Input, _ *settings, x float64) { i.Thinnest = x }, true})
	value("rubber hardness, Shore A", r.Shore, 1, true, func(i *Input) *material.Value { return &i.Rubber.Shore })
	if len(i.Ends) > 0 {
		value("surface tension, N/m", i.Alloy.SurfaceTension, 1, false, func(i *Input) *material.Value { return &i.Alloy.SurfaceTension })
		add(true, guess{"contact angle at thin ends, °", i.Contact, ContactLow, 180, func(i *Input, _ *settings, x float64) { i.Contact = x }, false})
	}
	value("rubber conductivity, W/mK", r.Conductivity, 1, false, func(i *Input) *material.Value { return &i.Rubber.Conductivity })
	add(b.Mould == nil, guess{"mould when poured, °C", s.mould, 30, 93, func(_ *Input, s *settings, x float64) { s.mould = x }, false})
	add(len(i.Ends) > 0, guess{"contact angle at vents and parting, °", i.Gap, ContactLow, 180, func(i *Input, _ *settings, x float64) { i.Gap = x }, false})
	value("rubber stretch at break, %", r.Elongation, 100, true, func(i *Input) *material.Value { return &i.Rubber.Elongation })
	value("pot life at 23 °C, min", r.PotLife, 1./60, false, func(i *Input) *material.Value { return &i.Rubber.PotLife })
	value("rubber density, kg/m3", r.Density, 1, false, func(i *Input) *material.Value { return &i.Rubber.Density })
	value("part B for 100 g of part A, g", r.Hardener, 100, false, func(i *Input) *material.Value { return &i.Rubber.Hardener })
	return append(out, benchGuesses(i, s)...)
}

// benchGuesses are the guesses about bench and order.
func benchGuesses(i Input, s settings) []guess {
	var out []guess
	b := &i.Job.Bench
	add := func(missing bool, name string, used, low, high float64, set func(*settings, float64)) {
		if missing {
			out = append(out, guess{name, used, low, high, func(_ *Input, s *settings, x float64) { set(s, x) }, false})
		}
	}
	add(b.ScaleStep == nil, "step of the scale, g", s.step, 0.01, 1, func(s *settings, x float64) {
		if s.stepB == s.step {
			s.stepB = x
		}
		s.step = x
	})
	add(b.Room == nil, "room, °C", s.room, 15, 30, func(s *settings, x float64) { s.room = x })
	add(b.Humidity == nil, "relative humidity of the room, %", 100*s.humidity, 20, 80, func(s *settings, x float64) { s.humidity = x / 100 })
	add(b.Altitude == nil && b.PumpGauge != nil, "altitude, m", s.altitude, 0, 1000, func(s *settings, x float64) { s.altitude = x })
	add(s.pump && b.Pump == nil && b.PumpGauge == nil, "pressure the pump reaches, mbar", s.end, 5, 100, func(s *settings, x float64) { s.end = x })
	add(true, "shots of one mould", s.life, s.life/2, s.life*1.5, func(s *settings, x float64) { s.life = x })
	add(i.Job.Order.Reject == nil, "castings that fail, share", s.reject, 0.05, 0.3, func(s *settings, x float64) { s.reject = x })
	return out
}

// musts stands for the verdict of a sheet alone: every must by code, and which
// ends fill.
func musts(i *Input, sheet []plan.Finding) string {
	var words []string
	for _, f := range sheet {
		if f.Severity == plan.Must || f.Code == "too-hot" {
			words = append(words, f.Code+" "+f.Severity)
		}
	}
	sort.Strings(words)
	for _, e := range i.Ends {
		if i.Fills(e) {
			words = append(words, "fills")
		} else {
			words = append(words, "short")
		}
	}
	return strings.Join(words, "; ")
}
