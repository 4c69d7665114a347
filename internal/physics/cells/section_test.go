package cells

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// duct returns the flow through a duct a x b per pressure gradient and viscosity:
//
//	Q mu / G = a b^3 / 12 (1 - 192 b / (pi^5 a) sum tanh(n pi a / 2 b) / n^5, n odd)
//
// (White, Viscous Fluid Flow, section 3-3), b the narrow side.
func duct(a, b float64) float64 {
	s := 0.0
	for n := 1; n < 60; n += 2 {
		s += math.Tanh(float64(n)*math.Pi*a/(2*b)) / math.Pow(float64(n), 5)
	}
	return a * b * b * b / 12 * (1 - 192*b/(math.Pow(math.Pi, 5)*a)*s)
}

// flow adds up what passes the middle of the cavity along x: plug flow held by
// Drag alone.
func flow(c *Cells, s []Section) float64 {
	q := 0.0
	for i := range c.N {
		if int(c.I[i][0]) == c.Dim[0]/2 {
			q += c.A[0][i] * c.H * c.H / s[i].Drag
		}
	}
	return q
}

// tube returns the cells (1 mm, a corner at the origin) of a straight part along x from
// 0 to 16 in a block that ends with it.
func tube(t *testing.T, m *mesh.Mesh) *Cavity {
	t.Helper()
	block := m.Box().Grow(3)
	block.Min.X, block.Max.X = 0, 16
	c, err := FromMesh(context.Background(), m, grid.Grid{H: 1, NX: 1, NY: 1, NZ: 1}, block, Extra{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestDucts: Poiseuille flow in ducts 1:1, 1:2, 1:10 at 1 to 4 cells across, with
// the walls in planes of cells and not.
func TestDucts(t *testing.T) {
	for _, ratio := range []int{1, 2, 10} {
		for n := 1; n <= 4; n++ {
			if ratio == 10 && n > 2 && testing.Short() {
				continue
			}
			b := float64(n)
			a := b * float64(ratio)
			want := duct(a, b)
			c, err := Box([3]int{12, n * ratio, n}, 1, append(Side([3]int{12, n * ratio, n}, 0, false), Side([3]int{12, n * ratio, n}, 0, true)...)...)
			if err != nil {
				t.Fatal(err)
			}
			whole := flow(c, Sections(c)) / want
			worst := math.Abs(whole - 1)
			row := []float64{whole}
			for k := range 4 { // walls between planes of cells, the last in them
				off := vec.V3{Y: 0.21 + 0.3*float64(k), Z: 0.37 + 0.17*float64(k)}
				if k == 3 {
					off = vec.V3{Y: 2, Z: 3}
				}
				m := moved(outside.Brick(vec.V3{}, vec.V3{X: 16, Y: a, Z: b}), off)
				x := tube(t, m)
				r := flow(x.Cells, x.Section) * 1e12 / want
				row = append(row, r)
				worst = max(worst, math.Abs(r-1))
			}
			t.Logf("1:%d, %d across: %.3f", ratio, n, row)
			if worst > 0.01 {
				t.Errorf("1:%d at %d cells across: flow %.3f of the exact one", ratio, n, row)
			}
		}
	}
}

// TestPins: Hagen-Poiseuille in round pins, upright and across the cells.
func TestPins(t *testing.T) {
	for _, d := range []float64{0.3, 0.6, 1, 1.7, 2.5, 4} {
		want := math.Pi * math.Pow(d, 4) / 128
		var row []float64
		for k := range 4 {
			m := moved(leant(outside.Prism(64, d/2, 16), vec.V3{X: 1}), vec.V3{Y: 0.19 * float64(k), Z: 0.31 * float64(k)})
			c := tube(t, m)
			row = append(row, flow(c.Cells, c.Section)*1e12/want)
		}
		t.Logf("pin %g: %.3f", d, row)
		for _, r := range row {
			if math.Abs(r-1) > 0.02 {
				t.Errorf("pin of %g cells: flow %.3f of the exact one", d, row)
				break
			}
		}
	}
}

// TestTilted: in parts at any angle the drag's mean is that of the section, off the
// blind ends.
func TestTilted(t *testing.T) {
	axis := vec.V3{X: 0.8, Y: 0.5, Z: 0.33}.Unit()
	for _, x := range []struct {
		name string
		m    *mesh.Mesh
		want float64
	}{
		{"pin 0.5", outside.Prism(64, 0.25, 24), 0.25 / 32},
		{"pin 1", outside.Prism(64, 0.5, 24), 1.0 / 32},
		{"pin 2.5", outside.Prism(64, 1.25, 24), 2.5 * 2.5 / 32},
		{"duct 1", outside.Brick(vec.V3{}, vec.V3{X: 1, Y: 1, Z: 24}), duct(1, 1)},
		{"duct 2 by 4", outside.Brick(vec.V3{}, vec.V3{X: 4, Y: 2, Z: 24}), duct(4, 2) / 8},
		{"plate 0.3", outside.Brick(vec.V3{}, vec.V3{X: 24, Y: 0.3, Z: 24}), 0.09 / 12},
		{"plate 0.7", outside.Brick(vec.V3{}, vec.V3{X: 24, Y: 0.7, Z: 24}), 0.49 / 12},
		{"plate 3", outside.Brick(vec.V3{}, vec.V3{X: 24, Y: 3, Z: 24}), 9.0 / 12},
	} {
		m := leant(x.m, axis)
		mid := axis.Mul(12)
		if x.name[1] == 'l' {
			mid = m.Box().Centre()
		}
		c, err := FromMesh(context.Background(), m, grid.Grid{H: 1, NX: 1, NY: 1, NZ: 1}, m.Box().Grow(9), Extra{})
		if err != nil {
			t.Fatal(err)
		}
		sum, v, least, most := 0.0, 0.0, math.Inf(1), 0.0
		for i := range int32(c.N) {
			if c.Centre(i).Mul(1e3).Dist(mid) < 5 {
				k := 1e6 / c.Section[i].Drag
				sum, v = sum+c.V[i]*k, v+c.V[i]
				least, most = min(least, k), max(most, k)
			}
		}
		t.Logf("%-12s %.3f (%.3f .. %.3f)", x.name, sum/v/x.want, least/x.want, most/x.want)
		if math.Abs(sum/v/x.want-1) > 0.03 {
			t.Errorf("%s at an angle: 1/K is %.3f of the exact mean", x.name, sum/v/x.want)
		}
	}
}

// TestTaper: in a slot that widens from 0.5 to 4 cells over 40 the drag follows the
// width, and never turns back.
func TestTaper(t *testing.T) {
	m := outside.Brick(vec.V3{}, vec.V3{X: 40, Y: 20, Z: 1})
	for i, p := range m.V {
		w := 0.5 + 3.5*p.X/40
		m.V[i].Z = 7.3 + w*(p.Z-0.5)
	}
	block := m.Box().Grow(3)
	block.Min.X, block.Max.X = 0, 40
	c, err := FromMesh(context.Background(), m, grid.Grid{H: 1, NX: 1, NY: 1, NZ: 1}, block, Extra{})
	if err != nil {
		t.Fatal(err)
	}
	var last float64
	for x := 4; x < 36; x++ {
		v, width := 0.0, 0.0
		for i := range c.N {
			if int(c.I[i][0]) == x && c.I[i][1] == 10 {
				v, width = v+c.V[i], width+c.V[i]*c.Section[i].Width*1e3
			}
		}
		width /= v
		w := 0.5 + 3.5*(float64(x)+0.5)/40
		if math.Abs(width/w-1) > 0.08 || !(width > last) {
			t.Errorf("at %d: width %.3f after %.3f, want %.3f", x, width, last, w)
		}
		last = width
	}
}

// TestBlend: slots and pins up to 4 cells are thin all over, from 6 on nowhere, and a
// ball is not thin at its wall.
func TestBlend(t *testing.T) {
	for _, w := range []float64{1, 2, 3, 4, 6, 8} {
		for _, x := range []struct {
			name string
			m    *mesh.Mesh
		}{
			{"slot", moved(outside.Brick(vec.V3{}, vec.V3{X: 16, Y: 30, Z: w}), vec.V3{Y: 0.2, Z: 0.37})},
			{"pin", moved(leant(outside.Prism(64, w/2, 16), vec.V3{X: 1}), vec.V3{Y: 0.2, Z: 0.37})},
		} {
			c := tube(t, x.m)
			least, most, wet, v := 1.0, 0.0, 0.0, 0.0
			for i := range c.N {
				if x.name == "slot" && (c.I[i][1] < 8 || c.I[i][1] > 22) {
					continue
				}
				s := c.Section[i]
				least, most = min(least, s.Blend), max(most, s.Blend)
				wet, v = wet+c.V[i]*s.Wet, v+c.V[i]
			}
			want := 2 / w * 1e3
			if x.name == "pin" {
				want *= 2
			}
			t.Logf("%s %g: blend %.3f .. %.3f, wet %.3f of %g", x.name, w, least, most, wet/v/want, want)
			if w <= 4 && least < 1 || w > 5 && most > 0 || w <= 4 && math.Abs(wet/v/want-1) > 0.02 {
				t.Errorf("%s of %g cells: blend %.3f .. %.3f, wet %.4f of what it should be", x.name, w, least, most, wet/v/want)
			}
		}
	}
	c, _ := cavity(t, outside.Ball(4, 10), 1)
	for i := range c.N {
		if c.Section[i].Blend > 0 {
			t.Fatalf("in a ball of R = 10 cells a cell counts as thin by %g", c.Section[i].Blend)
		}
	}
}

// TestBlindEnd: the end of a pin does not make it narrower.
func TestBlindEnd(t *testing.T) {
	for _, d := range []float64{0.5, 1, 2, 3.5} {
		m := moved(leant(outside.Prism(64, d/2, 13.7), vec.V3{X: 1}), vec.V3{Y: 0.4, Z: 0.3})
		c := tube(t, m)
		for i := range c.N {
			if s := c.Section[i]; math.Abs(s.Width*1e3/d-1) > 0.08 || math.Abs(s.Wet*d*1e-3/4-1) > 0.05 || math.Abs(s.Drag*d*d*1e-6/32-1) > 0.12 {
				t.Fatalf("pin %g, %d from the open end: width %.3f, wet %.3f, drag %.3f of what they should be", d, c.I[i][0], s.Width*1e3/d, s.Wet*d*1e-3/4, s.Drag*d*d*1e-6/32)
			}
		}
	}
}
