package shot

import (
	"math"
	"testing"

	"pourwright/internal/ground/fault"
)

// piece is a mould in one dimension whose slowest mode leaves 0.4 to 0.97 of a
// difference per shot.
type piece struct {
	name   string
	geom   int
	r, out float64 // m
	n      int
	outer  float64
}

func (p piece) mould() *radial { return newRadial(p.geom, p.r, p.out, p.n, p.outer) }

var (
	plate3  = piece{"plate 3 in 20 mm", 0, 0.0015, 0.0215, 3, 10}
	plate10 = piece{"plate 10 in 30 mm", 0, 0.005, 0.035, 8, 10}
	rod12   = piece{"rod 12 in 25 mm", 1, 0.006, 0.031, 8, 10}
	ball18  = piece{"ball 18 in 25 mm", 2, 0.009, 0.034, 8, 10}
	sealed  = piece{"ball 18, insulated", 2, 0.009, 0.034, 8, 0}
)

// The steady state of Settle is that of a hundred shots played, within the error
// it states, for far fewer shots.
func TestSettleFindsWhatPlayingLeadsTo(t *testing.T) {
	for _, p := range []piece{plate3, plate10, rod12, ball18, sealed} {
		for _, rest := range []float64{120, 1200} {
			m := p.mould()
			s := Setting{Pour: 275, Open: Opening{Wait: 240, LiftBelow: 216}, How: Opened, Rest: rest, Powder: 30, Close: 30, Shots: 1}
			x, err := Settle(bg, m, s, 0.1, nil)
			if err != nil || !x.Closed {
				t.Fatal(p.name, err)
			}
			m = p.mould()
			var states [][]float32
			for len(states) < 400 {
				states = append(states, m.Slow())
				if _, err := Play(bg, m, s, nil); err != nil {
					t.Fatal(err)
				}
				if largest(minus(m.Slow(), states[len(states)-1])) < 1e-4 {
					break
				}
			}
			end := m.Slow()
			n := 0
			for largest(minus(states[n], end)) > 0.1 {
				n++
			}
			truth := largest(minus(x.Field, end))
			if truth > x.Error+2e-3 || x.Error > 0.1 {
				t.Errorf("%s, rest %g: %.4f K off, stated %.4f", p.name, rest, truth, x.Error)
			}
			if x.Shots > 14 || n > 20 && x.Shots > n/2 {
				t.Errorf("%s, rest %g: %d shots, played %d", p.name, rest, x.Shots, n)
			}
			t.Logf("%-18s rest %4g: %2d shots instead of %3d; %.4f K off, stated %.4f; slowest mode %.3f; mould %.1f, solid %.1f", p.name, rest, x.Shots, n, truth, x.Error, x.Slow, x.Shot.Mould, x.Shot.Solid)
		}
	}
}

func TestSettleWantsAnError(t *testing.T) {
	for _, w := range []float64{0, -1, math.NaN()} {
		if _, err := Settle(bg, ball18.mould(), Setting{Pour: 275}, w, nil); fault.KindOf(err) != fault.Input {
			t.Error(w, err)
		}
	}
}

func TestLeastSolvesAndLeavesOutTwins(t *testing.T) {
	v := [][]float32{{1, 2, 3, 4}, {0, 1, -1, 2}, {1, 0, 0, 1}}
	twin := append(v, v[2])
	want := []float64{2, -1, 0.5}
	f := make([]float32, 4)
	for i := range f {
		for j, w := range want {
			f[i] += float32(w) * v[j][i]
		}
	}
	for _, set := range [][][]float32{v, twin} {
		n := len(set)
		a, b := make([][]float64, n), make([]float64, n)
		for i := range n {
			a[i] = make([]float64, n)
			for j := range n {
				a[i][j] = dot(set[i], set[j])
			}
			b[i] = dot(set[i], f)
		}
		w := least(a, b)
		if n == 4 {
			w[2] += w[3]
		}
		for i, x := range want {
			if math.Abs(w[i]-x) > 1e-6 {
				t.Errorf("%d columns: %v, want %v", n, w, want)
				break
			}
		}
	}
}
