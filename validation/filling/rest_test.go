package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/tension"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

var pewter = fill.Metal{Density: 7000, Viscosity: 1.8e-3, Tension: 0.53, Angle: tension.Angle{Rest: 140}}

// cavity samples a closed body in mm on cells of h mm.
func cavity(t testing.TB, m *mesh.Mesh, h float64) *cells.Cells {
	t.Helper()
	return laid(t, m, m.Box().Grow(3), h).Cells
}

// laid is cavity in a block, and open where it reaches the block's sides.
func laid(t testing.TB, m *mesh.Mesh, box vec.Box, h float64) *cells.Cavity {
	t.Helper()
	g, err := cells.Lay(m, box, h)
	if err != nil {
		t.Fatal(err)
	}
	c, err := cells.FromMesh(context.Background(), m, g, box, cells.Extra{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestRest: metal at rest with its real viscosity for a second, its level on the
// sides of cells, on their centres and between: under 1e-6 m/s everywhere.
func TestRest(t *testing.T) {
	tilted := leaning(18, math.Pi/6, 0)
	ball, box := cavity(t, sculpt.Ball(20, 60).Mesh, 2), cavity(t, tilted, 2)
	m := pewter
	m.Tension = 0
	type level struct{ z, bound float64 } // z m above a side of cells of 2 mm
	list := []struct {
		name   string
		c      *cells.Cells
		levels []level
	}{
		{"ball", ball, []level{{0, 1e-6}, {0.001, 1e-6}}},
		{"tilted box", box, []level{{0.0013, 1e-6}, {0.001, 1e-6}}},
	}
	if full() {
		list[0].levels = append(list[0].levels, level{0.0013, 1e-6}, level{0.0062, 1e-6}, level{0.0017, 1e-6}, level{0.00031, 1e-6}, level{0.0009999, 1e-6})
		list[1].levels = append(list[1].levels, level{0, 1e-6}, level{0.0062, 1e-6}, level{0.0017, 1e-6}, level{0.00031, 1e-6}, level{0.0009999, 1e-6})
	}
	for _, x := range list {
		for _, l := range x.levels {
			z := x.c.Origin.Z + math.Round(-x.c.Origin.Z/x.c.H)*x.c.H + l.z
			r, err := fill.New(fill.Problem{Cells: x.c, Metal: m, Gravity: vec.V3{Z: -9.81}, Share: 1e-9}, cells.Level(x.c, vec.V3{Z: 1}, vec.V3{Z: z}))
			if err != nil {
				t.Fatal(err)
			}
			v0 := r.Volume()
			if err := r.Advance(context.Background(), 1); err != nil {
				t.Fatal(err)
			}
			v := r.Fastest()
			t.Logf("%s, level %.4f: %.1e m/s after 1 s, volume %.0e, %+v", x.name, l.z, v, r.Volume()/v0-1, r.Sum)
			if !(v < l.bound) {
				t.Errorf("%s, level %.4f: %.1e m/s", x.name, l.z, v)
			}
			if d := math.Abs(r.Volume()/v0 - 1); d > 1e-12 {
				t.Errorf("%s, level %.4f: volume off by %.1e", x.name, l.z, d)
			}
		}
	}
}
