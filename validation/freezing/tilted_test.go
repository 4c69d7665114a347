package freezing

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
)

// tilted freezes a plate of 3 mm whose normal is u, or a rod of 6 mm along u, of n
// cells across, and returns the error of the time to solid in %. The body ends at
// the block's insulated sides, so only metal within 4 mm of the middle is looked at.
func tilted(t *testing.T, rod bool, u vec.V3, n int, off float64) float64 {
	d, want, size := 3.0, 35.02, 40.0 // the reference row of pewter, 30 K, contact 1000
	if rod {
		d, want, size = 6, 24.51, 34
	}
	h := d / float64(n)
	m := int(size / h)
	g := grid.Grid{H: h, NX: m, NY: m, NZ: m}
	c := vec.V3{X: float64(m/2) + off, Y: float64(m/2) + .21, Z: float64(m/2) + .43}.Mul(h)
	if !rod {
		g.NZ = 3
		c.Z = 1.5 * h
	}
	u = u.Unit()
	body := heat.FromDistance(func(p vec.V3) float64 {
		p = p.Sub(c)
		a := p.Dot(u)
		if rod {
			return p.Sub(u.Mul(a)).Len() - d/2
		}
		return math.Abs(a) - d/2
	}, g)
	r := start(t, heat.Problem{Body: body, Metal: alloys["pewter"], Rubber: rubber, Air: 25, Start: 25})
	if err := r.Pour(275); err != nil {
		t.Fatal(err)
	}
	advance(t, r, 1.3*want)
	last := 0.0
	for q, s := range r.Solid() {
		if s >= 0 && g.Centre(g.Cell(q)).Dist(c) < 4 {
			last = math.Max(last, float64(s))
		}
	}
	return 100 * (last/want - 1)
}

func TestTilted(t *testing.T) {
	sizes := []int{4, 6}
	if full() {
		sizes = append(sizes, 10)
	}
	for _, n := range sizes {
		for _, u := range []vec.V3{{X: 1, Y: 1}, {X: 1, Y: .6}, {X: 1, Y: .3}} {
			for _, off := range []float64{.37, .1, .6, .85} {
				if e := tilted(t, false, u, n, off); math.Abs(e) > 3 {
					t.Errorf("plate across %.2f at %g, d/%d: %+.2f %%", u, off, n, e)
				}
			}
		}
		for _, u := range []vec.V3{{X: 1, Y: .31, Z: .17}, {X: 1, Y: .83, Z: .71}, {X: 1, Y: 1, Z: 1}, {X: 1, Y: 1}} {
			e := tilted(t, true, u, n, .37)
			t.Logf("rod along %.2f, d/%d: %+.2f %%", u, n, e)
			if math.Abs(e) > 3 {
				t.Errorf("rod along %.2f, d/%d: %+.2f %%", u, n, e)
			}
		}
	}
}
