package plic

import (
	"math"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// whirl is a random velocity free of divergence, also in cut cells: the flux through each side is the
// circulation of random values on the edges round it, zero on those that touch a shut side.
func whirl(c *cells.Cells, r *rand.Rand) *[3][]float64 {
	type edge struct {
		d int
		p [3]int
	}
	value := map[edge]float64{}
	open := func(d int, p [3]int) bool {
		i := c.At(p[0], p[1], p[2])
		return int(i) < c.N && int(c.Nb[2*d][i]) < c.N
	}
	at := func(d int, p [3]int) float64 {
		k := edge{d, p}
		v, known := value[k]
		if !known {
			v = r.NormFloat64()
			for _, e := range [2]int{(d + 1) % 3, (d + 2) % 3} {
				back := p
				back[3-d-e]--
				if !open(e, p) || !open(e, back) {
					v = 0
				}
			}
			value[k] = v
		}
		return v
	}
	var u [3][]float64
	for d := range u {
		u[d] = make([]float64, c.Wall+1)
	}
	for i := range int32(c.N) {
		q := c.I[i]
		p := [3]int{int(q[0]), int(q[1]), int(q[2])}
		for d := range u {
			if int(c.Nb[2*d][i]) >= c.N {
				continue
			}
			e, h := (d+1)%3, (d+2)%3
			pe, ph := p, p
			pe[e]++
			ph[h]++
			u[d][i] = (at(h, pe) - at(h, p) - at(e, ph) + at(e, p)) / c.A[d][i]
		}
	}
	return &u
}

// TestSharesStayWithin: whole and cut cells, steps in which cells give away up to nine tenths of
// their volume, half a cell of metal in drops and a level.
func TestSharesStayWithin(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	for name, c := range map[string]*cells.Cells{"whole": open(t, 10), "cut": wedge(t, 10, vec.V3{X: 1, Y: 0.4, Z: -0.7}, 1.1)} {
		for _, porous := range []bool{false, true} {
			a := NewAdvection(c)
			a.Porous = porous
			f := cells.Level(c, vec.V3{X: 0.2, Y: 1, Z: 0.4}.Unit(), c.Origin.Add(vec.V3{X: 4.6, Y: 4.7, Z: 4.9}.Mul(c.H)))
			clear(f[c.N:])
			before := held(c, f)
			least, most := 0.0, 1.0
			for range 25 {
				u := whirl(c, r)
				a.list(f)
				rep, err := a.Step(f, nil, u, 0.9/a.drain(u, 1), 1)
				if err != nil {
					t.Fatal(err)
				}
				if rep.Substeps != 1 {
					t.Fatalf("%d substeps", rep.Substeps)
				}
				least, most = min(least, rep.Least), max(most, rep.Most)
			}
			if least < 0 || most > 1+1e-12 {
				t.Errorf("%s, porous %t: shares %g .. 1 + %g", name, porous, least, most-1)
			}
			if e := held(c, f)/before - 1; math.Abs(e) > 1e-12 {
				t.Errorf("%s: volume off by %g", name, e)
			}
		}
	}
}

// TestVoidDeepInTheMetalIsNoSurface: what a loose solver leaves in full cells makes no planes, stays,
// and is not lost.
func TestVoidDeepInTheMetalIsNoSurface(t *testing.T) {
	c, err := cells.Box([3]int{8, 8, 8}, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(2, 3))
	a := NewAdvection(c)
	s := a.Surface()
	f := make([]float64, c.Wall+1)
	for i := range c.N {
		if c.I[i][2] < 6 {
			f[i] = 1 - 1e-4*r.Float64()
		}
	}
	s.Update(f, nil)
	if n := len(s.Cells); n != 64 {
		t.Errorf("%d planes, want those of the top layer", n)
	}
	before := held(c, f)
	u := whirl(c, r)
	for d := range u {
		for i := range u[d][:c.N] {
			if c.I[i][2] > 5 || d == 2 && c.I[i][2] == 5 { // below the surface only
				u[d][i] = 0
			}
		}
	}
	for range 10 {
		rep, err := a.Step(f, nil, u, 2e-4, 1)
		if err != nil {
			t.Fatal(err)
		}
		if rep.Mixed > 3*3*64*rep.Substeps {
			t.Fatalf("%d planes in %d substeps", rep.Mixed, rep.Substeps)
		}
	}
	if e := held(c, f)/before - 1; math.Abs(e) > 1e-13 {
		t.Errorf("volume off by %g", e)
	}
}

// TestWildVelocityBesideTheMetal: where no metal is the velocity may be anything, a hundred cells
// a step and more.
func TestWildVelocityBesideTheMetal(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 3))
	for _, c := range []*cells.Cells{open(t, 12), wedge(t, 12, vec.V3{X: 1, Y: 0.3, Z: 0.5}, 2.2)} {
		a := NewAdvection(c)
		for range 3 {
			f := cells.Level(c, vec.V3{X: 0.1, Y: 0.2, Z: 1}, c.Origin.Add(vec.V3{X: 5, Y: 5, Z: 5.3}.Mul(c.H)))
			clear(f[c.N:])
			q := append([]float64{}, f...)
			u := whirl(c, r)
			a.list(f)
			dt := 0.5 / a.drain(u, 1)
			for d := range u {
				for i := range u[d][:c.N] {
					if f[i] == 0 {
						u[d][i] *= 400 * r.Float64()
					}
				}
			}
			before := held(c, f)
			rep, err := a.Step(f, [][]float64{q}, u, dt, 1)
			if err != nil {
				t.Fatal(err)
			}
			in := 0.0
			for p := range rep.In {
				in += rep.In[p] - rep.Out[p]
			}
			if e := (held(c, f) - before - in + rep.Dropped) / before; math.Abs(e) > 1e-12 {
				t.Errorf("volume off by %g", e)
			}
			for i, x := range f[:c.N] {
				if !(x >= 0) || x > 1e-9 && math.Abs(q[i]/x-1) > 1e-6 {
					t.Fatalf("share %g carries %g after %d substeps", x, q[i], rep.Substeps)
				}
			}
		}
	}
}
