package chill

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// where makes cells of the places of a box that a test picks, whole, with open
// sides between them.
func where(t testing.TB, dim [3]int, h float64, in func(i, j, k int) bool) *cells.Cells {
	t.Helper()
	n := dim[0] * dim[1] * dim[2]
	s := cells.Shares{H: h, Dim: dim, V: make([]float64, n), A: [3][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}}
	for q := range n {
		i, j, k := q%dim[0], q/dim[0]%dim[1], q/(dim[0]*dim[1])
		if in(i, j, k) {
			s.V[q], s.A[0][q], s.A[1][q], s.A[2][q] = 1, 1, 1, 1
		}
	}
	c, _, err := cells.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// run fills cells in the order of a time of arrival, each within width seconds.
func run(s *State, arrival []float64, width, dt, until float64, T func(c int) float64) (f, q []float64) {
	f, q = make([]float64, s.c.Wall+1), make([]float64, s.c.Wall+1)
	for s.Time < until {
		for c := range s.c.N {
			x := math.Min(math.Max((s.Time+dt-arrival[c])/width+0.5, 0), 1)
			if x > f[c] {
				q[c] += (x - f[c]) * s.Poured(T(c))
				f[c] = x
			}
		}
		s.Step(dt, f, q, Planes{})
	}
	return f, q
}

func arrivals(c *cells.Cells, t func(p vec.V3) float64) []float64 {
	a := make([]float64, c.N)
	for i := range a {
		a[i] = t(c.Centre(int32(i)).Mul(1e3))
	}
	return a
}

// A ring that fills from one side: one meeting line, opposite the ingate, as wide
// as the ring; warm fronts weld, cold ones do not.
func TestRingMeets(t *testing.T) {
	c := where(t, [3]int{40, 40, 4}, 1e-3, func(i, j, _ int) bool {
		r := math.Hypot(float64(i)-19.5, float64(j)-19.5)
		return r > 12 && r < 18
	})
	for _, x := range []struct {
		T    float64
		cold bool
	}{{300, false}, {236.2, true}} {
		s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 60})
		a := arrivals(c, func(p vec.V3) float64 { // from x = 0 round both sides at 0.2 m/s, a little uneven
			phi := math.Abs(math.Atan2(p.Y-20, 20-p.X))
			return 15*phi/200 + 0.0005*math.Sin(3*p.Y+2*p.X)
		})
		run(s, a, 0.005, 1e-3, 0.3, func(int) float64 { return x.T })
		m := s.Meetings()
		if len(m) != 1 {
			t.Fatalf("%d meetings: %+v", len(m), m)
		}
		t.Logf("%.0f degC: %.1f mm at %.1f, %.2f s, colder front %.1f degC, %.2f liquid", x.T, m[0].Length, m[0].At, m[0].Time, m[0].Coldest, m[0].Liquid)
		if math.Abs(m[0].At.X-35) > 4 || math.Abs(m[0].At.Y-20) > 2 || m[0].Length < 5 || m[0].Length > 11 || m[0].Cold != x.cold || m[0].Ladle {
			t.Errorf("%+v", m[0])
		}
		if math.Abs(m[0].Time-15*math.Pi/200) > 0.02 {
			t.Errorf("met at %g s", m[0].Time)
		}
	}
}

// A thin ring, one cell by two: its meeting line is shorter than any noise, but it
// goes through.
func TestThinRingMeets(t *testing.T) {
	for _, wide := range []float64{1, 1.5, 2.2} {
		c := where(t, [3]int{40, 40, 1}, 1e-3, func(i, j, _ int) bool {
			r := math.Hypot(float64(i)-19.5, float64(j)-19.5)
			return math.Abs(r-15) < wide
		})
		s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 60})
		a := arrivals(c, func(p vec.V3) float64 { return 15 * math.Abs(math.Atan2(p.Y-20, 20-p.X)) / 200 })
		run(s, a, 0.005, 1e-3, 0.3, func(int) float64 { return 300 })
		if m := s.Meetings(); len(m) != 1 || math.Abs(m[0].At.X-35) > 3 || math.Abs(m[0].At.Y-20) > 2 {
			t.Errorf("%g cells: %+v", 2*wide, m)
		}
	}
}

// Nothing meets where one front runs: along a channel, round a bend, into a wider
// part, up a block with a rough surface, out from a point.
func TestOneFrontMeetsNothing(t *testing.T) {
	noise := func(p vec.V3) float64 { return 0.001 * math.Sin(5.1*p.X+3.3*p.Y+4.7*p.Z) * math.Cos(7.3*p.Y-2.9*p.X) }
	for name, x := range map[string]struct {
		in func(i, j, k int) bool
		at func(p vec.V3) float64
	}{
		"channel": {func(_, j, k int) bool { return j < 5 && k < 5 }, func(p vec.V3) float64 { return p.X/200 + noise(p) }},
		"bend": {func(i, j, k int) bool { return k < 5 && (i < 5 || j < 5) }, func(p vec.V3) float64 {
			if p.X < p.Y {
				return (5 + p.X/2 + p.Y - p.X) / 200
			}
			return (5 + p.X/2) / 200
		}},
		"block": {func(_, _, _ int) bool { return true }, func(p vec.V3) float64 { return p.Z/50 + 3*noise(p) }},
		"point": {func(_, _, k int) bool { return k < 6 }, func(p vec.V3) float64 { return math.Hypot(p.X-3, p.Y-4)/100 + noise(p) }},
		"wider": {func(i, j, k int) bool { return k < 4 && (i > 10 || j > 10 && j < 18) }, func(p vec.V3) float64 {
			if p.X < 11 {
				return p.X / 200
			}
			return 0.055 + math.Hypot(p.X-11, p.Y-14.5)/200 + noise(p)
		}},
	} {
		c := where(t, [3]int{30, 30, 12}, 1e-3, x.in)
		s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 60})
		run(s, arrivals(c, x.at), 0.008, 1e-3, 0.5, func(int) float64 { return 320 })
		if m := s.Meetings(); len(m) != 0 {
			t.Errorf("%s: %d meetings, first %+v", name, len(m), m[0])
		}
	}
}

// Two streams behind a pin meet; a second ladle on a surface leaves its face.
func TestLadle(t *testing.T) {
	c := box(t, [3]int{12, 10, 10}, 1e-3)
	s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 60})
	f, q := make([]float64, c.Wall+1), make([]float64, c.Wall+1)
	to := func(level float64) {
		for i := range c.N {
			x := math.Min(math.Max(level-float64(c.I[i][2]), 0), 1)
			if x > f[i] {
				q[i] += (x - f[i]) * s.Poured(280)
				f[i] = x
			}
		}
	}
	for i := range 50 {
		to(5.3 * float64(i+1) / 50)
		s.Step(5e-3, f, q, Planes{})
	}
	for range 400 {
		s.Step(5e-3, f, q, Planes{})
	}
	if m := s.Meetings(); len(m) != 0 {
		t.Errorf("before the second ladle: %+v", m[0])
	}
	s.Again(f)
	for i := range 50 {
		to(5.3 + 4.7*float64(i+1)/50)
		s.Step(5e-3, f, q, Planes{})
	}
	m := s.Meetings()
	if len(m) != 1 || !m[0].Ladle || math.Abs(m[0].At.Z-5.5) > 0.1 || m[0].Area < 100 || m[0].Area > 130 {
		t.Errorf("%+v", m)
	}
}

// The front's speed, and times of filling between steps.
func TestSpeed(t *testing.T) {
	c := box(t, [3]int{40, 3, 3}, 1e-3)
	s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 60})
	run(s, arrivals(c, func(p vec.V3) float64 { return p.X / 300 }), 1./300, 1e-3, 0.2, func(int) float64 { return 320 })
	for _, i := range []int{5, 20, 35} {
		k := c.At(i, 1, 1)
		if v := s.Speed(k); math.Abs(v-0.3) > 0.01 {
			t.Errorf("cell %d: %g m/s", i, v)
		}
		if e := s.First[k] - (float64(i)+0.5)/300; math.Abs(e) > 1e-4 {
			t.Errorf("cell %d filled %g s off", i, e)
		}
	}
}

// Metal that stops half way down a channel shuts the rest off.
func TestMisrun(t *testing.T) {
	c := box(t, [3]int{40, 4, 1}, 1e-3)
	s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 25})
	a := arrivals(c, func(p vec.V3) float64 {
		if p.X > 20 {
			return 1e9
		}
		return p.X / 300
	})
	f, _ := run(s, a, 1./300, 2e-3, 0.2, func(int) float64 { return 245 })
	if m := s.Misruns(f); len(m) != 0 {
		t.Errorf("hot metal shuts nothing: %+v", m)
	}
	s = state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 25})
	f, _ = run(s, a, 1./300, 4e-3, 8, func(int) float64 { return 245 })
	m, stops := s.Misruns(f), s.Stops(f)
	if len(m) != 1 || math.Abs(m[0].Volume-80) > 1 || math.Abs(m[0].At.X-30) > 0.5 || m[0].Shut != 1 || len(stops) == 0 || !(m[0].Time < 8) {
		t.Errorf("%+v, stops %+v", m, stops)
	} else {
		t.Logf("shut after %.2f s, %.0f mm3 behind it", m[0].Time, m[0].Volume)
	}
	for c := range s.c.N {
		if s.Shut[c] && !math.IsInf(s.Drag(0, int32(c), f), 1) {
			t.Fatalf("metal moves through the side of cell %d, which has stopped", c)
		}
	}
}
