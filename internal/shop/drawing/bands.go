package drawing

import (
	"strings"

	"pourwright/internal/book/plan"
)

// standsIn reports whether a plain body stands in for a master known by its
// measures alone.
func (in *Input) standsIn() bool { return in.Plan.Master.Measured != nil }

// band is what a figure is at least and at most by the readings of such a
// master; ok is false where it does not hang on them.
func (in *Input) band(name string) (b plan.Band, ok bool) {
	if in.standsIn() {
		for _, b := range in.Plan.Master.Measured.Bands {
			if b.Name == name {
				return b, true
			}
		}
	}
	return b, false
}

// byMeasures says what the picture is not, and between what the masses lie.
func (in *Input) byMeasures() string {
	if !in.standsIn() {
		return ""
	}
	var l []string
	for _, x := range []struct{ name, say string }{
		{"one casting", "one casting"}, {"charge for one shot", "metal for a shot"}, {"mix for half 1", "mix for half 1"}, {"mix for half 2", "mix for half 2"},
	} {
		if b, ok := in.band(x.name); ok {
			l = append(l, x.say+" "+Between(Grams(b.Low), Grams(b.High))+nb+"g")
		}
	}
	if b, ok := in.band("heaviest place solid"); ok {
		l = append(l, "solid after "+Between(seconds(b.Low), seconds(b.High)))
	}
	s := "Laid out from measures: a plain body stands in for the piece."
	if len(l) > 0 {
		s += " By them " + strings.Join(l, ", ") + "."
	}
	return s
}
