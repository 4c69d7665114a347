package shot

import (
	"math"
	"testing"

	"pourwright/internal/ground/fault"
)

// A casting of 10 cm3 of pewter.
var small = Casting{Volume: 10000, Area: 6000, Density: 7150, Cp: 256, K: 50, Air: 25, From: 200}

// Against closed forms: constant coefficient and radiation alone (Incropera &
// DeWitt, lumped capacitance with radiation), free convection alone by hand.
func TestTouchAgainstClosedForms(t *testing.T) {
	c := small
	c.H = 10
	got, err := Touch(c, Contacts)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range got {
		want := 7150 * 256 * 10000 / 6000.0 * 1e-3 / 10 * math.Log((200-25)/(g.Below-25))
		if math.Abs(g.After/want-1) > 1e-9 {
			t.Errorf("constant: %g, want %g", g.After, want)
		}
	}
	c = small
	c.Emissivity, c.H = 0.6, 1e-12
	got, _ = Touch(c, Contacts)
	for _, g := range got {
		s := 25 + kelvin
		f := func(x float64) float64 { return math.Log((x+s)/(x-s)) + 2*math.Atan(x/s) }
		want := 7150 * 256 * 10000 / 6000.0 * 1e-3 / (4 * 0.6 * stefan * s * s * s) * (f(g.Below+kelvin) - f(200+kelvin))
		if math.Abs(g.After/want-1) > 1e-6 {
			t.Errorf("radiation: %g, want %g", g.After, want)
		}
	}
	c = small
	c.Length = 30
	got, _ = Touch(c, Contacts)
	for _, g := range got {
		f := func(x float64) float64 { return 4 * math.Pow(x-25, -0.25) }
		want := 7150 * 256 * 10000 / 6000.0 * 1e-3 / 1.42 * math.Pow(0.03, 0.25) * (f(g.Below) - f(200))
		if math.Abs(g.After/want-1) > 1e-9 {
			t.Errorf("free convection: %g, want %g", g.After, want)
		}
	}
	if b := (&c).Biot(); b < 1e-4 || b > 0.01 {
		t.Errorf("Biot number %g", b)
	}
}

func TestTouchAtTheEnds(t *testing.T) {
	c := small
	c.From = 40
	for _, x := range must(Touch(c, Contacts)) {
		if x.After != 0 {
			t.Error("a cool casting has to wait", x)
		}
	}
	c.From, c.Air = 200, 50
	x := must(Touch(c, Contacts))
	if math.IsInf(x[2].After, 1) || !math.IsInf(x[3].After, 1) {
		t.Error("in air of 50 degC", x)
	}
	for i := 1; i < 3; i++ {
		if x[i].After <= x[i-1].After {
			t.Error("longer contact wants cooler metal", x)
		}
	}
	for _, bad := range []Casting{{}, {Volume: 1, Area: 1, Density: 1, Cp: 1, K: math.NaN()}, {Volume: 1, Area: 1, Density: 1, Cp: 1, K: 1, H: -1},
		{Volume: 1, Area: 1, Density: 1, Cp: 1, K: 1, From: math.Inf(1)}} {
		if _, err := Touch(bad, Contacts); fault.KindOf(err) != fault.Input {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}
