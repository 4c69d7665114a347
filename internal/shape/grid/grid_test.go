package grid

import (
	"math"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
)

func TestGridOverBox(t *testing.T) {
	for _, c := range []struct {
		size       vec.V3
		h          float64
		nx, ny, nz int
	}{
		{vec.V3{X: 10, Y: 20, Z: 30}, 1, 10, 20, 30},
		{vec.V3{X: 0.3, Y: 0.3, Z: 0.3}, 0.1, 3, 3, 3}, // 0.3/0.1 is above 3 in floats
		{vec.V3{X: 10.1, Y: 0, Z: 9.9}, 1, 11, 1, 10},
	} {
		lo := vec.V3{X: -7, Y: 3, Z: 100}
		b := vec.Box{Min: lo, Max: lo.Add(c.size)}
		g, err := Over(b, c.h)
		if err != nil || g.NX != c.nx || g.NY != c.ny || g.NZ != c.nz {
			t.Errorf("%v: %v %v", c, g, err)
		}
		if g.Box().Centre().Dist(b.Centre()) > 1e-9 {
			t.Errorf("%v: not centred: %v", c, g.Box())
		}
		for q := 0; q < g.Len(); q += 7 {
			i, j, k := g.Cell(q)
			if g.At(i, j, k) != q {
				t.Fatal("At and Cell disagree")
			}
			if a, b, c, ok := g.Find(g.Centre(i, j, k)); !ok || a != i || b != j || c != k {
				t.Fatal("Find and Centre disagree")
			}
		}
	}
	g, err := Longest(vec.Box{Max: vec.V3{X: 1, Y: 2, Z: 4}}, 256)
	if err != nil || g.NZ != 256 || g.NX != 64 {
		t.Error(g, err)
	}
	for _, h := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-9} {
		if _, err := Over(vec.Box{Max: vec.V3{X: 1, Y: 1, Z: 1}}, h); err == nil {
			t.Errorf("edge %g was taken", h)
		}
	}
	if _, err := Over(vec.Empty(), 1); err == nil {
		t.Error("an empty box was taken")
	}
	if _, _, _, ok := g.Find(vec.V3{X: math.NaN()}); ok {
		t.Error("NaN was found")
	}
}

// cover counts, for every point of an n x n grid, the signed covers of the
// triangles.
func cover(n int, p []vec.V2, f [][3]int) []int {
	c := make([]int, n*n)
	var s Scan
	for _, t := range f {
		a, b, d := p[t[0]], p[t[1]], p[t[2]]
		if !s.Set(a.X, a.Y, b.X, b.Y, d.X, d.Y, 0, n) {
			continue
		}
		for j := s.J0; j < s.J1; j++ {
			i0, i1, ccw := s.Row(j)
			for i := max(0, i0); i < min(n, i1); i++ {
				if ccw {
					c[j*n+i]++
				} else {
					c[j*n+i]--
				}
			}
		}
	}
	return c
}

// sheet is a net of m x m quads over the square [lo, hi]^2, inner corners
// moved by amount; some on whole numbers.
func sheet(r *rand.Rand, m int, lo, hi, amount float64) (p []vec.V2, f [][3]int) {
	for j := range m + 1 {
		for i := range m + 1 {
			q := vec.V2{X: lo + (hi-lo)*float64(i)/float64(m), Y: lo + (hi-lo)*float64(j)/float64(m)}
			if i > 0 && j > 0 && i < m && j < m {
				q.X += amount * (r.Float64() - 0.5)
				q.Y += amount * (r.Float64() - 0.5)
				if r.IntN(3) == 0 {
					q = vec.V2{X: math.Round(q.X), Y: math.Round(q.Y)}
				}
			}
			p = append(p, q)
		}
	}
	at := func(i, j int) int { return j*(m+1) + i }
	for j := range m {
		for i := range m {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			if r.IntN(2) == 0 {
				f = append(f, [3]int{a, b, c}, [3]int{c, d, a})
			} else {
				f = append(f, [3]int{b, c, d}, [3]int{d, a, b})
			}
		}
	}
	return p, f
}

// TestScanCoversOnce: whatever the inner corners do (folded triangles take
// back what they cover twice), the sum on each point is 1 inside the square,
// lower and left borders included, and 0 outside.
func TestScanCoversOnce(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 1))
		lo, hi := 3.0, 28.0
		if seed%2 == 1 {
			lo, hi = 2.5, 27.3
		}
		p, f := sheet(r, 1+r.IntN(40), lo, hi, 4*r.Float64())
		c := cover(32, p, f)
		for q, n := range c {
			x, y := float64(q%32), float64(q/32)
			want := 0
			if x >= lo && x < hi && y >= lo && y < hi {
				want = 1
			}
			if n != want {
				t.Fatalf("seed %d: point (%g, %g) is covered %d times, want %d", seed, x, y, n, want)
			}
		}
	}
}

// TestScanAgainstSides compares single triangles with the sign of three cross
// products at points that are clearly inside or outside.
func TestScanAgainstSides(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	const n = 24
	for range 5000 {
		v := func() vec.V2 { return vec.V2{X: r.Float64()*40 - 8, Y: r.Float64()*40 - 8} }
		p := []vec.V2{v(), v(), v()}
		c := cover(n, p, [][3]int{{0, 1, 2}})
		for q := range c {
			x := vec.V2{X: float64(q % n), Y: float64(q / n)}
			low, high := math.Inf(1), math.Inf(-1)
			for k := range 3 {
				e := p[(k+1)%3].Sub(p[k])
				d := e.Cross(x.Sub(p[k])) / e.Len()
				low, high = math.Min(low, d), math.Max(high, d)
			}
			want := 0
			switch {
			case low > 1e-9:
				want = 1
			case high < -1e-9:
				want = -1
			case low >= -1e-9 && low <= 1e-9 || high >= -1e-9 && high <= 1e-9:
				continue
			}
			if c[q] != want {
				t.Fatalf("%v at %v: %d, want %d", p, x, c[q], want)
			}
		}
	}
}

// TestScanOfNothing: lines and points cover nothing, extreme slopes do no harm.
func TestScanOfNothing(t *testing.T) {
	for _, p := range [][]vec.V2{
		{{X: 1, Y: 1}, {X: 1, Y: 1}, {X: 1, Y: 1}},
		{{X: 0, Y: 2}, {X: 5, Y: 2}, {X: 9, Y: 2}},
		{{X: 3, Y: 0}, {X: 3, Y: 5}, {X: 3, Y: 9}},
		{{X: 0, Y: 0}, {X: 4, Y: 4}, {X: 8, Y: 8}},
	} {
		for _, n := range cover(10, p, [][3]int{{0, 1, 2}}) {
			if n != 0 {
				t.Errorf("%v covers a point", p)
			}
		}
	}
	p := []vec.V2{{X: -1e9, Y: 0}, {X: 1e9, Y: 1e-310}, {X: 0, Y: 5}}
	n := 0
	for _, x := range cover(10, p, [][3]int{{0, 1, 2}}) {
		n += x
	}
	if n != 40 { // rows 1 to 4, all ten points; row 0 only touches the corner
		t.Errorf("covers %d points", n)
	}
}
