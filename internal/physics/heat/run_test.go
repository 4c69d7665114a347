package heat

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

var (
	pewter   = Metal{Density: 7150, KSolid: 50, KLiquid: 27, CpSolid: 256, CpLiquid: 247, Latent: 66e3, Fraction: []Melt{{236, 0}, {245, 1}}}
	solder   = Metal{Density: 8200, KSolid: 50, KLiquid: 25, CpSolid: 190, CpLiquid: 208, Latent: 45e3, Fraction: []Melt{{183, 0}, {183, 1}}}
	bismuth  = Metal{Density: 8550, KSolid: 19, KLiquid: 12, CpSolid: 167, CpLiquid: 178, Latent: 48e3, Fraction: []Melt{{138.5, 0}, {138.5, 1}}}
	silicone = Rubber{1250, 1250, 0.25}
)

// ballIn returns a ball of radius r mm in a cube of edge l mm on cells of h mm,
// its centre off the grid's by o cells.
func ballIn(r, l, h float64, o vec.V3) *Body {
	n := int(math.Round(l / h))
	g := grid.Grid{H: h, NX: n, NY: n, NZ: n}
	c := vec.V3{X: float64(n / 2), Y: float64(n / 2), Z: float64(n / 2)}.Add(o).Mul(h)
	return FromDistance(func(p vec.V3) float64 { return p.Dist(c) - r }, g)
}

// A 10 mm ball of pewter, superheat 30 K, on cells of 1 mm.
func TestBall(t *testing.T) {
	b := ballIn(5, 60, 1, vec.V3{X: .37, Y: .21, Z: .43})
	r, err := New(context.Background(), Problem{Body: b, Metal: pewter, Rubber: silicone, Air: 25, Start: 25})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Pour(275); err != nil {
		t.Fatal(err)
	}
	if err := r.Advance(context.Background(), 40); err != nil {
		t.Fatal(err)
	}
	x, e := r.Times(), r.Energy()
	// fine radial reference: solid after 26.75 s, 20 K colder after 29.72, face at most 212.7 degC
	if math.Abs(x.Solid/26.75-1) > 0.02 || math.Abs(x.Cold/29.72-1) > 0.025 || math.Abs(x.Surface-212.7) > 4 {
		t.Errorf("%+v", x)
	}
	if math.Abs(e.Share()) > 1e-6 || math.Abs(e.Poured-e.Rubber-e.Metal) > 1e-3*e.Poured {
		t.Errorf("balance %+v", e)
	}
	// cells at walls may shorten the explicit step, but not by much
	if s := r.step1 * 6 * silicone.K * r.h / r.cell; s < 0.85 || s > 0.95 {
		t.Errorf("the explicit step is %g of that of plain rubber", s)
	}
}
