package plic

import (
	"math"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// TestGatherIsThePlainOne: away from walls the quick way gives the same bytes.
func TestGatherIsThePlainOne(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 5))
	for _, c := range []*cells.Cells{open(t, 7), wedge(t, 9, vec.V3{X: 1, Y: 0.7, Z: -0.3}, 0.9)} {
		w := newWeb(c)
		f := make([]float64, c.Wall+1)
		for i := range c.Wall {
			f[i] = min(max(1.4*r.Float64()-0.2, 0), 1)
			if i%17 == 0 {
				f[i] = 1.3
			}
		}
		inner := 0
		for i := range int32(c.N) {
			var g, plain [27]float64
			var at, near [27]int32
			w.gather(i, f, &g)
			w.around(i, &at)
			w.gatherPlain(&at, f, &plain)
			w.near(i, &near)
			if g != plain || at != near {
				t.Fatalf("cell %v: %v and %v", c.I[i], g, plain)
			}
			for _, x := range g {
				if !(x >= 0 && x <= 1) {
					t.Fatalf("cell %v: share %g", c.I[i], x)
				}
			}
			if w.inner[i] {
				inner++
				for j, o := range at {
					p := c.I[i]
					if q := [3]int32{p[0] + int32(j%3) - 1, p[1] + int32(j/3%3) - 1, p[2] + int32(j/9) - 1}; c.I[o] != q {
						t.Fatalf("cell %v: %v stands where %v should", p, c.I[o], q)
					}
				}
			}
		}
		if inner == 0 {
			t.Error("no cell is away from the walls")
		}
	}
}

// naive is Youngs' and the mixed normal written as in the papers, without shared sums.
func naive(g *[27]float64) (y, m [3]float64) {
	at := func(d, e, h, i, j, k int) float64 { // i along d, j along e, k along h
		step := [3]int{1, 3, 9}
		return g[13+i*step[d]+j*step[e]+k*step[h]]
	}
	var cand [3][3]float64
	best, pick := -1.0, 0
	for d := range 3 {
		e, h := (d+1)%3, (d+2)%3
		up, down := 0.0, 0.0
		for j := -1; j <= 1; j++ {
			for k := -1; k <= 1; k++ {
				w := float64((2 - j*j) * (2 - k*k))
				y[d] += w * (at(d, e, h, -1, j, k) - at(d, e, h, 1, j, k))
				if j*k == 0 {
					up, down = up+at(d, e, h, 1, j, k), down+at(d, e, h, -1, j, k)
				}
			}
		}
		for i := -1; i <= 1; i++ {
			cand[d][e] += (at(d, e, h, i, -1, 0) - at(d, e, h, i, 1, 0)) / 2
			cand[d][h] += (at(d, e, h, i, 0, -1) - at(d, e, h, i, 0, 1)) / 2
		}
		cand[d][d] = 1
		if up > down {
			cand[d][d] = -1
		}
		s := math.Abs(cand[d][0]) + math.Abs(cand[d][1]) + math.Abs(cand[d][2])
		for k := range 3 {
			cand[d][k] /= s
		}
		if 1/s > best {
			best, pick = 1/s, d
		}
	}
	s := math.Abs(y[0]) + math.Abs(y[1]) + math.Abs(y[2])
	m = cand[pick]
	if steep := max(math.Abs(y[0]), math.Abs(y[1]), math.Abs(y[2])) / s; best > steep {
		m = [3]float64{y[0] / s, y[1] / s, y[2] / s}
	}
	return y, m
}

// TestNormalsAgainstTheNaive: random shares, and planes.
func TestNormalsAgainstTheNaive(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 5))
	for k := range 5000 {
		var g [27]float64
		for j := range g {
			g[j] = r.Float64()
		}
		if k%2 == 0 {
			p := through([3]float64{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}, r.Float64())
			n := vec.FromArray(p.m)
			for j := range g {
				g[j] = cells.CubeUnder(n, p.offset()-n.Dot(vec.FromArray(place[j])))
			}
		}
		y, m := naive(&g)
		a, b := youngs(&g), mixed(&g)
		for d := range 3 {
			if math.Abs(a[d]-y[d]) > 1e-13 || math.Abs(b[d]-m[d]) > 1e-13 {
				t.Fatalf("%v and %v, %v and %v", a, y, b, m)
			}
		}
		if k%2 == 0 { // the mixed normal of a plane is near it
			p := naivePlane(&g, b)
			if p > 0.2 {
				t.Fatalf("mixed normal misses its plane by %g", p)
			}
		}
	}
}

// naivePlane is the largest miss of the shares under the plane with normal m.
func naivePlane(g *[27]float64, m [3]float64) float64 {
	p := through(m, g[13])
	n, worst := vec.FromArray(p.m), 0.0
	for j := range g {
		worst = max(worst, math.Abs(cells.CubeUnder(n, p.offset()-n.Dot(vec.FromArray(place[j])))-g[j]))
	}
	return worst
}

// TestLevelOfAnyTilt: random walls and levels are found again, also in cells at the wall.
func TestLevelOfAnyTilt(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	dir := func() vec.V3 { return vec.V3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit() }
	planes, off := 0, 0
	for range 60 {
		c := wedge(t, 9, dir(), 2*r.Float64()+0.5)
		s := NewSurface(c)
		n, p := dir(), vec.V3{X: 4.5, Y: 4.5, Z: 4.5}.Add(dir().Mul(r.Float64())).Mul(1e-3)
		f := cells.Level(c, n, p)
		s.Update(f, nil)
		for k, i := range s.Cells {
			centre := vec.V3{X: 0.5, Y: 0.5, Z: 0.5}
			h, _ := s.Height(i, centre)
			planes++
			if e := math.Abs(h - (n.Dot(centre) - c.Local(i, n, p))); e > 1e-8 && s.Area[k] > 1e-3 {
				off++
			}
		}
	}
	t.Logf("%d planes, %d off", planes, off)
	if off > 0 {
		t.Errorf("%d of %d planes are off the level", off, planes)
	}
}
