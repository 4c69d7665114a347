package plic

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// wedge is n^3 cells under a tilted wall, as exact shares.
func wedge(t testing.TB, n int, w vec.V3, at float64) *cells.Cells {
	w = w.Unit()
	at += w.Dot(vec.V3{X: float64(n) / 2, Y: float64(n) / 2, Z: float64(n) / 2})
	s := cells.Shares{H: 1e-3, Dim: [3]int{n, n, n}, V: make([]float64, n*n*n), Normal: make([]vec.V3, n*n*n)}
	for d := range s.A {
		s.A[d] = make([]float64, n*n*n)
	}
	for q := range n * n * n {
		lo := vec.V3{X: float64(q % n), Y: float64(q / n % n), Z: float64(q / n / n)}
		s.V[q] = cells.CubeUnder(w, at-w.Dot(lo))
		if s.V[q] < 1 {
			s.Normal[q] = w
		}
		for d := range 3 {
			m := w.Array()
			m[d] = 0
			s.A[d][q] = cells.CubeUnder(vec.FromArray(m), at-w.Dot(lo))
		}
	}
	c, _, err := cells.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestPlanesAreFoundAgain(t *testing.T) {
	walls := []vec.V3{{X: 0.3, Y: 0.1, Z: 1}, {X: 1, Y: -0.8, Z: 0.3}, {Z: -1}, {X: 1, Y: 1}}
	levels := []vec.V3{{Y: 1}, {X: 0.2, Y: 1, Z: -0.1}, {X: 1, Y: 1, Z: 1}, {X: -0.4, Y: 0.7, Z: 0.9}, {X: 1e-9, Y: -1}}
	for _, w := range walls {
		c := wedge(t, 12, w, 1.23)
		s := NewSurface(c)
		for _, n := range levels {
			n = n.Unit()
			for _, depth := range []float64{0, 0.31, 0.5, 2.77} {
				p := vec.V3{X: 6, Y: 6, Z: 6}.Add(n.Mul(depth)).Mul(1e-3)
				f := cells.Level(c, n, p)
				s.Update(f, nil)
				worst, where := 0.0, int32(-1)
				for k, i := range s.Cells {
					if s.Area[k] < 1e-3 {
						continue
					}
					centre := vec.V3{X: 0.5, Y: 0.5, Z: 0.5}
					h, _ := s.Height(i, centre)
					e := math.Abs(h - (n.Dot(centre) - c.Local(i, n, p)))
					if e > worst {
						worst, where = e, i
					}
				}
				if worst > 1e-8 {
					t.Errorf("wall %v, level %v at %g: %g cells beside the level in cell %v (share %g)", w, n, depth, worst, c.I[where], f[where])
				}
			}
		}
	}
}
