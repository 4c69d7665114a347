package filling

import (
	"math"
	"os"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/plic"
)

// deform is the sphere of radius 0.15 at (0.35, 0.35, 0.35) in the unit cube, carried
// for T = 3 by the field of LeVeque (SIAM J. Numer. Anal. 33 (1996) 627), which turns
// round at T/2 (Enright et al., J. Comput. Phys. 183 (2002) 83).
type deform struct {
	c *cells.Cells
	f []float64
	u [3][]float64
}

func newDeform(t testing.TB, n int) deform {
	h := 1 / float64(n)
	c, err := cells.Box([3]int{n, n, n}, h)
	if err != nil {
		t.Fatal(err)
	}
	d := deform{c: c, f: make([]float64, c.Wall+1)}
	for k := range d.u {
		d.u[k] = make([]float64, c.Wall+1)
	}
	sin2 := func(x float64) float64 { s := math.Sin(math.Pi * x); return s * s }
	for i := range int32(c.N) {
		x := c.Centre(i)
		d.f[i] = inBall(x.Sub(vec.V3{X: 0.35, Y: 0.35, Z: 0.35}), h, 0.15)
		sx, sy, sz := math.Sin(2*math.Pi*x.X), math.Sin(2*math.Pi*x.Y), math.Sin(2*math.Pi*x.Z)
		d.u[0][i] = 2 * sin2(x.X-h/2) * sy * sz
		d.u[1][i] = -sx * sin2(x.Y-h/2) * sz
	}
	// The third component from the sum over a cell's sides, so that the field on the grid
	// is free of divergence to rounding.
	for i := range int32(c.N) {
		if top := c.Nb[5][i]; int(top) < c.N {
			x, y := c.Nb[1][i], c.Nb[3][i]
			d.u[2][top] = d.u[2][i] - (d.u[0][x] - d.u[0][i]) - (d.u[1][y] - d.u[1][i])
		}
	}
	return d
}

// inBall is the share of the cube of edge h about x inside a ball, by 20^3 points.
func inBall(x vec.V3, h, r float64) float64 {
	const n = 20
	if l := x.Len(); l < r-h {
		return 1
	} else if l > r+h {
		return 0
	}
	count := 0
	for a := range n {
		for b := range n {
			for c := range n {
				y := x.Add(vec.V3{X: (float64(a)+0.5)/n - 0.5, Y: (float64(b)+0.5)/n - 0.5, Z: (float64(c)+0.5)/n - 0.5}.Mul(h))
				if y.Dot(y) < r*r {
					count++
				}
			}
		}
	}
	return float64(count) / (n * n * n)
}


func TestDeformation(t *testing.T) {
	// The larger of the levels of two published open geometric schemes at each size.
	level := map[int]float64{32: 8.636e-3, 64: 3.418e-3, 128: 6.967e-4}
	sizes := []int{32}
	if os.Getenv("POURWRIGHT_FULL") != "" {
		sizes = append(sizes, 64, 128)
	}
	for _, n := range sizes {
		d := newDeform(t, n)
		a := plic.NewAdvection(d.c)
		e, loss, least, most := d.turn(t, a, 0.45)
		t.Logf("%d^3: E1 %.4g (published %.4g), volume error %.2g, shares %.2g .. 1 + %.2g", n, e, level[n], loss, least, most-1)
		if !(e <= level[n]) {
			t.Errorf("%d^3: E1 %.4g, published %.4g", n, e, level[n])
		}
		if !(math.Abs(loss) < 1e-12) {
			t.Errorf("%d^3: volume error %g", n, loss)
		}
		if !(least > -1e-9 && most < 1+1e-9) {
			t.Errorf("%d^3: shares %g .. 1 + %g", n, least, most-1)
		}
	}
}

// turn runs the whole period and returns E1 = sum h^3 |f - f0|.
func (d *deform) turn(t testing.TB, a *plic.Advection, courant float64) (e, loss, least, most float64) {
	const period = 3.0
	um := 0.0
	for i := range d.c.N {
		um = max(um, math.Abs(d.u[0][i])+math.Abs(d.u[1][i])+math.Abs(d.u[2][i]))
	}
	steps := int(math.Ceil(period * um / (courant * d.c.H)))
	dt := period / float64(steps)
	start := append([]float64{}, d.f...)
	var now [3][]float64
	for k := range now {
		now[k] = make([]float64, len(d.f))
	}
	for s := range steps {
		x := math.Cos(math.Pi * (float64(s) + 0.5) * dt / period)
		for k := range now {
			for i, u := range d.u[k] {
				now[k][i] = u * x
			}
		}
		r, err := a.Step(d.f, nil, &now, dt, 1)
		if err != nil {
			t.Fatal(err)
		}
		least, most = min(least, r.Least), max(most, r.Most)
	}
	v0, v := 0.0, 0.0
	for i, x := range d.f[:d.c.N] {
		e += math.Abs(x - start[i])
		v0 += start[i]
		v += x
	}
	return e * d.c.H * d.c.H * d.c.H, v/v0 - 1, least, most
}
