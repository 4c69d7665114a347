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
	Class                 string   // one of Classes
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
	if k := share(r, s); k != nil && len(ways) == 0 {
		ways = append(ways, *k)
	}
	if len(ways) == 0 {
		return s, fault.New(fault.Input, "volume", "hang it in a glass of water on the scale and give the gain, or give its mass and density",
			"three lengths do not tell the volume of %s", article(r.Class))
	}
	s.Volume, s.How = narrowest(ways)
	s.Volume.High = math.Min(s.Volume.High, s.Box.High)
	s.Volume.Value = math.Min(s.Volume.Value, s.Volume.High)
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
	slices.SortFunc(l[:], func(a, b float64) int {
		switch {
		case a > b:
			return -1
		case a < b:
			return 1
		}
		return 0
	})
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

// share is the way by class alone: the share of the box that the named shapes
// fill. Nil where a class says nothing (figure, ring, none).
//
//	disc   cylinder pi/4 down to a paraboloid dome pi/8
//	cone   round cone pi/12 up to a cylinder pi/4
//	bar    full box down to a section of half its rectangle (rhomb or triangle)
//	plate  the same by its outline, and no thinner than the thinnest section
//
// Each shape's volume over that of its box; elementary. Which shapes a class
// takes in is our choice, no source.
func share(r Readings, s Said) *way {
	var lo, hi float64
	switch r.Class {
	case "disc":
		lo, hi = math.Pi/8, math.Pi/4
	case "cone":
		lo, hi = math.Pi/12, math.Pi/4
	case "bar":
		lo, hi = 0.5, 1
	case "plate":
		lo, hi = 0.5, 1
		if r.Thinnest != nil {
			lo *= math.Min(*r.Thinnest/s.Size[2].Value, 1)
		} else {
			lo *= 0.5
		}
	default:
		return nil
	}
	return &way{"the class alone", Band{lo * s.Box.Low, (lo + hi) / 2 * s.Box.Value, hi * s.Box.High}}
}
