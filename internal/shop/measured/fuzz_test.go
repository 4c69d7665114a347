package measured

import (
	"math"
	"testing"

	"pourwright/internal/ground/fault"
)

// Any readings give bands in their order or an input error with a hint.
func FuzzMeasure(f *testing.F) {
	f.Add(60., 40., 20., 68., 7.29, 2., 18., 0., uint8(2), uint8(0))
	f.Add(22., 22., 4., 0., 0., 4., 4., 17., uint8(3), uint8(1))
	f.Add(30., 30., 40., 0., 0., 1., 18., 0., uint8(5), uint8(3))
	f.Fuzz(func(t *testing.T, l, w, h, mass, density, thin, thick, bore float64, class, section uint8) {
		given := func(x float64) *float64 {
			if x == 0 {
				return nil
			}
			return &x
		}
		r := Readings{Length: l, Width: w, Height: h, Mass: given(mass), Density: given(density), Thinnest: given(thin), Thickest: given(thick), Bore: given(bore)}
		if k := int(class) % (len(Classes) + 1); k > 0 {
			r.Class = Classes[k-1]
		}
		if k := int(section) % (len(Sections) + 1); k > 0 {
			r.Section = Sections[k-1]
		}
		s, err := Measure(r, Usual)
		if err != nil {
			if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
				t.Errorf("%+v: %v", r, err)
			}
			return
		}
		for name, b := range map[string]Band{"volume": s.Volume, "modulus": s.Modulus} {
			if !(b.Low <= b.Value && b.Value <= b.High && b.Value > 0) || math.IsInf(b.High, 0) {
				t.Errorf("%+v: %s %+v", r, name, b)
			}
		}
	})
}
