// Package measured is what can be said of a master without a mesh: an object on
// the bench, a caliper and a scale.
//
// Main function: Measure takes the readings and gives the volume as a band, with
// the way it was found. The band is the sum of the largest errors of the
// readings, not their root of squares: it holds the volume for certain as long as
// each reading is within its error. No shape is computed, so nothing here proves
// a pour.
//
// Units: mm, mm3, g, g/cm3, degrees C.
package measured

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"pourwright/internal/ground/fault"
)

// Readings are what was read off the object. Nil is not measured.
type Readings struct {
	Length, Width, Height float64  // mm, in any order
	Volume                *float64 // mm3, by the rise of water in a measuring glass
	Gain                  *float64 // g, what the scale gains with the object hung in a glass of water
	Water                 float64  // of that water, degrees C
	Mass                  *float64 // g
	Density               *float64 // g/cm3
	Thinnest, Thickest    *float64 // mm: the least section, and the largest ball that fits in
	Bore                  *float64 // mm, across the hole of a ring
	Class                 string   // one of Classes
	Section               string   // one of Sections: a bar or a ring cut across, the others seen from above; empty is not said
}

// Errors are the largest errors of the readings.
type Errors struct {
	Caliper float64 // mm, of each length
	Scale   float64 // g, of each weighing
	Rise    float64 // share of a volume read by the rise of water
	Hung    float64 // share of a volume by hanging: thread and bubbles
	Water   float64 // K, of the water
	Density float64 // share of a typed density
}

// Usual is a sliding caliper, a scale of 0.1 g and a kitchen's care: common
// practice, no source.
var Usual = Errors{Caliper: 0.1, Scale: 0.1, Rise: 0.03, Hung: 0.005, Water: 3, Density: 0.03}

// Classes are the kinds of piece a master may be called.
var Classes = []string{"bar", "plate", "ring", "disc", "cone", "figure"}

// Sections are the forms a section may have. Half-round is flat at the bore of a ring, at the back of the others.
var Sections = []string{"round", "half-round", "square"}

// Band is a value with what it is at least and at most.
type Band struct{ Low, Value, High float64 }

// Wide returns half the band's width as a share of its value.
func (b Band) Wide() float64 { return (b.High - b.Low) / (2 * b.Value) }

// Said is what the readings give.
type Said struct {
	Size   [3]Band // mm, the longest first
	Box    Band    // mm3
	Volume Band    // mm3
	How    string  // the way Volume was found: the narrowest of those that were open

	// Modulus is V/A of the heaviest place, mm; see modulus.
	Modulus Band
	// Standing is the length, of those in Size, along the axis of a ring or a
	// cone: the one whose other two are nearest each other.
	Standing int
}

// rounding is how far two bands may lie apart and still touch.
const rounding = 1e-9

// way is one way to a volume.
type way struct {
	how  string
	band Band
}

// Measure gives the volume of the object by the narrowest way that its readings
// leave open, cut by all others. Readings that contradict each other by more
// than their errors are an error.
func Measure(r Readings, e Errors) (Said, error) {
	s, err := sizes(r, e)
	if err != nil {
		return s, err
	}
	if err := sections(r, e, s); err != nil {
		return s, err
	}
	ways, err := weighed(r, e)
	if err != nil {
		return s, err
	}
	for i, w := range ways {
		if w.band.Low > s.Box.High {
			return s, fault.New(fault.Input, "volume", "measure the three lengths over the outermost points, and read mm3 for a volume (1 cm3 is 1000 mm3)",
				"the volume by %s is %.5g mm3, and the box of the three lengths holds only %.5g mm3", w.how, w.band.Value, s.Box.Value)
		}
		for _, o := range ways[:i] {
			if w.band.Low > o.band.High*(1+rounding) || o.band.Low > w.band.High*(1+rounding) {
				return s, fault.New(fault.Input, "volume", "weigh again, look for bubbles and hollows, and check which metal or resin it is",
					"%s gives %.5g mm3 and %s %.5g mm3: more apart than their errors allow", o.how, o.band.Value, w.how, w.band.Value)
			}
		}
	}
	if k := share(r, e, s); k != nil && len(ways) == 0 {
		ways = append(ways, *k)
	}
	if len(ways) == 0 {
		hint := "hang it in a glass of water on the scale and give the gain, or give its mass and density"
		if r.Class == "ring" {
			hint = "measure across its hole and give the bore, or " + hint
		}
		return s, fault.New(fault.Input, "volume", hint, "three lengths do not tell the volume of %s", article(r.Class))
	}
	s.Volume, s.How = narrowest(ways)
	s.Volume.High = math.Min(s.Volume.High, s.Box.High)
	s.Volume.Value = math.Min(s.Volume.Value, s.Volume.High)
	if t := r.Thickest; t != nil {
		if d := *t - 2*e.Caliper; d > 0 && math.Pi/6*d*d*d > s.Volume.High {
			return s, fault.New(fault.Input, "thickest", "measure it through the metal where the piece is thickest; is the piece hollow, or the volume in another unit?",
				"a ball of the thickest section, %.4g mm, holds more than the whole piece: %.4g mm3 by %s", *t, s.Volume.Value, s.How)
		}
	}
	s.Modulus = modulus(r, e, s)
	return s, nil
}

func article(class string) string {
	if class == "" {
		return "a piece of no named class"
	}
	return "a " + class
}

// sizes reads the three lengths.
func sizes(r Readings, e Errors) (Said, error) {
	var s Said
	l := [3]float64{r.Length, r.Width, r.Height}
	for i, x := range l {
		if !(x > 0) || math.IsInf(x, 0) {
			name := [3]string{"length", "width", "height"}[i]
			return s, fault.New(fault.Input, name, "measure length, width and height over the outermost points, in mm", "the %s is no length above 0", name)
		}
	}
	if r.Class != "" && !slices.Contains(Classes, r.Class) {
		hint := "use one of " + strings.Join(Classes, ", ")
		if n := fault.Nearest(r.Class, Classes); n != "" {
			hint = "did you mean " + n + "? Known are " + strings.Join(Classes, ", ")
		}
		return s, fault.New(fault.Input, "class", hint, "no class is called %q", r.Class)
	}
	if r.Section != "" && !slices.Contains(Sections, r.Section) {
		return s, fault.New(fault.Input, "section", "use one of "+strings.Join(Sections, ", "), "no section is called %q", r.Section)
	}
	slices.SortFunc(l[:], func(a, b float64) int { return cmp.Compare(b, a) })
	s.Standing = Odd(l)
	s.Box = Band{1, 1, 1}
	for i, x := range l {
		s.Size[i] = Band{math.Max(x-e.Caliper, 0), x, x + e.Caliper}
		s.Box = Band{s.Box.Low * s.Size[i].Low, s.Box.Value * x, s.Box.High * s.Size[i].High}
	}
	return s, nil
}

// sections holds the sections against each other and the least length.
func sections(r Readings, e Errors, s Said) error {
	for _, q := range []struct {
		name string
		x    *float64
	}{{"thinnest", r.Thinnest}, {"thickest", r.Thickest}} {
		if q.x == nil {
			continue
		}
		if !(*q.x > 0) {
			return fault.New(fault.Input, q.name, "give it in mm", "the %s section is no length above 0", q.name)
		}
		if *q.x > s.Size[2].Value+2*e.Caliper {
			return fault.New(fault.Input, q.name, "a section is measured through the metal, and cannot be more than the least of the three lengths",
				"the %s section is %.4g mm, and the piece is only %.4g mm across its least way", q.name, *q.x, s.Size[2].Value)
		}
	}
	if b := r.Bore; b != nil {
		least := math.Min(s.Size[(s.Standing+1)%3].Value, s.Size[(s.Standing+2)%3].Value)
		switch {
		case r.Class != "ring":
			return fault.New(fault.Input, "bore", "leave it out, or call the piece a ring", "only a ring has a bore")
		case !(*b > 0) || *b >= least:
			return fault.New(fault.Input, "bore", "measure across the hole, in mm", "the bore is %.4g mm, and the ring is %.4g mm across", *b, least)
		}
	}
	if a, b := r.Thinnest, r.Thickest; a != nil && b != nil && *a > *b+2*e.Caliper {
		return fault.New(fault.Input, "thinnest", "change the two", "the thinnest section is %.4g mm and the thickest only %.4g mm", *a, *b)
	}
	return nil
}

// weighed lists the ways to the volume that need a scale or a measuring glass.
//
//	hung    V = m_gain / rho_w(T)   (Archimedes: the glass carries the water's push)
//	weighed V = m / rho
func weighed(r Readings, e Errors) ([]way, error) {
	for _, q := range []struct {
		name string
		x    *float64
	}{{"volume", r.Volume}, {"gain", r.Gain}, {"mass", r.Mass}, {"density", r.Density}} {
		if q.x != nil && (!(*q.x > 0) || math.IsInf(*q.x, 0)) {
			return nil, fault.New(fault.Input, q.name, "leave it out where it was not measured", "the %s is no figure above 0", q.name)
		}
	}
	var ways []way
	if r.Gain != nil {
		if !(r.Water >= 1 && r.Water <= 60) {
			return nil, fault.New(fault.Input, "water", "use water between 1 and 60 C, best at the room's temperature", "the water is at %.4g C", r.Water)
		}
		g, err := *r.Gain, 2*e.Scale // two weighings
		if g <= err {
			return nil, fault.New(fault.Input, "gain", "use a finer scale, or hang several pieces at once", "a gain of %.4g g is not more than the two weighings' error of %.4g g", g, err)
		}
		v := func(m, t float64) float64 { return 1e6 * m / WaterDensity(t) }
		cold, warm := math.Max(r.Water-e.Water, 4), math.Max(r.Water+e.Water, 4)
		ways = append(ways, way{"hanging it in water", Band{v(g-err, cold) / (1 + e.Hung), v(g, r.Water), v(g+err, warm) / (1 - e.Hung)}})
	}
	if r.Volume != nil {
		v := *r.Volume
		ways = append(ways, way{"the rise of water", Band{v / (1 + e.Rise), v, v / (1 - e.Rise)}})
	}
	if r.Mass != nil && r.Density != nil {
		m, d := *r.Mass, *r.Density
		ways = append(ways, way{"mass and density", Band{1000 * math.Max(m-e.Scale, 0) / (d * (1 + e.Density)), 1000 * m / d, 1000 * (m + e.Scale) / (d * (1 - e.Density))}})
	}
	return ways, nil
}

// narrowest returns what all ways allow together, about the value of the
// narrowest one, and that one's name.
func narrowest(ways []way) (Band, string) {
	best := ways[0]
	b := best.band
	for _, w := range ways[1:] {
		if w.band.Wide() < best.band.Wide() {
			best = w
		}
		b.Low, b.High = math.Max(b.Low, w.band.Low), math.Min(b.High, w.band.High)
	}
	if b.Low > b.High { // by rounding, where two bands touch
		b.Low, b.High = b.High, b.Low
	}
	b.Value = math.Min(math.Max(best.band.Value, b.Low), b.High)
	return b, best.how
}

// Odd returns which of three lengths stands alone: the one whose other two are
// nearest each other by ratio.
func Odd(l [3]float64) int {
	best, least := 2, math.Inf(1)
	for k := range 3 {
		a, b := l[(k+1)%3], l[(k+2)%3]
		if q := math.Max(a/b, b/a); q < least {
			best, least = k, q
		}
	}
	return best
}

// fills returns the share of its rectangle that a section takes up.
//
//	round, half-round  pi/4, an ellipse or half of one; from 0.74, for flats on it
//	square             1, down to 0.92 for rounded edges
//	not said           down to 1/2, a rhomb or a triangle
func fills(section string) (lo, hi float64) {
	switch section {
	case "round", "half-round":
		return 0.74, 1.01 * math.Pi / 4
	case "square":
		return 0.92, 1
	}
	return 0.5, 1
}

// share is the way by class alone: the share of the box that the named shapes
// fill.
//
//	bar    its section (fills) along the longest way; rounded ends take up to c/(6 a)
//	plate  its outline (fills), from thinnest/height (1/2 where not said) to 1
//	disc   pi/4 of a dome on a rim of the thinnest section t, (1 + t/c)/2 (1/2 where
//	       not said), less 0.07 for round edges, up to a cylinder
//	cone   its outline (round where not said) times (1 + k + k2)/3 of a frustum, k its
//	       top (the thinnest section) over its foot, 4 % hollow or bellied; without
//	       the thinnest section 1/3 to 1
//	ring   its section (fills) times pi/4 (D1 D2 - d2) h, d the bore (Pappus)
//
// Volumes over that of the box; elementary. Which shapes a class takes in is our
// choice, no source. Nil where a class says nothing (figure, ring without a bore,
// none).
func share(r Readings, e Errors, s Said) *way {
	lo, hi := fills(r.Section)
	c := s.Size[2].Value
	switch r.Class {
	case "bar":
		lo *= 1 - c/(6*s.Size[0].Value)
	case "plate":
		if r.Thinnest != nil {
			lo *= math.Min(*r.Thinnest/c, 1)
		} else {
			lo *= 0.5
		}
	case "disc":
		lo, hi = 0.93*math.Pi/4, math.Pi/4
		rim := 0.0
		if r.Thinnest != nil {
			rim = math.Min(*r.Thinnest/c, 1)
		}
		lo *= (1 + rim) / 2
	case "cone":
		if r.Section == "" {
			lo, hi = fills("round")
		}
		if r.Thinnest == nil {
			lo /= 3
			break
		}
		foot := math.Max(s.Size[(s.Standing+1)%3].Value, s.Size[(s.Standing+2)%3].Value)
		k := math.Min(*r.Thinnest/foot, 1)
		mean := (1 + k + k*k) / 3
		lo *= mean * 0.96
		if *r.Thinnest < 0.95*s.Size[s.Standing].Value { // else it is the height that was measured
			hi *= math.Min(mean*1.04, 1)
		}
	case "ring":
		if r.Bore == nil {
			return nil
		}
		d1, d2, h := s.Size[(s.Standing+1)%3], s.Size[(s.Standing+2)%3], s.Size[s.Standing]
		ring := func(a, b, d, h float64) float64 { return math.Pi / 4 * math.Max(a*b-d*d, 0) * h }
		low := lo * ring(d1.Low, d2.Low, *r.Bore+e.Caliper, h.Low)
		high := hi * ring(d1.High, d2.High, *r.Bore-e.Caliper, h.High)
		mid := (lo + hi) / 2 * ring(d1.Value, d2.Value, *r.Bore, h.Value)
		return &way{"the class alone", Band{low, mid, high}}
	default:
		return nil
	}
	return &way{"the class alone", Band{lo * s.Box.Low, (lo + hi) / 2 * s.Box.Value, hi * s.Box.High}}
}
