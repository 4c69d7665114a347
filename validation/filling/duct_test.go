package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/tension"
)

// TestDuct: steady flow of metal that fills a duct, driven by its weight, against the
// series for rectangles, Q mu / (G h4) (White, Viscous Fluid Flow, section 3-3; our
// own sum of it): within 1 % with friction resolved on 16 cells, within 10 % with the form
// for thin sections on 1 to 4.
func TestDuct(t *testing.T) {
	type duct struct{ across, wide int }
	list := []duct{{16, 1}, {16, 2}}
	for _, wide := range []int{1, 2, 10} {
		for across := 1; across <= 4; across++ {
			list = append(list, duct{across, wide})
		}
	}
	if full() {
		list = append(list, duct{16, 10}, duct{32, 1})
	}
	for _, x := range list {
		const narrow, length = 2e-3, 3
		h := narrow / float64(x.across)
		dim := [3]int{length, x.across * x.wide, x.across}
		c, err := cells.Box(dim, h, append(cells.Side(dim, 0, false), cells.Side(dim, 0, true)...)...)
		if err != nil {
			t.Fatal(err)
		}
		f := make([]float64, c.Wall+1)
		for i := range c.N {
			f[i] = 1
		}
		ports := make([]fill.Beyond, c.Ports)
		for i := range ports {
			ports[i].Kind = fill.Head
		}
		bound := 0.01
		p := fill.Problem{Cells: c, Metal: fill.Metal{Density: 1000, Viscosity: 0.1, Angle: tension.Angle{Rest: 90}}, Ports: ports, Share: 1e-6}
		if x.across <= 4 {
			bound, p.Sections = 0.1, cells.Sections(c)
		}
		const drive = 0.1
		p.Gravity = vec.V3{X: drive}
		r, err := fill.New(p, f)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Advance(context.Background(), 0.8*narrow*narrow/(p.Metal.Viscosity/p.Metal.Density)); err != nil {
			t.Fatal(err)
		}
		q := 0.0
		for j := range dim[1] {
			for k := range dim[2] {
				q += r.U[0][c.At(1, j, k)] * h * h
			}
		}
		want := rectangle(float64(x.wide)) * p.Metal.Density * drive * math.Pow(narrow, 4) / p.Metal.Viscosity
		t.Logf("1:%d, %d cells: flow %+.2f %%; %+v", x.wide, x.across, 100*(q/want-1), r.Sum)
		if !(math.Abs(q/want-1) <= bound) {
			t.Errorf("1:%d, %d cells: flow %+.2f %%", x.wide, x.across, 100*(q/want-1))
		}
	}
}

// rectangle is Q mu / (G h4) of a duct a times as wide as it is high, h its height.
func rectangle(a float64) float64 {
	s := 0.0
	for n := 1.0; n < 60; n += 2 {
		s += math.Tanh(n*math.Pi*a/2) / math.Pow(n, 5)
	}
	return a/12 - 16/math.Pow(math.Pi, 5)*s
}
