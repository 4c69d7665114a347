package parting

import (
	"context"
	"math"
	"math/rand"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// TestOddMeshes: no panic, no endless loop and no number that is not finite,
// whatever the mesh.
func TestOddMeshes(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	soup := func(n int) *mesh.Mesh {
		m := &mesh.Mesh{}
		for range n {
			k := int32(len(m.V))
			for range 3 {
				m.V = append(m.V, vec.V3{X: r.Float64(), Y: r.Float64(), Z: r.Float64()})
			}
			m.F = append(m.F, [3]int32{k, k + 1, k + 2})
		}
		return m
	}
	open := ball(10, 16)
	open.F = open.F[:len(open.F)-9]
	dirty := ball(10, 16)
	dirty.F = append(dirty.F, [3]int32{1, 1, 2}, dirty.F[5], [3]int32{3, 4, 3})
	for name, m := range map[string]*mesh.Mesh{
		"tetrahedron":     {V: []vec.V3{{}, {X: 1}, {Y: 1}, {Z: 1}}, F: [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {0, 3, 2}}},
		"needle":          moved(ball(1, 12), func(p vec.V3) vec.V3 { return vec.V3{X: 1e4 * p.X, Y: p.Y, Z: p.Z} }),
		"sheet":           moved(ball(1, 12), func(p vec.V3) vec.V3 { return vec.V3{X: p.X, Y: p.Y, Z: 1e-5 * p.Z} }),
		"tiny":            moved(knob(), func(p vec.V3) vec.V3 { return p.Mul(1e-9) }),
		"huge":            moved(knob(), func(p vec.V3) vec.V3 { return p.Mul(1e9) }),
		"open":            open,
		"dirty":           dirty,
		"soup":            soup(60),
		"same ball twice": together(ball(5, 12), ball(5, 12)),
		"two far apart":   together(ball(1, 12), moved(ball(1, 12), func(p vec.V3) vec.V3 { return p.Add(vec.V3{X: 500}) })),
	} {
		s, err := Find(context.Background(), m, Options{Rubber: &Rubber{Shore: 30}, Show: []vec.V3{{X: 1}}})
		if err != nil {
			continue
		}
		if x := s.Locked + s.Silhouette + s.Rise + s.Sheet.Added; math.IsNaN(x) || math.IsInf(x, 0) || !s.Pull.Finite() {
			t.Errorf("%s: %+v", name, s)
		}
		for _, l := range s.Line {
			for _, p := range l {
				if !p.Finite() {
					t.Fatalf("%s: a point of the line is not finite", name)
				}
			}
		}
	}
}

func TestOutsideOdd(t *testing.T) {
	for _, o := range meshes(t, "near", "bodies", "broken", "damaged") {
		usable := len(o.m.F) > 0
		for _, p := range o.m.V {
			usable = usable && p.Finite()
		}
		s, err := Find(context.Background(), o.m, Options{})
		if err != nil {
			continue
		}
		if !usable || math.IsNaN(s.Locked) {
			t.Errorf("%s: %v", o.name, s.Locked)
		}
		n := bars(s)
		links := 0
		if o.name == "chain40.3mf" {
			links = 40
		}
		if (o.name == "derived_hollow_void.stl") != (n["closed-void"] > 0) || n["linked"] != links {
			t.Errorf("%s: bars %v", o.name, s.Bars)
		}
	}
}

func TestTold(t *testing.T) {
	for _, c := range [][4]any{{38.4, 37.6, "38.4", "37.6"}, {38.04, 38.01, "38.04", "38.01"}, {74.2, 38.0, "74", "38"}} {
		if a, b := told(c[0].(float64), c[1].(float64)); a != c[2] || b != c[3] {
			t.Errorf("%v over %v: %s and %s", c[0], c[1], a, b)
		}
	}
}
