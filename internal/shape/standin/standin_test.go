package standin

import (
	"fmt"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/sculpt"
)

// Every form fills its box exactly, has the volume asked for, and is closed
// without crossings.
func TestBody(t *testing.T) {
	sizes := []vec.V3{{X: 60, Y: 40, Z: 20}, {X: 12, Y: 30, Z: 30}, {X: 50, Y: 48, Z: 2}, {X: 9, Y: 11, Z: 80}}
	for _, size := range sizes {
		box := size.X * size.Y * size.Z
		for _, share := range []float64{0.06, 0.15, 0.29, 0.31, 0.52, 0.785, 0.95, 0.999} {
			for _, kind := range []string{"", "figure", "bar", "disc", "cone"} {
				for _, flat := range []bool{false, true} {
					if share < solid && kind != "cone" && (kind != "figure" || flat) {
						continue // the same limbs
					}
					f := Form{Size: size, Volume: share * box, Kind: kind, Axis: least(size), Flat: flat, Round: flat}
					if kind == "cone" {
						f.Axis = 2
					}
					name := fmt.Sprintf("%v %g %s flat=%v", size.Array(), share, kind, flat)
					m, _, err := Body(f)
					if err != nil {
						if share > 0.1 {
							t.Errorf("%s: %v", name, err)
						}
						continue
					}
					off := 2e-6
					switch {
					case share < solid:
						off = 0.06 // limbs that are short for their width, on cells
					case kind == "disc" || flat:
						if share > math.Pi/4*0.98 {
							off = 0.3 // a round outline holds no more
						}
					case share > 0.99:
						off = 5e-3
					}
					if d := m.Volume()/f.Volume - 1; math.Abs(d) > off {
						t.Errorf("%s: the volume is off by %.3g", name, d)
					}
					b := m.Box()
					if far := b.Min.Dist(vec.V3{}) + b.Max.Dist(size); far > 0.02*size.Len() {
						t.Errorf("%s: the box is %v", name, b)
					}
					if err := sculpt.Check(m); err != nil {
						t.Errorf("%s: %v", name, err)
					}
				}
			}
		}
	}
}

// A ring of round section is a torus: 2 pi^2 R r^2.
func TestRing(t *testing.T) {
	for _, c := range []struct{ d, bore, h float64 }{{22, 18, 2}, {40, 20, 10}, {30, 10, 25}} {
		w := (c.d - c.bore) / 2
		for name, share := range map[string]float64{"round": math.Pi / 4, "square": 0.98, "rhomb": 0.51} {
			v := share * math.Pi / 4 * (c.d*c.d - c.bore*c.bore) * c.h
			m, _, err := Body(Form{Size: vec.V3{X: c.d, Y: c.d, Z: c.h}, Volume: v, Kind: "ring", Axis: 2, Bore: c.bore})
			if err != nil {
				t.Fatal(err)
			}
			if d := m.Volume()/v - 1; math.Abs(d) > 2e-6 {
				t.Errorf("%s of %v: off by %.3g", name, c, d)
			}
			if err := sculpt.Check(m); err != nil {
				t.Errorf("%s of %v: %v", name, c, err)
			}
			if s := m.Box().Size(); math.Abs(s.X-c.d) > 1e-9 || math.Abs(s.Z-c.h) > 1e-9 {
				t.Errorf("%s of %v: the box is %v", name, c, s)
			}
			if name == "round" && c.h == w {
				R, r := (c.d-w)/2, w/2
				if d := m.Volume()/(2*math.Pi*math.Pi*R*r*r) - 1; math.Abs(d) > 1e-5 {
					t.Errorf("torus: off by %.3g", d)
				}
			}
		}
	}
}

func least(v vec.V3) int {
	l, k := v.Array(), 0
	for i := range 3 {
		if l[i] < l[k] {
			k = i
		}
	}
	return k
}
