package tension

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/validation/outside"
)

// TestTiltedPlaneIsFlat: whole cells, away from walls, levels on sides, beside
// them, on centres and between.
func TestTiltedPlaneIsFlat(t *testing.T) {
	for _, n := range []vec.V3{{Z: 1}, {X: 0.01, Z: 1}, {X: 0.3, Y: 0.2, Z: 1}, {X: 1, Y: 1, Z: 1}, {X: 0.5, Z: 1}} {
		for _, e := range []float64{0, 1e-9, 1e-7, 1e-5, 1e-3, 0.1, 0.5, -1e-3, -1e-7} {
			c := cavity(t, [3]int{12, 12, 24}, 1e-3)
			F := cells.Level(c, n.Unit(), vec.V3{X: 6e-3, Y: 6e-3, Z: (12 + e) * 1e-3})
			f := laid(t, c, F, 90)
			for k := range f.patch {
				x := f.patch[k].x
				if kappa := f.fit[k].kappa; x.X > 3 && x.X < 9 && x.Y > 3 && x.Y < 9 && math.Abs(kappa) > 1e-5 {
					t.Fatalf("plane %v, %g from a side of cells: kappa h %.2e", n, e, kappa)
				}
			}
		}
	}
}

// TestLevelBetweenTiltedWalls: plane slots tilted against the grid, level at right
// angles to their walls and at 140 degrees as an arc.
func TestLevelBetweenTiltedWalls(t *testing.T) {
	for _, deg := range []float64{0.1, 15, 30, 45} {
		for _, e := range []float64{0, 1e-7, 1e-4, 0.3} {
			a := deg * math.Pi / 180
			u, up := vec.V3{X: math.Cos(a), Z: math.Sin(a)}, vec.V3{X: -math.Sin(a), Z: math.Cos(a)}
			mid := vec.V3{X: 15, Z: 15}
			c := cavity(t, [3]int{30, 1, 30}, 1e-3, wall{u, u.Dot(mid) + 6.3}, wall{u.Mul(-1), -u.Dot(mid) + 6.3})
			F := cells.Level(c, up, vec.V3{X: 15e-3, Z: (15 + e) * 1e-3})
			f := laid(t, c, F, 90)
			worst := 0.0
			for k := range f.patch {
				worst = max(worst, math.Abs(f.fit[k].kappa))
			}
			if worst > 1e-3 {
				t.Errorf("tilted %g, %g off: kappa h %.2e", deg, e, worst)
			}
			const th = 140 * math.Pi / 180
			R := 6.3 / -math.Cos(th)
			F = fill(c, rod(mid.Sub(up.Mul(R*0.8)).Add(up.Mul(e)), R), 4)
			// The arc's lower half is metal too.
			for i := range c.N {
				if up.Dot(c.Centre(int32(i)).Mul(1e3).Sub(mid)) < -R*0.8 {
					F[i] = 1
				}
			}
			f = laid(t, c, F, 140)
			w, rms, n := spread(f, F, steady(1/R), nil)
			t.Logf("tilted %g, %g off: flat %.1e; arc at 140 degrees: largest %.3f, rms %.3f (%d)", deg, e, worst, w, rms, n)
			if w > 0.12 {
				t.Errorf("tilted %g, %g off: arc at 140 degrees: largest error %.3f, rms %.3f", deg, e, w, rms)
			}
		}
	}
}

// TestLinesOffTheirAngle: a level at right angles to walls that ask for another
// angle: over the cells near each wall the curvature adds up to about the turn that
// is lacking, n . w = -cos(theta), so that the line is drawn with about
// sigma cos(theta) per length, and none away from walls.
func TestLinesOffTheirAngle(t *testing.T) {
	for _, deg := range []float64{0, 15, 30, 45} {
		for _, theta := range []float64{45, 60, 120, 140} {
			a := deg * math.Pi / 180
			u, up := vec.V3{X: math.Cos(a), Z: math.Sin(a)}, vec.V3{X: -math.Sin(a), Z: math.Cos(a)}
			mid := vec.V3{X: 20, Z: 20}
			c := cavity(t, [3]int{40, 1, 40}, 1e-3, wall{u, u.Dot(mid) + 8}, wall{u.Mul(-1), -u.Dot(mid) + 8})
			F := cells.Level(c, up, vec.V3{X: 20e-3, Z: 20.2e-3})
			flat, f := laid(t, c, F, 90), laid(t, c, F, theta)
			var pull [2]float64
			inside := 0.0
			for k := range f.patch {
				x := u.Dot(flat.patch[k].x.Sub(mid))
				// The piece's share of the level before it was turned.
				w := f.fit[k].kappa * flat.patch[k].area
				switch {
				case x > 4:
					pull[1] += w
				case x < -4:
					pull[0] += w
				default:
					inside = max(inside, math.Abs(w))
				}
			}
			want := -math.Cos(theta * math.Pi / 180)
			t.Logf("tilted %g, %g degrees: %.2f and %.2f, want %.2f; between %.1e", deg, theta, pull[0], pull[1], want, inside)
			for _, p := range pull {
				if r := p / want; r < 0.4 || r > 2 {
					t.Errorf("tilted %g, %g degrees: a line turns by %.2f, want %.2f", deg, theta, p, want)
				}
			}
			if inside > 0.01 {
				t.Errorf("tilted %g, %g degrees: curvature %.1e away from walls", deg, theta, inside)
			}
		}
	}
}

// TestLevelInBall: half full at 90 degrees, from a mesh.
func TestLevelInBall(t *testing.T) {
	m := outside.Ball(6, 20)
	b := m.Box().Grow(3)
	for _, h := range []float64{2, 1} {
		g, err := cells.Lay(m, b, h)
		if err != nil {
			t.Fatal(err)
		}
		cavity, err := cells.FromMesh(context.Background(), m, g, b, cells.Extra{})
		if err != nil {
			t.Fatal(err)
		}
		c := cavity.Cells
		for _, n := range []vec.V3{{Z: 1}, {X: 0.3, Y: 0.2, Z: 1}, {X: 0.3, Y: -0.8, Z: 1}} {
			f := laid(t, c, cells.Level(c, n.Unit(), vec.V3{}), 90)
			worst, sum := 0.0, 0.0
			for k := range f.patch {
				e := f.fit[k].kappa
				worst, sum = max(worst, math.Abs(e)), sum+e*e
			}
			rms := math.Sqrt(sum / float64(len(f.patch)))
			t.Logf("R/h %g, level %v: kappa h largest %.2e, rms %.2e", 20/h, n, worst, rms)
			if worst > 1.5e-3 || rms > 3e-4 {
				t.Errorf("R/h %g, level %v: kappa h %.2e, rms %.2e", 20/h, n, worst, rms)
			}
		}
	}
}
