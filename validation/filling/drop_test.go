package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
)

// TestDrop: a drop without weight holds the pressure 2 sigma/R (Young and Laplace),
// and what moves in it falls with finer cells, at the metal's own viscosity: a Laplace number
// sigma rho D / mu2 of 9 million, where published cases go to 12 000 (S. Popinet, J. Comput. Phys.
// 228 (2009) 5838).
func TestDrop(t *testing.T) {
	const radius = 4e-3
	sizes := []int{4, 8}
	if full() {
		sizes = append(sizes, 16)
	}
	before := math.Inf(1)
	for _, n := range sizes {
		h := radius / float64(n)
		side := 3*n + 1
		c, err := cells.Box([3]int{side, side, side}, h)
		if err != nil {
			t.Fatal(err)
		}
		f := ball(c, vec.V3{X: 0.51, Y: 0.48, Z: 0.503}.Mul(float64(side)*h), radius)
		m := pewter
		r, err := fill.New(fill.Problem{Cells: c, Metal: m, Slip: true}, f)
		if err != nil {
			t.Fatal(err)
		}
		v0 := r.Volume()
		if err := r.Advance(context.Background(), 0.1); err != nil {
			t.Fatal(err)
		}
		want := 2 * pewter.Tension / math.Cbrt(v0*3/(4*math.Pi))
		p := r.P[c.At(side/2, side/2, side/2)]
		v := r.Fastest()
		t.Logf("R/h %d: %.1f Pa, %+.2f %%; %.1e m/s; volume %.0e; %+v", n, p, 100*(p/want-1), v, r.Volume()/v0-1, r.Sum)
		if n >= 8 && math.Abs(p/want-1) > 0.02 {
			t.Errorf("R/h %d: %.1f Pa, not %.1f", n, p, want)
		}
		if v > before {
			t.Errorf("R/h %d: moves at %.1e m/s, more than the %.1e of coarser cells", n, v, before)
		}
		before = v
	}
}

// ball returns the shares of a ball of metal: exact along z, sums over 64 x 64 lines in x and y.
func ball(c *cells.Cells, o vec.V3, radius float64) []float64 {
	f := make([]float64, c.Wall+1)
	const n = 64
	h := c.H
	for i := range int32(c.N) {
		p := c.Centre(i).Sub(o)
		switch d := p.Len(); {
		case d < radius-h:
			f[i] = 1
		case d < radius+h:
			sum := 0.0
			for q := range n * n {
				x := p.X + (float64(q%n)+0.5)/n*h - h/2
				y := p.Y + (float64(q/n)+0.5)/n*h - h/2
				if z := radius*radius - x*x - y*y; z > 0 {
					z = math.Sqrt(z)
					sum += math.Max(0, math.Min(z, p.Z+h/2)-math.Max(-z, p.Z-h/2)) / h
				}
			}
			f[i] = sum / (n * n)
		}
	}
	return f
}
