package freezing

import (
	"math"
	"testing"

	"pourwright/internal/physics/heat"
)

// The corner of Rathjen & Jiji 1971: walls at -1, liquid at 0.3, melting at 0, L
// 0.25, all else 1. Coordinates over sqrt(4 a t); the front as computed on 1000 x
// 1000 cells by a second program. At 0.75 its own grids differ by more than the
// 0.3 % of the rest, so the front is compared from 0.8 on.
var cornerFront = [][2]float64{{0.8, 1.04041}, {0.9, 0.88955}, {1, 0.81888}, {1.2, 0.7537}, {1.4, 0.72824},
	{1.6, 0.71603}, {1.8, 0.71093}, {2, 0.70879}, {2.5, 0.70749}, {3, 0.70742}}

var cornerTemperatures = [][3]float64{{.25, .25, -0.88163}, {.5, .5, -0.57934}, {.5, 1.5, -0.25017}, {1.5, 1.5, 0.23833}, {.25, 2, -0.59618}}

func TestCorner(t *testing.T) {
	sizes := []int{75, 150}
	if full() {
		sizes = append(sizes, 300, 600)
	}
	for _, n := range sizes {
		const length = 5.0
		p := heat.Problem{Body: bar(length, n, n, 1, true), Rubber: rubber, Air: -1, Step: 1, Growth: 3 / float64(n),
			Metal: heat.Metal{Density: 1, KSolid: 1, KLiquid: 1, CpSolid: 1, CpLiquid: 1, Latent: 0.25,
				Fraction: []heat.Melt{{T: 0, F: 0}, {T: 0, F: 1}}}}
		p.Sides[heat.XLow].Metal, p.Sides[heat.YLow].Metal = math.Inf(1), math.Inf(1)
		r := start(t, p)
		if err := r.Pour(0.3); err != nil {
			t.Fatal(err)
		}
		advance(t, r, 0.25)
		h := length / float64(n)
		solid, temp := r.Fraction(), r.Temperature()
		column := func(i int) float64 {
			s := 0.0
			for j := range n {
				s += 1 - float64(solid[j*n+i])
			}
			return s * h
		}
		worst, worstT := 0.0, 0.0
		for _, c := range cornerFront {
			at := c[0]/h - 0.5
			i := int(at)
			y := column(i) + (at-float64(i))*(column(i+1)-column(i))
			worst = math.Max(worst, math.Abs(y/c[1]-1))
		}
		for _, c := range cornerTemperatures {
			x, y := c[0]/h-0.5, c[1]/h-0.5
			i, j := int(x), int(y)
			u, v := x-float64(i), y-float64(j)
			at := func(i, j int) float64 { return float64(temp[j*n+i]) }
			got := (1-v)*((1-u)*at(i, j)+u*at(i+1, j)) + v*((1-u)*at(i, j+1)+u*at(i+1, j+1))
			worstT = math.Max(worstT, math.Abs(got-c[2])/1.3)
		}
		t.Logf("%d x %d cells: front %.2f %%, temperatures %.2f %% of the range", n, n, 100*worst, 100*worstT)
		if n == 150 && (worst > 0.01 || worstT > 0.01) {
			t.Errorf("front off by %.2g, temperatures by %.2g", worst, worstT)
		}
	}
}
