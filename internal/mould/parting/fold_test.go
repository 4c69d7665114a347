package parting

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
)

// wavyBall is a flat ball whose equator goes up and down, n waves of height a.
func wavyBall(a float64, n int) Body {
	m := moved(ball(20, 96), func(p vec.V3) vec.V3 {
		r := math.Hypot(p.X, p.Y) / 20
		p.Z = p.Z/3 + a*r*r*math.Cos(float64(n)*math.Atan2(p.Y, p.X))
		return p
	})
	return Body{Mesh: m}
}

// TestFollow: the line goes along the fold. Before, a stiff membrane leaves it,
// for what it adds is little volume.
func TestFollow(t *testing.T) {
	for _, n := range []int{2, 3, 5} {
		r := Rect{-30, -30, 30, 30}
		f := newField([]Body{wavyBall(1.5, n)}, r, Setting{})
		f.border()
		f.relax(36 * f.scale)
		b := &band{f: f}
		b.mark()
		b.raster()
		before := b.blind() / f.shadow()
		b.relax()
		after := b.blind() / f.shadow()
		t.Logf("%d waves: %.3f %% of the shadow passed by before, %.3f %% after", n, 100*before, 100*after)
		if before < 3e-3 || after > 1e-3 || after > before/8 {
			t.Errorf("%d waves: %.3f %% of the shadow passed by before, %.3f %% after", n, 100*before, 100*after)
		}
	}
}

// TestFollowLeavesPlanes: where a plane passes every column it stays one.
func TestFollowLeavesPlanes(t *testing.T) {
	s := Solve([]Body{{Mesh: ball(20, 96)}}, Rect{-30, -30, 30, 30}, Setting{})
	for q := range s.Z {
		if s.Z[q] != s.Z[0] {
			t.Fatalf("node %d stands at %g, node 0 at %g", q, s.Z[q], s.Z[0])
		}
	}
}

// TestSettle: the height found has the least energy of all.
func TestSettle(t *testing.T) {
	b := &band{lo: make([]float64, dotsOf), hi: make([]float64, dotsOf), weight: make([]float64, dotsOf), nlo: []float64{0}, nhi: []float64{0}}
	for run := range 200 {
		l, h := math.Inf(-1), math.Inf(1)
		for k := range dotsOf {
			a, c := jitter[0][(run*dotsOf+k)%4096], jitter[1][(run*37+k)%4096]
			b.lo[k], b.hi[k], b.weight[k] = 3*a-2, 3*a-2+c, 0.01*c
			l, h = max(l, b.lo[k]), min(h, b.hi[k])
		}
		b.nlo[0], b.nhi[0] = l, h
		z, pull := 8*jitter[0][run]-4, 20*jitter[1][run+500]+0.01
		energy := func(t float64) float64 {
			e := (t - z) * (t - z) / (2 * pull)
			for k := range dotsOf {
				e += b.weight[k] * (max(0, t-b.hi[k]) + max(0, b.lo[k]-t))
			}
			return e
		}
		got, best := b.settle(0, z, pull), math.Inf(1)
		for x := -6.0; x <= 6; x += 1e-3 {
			best = min(best, energy(x))
		}
		if e := energy(got); e > best+1e-4*(1+best) {
			t.Fatalf("run %d: energy %g at %g, least %g", run, e, got, best)
		}
	}
}

// TestFollowScales: a body ten times as large gets the same surface, ten times
// as large.
func TestFollowScales(t *testing.T) {
	r := Rect{-30, -30, 30, 30}
	b := wavyBall(1.5, 3)
	s := Solve([]Body{b}, r, Setting{})
	large := Body{Mesh: moved(b.Mesh, func(p vec.V3) vec.V3 { return p.Mul(10) })}
	l := Solve([]Body{large}, Rect{10 * r.X0, 10 * r.Y0, 10 * r.X1, 10 * r.Y1}, Setting{})
	for q := range s.Z {
		if d := math.Abs(l.Z[q]/10 - s.Z[q]); d > 0.02 {
			t.Fatalf("node %d stands at %g, a tenth of the large one's at %g", q, s.Z[q], l.Z[q]/10)
		}
	}
}
