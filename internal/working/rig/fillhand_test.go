package rig

import (
	"math"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// What left the ladle is the sum of what was taken, and ends at the charge, at
// any steps; the shape of the stream does not hang on the steps.
func TestStreamKeepsVolume(t *testing.T) {
	for _, h := range Hands {
		for _, p := range []pour.Pouring{{}, {Ladle: plan.Ptr(13e3), Pause: 0.7}, {Ladle: plan.Ptr(40e3)}, {Ladle: plan.Ptr(1e3)}} {
			at := func(dt, until float64) (float64, *Stream) {
				s, sum := NewStream(&p, 30e3, 40e3, h), 0.0
				for k := 0; float64(k)*dt < until-1e-9; k++ {
					sum += s.Take(dt)
				}
				if math.Abs(sum-s.Poured) > 1e-7 {
					t.Errorf("%s, %+v: took %g, poured %g", h.Name, p, sum, s.Poured)
				}
				return sum, s
			}
			if got, s := at(1e-3, 200); math.Abs(got-40e3) > 1e-6 || !s.Done() {
				t.Errorf("%s: %g of 40000 by the end", h.Name, got)
			}
			if p.Ladle != nil && *p.Ladle < 2e3 {
				continue // each ladle ends within few steps
			}
			a, _ := at(1e-3, 0.9)
			b, _ := at(1.25e-4, 0.9)
			if math.Abs(a-b) > 1e-3*b+30 { // a ladle ends with the step in which it empties
				t.Errorf("%s: %g and %g mm3 after 0.9 s with steps of 1 and 1/8 ms", h.Name, a, b)
			}
		}
	}
}

// A second ladle comes after the pause and not before it.
func TestStreamPauses(t *testing.T) {
	s := NewStream(&pour.Pouring{Ladle: plan.Ptr(10e3), Pause: 1}, 20e3, 20e3, Hand{Share: 1})
	dry, ends := 0.0, 0.0
	for range 4000 {
		if v := s.Take(1e-3); v == 0 && !s.Done() {
			dry += 1e-3
		}
		if s.Done() && ends == 0 {
			ends = s.Time
		}
	}
	if math.Abs(dry-1) > 0.003 || math.Abs(ends-2) > 0.003 || s.Ladles != 2 {
		t.Errorf("dry for %g s, done at %g s, %d ladles", dry, ends, s.Ladles)
	}
}

// The sway is smooth, stays within its bound, has no mean to speak of, and two seeds sway apart.
func TestSway(t *testing.T) {
	mean, apart := 0.0, 0.0
	const n = 20000
	for k := range n {
		x := 1e-3 * float64(k)
		a, b := sway(1, x), sway(2, x)
		if math.Abs(a) > 1 {
			t.Fatalf("%g at %g s", a, x)
		}
		if d := math.Abs(sway(1, x+1e-3) - a); d > 2*math.Pi*6e-3 {
			t.Fatalf("jumps by %g at %g s", d, x)
		}
		mean += a / n
		apart += math.Abs(a-b) / n
	}
	if math.Abs(mean) > 0.02 || apart < 0.1 {
		t.Errorf("mean %g, apart by %g", mean, apart)
	}
}

// A hand that pours more than the cavity takes: nothing runs over before the cup
// is full, all of the rest does from then on, and the sums close.
func TestCupOverflows(t *testing.T) {
	const open, takes = 30e3, 20e3 // mm3 of cavity and cup; mm3/s once the cup is full
	c := &Cup{Height: 50, Over: 1}
	s := NewStream(&pour.Pouring{}, 40e3, 50e3, Hands[0])
	in, cup, dt := 0.0, 0.0, 1e-3
	for !s.Done() {
		e := c.Step(cup/3e3, s.Now(), s.Held)
		given := s.Take(dt)
		taken := given
		if e.Full {
			taken = math.Min(takes*dt, open-in)
		} else {
			cup += math.Max(0, given-takes*dt)
		}
		in += taken
		if over := c.Settle(given, taken, 0); over > 0 && !e.Full {
			t.Fatalf("ran over a cup filled to %g", cup/3e3)
		}
	}
	if math.Abs(s.Poured-in-c.Overflow-c.Falling) > 1e-6 {
		t.Errorf("poured %g, in the mould %g, overflow %g, under way %g", s.Poured, in, c.Overflow, c.Falling)
	}
	// by hand: the start's smooth step ends at 0.1 s, the cup is full at 0.19625 s with
	// 5850 mm3 in the mould, and 20 mm3 a ms go in until the ladle is empty at 1.3 s
	if want := 50e3 - 5850 - 20e3*(1.3-0.19625); math.Abs(c.Overflow-want) > 60 {
		t.Errorf("overflow %g, not %g", c.Overflow, want)
	}
	if e := c.Step(1, 0, 0); e.Full {
		t.Error("held full with an empty ladle")
	}
	if v := c.Step(0, 1, 9).Speed; math.Abs(v-990.3) > 0.1 { // sqrt(2 g 50 mm)
		t.Errorf("meets the cup at %g mm/s", v)
	}
}

// A solver whose steps end when they like takes what Rate said at their start: nothing runs over a
// cup that is not full, and all comes in soon after the ladle is empty.
func TestCupCatchesUp(t *testing.T) {
	for _, h := range Hands {
		c, in, k := &Cup{Height: 50}, 0.0, 0
		s := NewStream(&pour.Pouring{Ladle: plan.Ptr(11e3), Pause: 0.5}, 30e3, 20e3, h)
		for end := 0.0; end < 0.1; k++ {
			dt := 1e-4 * float64(1+k%17)
			e := c.Step(0.3, s.Now(), s.Held)
			taken := e.Rate * dt
			in += taken
			if over := c.Settle(s.Take(dt), taken, 0); over != 0 {
				t.Fatalf("%s: %g ran over", h.Name, over)
			}
			if math.Abs(c.Falling) > 400 { // a hundredth of a second of the fastest stream
				t.Fatalf("%s: %g mm3 under way at %g s", h.Name, c.Falling, s.Time)
			}
			if s.Done() {
				end += dt
			}
		}
		if math.Abs(in-20e3) > 1e-3 {
			t.Errorf("%s: %g of 20000 came in", h.Name, in)
		}
	}
}

// What splashes out of a cup that is not full has run over and does not come again; what comes
// back to a full one does. Nothing is lost on either way.
func TestCupSplashes(t *testing.T) {
	c := &Cup{Full: true}
	steps := [][3]float64{{10, 12, 1}, {10, 8, 3}, {10, 15, 0}, {10, 0, 0}}
	poured, in := 0.0, 0.0
	for k, x := range steps {
		over := c.Settle(x[0], x[1], x[2])
		poured, in = poured+x[0], in+x[1]-x[2]
		if want := []float64{0, 4, 0, 5}[k]; math.Abs(over-want) > 1e-12 {
			t.Errorf("full, step %d: %g over, not %g", k, over, want)
		}
	}
	c.Full = false
	if over := c.Settle(10, 4, 2); over != 2 || c.Falling != 6 {
		t.Errorf("not full: %g over, %g under way", over, c.Falling)
	}
	poured, in = poured+10, in+2
	if math.Abs(poured-in-c.Overflow-c.Falling) > 1e-12 {
		t.Errorf("poured %g, in %g, over %g, under way %g", poured, in, c.Overflow, c.Falling)
	}
}

func TestGravity(t *testing.T) {
	if g := Gravity([2]float64{}); g != (vec.V3{Y: -1}) {
		t.Error(g)
	}
	g := Gravity([2]float64{30, 0})
	if math.Abs(g.X-0.5) > 1e-12 || math.Abs(g.Y+math.Sqrt(3)/2) > 1e-12 || g.Z != 0 {
		t.Error("leaning to +x:", g)
	}
	if g := Gravity([2]float64{0, -45}); math.Abs(g.Z+math.Sqrt(0.5)) > 1e-12 {
		t.Error("leaning to half 2:", g)
	}
}

func TestRateAndLadle(t *testing.T) {
	b := &plan.Block{Size: plan.P3{60, 80, 40}, Ingates: []plan.Ingate{{At: plan.P3{0, 20, 0}, Area: 20}, {At: plan.P3{0, -10, 0}, Area: 10}}}
	want := 0.6 * 30 * math.Sqrt(2*9806.65*30) // heads 20 and 50 mm
	if got := RateOf(&pour.Pouring{}, b); math.Abs(got-want) > 1e-6*want {
		t.Errorf("%g, not %g mm3/s", got, want)
	}
	if got := RateOf(&pour.Pouring{Rate: plan.Ptr(7e3)}, b); got != 7e3 {
		t.Error("given:", got)
	}
	b.Ingates[0].Area = 1e4
	if got := RateOf(&pour.Pouring{}, b); got != 40e3 {
		t.Error("wide ingate:", got)
	}
	if got := RateOf(&pour.Pouring{}, &plan.Block{}); got != 40e3 {
		t.Error("no ingate:", got)
	}
	p := PouringOf(plan.Ptr(500.0), 7000)
	if math.Abs(*p.Ladle-400/7e-3) > 1e-6 || p.Check("") != nil {
		t.Errorf("%+v", p)
	}
	if PouringOf(nil, 7000).Ladle != nil {
		t.Error("a ladle nobody has")
	}
}
