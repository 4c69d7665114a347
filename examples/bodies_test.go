package examples

import (
	"math"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/chord"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// TestBodies holds every piece to what its scenario says of it: closed, nothing
// crosses, size, volume, thinnest section.
func TestBodies(t *testing.T) {
	keyhole := 16*(math.Pi-math.Asin(0.5)+math.Sin(2*math.Asin(0.5))/2) + (2+3)*(12-4*math.Cos(math.Asin(0.5)))
	plate := func(t float64) float64 { // without the rim
		return (math.Pi*30*16 - keyhole) * t
	}
	rim := func() float64 { // 2 mm flat, two slopes, on the ellipse's length (Ramanujan 1914)
		a, b := 28.4, 14.4
		return math.Pi * (3*(a+b) - math.Sqrt((3*a+b)*(a+3*b))) * (0.9*2 + 0.4*0.7 + 0.9*0.9/2)
	}
	for _, c := range []struct {
		name          string
		size          vec.V3
		volume        float64
		within        float64 // of the volume, relative
		thin, to      float64
		shells, genus int
	}{
		{"fern-pull", v(33.8, 57.7, 14.8), 4898, 0.01, 1.0, 1.9, 1, 0},
		{"drawer-pull", v(90, 30, 22), 9400, 0.01, 2.4, 8, 1, 0},
		{"escutcheon", v(60, 32, 2.4), plate(1.5) + rim(), 0.01, 1.499, 1.501, 1, 1},
		{"escutcheon-thin", v(60, 32, 1.9), plate(1.0) + rim(), 0.01, 0.999, 1.001, 1, 1},
		{"figurine", v(29.9, 54, 17), 5140, 0.01, 1.1, 1.25, 1, 1},
		{"figurine-thin", v(29.9, 54, 17), 5115, 0.01, 0.74, 0.82, 1, 1},
		{"buckle", v(60, 45, 5), math.Pi*4*2.5*(2*(52-28)+2*(37-28)+2*math.Pi*14) + 26*math.Pi*1.5*1.5, 0.02, 2, 3.5, 1, 2},
		{"stop-knob", v(28, 28, 32), 11460, 0.01, 0.5, 8, 1, 0},
		{"bell", v(45, 45, 45.4), 8600, 0.02, 1.5, 2.1, 2, 3},
		{"hollow-ball", v(36, 36, 36), 4 * math.Pi / 3 * (18*18*18 - 15*15*15), 0.005, 2.9, 3.01, 2, 0},
		{"chain", v(64.5, 29, 29), 3 * 2 * math.Pi * math.Pi * 12 * 6.25, 0.01, 3, 5, 3, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			i := slices.IndexFunc(Pieces(), func(p Piece) bool { return p.Name == c.name })
			m, err := Pieces()[i].Make()
			if err != nil {
				t.Fatal(err)
			}
			if err := sculpt.Check(m); err != nil {
				t.Error(err)
			}
			s := m.Box().Size()
			if d := s.Sub(c.size); math.Abs(d.X)+math.Abs(d.Y)+math.Abs(d.Z) > 0.3 {
				t.Errorf("size %.2f x %.2f x %.2f, want %v", s.X, s.Y, s.Z, c.size)
			}
			if v := m.Volume(); math.Abs(v-c.volume) > c.within*c.volume {
				t.Errorf("volume %.1f, want %.1f within %g", v, c.volume, c.within)
			}
			sections := chord.Measure(m, bvh.Build(m))
			if x := sections[len(sections)/100].Length; x < c.thin || x > c.to {
				t.Errorf("thinnest %.3f, want %g to %g", x, c.thin, c.to)
			}
			top := mesh.TopologyOf(m)
			if top.Shells != c.shells || top.Genus == nil || *top.Genus != c.genus {
				t.Errorf("%d shells, genus %v; want %d, %d", top.Shells, *top.Genus, c.shells, c.genus)
			}
		})
	}
}
