package standin

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Any box, volume and kind gives a closed body or an error, never a fall.
func FuzzBody(f *testing.F) {
	f.Add(60., 40., 20., 0.5, 0., uint8(0), uint8(0))
	f.Add(22., 22., 4., 0.3, 17., uint8(3), uint8(1))
	f.Add(1e-3, 1e4, 3., 0.01, 0., uint8(5), uint8(6))
	kinds := []string{"", "bar", "plate", "ring", "disc", "cone", "figure"}
	f.Fuzz(func(t *testing.T, x, y, z, share, bore float64, kind, how uint8) {
		for _, v := range []float64{x, y, z} {
			if !(v > 1e-3 && v < 1e4) {
				return
			}
		}
		if !(share > 0 && share <= 1) || !(bore >= 0 && bore < math.Min(x, math.Min(y, z))) {
			return
		}
		m, name, err := Body(Form{Size: vec.V3{X: x, Y: y, Z: z}, Volume: share * x * y * z, Kind: kinds[int(kind)%len(kinds)], Axis: int(how) % 3, Bore: bore, Flat: how&4 != 0, Round: how&8 != 0})
		if err != nil {
			return
		}
		if v := m.Volume(); !(v > 0) || math.IsInf(v, 0) {
			t.Errorf("%s: the volume is %g", name, v)
		}
		if !mesh.TopologyOf(m).Watertight {
			t.Errorf("%s is not closed", name)
		}
	})
}
