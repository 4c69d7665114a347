package shot

import (
	"math"
	"testing"
	"time"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
)

type stub struct{ *Run }

func (stub) Save() ([]byte, error) { return nil, nil }
func (stub) Load([]byte) error     { return nil }

var pewter = heat.Metal{Density: 7150, KSolid: 50, KLiquid: 27, CpSolid: 256, CpLiquid: 247, Latent: 66e3, Fraction: []heat.Melt{{T: 236, F: 0}, {T: 245, F: 1}}}
var silicone = heat.Rubber{Density: 1250, Cp: 1250, K: 0.25}

func mouldOf(t *testing.T, f func(vec.V3) float64, size vec.V3, h float64, change func(*heat.Problem)) (*Run, heat.Problem) {
	g := must(grid.Over(vec.Box{Max: size}, h))
	p := heat.Problem{Body: heat.FromDistance(f, g), Metal: pewter, Rubber: silicone, Air: 25, Start: 25}
	if change != nil {
		change(&p)
	}
	r, err := heat.New(bg, p)
	if err != nil {
		t.Fatal(err)
	}
	return Of(r, p), p
}

func TestHeatThreeShots(t *testing.T) {
	for _, o := range []vec.V3{{X: .37, Y: .21, Z: .43}, {}, {X: .11, Y: .64, Z: .82}} {
		c := vec.V3{X: 30, Y: 30, Z: 30}.Add(o)
		m, _ := mouldOf(t, func(p vec.V3) float64 { return p.Dist(c) - 5 }, vec.V3{X: 60, Y: 60, Z: 60}, 1, nil)
		t0 := time.Now()
		res, err := Play(bg, stub{m}, Setting{Pour: 275, Open: Opening{Wait: 60, LiftBelow: 216}, How: Opened, Rest: 120, Shots: 3}, nil)
		if err != nil {
			t.Fatal(err)
		}
		solid, cold := []float64{26.75, 30.11, 31.66}, []float64{29.72, 33.49, 35.25}
		for i, s := range res.Shots {
			t.Logf("shot %d: solid %.2f of %.2f (%+.1f %%), cold %.2f and ready %.2f of %.2f (%+.1f), peak %.1f share %.2g", i+1, s.Solid, solid[i], 100*(s.Solid/solid[i]-1), s.Cold, s.Ready, cold[i], 100*(s.Ready/cold[i]-1), s.Peak, s.Spent.Share())
		}
		t.Log(time.Since(t0), res.Balance, res.Balance.Share())
	}
	_ = math.Abs
}

// figure is a union of capsules 2 to 18 mm thick, 27 cm3, in a block of 160 x 90 x
// 60 mm: body, limbs, a thin arm.
func figure(p vec.V3) float64 {
	p = p.Sub(vec.V3{X: 92, Y: 45, Z: 30})
	d := math.Inf(1)
	for _, c := range [][7]float64{{-50, 0, 0, 0, 0, 0, 9}, {0, 0, 0, 45, 10, 5, 6}, {0, 0, 0, 30, -22, -3, 4}, {-30, 0, 0, -10, 25, 8, 2.5},
		{-30, 0, 0, -20, -28, -8, 1.5}, {10, 4, 2, 40, 28, 0, 1}, {-60, -20, -10, -60, 20, 10, 5}, {-70, 0, 0, -45, 0, 0, 5}} {
		a, b := vec.V3{X: c[0], Y: c[1], Z: c[2]}, vec.V3{X: c[3], Y: c[4], Z: c[5]}
		ab := b.Sub(a)
		t := math.Min(1, math.Max(0, p.Sub(a).Dot(ab)/ab.Dot(ab)))
		d = math.Min(d, p.Dist(a.Add(ab.Mul(t)))-c[6])
	}
	return d
}

var figureBlock = vec.V3{X: 160, Y: 90, Z: 60}

// halves parts a block at z = 30 mm.
func halves(p *heat.Problem) {
	g := p.Body.Grid
	p.Body.Half = make([]uint8, g.Len())
	for q := range p.Body.Half {
		p.Body.Half[q] = 1
		if g.Centre(g.Cell(q)).Z > 30 {
			p.Body.Half[q] = 2
		}
	}
}

func outside(h float64) func(*heat.Problem) {
	return func(p *heat.Problem) {
		for i := range p.Sides {
			p.Sides[i].H = h
		}
	}
}

func TestFigureProof(t *testing.T) {
	make := func(h float64) *Run {
		m, _ := mouldOf(t, figure, figureBlock, h, func(p *heat.Problem) { outside(10)(p); halves(p) })
		return m
	}
	coarse, fine := make(2), make(1)
	s := Setting{Pour: 275, Open: Opening{Wait: 240}, Powder: 30, Close: 30}
	for _, l := range []Limits{{}, {Rating: 243}} {
		t0 := time.Now()
		c := must(FindRest(bg, stub{coarse}, s, []How{Opened}, l, nil))[0]
		t.Logf("%s %v rest %g by %v, %d shots, slack %g %v", c.How.Name, c.Why, c.Rest, c.Bound, c.Played, c.Slack, time.Since(t0))
		if c.Why != Found {
			continue
		}
		t0 = time.Now()
		x := must(Carry(c.Steady.Field, coarse, fine))
		d := must(Prove(bg, stub{fine}, x, c, s, l, nil))
		t.Logf("%s %v rest %g by %v, %d shots, slack %g %v", d.How.Name, d.Why, d.Rest, d.Bound, d.Played, d.Slack, time.Since(t0))
		for _, c := range []Choice{c, d} {
			t.Logf("   mould %.1f solid %.1f ready %.1f peak %.1f slow %.2f", c.Steady.Shot.Mould, c.Steady.Shot.Solid, c.Steady.Shot.Ready, c.Steady.Shot.Peak, c.Steady.Slow)
		}
	}
}

func TestFigure(t *testing.T) {
	m, _ := mouldOf(t, figure, figureBlock, 2, outside(10))
	t0 := time.Now()
	for _, c := range [][2]float64{{150, 150}, {240, 1200}} {
		m.SetSlow(m.Rested())
		res, err := Play(bg, stub{m}, Setting{Pour: 275, Open: Opening{Wait: c[0], LiftBelow: 216}, How: Opened, Rest: c[1], Shots: 20}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range res.Shots {
			if i%5 == 4 || i == 0 {
				t.Logf("shot %d: mould %.1f solid %.2f ready %.2f liquid %.3f peak %.1f share %.2g", i+1, s.Mould, s.Solid, s.Ready, s.Liquid, s.Peak, s.Spent.Share())
			}
		}
		t.Log(time.Since(t0), res.Balance.Share())
	}
	m, _ = mouldOf(t, figure, figureBlock, 2, func(p *heat.Problem) { outside(10)(p); halves(p) })
	for _, l := range []Limits{{}, {Rating: 230}} {
		t0 = time.Now()
		cs, err := FindRest(bg, stub{m}, Setting{Pour: 275, Open: Opening{Wait: 240}, Powder: 30, Close: 30}, threeWays, l, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range cs {
			t.Logf("%s %v rest %g by %v, %d shots, slack %g", c.How.Name, c.Why, c.Rest, c.Bound, c.Played, c.Slack)
			if c.Steady != nil {
				t.Logf("   mould %.1f solid %.1f ready %.1f peak %.1f slow %.2f", c.Steady.Shot.Mould, c.Steady.Shot.Solid, c.Steady.Shot.Ready, c.Steady.Shot.Peak, c.Steady.Slow)
			}
		}
		t.Log(time.Since(t0))
	}
}
