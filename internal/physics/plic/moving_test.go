package plic

import (
	"math"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
)

// TestMoveTakesTheSurfacesPlanes: the planes of a Surface in motion, taken over, move the metal as those that
// the move makes itself, in whole and in cut cells.
func TestMoveTakesTheSurfacesPlanes(t *testing.T) {
	const fits = 3
	random := rand.New(rand.NewPCG(8, 9))
	for n, w := range []vec.V3{{Z: -1}, {X: 0.3, Y: 0.2, Z: -1}, {X: 0.7, Y: -0.6, Z: -0.4}} {
		c := wedge(t, 14, w.Unit(), 2.3)
		f := ball(c, vec.V3{X: 7.2, Y: 6.7, Z: 6.3}.Mul(c.H), 4.4*c.H)
		u := whirl(c, random)
		g := append([]float64{}, f...)
		own, taken := NewAdvection(c), NewAdvection(c)
		own.Keep, taken.Keep = fits, fits
		s := taken.Surface()
		s.Moving = true
		s.Update(g, nil)
		taken.Planes = s
		own.list(f)
		dt := 0.6 * fits / own.drain(u, 1)
		a, err := own.Step(f, nil, u, dt, fits)
		if err != nil {
			t.Fatal(err)
		}
		b, err := taken.Step(g, nil, u, dt, fits)
		if err != nil {
			t.Fatal(err)
		}
		if a.Substeps != b.Substeps || len(s.Cells) < 100 {
			t.Fatalf("%d: %d and %d substeps, %d planes", n, a.Substeps, b.Substeps, len(s.Cells))
		}
		moved := 0.0
		for i := range f[:c.N] {
			if d := math.Abs(f[i] - g[i]); !(d < 1e-9) {
				t.Fatalf("%d: cell %d holds %g and %g", n, i, f[i], g[i])
			}
			moved = max(moved, math.Abs(own.Flux[0][i]))
		}
		if moved == 0 {
			t.Fatal("nothing moved")
		}
	}
}
