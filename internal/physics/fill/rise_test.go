package fill

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/gas"
)

// Harmathy's own liquid: bubbles in water rise at a quarter of a metre a second, whatever their size (0.25 m/s at
// 20 degC by 1.53 (g sigma/rho)^(1/4), worked by hand).
func TestBubbles(t *testing.T) {
	if u := (Metal{Density: 998, Tension: 0.0728}).Bubbles(9.81); math.Abs(u-0.250) > 5e-4 {
		t.Errorf("%g m/s", u)
	}
}

// Void that still metal holds deep under its surface goes up at the speed given, along whatever axis gravity points
// down, and turns up at the surface; the metal is kept. Without the speed it stays.
func TestVoidRises(t *testing.T) {
	const h, rise = 2e-3, 0.25
	for d := range 3 {
		for _, down := range []float64{-1, 1} {
			dim := [3]int{7, 7, 7}
			dim[d] = 30
			c, err := cells.Box(dim, h, cells.Side(dim, d, down < 0)...)
			if err != nil {
				t.Fatal(err)
			}
			// Height in cells over the floor.
			up := func(i int32) int {
				if x := int(c.I[i][d]); down < 0 {
					return x
				} else {
					return dim[d] - 1 - x
				}
			}
			f := make([]float64, c.Wall+1)
			for i := range int32(c.N) {
				switch n := up(i); {
				case n == 4:
					f[i] = 0.9
				case n < 25:
					f[i] = 1
				}
			}
			ports := make([]Beyond, c.Ports)
			for i := range ports {
				ports[i].Kind = Air
			}
			g := [3]float64{}
			g[d] = 9.81 * down
			start := func(u float64) *Run {
				r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 2e-3}, Gravity: vec.FromArray(g), Ports: ports, Rise: u}, f)
				if err != nil {
					t.Fatal(err)
				}
				return r
			}
			// The void's mean height, cells, of what lies under the surface.
			mean := func(r *Run) (z, v float64) {
				for i := range int32(c.N) {
					if n := up(i); n < 24 {
						z += (1 - r.F[i]) * float64(n)
						v += 1 - r.F[i]
					}
				}
				return z / v, v
			}
			r, still := start(rise), start(0)
			v0 := r.Volume()
			for _, x := range []*Run{r, still} {
				if err := x.Advance(context.Background(), 0.05); err != nil {
					t.Fatal(err)
				}
			}
			z, v := mean(r)
			// A little less than free bubbles: metal has to come down past them (1 - void).
			if want := 4 + rise*0.05/h; z > want || z < 4+0.9*(want-4) || math.Abs(v-0.1*49) > 1e-3*4.9 {
				t.Errorf("axis %d, %+g: after 0.05 s %.3f cells of void at a height of %.2f cells, want %.2f", d, down, v, z, want)
			}
			if z, _ := mean(still); math.Abs(z-4) > 0.05 {
				t.Errorf("axis %d, %+g: without a speed the void is at %.2f", d, down, z)
			}
			if err := r.Advance(context.Background(), 0.4); err != nil {
				t.Fatal(err)
			}
			if _, v := mean(r); v > 0.02*4.9 {
				t.Errorf("axis %d, %+g: after 0.4 s %.3f cells of void are left", d, down, v)
			}
			if e := r.Volume()/v0 - 1; math.Abs(e) > 1e-12 {
				t.Errorf("axis %d, %+g: the volume is off by %g", d, down, e)
			}
		}
	}
}

// In a shut box the air of the void goes up into that over the metal: none is lost, and its pressure is that
// of the air at the start.
func TestRisingVoidTakesItsAirAlong(t *testing.T) {
	const h = 2e-3
	c, err := cells.Box([3]int{7, 7, 20}, h)
	if err != nil {
		t.Fatal(err)
	}
	f := make([]float64, c.Wall+1)
	void := 0.0
	for i := range int32(c.N) {
		switch z := c.I[i][2]; {
		case z == 4:
			f[i] = 0.9
		case z < 15:
			f[i] = 1
		}
		void += (1 - f[i]) * h * h * h
	}
	r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 2e-3}, Gravity: vec.V3{Z: -9.81}, Rise: 0.25}, f)
	if err != nil {
		t.Fatal(err)
	}
	all := void * gas.Atmosphere
	if s := r.Sum.Enclosed; math.Abs(s.Caught/all-1) > 1e-12 || math.Abs(s.Lost/(4.9*h*h*h*gas.Atmosphere)-1) > 1e-9 {
		t.Errorf("at the start %+v", s)
	}
	for _, at := range []float64{0.02, 0.06, 0.1, 0.3} {
		if err := r.Advance(context.Background(), at); err != nil {
			t.Fatal(err)
		}
		in := 0.0
		for _, p := range r.Pockets() {
			in += p.Amount
		}
		s := r.Sum.Enclosed
		if e := (s.Caught - s.Let - s.Lost - in) / all; math.Abs(e) > 1e-12 {
			t.Errorf("after %g s %g of the air is missing: %+v", at, e, s)
		}
	}
	if s := r.Sum.Enclosed; s.Let != 0 || s.Lost > 1e-3*all {
		t.Errorf("at the end %+v", s)
	}
	if p := r.Pockets(); len(p) != 1 || math.Abs(p[0].Over) > 200 {
		t.Errorf("the air at the end: %+v", p)
	}
}

// A stream that comes in through a mouth is given no speed along it: one that was given to the first cells is gone as
// soon as they have passed.
func TestStreamComesInStraight(t *testing.T) {
	dim := [3]int{12, 12, 12}
	const h = 2e-3
	c, err := cells.Box(dim, h, append(cells.Side(dim, 2, false), cells.Side(dim, 2, true)...)...)
	if err != nil {
		t.Fatal(err)
	}
	in := func(i int32) bool {
		x, y := c.I[i][0], c.I[i][1]
		return x >= 4 && x < 8 && y >= 4 && y < 8
	}
	ports := make([]Beyond, c.Ports)
	var across [3][]float64
	across[0] = make([]float64, c.Wall+1)
	f := make([]float64, c.Wall+1)
	for i := range int32(c.N) {
		top := c.I[i][2] == 11
		if o := c.Nb[5][i]; top {
			ports[int(o)-c.N] = Beyond{Kind: Air}
			if in(i) {
				ports[int(o)-c.N] = Beyond{Kind: Jet, Speed: 1}
			}
		}
		if o := c.Nb[4][i]; c.I[i][2] == 0 {
			ports[int(o)-c.N] = Beyond{Kind: Air}
		}
		if in(i) {
			f[i], across[0][i] = 1, 0.3
		}
	}
	for _, quick := range []bool{false, true} {
		r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 2e-3}, Gravity: vec.V3{Z: -9.81}, Ports: ports, Given: across, Quick: quick}, f)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Advance(context.Background(), 0.015); err != nil { // seven cells of the stream
			t.Fatal(err)
		}
		for i := range int32(c.N) {
			if in(i) && c.I[i][2] >= 10 && c.I[i][0] > 4 && math.Abs(r.U[0][i]) > 0.03 {
				t.Errorf("quick %v: %g m/s across at %v", quick, r.U[0][i], c.I[i])
			}
		}
	}
}
