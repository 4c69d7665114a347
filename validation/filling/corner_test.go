package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// TestMetalInACorner: metal that partly fills single cells at the walls of a tilted box and of a ball never moves much faster
// than it could fall through them. Void that came in from above was turned by the wall and went out at the side, ever
// faster, with no metal in it: 1.3 to 2.9 m/s here, 3 m/s in a mould, where one such cell set every step. (At 0.1 one case of six reaches 1.7 of a fall for a moment.)
func TestMetalInACorner(t *testing.T) {
	box, ball := cavity(t, leaning(18, math.Pi/6, 0), 2), cavity(t, sculpt.Ball(20, 60).Mesh, 2)
	type row struct {
		name   string
		c      *cells.Cells
		height float64 // m
		share  float64
		every  int32
	}
	deep := 0.030*math.Sin(math.Pi/6) + 0.036*math.Cos(math.Pi/6)
	rows := []row{{"box", box, deep, 0.2, 1}, {"ball", ball, 0.040, 0.2, 2}, {"ball", ball, 0.040, 0.4, 0}}
	if full() {
		rows = nil
		for _, share := range []float64{0.2, 0.4, 0.6, 0.8} {
			for every := range int32(3) {
				rows = append(rows, row{"box", box, deep, share, every}, row{"ball", ball, 0.040, share, every})
			}
		}
	}
	for _, x := range rows {
		f := make([]float64, x.c.Wall+1)
		for i := range x.c.N {
			if p := x.c.I[i]; x.c.Own[i] < 0.9 && (p[0]+2*p[1]+p[2])%5 == x.every {
				f[i] = x.share
			}
		}
		fastest, r := topSpeed(t, x.c, f)
		fall := math.Sqrt(2 * 9.81 * x.height)
		t.Logf("%s, every fifth cell at the wall %.1f full (%d): %.2f of the speed of a fall, %d steps", x.name, x.share, x.every, fastest/fall, r.Sum.Steps)
		if fastest > 1.2*fall {
			t.Errorf("%s, every fifth cell at the wall %.1f full (%d): %.2f m/s, where a fall gives %.2f", x.name, x.share, x.every, fastest, fall)
		}
	}
}

// TestFilmDownAWall: films on the walls of boxes that stand nearly upright run down no faster than a fall. What comes in behind
// a film was a velocity carried on from the film itself, so that nothing held it: 1.3 to 2.6 times that.
func TestFilmDownAWall(t *testing.T) {
	for _, x := range []struct{ lean, share float64 }{{3, 0.1}, {8, 0.25}, {15, 0.1}} {
		c := cavity(t, leaning(30, x.lean*math.Pi/180, math.Pi/9), 2)
		f := make([]float64, c.Wall+1)
		for i := range c.N {
			if c.Own[i] > 0.2 && c.Own[i] < 0.8 {
				f[i] = x.share
			}
		}
		fastest, r := topSpeed(t, c, f)
		fall := math.Sqrt(2 * 9.81 * float64(c.Dim[2]) * c.H)
		t.Logf("leaning %g degrees, cells %g full: %.2f of the speed of a fall, %d steps", x.lean, x.share, fastest/fall, r.Sum.Steps)
		if fastest > 1.1*fall {
			t.Errorf("leaning %g degrees, cells %g full: %.2f m/s, where a fall gives %.2f", x.lean, x.share, fastest, fall)
		}
	}
}

// leaning is a box 30 x 24 mm wide and twice half high that leans about y and is then turned about z.
func leaning(half, about, turned float64) *mesh.Mesh {
	m := outside.Brick(vec.V3{X: -15, Y: -12, Z: -half}, vec.V3{X: 15, Y: 12, Z: half})
	s, c := math.Sincos(about)
	s2, c2 := math.Sincos(turned)
	for i, p := range m.V {
		q := vec.V3{X: c*p.X + s*p.Z, Y: p.Y, Z: c*p.Z - s*p.X}
		m.V[i] = vec.V3{X: c2*q.X + s2*q.Y, Y: c2*q.Y - s2*q.X, Z: q.Z}
	}
	return m
}

// topSpeed lets metal go for half a second in a quick run and returns the largest speed seen, m/s.
func topSpeed(t *testing.T, c *cells.Cells, f []float64) (float64, *fill.Run) {
	t.Helper()
	r, err := fill.New(fill.Problem{Cells: c, Metal: pewter, Gravity: vec.V3{Z: -9.81}, Quick: true}, f)
	if err != nil {
		t.Fatal(err)
	}
	fastest := 0.0
	for until := 0.005; until < 0.5; until += 0.005 {
		if err := r.Advance(context.Background(), until); err != nil {
			t.Fatal(err)
		}
		fastest = max(fastest, r.Fastest())
	}
	return fastest, r
}
