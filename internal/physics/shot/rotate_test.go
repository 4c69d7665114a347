package shot

import (
	"math"
	"testing"
)

// free reports whether n moulds can be served with period p: work is laid out in
// a ring of length p, and no two stretches may overlap.
func free(n int, p, wait, rest float64, h Hands) bool {
	const eps = 1e-9
	a, o := h.Powder+h.Pour, h.Open
	if a+o > p+eps || float64(n)*p < a+o+wait+rest-eps {
		return false
	}
	s := math.Mod(a+wait, p)
	if p-s < eps {
		s = 0
	}
	return s >= a-eps && s+o <= p+eps
}

func TestRotateIsTheShortestThatFits(t *testing.T) {
	h := Hands{Pour: 60, Open: 40, Powder: 80}
	for n := 1; n <= 6; n++ {
		for _, wait := range []float64{30, 150, 240, 250, 600} {
			for _, rest := range []float64{0, 300, 1200} {
				r := Rotate(n, wait, rest, h)
				if !free(n, r.Period, wait, rest, h) {
					t.Fatalf("%d moulds, wait %g, rest %g: %+v does not fit", n, wait, rest, r)
				}
				for p := 1.0; p < r.Period-0.5; p += 0.25 {
					if free(n, p, wait, rest, h) {
						t.Fatalf("%d moulds, wait %g, rest %g: %g would do, not %g", n, wait, rest, p, r.Period)
					}
				}
				if r.Rest < rest-1e-6 || r.Idle < -1e-9 || math.Abs(r.PerHour*r.Period-3600) > 1e-6 {
					t.Errorf("%+v", r)
				}
			}
		}
	}
}

func TestWorth(t *testing.T) {
	h := Hands{Pour: 60, Open: 40, Powder: 80}
	// A cycle of 180 + 240 + 1200 s keeps nine moulds of one caster busy, if he waits well.
	r := Worth(12, 240, 1200, h)
	if n := len(r); n < 4 || n > 9 || r[0].PerHour < 2.2 || r[0].PerHour > 2.3 {
		t.Errorf("%d moulds, %+v", n, r)
	}
	for i := 1; i < len(r); i++ {
		if r[i].PerHour <= r[i-1].PerHour {
			t.Errorf("mould %d brings nothing: %+v", i+1, r)
		}
	}
	// Work that takes longer than wait and rest leaves no room for a second mould.
	if r := Worth(12, 60, 0, h); len(r) != 1 {
		t.Errorf("%+v", r)
	}
	if r := Rotate(2, 0, 0, Hands{}); r.PerHour != 0 {
		t.Errorf("%+v", r)
	}
}
