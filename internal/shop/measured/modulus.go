package measured

import "math"

// modulus returns V/A of the heaviest place, mm, as a band.
//
// Of a box with edges a, b, T it is
//
//	M(a, b, T) = 1 / (2 (1/a + 1/b + 1/T))
//
// and of a round bar, a disc or a ball in that box the same within a few percent
// (bar T/4, ball T/6, plate T/2; elementary). T is the thickest section, the
// least length where that was not measured.
//
//	bar, plate, disc   0.85 to 1.05 M(a, b, T)
//	ring               the same of its section, w h along pi times the mean diameter
//	cone, figure       from a ball, T/6, to a slab, 1.05 M(a, b, T); a round limb T/4
//	                   between, but no more than the middle
//
// Where the thickest section was not measured it may be as thin as a third of the
// least length in a figure, a cone or a piece of no class, or as the thinnest
// section where that is known: our choice, no source.
func modulus(r Readings, e Errors, s Said) Band {
	m := func(a, b, t float64) float64 { return 1 / (2 * (1/a + 1/b + 1/t)) }
	a, b, c := s.Size[0], s.Size[1], s.Size[2]
	t := c
	if r.Thickest != nil {
		x := math.Min(*r.Thickest, c.Value)
		t = Band{math.Max(x-e.Caliper, 0.5*x), x, math.Min(x+e.Caliper, c.High)}
	}
	switch r.Class {
	case "bar", "plate", "disc":
		return Band{0.85 * m(a.Low, b.Low, t.Low), m(a.Value, b.Value, t.Value), 1.05 * m(a.High, b.High, t.High)}
	case "ring":
		if r.Bore == nil {
			break
		}
		h, d := s.Size[s.Standing], *r.Bore
		across := (s.Size[(s.Standing+1)%3].Value + s.Size[(s.Standing+2)%3].Value) / 2
		w := (across - d) / 2
		long := math.Pi * (across + d) / 2
		wide := Band{math.Max(w-e.Caliper, w/2), w, w + e.Caliper}
		return Band{0.85 * m(long, wide.Low, h.Low), m(long, wide.Value, h.Value), 1.05 * m(long, wide.High, h.High)}
	}
	low := t.Low / 6
	if r.Thickest == nil {
		low /= 3
		if r.Thinnest != nil {
			low = math.Max(low, math.Min(*r.Thinnest, c.Value)/6)
		}
	}
	high := 1.05 * m(a.High, b.High, t.High)
	low = math.Min(low, high)
	return Band{low, math.Min(math.Max(t.Value/4, low), (low+high)/2), high}
}
