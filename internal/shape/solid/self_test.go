package solid

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// turned lists m along each axis.
func turned(m *mesh.Mesh) [3]*mesh.Mesh {
	r := [3]*mesh.Mesh{{F: m.F}, {F: m.F}, {F: m.F}}
	for _, p := range m.V {
		r[0].V = append(r[0].V, p)
		r[1].V = append(r[1].V, vec.V3{X: p.Z, Y: p.X, Z: p.Y})
		r[2].V = append(r[2].V, vec.V3{X: p.Y, Y: p.Z, Z: p.X})
	}
	return r
}

// TestOuter: bodies that run through themselves, with what they hold in closed
// form. Of three equal cylinders at right angles two share 16/3 r^3 and all
// three 8 (2 - sqrt 2) r^3 (Moore 1974, The intersection of perpendicular
// cylinders); of three bars with their faces in the same planes all share one cube.
func TestOuter(t *testing.T) {
	rods, bars := &mesh.Mesh{}, &mesh.Mesh{}
	const r, long = 2.0, 12.0
	rod := outside.Prism(128, r, long)
	mid := rod.Box().Centre()
	for i, p := range rod.V {
		rod.V[i] = p.Sub(mid)
	}
	for _, m := range turned(rod) {
		rods.Append(m)
	}
	for _, m := range turned(outside.Brick(vec.V3{X: -1, Y: -1, Z: -5}, vec.V3{X: 1, Y: 1, Z: 5})) {
		bars.Append(m)
	}
	for _, c := range []struct {
		name       string
		m          *mesh.Mesh
		held, near float64
		shells     int
	}{
		{"bar", outside.BarThrough(), 2416, 0.01, 1},
		{"tube", outside.EightTube(64), outside.EightTube(64).Volume() - 16./3*8, 0.5, 1},
		{"three rods", rods, 3*math.Pi*r*r*long - 16*r*r*r + 8*(2-math.Sqrt2)*r*r*r, 0.5, 1},
		{"three bars", bars, 3*40 - 16, 0.02, 1},
		{"ball", sculpt.Ball(10, 12).Mesh, sculpt.Ball(10, 12).Mesh.Volume(), 0.02, 1},
	} {
		r, n, err := Outer(c.m)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		top := mesh.TopologyOf(r)
		t.Logf("%s: %d pairs, %d triangles of %d, %.7g mm3 for %.7g", c.name, n, len(r.F), len(c.m.F), r.Volume(), c.held)
		if !top.Watertight || top.Shells != c.shells || len(SelfCrossings(r)) > 0 {
			t.Errorf("%s: %+v, %d pairs cross", c.name, top, len(SelfCrossings(r)))
		}
		if math.Abs(r.Volume()-c.held) > c.near {
			t.Errorf("%s: %.7g mm3, want %.7g", c.name, r.Volume(), c.held)
		}
		if again, _, _ := Outer(c.m); again == nil || len(again.V) != len(r.V) || again.Volume() != r.Volume() {
			t.Errorf("%s: another surface the second time", c.name)
		}
	}
}

// TestOuterOfAFold: a ball whose cap is pushed sideways over its rim. Where the
// cap hangs over, the surface turns back through itself at corners that two
// triangles share; what it encloses the wrong way round is left out.
func TestOuterOfAFold(t *testing.T) {
	for _, d := range []float64{4, 8} {
		m := sculpt.Ball(10, 40).Mesh
		for i, p := range m.V {
			if p.Z > 7 {
				m.V[i] = vec.V3{X: p.X + d*(p.Z-7), Y: p.Y, Z: p.Z - 0.4*d*(p.Z-7)}
			}
		}
		r, n, err := Outer(m)
		if err != nil || n == 0 {
			t.Errorf("%g: %d pairs, %v", d, n, err)
			continue
		}
		if top := mesh.TopologyOf(r); !top.Watertight || len(SelfCrossings(r)) > 0 || r.Volume() <= m.Volume() {
			t.Errorf("%g: %+v, %d pairs cross, %g mm3 of %g", d, top, len(SelfCrossings(r)), r.Volume(), m.Volume())
		}
	}
}
