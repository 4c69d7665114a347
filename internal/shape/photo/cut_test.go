package photo

import (
	"math/rand/v2"
	"testing"
)

// value is the cost of a cut: all edges from the source's side to the sink's.
func (g *grid) value(in []bool, term []int32, caps [8][]int32) int64 {
	sum := int64(0)
	for p := range in {
		if t := term[p]; t > 0 && !in[p] {
			sum += int64(t)
		} else if t < 0 && in[p] {
			sum -= int64(t)
		}
		if !in[p] {
			continue
		}
		for d := range 8 {
			if c := caps[d][p]; c > 0 && !in[p+g.step[d]] {
				sum += int64(c)
			}
		}
	}
	return sum
}

// On grids small enough to try every cut, the answer is the least one.
func TestLeastCut(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for try := range 300 {
		w, h := 2+try%3, 2+try%2+try%3
		n := w * h
		if n > 14 {
			continue
		}
		g := newGrid(w, h)
		for p := range n {
			g.term[p] = int32(rng.IntN(21) - 10)
			for d := 0; d < 8; d += 2 {
				x, y := p%w+stepX[d], p/w+stepY[d]
				if x >= 0 && y >= 0 && x < w && y < h {
					g.link(p, d, int32(rng.IntN(9)))
				}
			}
		}
		term := append([]int32{}, g.term...)
		var caps [8][]int32
		for d := range 8 {
			caps[d] = append([]int32{}, g.cap[d]...)
		}
		got := g.value(g.solve(), term, caps)
		best := int64(1) << 40
		in := make([]bool, n)
		for m := range 1 << n {
			for p := range n {
				in[p] = m>>p&1 == 1
			}
			best = min(best, g.value(in, term, caps))
		}
		if got != best {
			t.Fatalf("try %d, %d x %d: cut %d, least %d", try, w, h, got, best)
		}
	}
}
