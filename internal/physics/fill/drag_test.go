package fill

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/gas"
)

// hinder gives every side the drag k, 1/s, that of in returns for its cell.
func (r *Run) hinder(k func(i int32) float64) {
	for _, s := range r.side {
		r.drag[s.d][s.hi] = k(s.hi)
	}
}

// TestDragKeepsRest: metal at rest stays so however its drag varies, as where it freezes from below. The pressure once
// was told the velocities before their drag and found what would have balanced these: a still column
// sank at dt g, cells filled beyond full, and a mould lost a tenth of its metal into its cup.
func TestDragKeepsRest(t *testing.T) {
	for name, k := range map[string]func(c *cells.Cells, i int32) float64{
		"alike":        func(*cells.Cells, int32) float64 { return 1e4 },
		"grows below":  func(c *cells.Cells, i int32) float64 { return 1e6 * math.Exp(-float64(c.I[i][2])) },
		"in one half":  func(c *cells.Cells, i int32) float64 { return 1e5 * float64(c.I[i][0]/4) },
		"that of pins": func(*cells.Cells, int32) float64 { return 10 },
	} {
		c, err := cells.Box([3]int{8, 6, 12}, 1e-3)
		if err != nil {
			t.Fatal(err)
		}
		f := make([]float64, c.Wall+1)
		for i := range c.N {
			if c.I[i][2] < 8 {
				f[i] = 1
			}
		}
		r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 1.8e-3}, Gravity: vec.V3{Z: -9.81}}, f)
		if err != nil {
			t.Fatal(err)
		}
		r.hinder(func(i int32) float64 { return k(c, i) })
		if err := r.Advance(context.Background(), 0.1); err != nil {
			t.Fatal(err)
		}
		if v := r.Fastest(); !(v < 1e-6) {
			t.Errorf("%s: %.2g m/s at rest", name, v)
		}
	}
}

// TestDragKeepsCellsFull: a heap that creeps down through drag of very different strength fills no cell beyond full.
func TestDragKeepsCellsFull(t *testing.T) {
	r := slosh(t)
	r.hinder(func(i int32) float64 { return math.Pow(10, float64(r.c.I[i][0]%5)) })
	fell := r.Volume()
	for until := 0.01; until < 0.2; until += 0.01 {
		if err := r.Advance(context.Background(), until); err != nil {
			t.Fatal(err)
		}
		for i, x := range r.F[:r.c.N] {
			if x > 1+2e-3 {
				t.Fatalf("after %.2f s cell %v is %.4f full", r.Time, r.c.I[i], x)
			}
		}
	}
	if math.Abs(r.Volume()/fell-1) > 1e-12 {
		t.Errorf("%g of %g m3", r.Volume(), fell)
	}
	if foot := r.F[r.c.At(10, 5, 0)]; !(foot > 0.1) {
		t.Errorf("the heap's foot stayed where it was: %g", foot)
	}
}

// TestStillAirVents: air that no metal can move, at four bars or in half a vacuum, comes to the pressure outside through a vent
// and does not pass it, however wide the vent.
func TestStillAirVents(t *testing.T) {
	for _, start := range []float64{4, 0.5} {
		for _, area := range []float64{1e-9, 1e-7, 1e-4} {
			c, err := cells.Box([3]int{6, 6, 6}, 1e-3)
			if err != nil {
				t.Fatal(err)
			}
			vent := Vent{Cell: 0, Outlet: gas.Outlet{Form: gas.Slit, Area: area, Gap: 1e-4, Length: 0.01}}
			r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 1.8e-3}, Gravity: vec.V3{Z: -9.81}, Vents: []Vent{vent}}, make([]float64, c.Wall+1))
			if err != nil {
				t.Fatal(err)
			}
			x := &r.air.list[0]
			x.Amount *= start
			x.Over = (start - 1) * gas.Atmosphere
			last := math.Abs(x.Over)
			for until := 1e-3; until < 0.2; until += 1e-3 {
				if err := r.Advance(context.Background(), until); err != nil {
					t.Fatal(err)
				}
				p := r.Pockets()[0].Over
				if p*(start-1) < -1e-6 || math.Abs(p) > last+1e-6 {
					t.Fatalf("from %g bar, vent of %g m2: %g Pa over after %g before", start, area, p, last)
				}
				last = math.Abs(p)
			}
			if area >= 1e-7 && last > 1 {
				t.Errorf("from %g bar, vent of %g m2: still %g Pa over", start, area, last)
			}
		}
	}
}

// hollowBox is a shut box of 6 x 6 x 6 cells of h without metal.
func hollowBox(t *testing.T, h float64) *Run {
	t.Helper()
	c, err := cells.Box([3]int{6, 6, 6}, h)
	if err != nil {
		t.Fatal(err)
	}
	r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 1.8e-3}, Gravity: vec.V3{Z: -9.81}}, make([]float64, c.Wall+1))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestAirInNextToNothing: closed air whose cells are all but full keeps a pressure that is one, and what is taken
// from it is accounted for.
func TestAirInNextToNothing(t *testing.T) {
	for _, share := range []float64{1 - 2e-16, 1 - 1e-12, 1 - 1e-6, 0.999} {
		r := hollowBox(t, 1e-3)
		c := r.c
		for i := range c.N {
			r.F[i] = share
		}
		r.regions(false)
		x := r.Pockets()[0]
		if !(x.Over >= -gas.Atmosphere && x.Over <= 100*gas.Atmosphere) {
			t.Errorf("cells %g full: %g Pa", share, x.Over)
		}
		e := r.Sum.Enclosed
		if d := e.Caught - e.Let - e.Lost - x.Amount; !(math.Abs(d) < 1e-12*e.Caught) {
			t.Errorf("cells %g full: %g of %g J of air missing", share, d, e.Caught)
		}
	}
}

// TestNextToNothingBoundsNoStep: closed air in cells all but full, pressed by metal from below, bounds a step neither when it
// shrinks, for its pressure stays, nor by more than what its pressure goes by when it grows; other air does by its volume.
func TestNextToNothingBoundsNoStep(t *testing.T) {
	const h, dt, u = 1e-3, 1e-4, 0.1
	for _, x := range []struct{ share, up, want float64 }{
		{1 - 1e-9, u, 0},
		{1 - 1e-9, -u, 36 * u * dt / (slimmest * h)},
		{0.5, u, 36 * u * dt / (0.5 * 108 * h)},
		{0.5, -u, 36 * u * dt / (0.5 * 108 * h)},
	} {
		r := hollowBox(t, h)
		c := r.c
		for i := range c.N {
			r.F[i] = 1
			r.state[i] = metal
			if c.I[i][2] >= 3 {
				r.F[i], r.state[i] = x.share, hollow
			}
			if c.I[i][2] == 3 {
				r.w[2][i] = x.up
			}
		}
		r.regions(false)
		r.rows()
		if got := r.squeezed(dt); !(math.Abs(got-x.want) <= 1e-6*x.want) {
			t.Errorf("air of %g cells, metal at %g m/s: %g of its volume, want %g", 108*(1-x.share), x.up, got, x.want)
		}
	}
}
