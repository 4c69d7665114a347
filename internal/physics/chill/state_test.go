package chill

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/heat"
)

func pewter() heat.Metal {
	return heat.Metal{Density: 7150, KSolid: 50, KLiquid: 27, CpSolid: 256, CpLiquid: 247, Latent: 64e3,
		Fraction: []heat.Melt{{T: 235.6, F: 0}, {T: 236, F: .12}, {T: 238, F: .705}, {T: 239, F: .954}, {T: 242, F: 1}}}
}

func silicone() heat.Rubber { return heat.Rubber{Density: 1250, Cp: 1250, K: rubberK} }

func box(t testing.TB, dim [3]int, h float64, o ...cells.Opening) *cells.Cells {
	t.Helper()
	c, err := cells.Box(dim, h, o...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func state(t testing.TB, p Problem) *State {
	t.Helper()
	s, err := New(p)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func fill(s *State, T float64) (f, q []float64) {
	f, q = make([]float64, s.c.Wall+1), make([]float64, s.c.Wall+1)
	for c := range s.c.N {
		f[c], q[c] = 1, s.Poured(T)
		s.Balance.In += q[c] * s.c.V[c] * s.c.H * s.c.H * s.c.H
	}
	return f, q
}

// The table against heat's own, and the solution of h + g T = r put back in.
func TestAlloy(t *testing.T) {
	m := pewter()
	a, err := newAlloy(&m)
	if err != nil {
		t.Fatal(err)
	}
	for _, T := range []float64{20, 235.6, 235.9, 237, 240, 300} {
		if got, _ := a.at(a.table.Of(T)); math.Abs(got-T) > 1e-9 {
			t.Errorf("%g degC became %g", T, got)
		}
	}
	for _, g := range []float64{0, 1e3, 1e6, 1e9} {
		for h := -5e7; h < 8e8; h += 3.1e7 {
			T, _ := a.at(h)
			if got := a.meets(g, h+g*T); math.Abs(got-T) > 1e-7 {
				t.Errorf("g %g, h %g: %g degC, not %g", g, h, got, T)
			}
		}
	}
	if c, _ := Coherent(&m); c != 0.6 {
		t.Errorf("pewter stops at %g", c)
	}
	m.Fraction = []heat.Melt{{T: 183, F: 0}, {T: 183, F: .4}, {T: 213, F: 1}}
	if c, _ := Coherent(&m); c != 0.3 {
		t.Errorf("a long range stops at %g", c)
	}
}

// A full box at one temperature: heat lost against the exact answer for a well
// stirred liquid on a half space (Carslaw & Jaeger 1959, 12.4: contact with a stirred fluid,
// here without contact resistance: T = exp(z^2) erfc(z), z = A b sqrt(t)/C), and the balance.
func TestStirred(t *testing.T) {
	m := pewter()
	m.KLiquid, m.KSolid = 1e5, 1e5 // well stirred
	for _, x := range []struct{ h, dt float64 }{{1e-3, 1e-3}, {2e-3, 2e-3}} {
		c := box(t, [3]int{1, 1, 1}, x.h)
		s := state(t, Problem{Cells: c, Metal: m, Rubber: silicone(), Contact: 1e7, Mould: 40})
		f, q := fill(s, 400)
		worst := 0.0
		for s.Time < 0.3 {
			s.Step(x.dt, f, q, Planes{})
			z := 6 / (x.h * m.Density * m.CpLiquid) * rubberB * math.Sqrt(s.Time)
			worst = math.Max(worst, math.Abs((s.T[0]-40)/360-math.Exp(z*z)*math.Erfc(z)))
			if s.T[0] < 245 {
				break
			}
		}
		t.Logf("%g mm: within %.2f %% of the range until %.3f s", x.h*1e3, 100*worst, s.Time)
		if worst > 0.01 || math.Abs(s.Left(q)) > 1e-12*s.Balance.In {
			t.Errorf("%g m: off by %g, %g J left of %g", x.h, worst, s.Left(q), s.Balance.In)
		}
	}
}

// Outside a ball the exact heat of a face held at once is k (1/R + 1/sqrt(pi a t)),
// outside a rod early k (1/(2R) + 1/sqrt(pi a t) - sqrt(a t/pi)/(4 R^2)) (Carslaw &
// Jaeger 1959, 9.10 and 13.5).
func TestBend(t *testing.T) {
	c := box(t, [3]int{1, 1, 1}, 1e-3)
	m := pewter()
	m.CpLiquid, m.CpSolid, m.KLiquid, m.KSolid = 1e9, 1e9, 1e9, 1e9 // held
	const R = 2e-3
	for _, x := range []struct {
		bend, round float64
		exact       func(t float64) float64 // J/(m2 K)
	}{
		{2 / R, 0.01, func(t float64) float64 { return rubberK*t/R + 2*rubberB*math.Sqrt(t/math.Pi) }},
		{1 / R, 0.02, func(t float64) float64 {
			return rubberK*t/(2*R) + 2*rubberB*math.Sqrt(t/math.Pi) - rubberK*math.Sqrt(rubberA/math.Pi)/(4*R*R)*math.Pow(t, 1.5)*2/3
		}},
		{0, 0.01, func(t float64) float64 { return 2 * rubberB * math.Sqrt(t/math.Pi) }},
	} {
		w := FromShares(c)
		for i := range w.Patch {
			w.Patch[i].Bend = x.bend
		}
		s := state(t, Problem{Cells: c, Walls: w, Metal: m, Rubber: silicone(), Contact: 1e9, Mould: 40})
		f, q := fill(s, 300)
		for range 2000 {
			s.Step(1e-3, f, q, Planes{})
		}
		got := s.taken[0] / w.Patch[0].Area / 260
		t.Logf("bend %g 1/m: %.1f J/(m2 K) after 2 s, exact %.1f", x.bend, got, x.exact(2))
		if math.Abs(got/x.exact(2)-1) > x.round {
			t.Errorf("bend %g: %g, exact %g", x.bend, got, x.exact(2))
		}
	}
}

// Conduction along a bar whose walls let nothing through, against the series of a
// slab whose halves start at different temperatures.
func TestConduction(t *testing.T) {
	m := pewter()
	n := 40
	c := box(t, [3]int{n, 1, 1}, 1e-3)
	s := state(t, Problem{Cells: c, Walls: &Walls{Start: make([]int32, c.N+1)}, Metal: m, Rubber: silicone(), Mould: 40})
	f, q := fill(s, 400)
	for i := range n / 2 {
		q[i] = s.Poured(300)
	}
	before := s.Holds(q)
	for range 400 {
		s.Step(2e-3, f, q, Planes{})
	}
	a, l := m.KLiquid/(m.Density*m.CpLiquid), float64(n)*1e-3
	worst := 0.0
	for i := range n {
		x := (float64(i) + 0.5) * 1e-3
		T := 350.0
		for k := 1; k < 200; k += 2 {
			p := float64(k) * math.Pi / l
			T -= 100 * 2 / (float64(k) * math.Pi) * math.Sin(float64(k)*math.Pi/2) * math.Cos(p*x) * math.Exp(-a*p*p*(s.Time-s.owed))
		}
		worst = math.Max(worst, math.Abs(s.T[i]-T))
	}
	t.Logf("within %.3f K of 100", worst)
	if worst > 0.3 || math.Abs(s.Holds(q)/before-1) > 1e-14 {
		t.Errorf("off by %g K, heat %g of %g J", worst, s.Holds(q), before)
	}
	// A sliver beside whole cells keeps its head, however long the step.
	f[n/2], q[n/2] = 1e-6, 1e-6*s.Poured(300)
	s.Step(5, f, q, Planes{})
	for i := range n {
		if s.T[i] < 300-1e-6 || s.T[i] > 400 {
			t.Fatalf("cell %d at %g degC", i, s.T[i])
		}
	}
}

// Walls of boxes and slanted planes have their area, thin plates both sides.
func TestSharesHaveTheirArea(t *testing.T) {
	w := FromShares(box(t, [3]int{7, 5, 3}, 1e-3, cells.Side([3]int{7, 5, 3}, 0, true)...))
	if a := w.Area() * 1e6; math.Abs(a-(2*35+2*21+15)) > 1e-9 {
		t.Errorf("a box without one end has %g mm2", a)
	}
	for _, v := range []float64{0.3, 0.6, 0.9} { // a plate in cells without one known wall
		dim := [3]int{3, 9, 9}
		n := dim[0] * dim[1] * dim[2]
		s := cells.Shares{H: 1e-3, Dim: dim, V: make([]float64, n), A: [3][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}}
		for q := range n {
			if q%3 == 1 {
				s.V[q], s.A[1][q], s.A[2][q] = v, v, v
			}
		}
		c, _, err := cells.New(s)
		if err != nil {
			t.Fatal(err)
		}
		w := FromShares(c)
		two := 0.0
		for _, p := range w.Patch {
			if math.Abs(p.Normal.X) > 0.9 {
				two += p.Area * 1e6
			}
		}
		if math.Abs(two-2*81) > 1e-6 {
			t.Errorf("plate of %g: %g mm2 on its two sides", v, two)
		}
	}
}

// What wets a wall: a layer on it wholly, one away from it not, a front across it
// by its share.
func TestWetted(t *testing.T) {
	c := box(t, [3]int{1, 1, 1}, 1e-3)
	s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 40})
	for _, x := range []struct {
		n    vec.V3
		a    float64
		side int
		want float64
	}{
		{vec.V3{Z: 1}, 0.3, 4, 1}, {vec.V3{Z: 1}, 0.3, 5, 0}, {vec.V3{Z: 1}, 0.3, 0, 0.3}, {vec.V3{X: 1}, 0.8, 2, 0.8},
		{vec.V3{X: -1}, -0.4, 0, 0}, {vec.V3{X: -1}, -0.4, 1, 1}, {vec.V3{X: -1}, -0.4, 4, 0.6},
	} {
		w := Wall{Area: 1e-6, At: middle(x.side), Normal: outward(x.side)}
		s.plane[0] = 0
		if got := s.wetted(&w, 0.3, &Planes{Cells: []int32{0}, Normal: []vec.V3{x.n}, Offset: []float64{x.a}}); math.Abs(got-x.want) > 1e-9 {
			t.Errorf("%v: %g, not %g", x, got, x.want)
		}
	}
}

// One and two cores give the same bytes.
func TestSameOnOneCore(t *testing.T) {
	run := func() ([]float64, float64) {
		c := box(t, [3]int{40, 20, 12}, 1e-3)
		s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 40})
		f, q := fill(s, 300)
		for c := range f {
			f[c] *= 0.5 + 0.5*math.Sin(float64(c))*math.Sin(float64(c))
			q[c] *= f[c]
		}
		for range 50 {
			s.Step(1e-3, f, q, Planes{})
		}
		return q, s.Balance.Rubber
	}
	q1, r1 := run()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	q2, r2 := run()
	if r1 != r2 {
		t.Errorf("%v and %v J", r1, r2)
	}
	for i := range q1 {
		if q1[i] != q2[i] {
			t.Fatalf("cell %d: %v and %v", i, q1[i], q2[i])
		}
	}
}

// Metal that comes and goes at random, in crumbs and whole cells, by short and by
// long steps: never outside the temperatures it was given, nothing lost, all finite.
func TestWildFilling(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 11))
	for round := range 6 {
		c := box(t, [3]int{7, 6, 5}, []float64{1e-3, 3e-4}[round%2])
		s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 40, Contact: []float64{1000, 1e6, 30}[round%3]})
		f, q := make([]float64, c.Wall+1), make([]float64, c.Wall+1)
		v := c.H * c.H * c.H
		for range 300 {
			for i := range c.N {
				switch rnd.IntN(8) {
				case 0: // new metal
					x := math.Min(math.Pow(10, -12*rnd.Float64()), 1-f[i])
					f[i], q[i] = f[i]+x, q[i]+x*s.Poured(320)
					s.Balance.In += x * s.Poured(320) * v
				case 1: // some to a neighbour
					if o := c.Nb[rnd.IntN(6)][i]; int(o) < c.N && f[i] > 0 {
						x := math.Min(f[i]*rnd.Float64(), 1-f[o])
						e := q[i] / f[i] * x
						f[i], q[i], f[o], q[o] = f[i]-x, q[i]-e, f[o]+x, q[o]+e
					}
				case 2:
					if rnd.IntN(10) == 0 {
						s.Balance.Out += q[i] * v
						f[i], q[i] = 0, 0
					}
				}
			}
			s.Step(math.Pow(10, -5+4*rnd.Float64()), f, q, Planes{})
			if rnd.IntN(50) == 0 {
				s.Again(f)
			}
		}
		for i := range c.N {
			if f[i] > 1e-6 && !(s.T[i] > 40-1e-3 && s.T[i] < 320+1e-3) || !(s.K[i] >= 0 && s.Thick[i] >= 1) || math.IsInf(s.K[i]+s.Thick[i], 0) {
				t.Fatalf("round %d, cell %d: share %g, %g degC, drag %g, thickening %g", round, i, f[i], s.T[i], s.K[i], s.Thick[i])
			}
		}
		if x := s.Left(q) / s.Balance.In; math.Abs(x) > 1e-12 {
			t.Errorf("round %d: %g of the heat left over", round, x)
		}
		sum := 0.0
		for _, x := range s.Taken() {
			sum += x
		}
		if math.Abs(sum/s.Balance.Rubber-1) > 1e-12 {
			t.Errorf("walls have %g J, the rubber %g", sum, s.Balance.Rubber)
		}
		s.Meetings()
		s.Stops(f)
		s.Misruns(f)
	}
}

// Mush drags more and thickens the less liquid it has; liquid does neither. Hot metal
// that comes by sets stopped metal free again.
func TestMush(t *testing.T) {
	c := box(t, [3]int{1, 1, 1}, 1e-3)
	s := state(t, Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 40})
	k, thick := 0.0, 1.0
	for f := 1.0; f >= 0; f -= 0.05 {
		s.mush(0, 1, f)
		if s.K[0] < k || s.Thick[0] < thick || f == 1 && (s.K[0] != 0 || s.Thick[0] != 1) || s.Shut[0] != (1-f > s.p.Coherent) {
			t.Errorf("liquid %g: drag %g after %g, thickening %g after %g, shut %v", f, s.K[0], k, s.Thick[0], thick, s.Shut[0])
		}
		k, thick = s.K[0], s.Thick[0]
	}
	// Carman and Kozeny at 0.4 liquid, 50 um: 180 0.36/(2.5e-9 0.064), where the solid has locked.
	if s.mush(0, 1, 0.4); math.Abs(s.K[0]/(180*0.36/(2.5e-9*0.064))-1) > 1e-9 {
		t.Errorf("drag %g at 0.4 liquid", s.K[0])
	}
	if s.mush(0, 1, 0.43); !s.Shut[0] {
		t.Error("let go at once")
	}
	if s.mush(0, 1, 0.5); s.Shut[0] {
		t.Error("did not let go")
	}
	if s.mush(0, 0.2, 0.1); s.Shut[0] {
		t.Error("a crumb stopped")
	}
}

// TestCrumbsDoNotHinder: what drags and thickens is metal that could span its cell; a frozen trace ahead of the front does not, and drags only beside its like.
func TestCrumbsDoNotHinder(t *testing.T) {
	s := state(t, Problem{Cells: box(t, [3]int{4, 1, 1}, 1e-3), Metal: pewter(), Rubber: silicone(), Mould: 45})
	f := make([]float64, s.c.Wall+1)
	last := 0.0
	for _, share := range []float64{1e-9, 0.1, 0.3, 0.35, 0.4, 0.45, 0.5, 1} {
		s.Shut[1] = false
		s.mush(1, share, 1-0.9*s.p.Coherent)
		f[0], f[1] = 1, share // beside running metal
		k := s.Drag(0, 1, f)
		switch {
		case share <= crumb && (k != 0 || s.Thick[1] != 1):
			t.Errorf("%g of a cell drags: %g, %g", share, k, s.Thick[1])
		case share > crumb && share <= stops && !(k > last):
			t.Errorf("%g of a cell drags %g, less filled ones %g", share, k, last)
		case share > stops && k != last:
			t.Errorf("full: %g, half full %g", k, last)
		}
		last = k
	}
	if !(last > 1e6) {
		t.Errorf("a full cell of mush drags %g 1/m2", last)
	}
	f[0], f[1] = 0, 0.1
	if k := s.Drag(0, 1, f); !(k > 1e6) {
		t.Errorf("a frozen splash alone drags %g 1/m2", k)
	}
	if f[1] = 0; s.Drag(0, 1, f) != 0 {
		t.Error("what left its cell still drags")
	}
}
