package freezing

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
)

// Three shots of the 10 mm ball, pewter, superheat 30 K, contact 1000, 60 s in the
// mould and 120 s open to 10 W/(m2 K) on the cavity's face: the fine radial
// reference.
var threeShots = []struct{ solid, cold, peak float64 }{{26.75, 29.72, 139.2}, {30.11, 33.49, 148.5}, {31.66, 35.25, 152.3}}

func TestThreeShots(t *testing.T) {
	sizes := []int{6}
	if full() {
		sizes = append(sizes, 10)
	}
	for _, n := range sizes {
		h := 10 / float64(n)
		m := int(70 / h)
		g := grid.Grid{H: h, NX: m, NY: m, NZ: m}
		c := vec.V3{X: float64(m/2) + .37, Y: float64(m/2) + .21, Z: float64(m/2) + .43}.Mul(h)
		body := heat.FromDistance(func(p vec.V3) float64 { return p.Dist(c) - 5 }, g)
		r := start(t, heat.Problem{Body: body, Metal: alloys["pewter"], Rubber: rubber, Air: 25, Start: 25})
		do := func(err error) {
			if err != nil {
				t.Fatal(err)
			}
		}
		for i, want := range threeShots {
			do(r.Pour(275))
			var top [6]float64
			r.Watch = func(r *heat.Run) {
				for dir := range top {
					a, z := 2.4*float64(dir), 1-(float64(dir)+0.5)/3
					s, w := math.Sincos(a)
					q := math.Sqrt(1 - z*z)
					top[dir] = math.Max(top[dir], r.At(c.Add(vec.V3{X: z, Y: q * w, Z: q * s}.Mul(6))))
				}
			}
			advance(t, r, 60)
			r.Watch = nil
			x, peak := r.Times(), 0.0
			for _, p := range top {
				peak += p / float64(len(top))
			}
			t.Logf("d/%d, shot %d: solid %+.1f %%, 20 K colder %+.1f %%, peak at 1 mm %+.1f K", n, i+1, 100*(x.Solid/want.solid-1), 100*(x.Cold/want.cold-1), peak-want.peak)
			if math.Abs(x.Solid/want.solid-1) > 0.02 || math.Abs(x.Cold/want.cold-1) > 0.02 || math.Abs(peak-want.peak) > 3 {
				t.Errorf("d/%d, shot %d: %+v, peak %.1f", n, i+1, x, peak)
			}
			do(r.TakeOut())
			do(r.Open(10))
			advance(t, r, 120)
			r.Close()
		}
	}
}
