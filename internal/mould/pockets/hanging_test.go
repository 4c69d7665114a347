package pockets

import (
	"math"
	"path/filepath"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
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

func TestHangingOnOutsideMeshes(t *testing.T) {
	dir := meshes(t)
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
				if e.Depth <= e.Bore || e.Bore > Widest {
					t.Errorf("%s up %v: %+v", name, u, e)
				}
			}
		}
	}
}
