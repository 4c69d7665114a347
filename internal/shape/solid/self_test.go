package solid

import (
	"math"
	"testing"

	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

func TestOuter(t *testing.T) {
	for _, c := range []struct {
		name        string
		m           *mesh.Mesh
		twice, area float64
	}{
		{"bar", outside.BarThrough(), 64, 96},
		{"tube", outside.EightTube(64), 16. / 3 * 8, 16 * 4},
	} {
		r, n, err := Outer(c.m)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		top := mesh.TopologyOf(r)
		t.Logf("%s: %d pairs, %d triangles of %d, %d shells, genus %d, volume %.6g of %.6g, area %.6g", c.name, n, len(r.F), len(c.m.F), top.Shells, top.Genus, r.Volume(), c.m.Volume()-c.twice, r.Area())
		if !top.Watertight || top.Pinched > 0 || len(SelfCrossings(r)) > 0 {
			t.Errorf("%s: %+v", c.name, top)
		}
		if want := c.m.Volume() - c.twice; math.Abs(r.Volume()-want) > 0.03*c.twice {
			t.Errorf("%s: volume %.6g, want %.6g (%.6g counted twice)", c.name, r.Volume(), want, c.twice)
		}
		if want := c.m.Area() - c.area; math.Abs(r.Area()-want) > 0.03*c.area {
			t.Errorf("%s: area %.6g, want %.6g", c.name, r.Area(), want)
		}
	}
}
