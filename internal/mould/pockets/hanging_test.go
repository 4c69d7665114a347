package pockets

import (
	"math"
	"path/filepath"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// Pewter, about 0.54 N/m and 7100 kg/m3 when liquid (values from memory).
const sigma, rho = 0.54, 7100

// bored is a disc of radius 20 with a blind bore of diameter d hanging 15 mm
// below its middle, finely cut along the bore.
func bored(d float64) *mesh.Mesh {
	p := [][2]float64{{0, -15}}
	for i := range 16 {
		p = append(p, [2]float64{d / 2, -15 + float64(i)})
	}
	p = append(p, [2]float64{20, 0}, [2]float64{20, 10}, [2]float64{0, 10})
	return turn(p, 48)
}

// rough moves every corner by up to a, from a fixed sequence.
func rough(m *mesh.Mesh, a float64) *mesh.Mesh {
	r := &mesh.Mesh{F: m.F}
	s := uint64(12345)
	next := func() float64 {
		s = s*6364136223846793005 + 1442695040888963407
		return (float64(s>>11)/(1<<53) - 0.5) * 2 * a
	}
	for _, p := range m.V {
		r.V = append(r.V, p.Add(vec.V3{X: next(), Y: next(), Z: next()}))
	}
	return r
}

func TestCriticalBore(t *testing.T) {
	near(t, "pewter", CriticalBore(sigma, rho), 5.1, 0.1)
	near(t, "tin-bismuth", CriticalBore(0.38, 8600), 3.9, 0.1)
}

func TestHangingBore(t *testing.T) {
	for _, d := range []float64{3, 8} {
		for _, a := range []float64{0, 0.05} {
			m := rough(bored(d), a)
			list := Prepare(m).Hanging(up, Widest)
			if len(list) != 1 {
				t.Errorf("bore %g, rough %g: %+v", d, a, list)
				continue
			}
			e := list[0]
			near(t, "bore", e.Bore, d, 0.1*d)
			near(t, "depth", e.Depth, 15, 0.3)
			near(t, "deepest point", e.At.Z, -15, 0.1)
			near(t, "entry", math.Hypot(e.Entry.X, e.Entry.Y), 0, 0.1)
			if Bridged(e.Bore, sigma, rho) != (d == 3) {
				t.Errorf("bore %g: bridged %v", d, Bridged(e.Bore, sigma, rho))
			}
			if l := Prepare(m).Hanging(up.Mul(-1), Widest); len(l) != 0 {
				t.Errorf("bore %g standing up: %+v", d, l)
			}
		}
	}
}

func TestHangingShapes(t *testing.T) {
	table := cells(vec.V3{X: 4, Y: 4, Z: 4}, []string{"#...#", ".....", "#...#"}, []string{"#...#", ".....", "#...#"}, []string{"#...#", ".....", "#...#"}, []string{"#####", "#####", "#####"})
	cases := []struct {
		name  string
		m     *mesh.Mesh
		up    vec.V3
		bores []float64
	}{
		{"four legs of 4 mm", table, up, []float64{4, 4, 4, 4}},
		{"the table on its top", table, up.Mul(-1), nil},
		{"ball", ball(4, 24), up, nil},
		{"torus on its edge", torus(20, 2, 24), vec.V3{X: 1}, nil},
		{"a rod has no wider part", turn([][2]float64{{0, 0}, {2, 0}, {2, 40}, {0, 40}}, 32), up, nil},
		{"U: air has a second way", cells(vec.V3{X: 3, Y: 3, Z: 3}, []string{"###"}, []string{"#.#"}, []string{"#.#"}, []string{"#.#"}), up, nil},
		{"bulb on a neck of 3 mm", turn([][2]float64{{0, 0}, {4, 0}, {4, 6}, {1.5, 6}, {1.5, 12}, {15, 12}, {15, 20}, {0, 20}}, 64), up, []float64{3}},
		{"pin of 3 under a stem of 8 mm", turn([][2]float64{{0, 0}, {1.5, 0}, {1.5, 6}, {4, 6}, {4, 26}, {15, 26}, {15, 40}, {0, 40}}, 64), up, []float64{3}},
		{"slender point", turn([][2]float64{{0, 0}, {6, 48}, {15, 48}, {15, 60}, {0, 60}}, 64), up, []float64{5}},
		{"blunt point", turn([][2]float64{{0, 0}, {15, 20}, {15, 30}, {0, 30}}, 64), up, nil},
	}
	for _, c := range cases {
		list := Prepare(c.m).Hanging(c.up, Widest)
		if len(list) != len(c.bores) {
			t.Errorf("%s: %+v, want %v", c.name, list, c.bores)
			continue
		}
		for i, d := range c.bores {
			near(t, c.name, list[i].Bore, d, 0.1*d)
		}
	}
}

// hung is a plate of 60 x 60 x 10 below which a body hangs from z = 0 to -deep:
// of length l and width w, or a tube of that mean diameter and gap.
func hungSlot(l, w, deep float64) *mesh.Mesh {
	m := cells(vec.V3{X: 1, Y: 1, Z: 1}, []string{"...", ".#.", "..."}, []string{"###", "###", "###"})
	x, y, z := []float64{-30, -l / 2, l / 2, 30}, []float64{-30, -w / 2, w / 2, 30}, []float64{-deep, 0, 10}
	for i, p := range m.V {
		m.V[i] = vec.V3{X: x[int(p.X)], Y: y[int(p.Y)], Z: z[int(p.Z)]}
	}
	return m
}

func hungRing(d, w, deep float64) *mesh.Mesh {
	p := [][2]float64{{0, 0}, {(d - w) / 2, 0}, {(d - w) / 2, -deep}, {(d + w) / 2, -deep}, {(d + w) / 2, 0}, {30, 0}, {30, 10}, {0, 10}}
	return turn(p, 96)
}

// TestHangingSlots holds slots and rings to the closed forms: with l = sqrt(sigma/(rho g)) the air
// of a slot gets out where it is longer than pi l and deeper than 0.46 l2/w, of a
// ring where its middle line is longer than 2 pi l.
func TestHangingSlots(t *testing.T) {
	l := 1e3 * math.Sqrt(sigma/(rho*9.80665))
	near(t, "capillary length of pewter", l, 2.785, 0.01)
	for _, c := range []struct {
		name    string
		m       *mesh.Mesh
		bore    float64 // 0: none listed
		bridged bool
	}{
		{"slot of 20 x 1", hungSlot(20, 1, 15), 0, false},
		{"slot just too short", hungSlot(0.97*math.Pi*l, 1, 15), 0.97 * CriticalBore(sigma, rho), true},
		{"slot just long enough", hungSlot(1.03*math.Pi*l, 1, 15), 1.03 * CriticalBore(sigma, rho), false},
		{"slot long, too shallow for its gap", hungSlot(20, 0.5, 0.95*0.46*l*l/0.5), math.Sqrt(0.95) * CriticalBore(sigma, rho), true},
		{"slot long, deep enough for its gap", hungSlot(20, 0.5, 1.08*0.46*l*l/0.5), math.Sqrt(1.08) * CriticalBore(sigma, rho), false},
		{"slot of 6 x 1", hungSlot(6, 1, 15), 0.584 * 6, true},
		{"wide slot", hungSlot(12, 4.5, 20), 0.584 * 12, false},
		{"square leg", hungSlot(4, 4, 20), 4, true},
		{"skirt of a bell", hungRing(40, 2, 15), 0, false},
		{"ring just too small", hungRing(0.97*2*l, 0.8, 15), 0.97 * CriticalBore(sigma, rho), true},
		{"ring just large enough", hungRing(1.03*2*l, 0.8, 15), 1.03 * CriticalBore(sigma, rho), false},
	} {
		for _, m := range []*mesh.Mesh{c.m, moved(c.m, vec.AlongZ(vec.V3{X: 0.3, Y: -0.5, Z: 0.7}), 1)} {
			dir := up
			if m != c.m {
				dir = vec.AlongZ(vec.V3{X: 0.3, Y: -0.5, Z: 0.7}).FromDir(up)
			}
			list := Prepare(m).Hanging(dir, Widest)
			if c.bore == 0 {
				if len(list) != 0 {
					t.Errorf("%s: %+v, want none", c.name, list)
				}
				continue
			}
			if len(list) != 1 {
				t.Errorf("%s: %+v, want one", c.name, list)
				continue
			}
			near(t, c.name, list[0].Bore, c.bore, 0.02*c.bore)
			if Bridged(list[0].Bore, sigma, rho) != c.bridged {
				t.Errorf("%s: bridged is %v", c.name, !c.bridged)
			}
		}
	}
}

func TestHangingOnOutsideMeshes(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	for _, name := range []string{"cat.obj", "goathead.obj", "nefertiti.obj", "koala_low.obj", "spot_low.obj", "fish.obj", "boot.obj", "ball_bumpy.off"} {
		m := load(t, filepath.Join(dir, "files", name))
		m = moved(m, vec.World(), 60/m.Box().Longest())
		b := Prepare(m)
		for _, u := range []vec.V3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}} {
			list := b.Hanging(u, Widest)
			t.Log(name, u, list)
			if len(list) > 12 {
				t.Errorf("%s up %v: %d dead ends", name, u, len(list))
			}
			for _, e := range list {
				if e.Depth < 0.02*60 || e.Bore > Widest {
					t.Errorf("%s up %v: %+v", name, u, e)
				}
			}
		}
	}
}
