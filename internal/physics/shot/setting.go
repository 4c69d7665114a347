package shot

import (
	"math"

	"pourwright/internal/ground/fault"
)

// How a mould rests.
type How struct {
	Name  string  // "closed", "opened", "opened, with a fan" or the caller's own
	Open  bool    // halves apart, boards and clamps off
	Inner float64 // W/(m2 K) on the inner faces of an open mould
	Outer float64 // W/(m2 K) on the outside; 0 leaves that which the mould was made with
}

// Coefficients with radiation included, W/(m2 K): still air and rubber of 60 degC,
// 5 by free convection and 5 by radiation; a table fan, judgement, no source.
const (
	StillAir = 10
	FanAir   = 25
)

// Ways to rest, from the least to the most trouble.
var (
	Closed = How{Name: "closed"}
	Opened = How{Name: "opened", Open: true, Inner: StillAir}
	Fanned = How{Name: "opened, with a fan", Open: true, Inner: FanAir, Outer: FanAir}
)

// Opening says when a casting is lifted: Wait seconds after the pour, or, where it
// is not ready by then, as soon as it is, but not later than Longest.
type Opening struct {
	Wait      float64 // s; 0 opens as soon as the casting is ready
	Longest   float64 // s; 0 takes Wait, or an hour where that is 0 too
	Margin    float64 // K under the solidus; 0 takes 20
	LiftBelow float64 // degC, strong enough to lift; 0 takes Homologous times the absolute solidus
}

// Homologous is the share of the absolute solidus under which a casting is taken
// to be strong enough to be pulled out of rubber. Metals lose nearly all strength
// between 0.95 of it and the solidus, where films of the last liquid part the
// grains; under it pewter bears some MPa, a thousand times its own weight over
// 100 mm (value from memory, no source). For alloys that melt between 70 and 240
// degC this lies 17 to 26 K under the solidus, close to the Margin.
const Homologous = 0.95

const kelvin = 273.15

// Below returns the temperature in degC under which a casting of the given
// solidus may be lifted.
func (o Opening) Below(solidus float64) float64 {
	m, l := o.Margin, o.LiftBelow
	if m == 0 {
		m = 20
	}
	if l == 0 {
		l = Homologous*(solidus+kelvin) - kelvin
	}
	return min(solidus-m, l)
}

// longest returns the longest time with metal in.
func (o Opening) longest() float64 {
	if o.Longest == 0 && o.Wait == 0 {
		return 3600
	}
	return max(o.Wait, o.Longest)
}

// asked returns the time by which a casting is asked to be ready.
func (o Opening) asked() float64 {
	if o.Wait > 0 {
		return o.Wait
	}
	return o.longest()
}

// Setting is a series as the caster plans it.
type Setting struct {
	Pour   float64 // degC of the metal
	Open   Opening
	How    How
	Rest   float64 // s from taking out to powdering
	Powder float64 // s of powdering, open in still air
	Close  float64 // s from closing to the next pour
	Shots  int
}

// Cycle returns the time from pour to pour of a shot that was opened after the
// given time.
func (s Setting) Cycle(opened float64) float64 { return opened + s.Rest + s.Powder + s.Close }

func (s Setting) check() error {
	bad := func(format string, args ...any) error {
		return fault.New(fault.Input, "series", "give times of zero or more in seconds, and temperatures in degrees C", format, args...)
	}
	for _, t := range []struct {
		name string
		x    float64
	}{
		{"wait", s.Open.Wait}, {"longest wait", s.Open.Longest}, {"margin under the solidus", s.Open.Margin},
		{"rest", s.Rest}, {"powdering", s.Powder}, {"time closed", s.Close},
		{"inner coefficient", s.How.Inner}, {"outer coefficient", s.How.Outer},
	} {
		if !(t.x >= 0 && t.x <= 1e7) {
			return bad("the %s is %g", t.name, t.x)
		}
	}
	if math.IsNaN(s.Pour+s.Open.LiftBelow) || math.IsInf(s.Pour+s.Open.LiftBelow, 0) {
		return bad("pouring at %g, lifting below %g", s.Pour, s.Open.LiftBelow)
	}
	if s.Shots < 0 || s.Shots > 100000 {
		return bad("%d shots", s.Shots)
	}
	return nil
}
