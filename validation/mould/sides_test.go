package mould

import (
	"math"
	"regexp"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// rule is what the plan says of one side of the block: the figure "block side,
// .." holds the distance asked, the name of the rule and from what it is
// measured.
type rule struct {
	name, from string
	value      float64
}

var sides = [6]string{"left (-x)", "right (+x)", "bottom (-y)", "cup side (+y)", "back of half 2 (-z)", "back of half 1 (+z)"}

var ruleText = regexp.MustCompile(`^the farthest that the rules ask: (.+), from (.+); 1 mm less breaks it$`)

func (f *finished) rule(side int) (rule, bool) {
	for _, x := range f.plan.Figures {
		if x.Name != "block side, "+sides[side] {
			continue
		}
		if m := ruleText.FindStringSubmatch(x.Formula); m != nil && x.Unit == "mm" && x.Value > 0 {
			return rule{m[1], m[2], x.Value}, true
		}
	}
	return rule{}, false
}

// room measures how far each side stands from what its rule names, on the
// files: the masters in their places, the cavity, the halves.
func (f *finished) room(side int, from string) (float64, bool) {
	axis, out := side/2, float64(2*(side%2)-1)
	half := f.plan.Block.Size[axis] / 2
	end := func(b vec.Box) float64 {
		if out > 0 {
			return b.Max.At(axis)
		}
		return b.Min.At(axis)
	}
	switch from {
	case "the casting", "the casting's top":
		b := vec.Empty()
		for _, m := range f.masters {
			b = b.Join(m.Box())
		}
		return half - out*end(b), true
	case "the channel":
		return half - out*end(f.cavity.Box()), true
	case "the parting surface":
		return half - out*f.rim(), true
	case "a key":
		far := math.Inf(-1)
		for _, k := range f.plan.Block.Keys {
			far = max(far, out*k.At[axis]+k.Diameter/2)
		}
		return half - far, !math.IsInf(far, 0)
	}
	return 0, false
}

// checkSides makes each side of the block 1 mm nearer and sees that the rule
// which the plan names for it is then broken, and that it is kept as the block
// stands. The block of the files is the block of the plan.
func (f *finished) checkSides(t *testing.T) {
	all := vec.Empty()
	for _, m := range []*mesh.Mesh{f.half1, f.half2} {
		all = all.Join(m.Box())
	}
	if d := all.Size().Sub(vec.FromArray(f.plan.Block.Size)).Len(); d > 1e-3 {
		t.Errorf("the halves fill a box that differs from the block by %.4f mm", d)
	}
	for s := range 6 {
		r, ok := f.rule(s)
		if !ok {
			t.Errorf("the plan names no rule for the %s side", sides[s])
			continue
		}
		room, ok := f.room(s, r.from)
		if !ok {
			t.Errorf("the %s side is measured from %q, which the files do not show", sides[s], r.from)
			continue
		}
		const tol = 2e-3
		if room < r.value-tol {
			t.Errorf("the %s side stands %.4f mm from %s, its own rule (%s) asks %.4f", sides[s], room, r.from, r.name, r.value)
		}
		if room-1 > r.value-0.9 {
			t.Errorf("the %s side may come 1 mm nearer: %.4f mm from %s, its rule (%s) asks %.4f", sides[s], room, r.from, r.name, r.value)
		}
		if s < 3 && r.name == "rubber on a side that carries keys" {
			f.checkCarries(t, s, r)
		}
	}
}

// checkCarries: a side wide enough for keys carries one: between the casting
// and that side, as far out as the casting's box or farther.
func (f *finished) checkCarries(t *testing.T, side int, r rule) {
	axis, out := side/2, float64(2*(side%2)-1)
	half := f.plan.Block.Size[axis] / 2
	for _, k := range f.plan.Block.Keys {
		if out*k.At[axis]+k.Diameter/2 > half-r.value {
			return
		}
	}
	t.Errorf("the %s side is %.1f mm wide for keys and carries none", sides[side], r.value)
}

// checkMargins holds what the plan says of its margins to the solids: the least
// rubber beside the castings.
func (f *finished) checkMargins(t *testing.T) {
	b := vec.Empty()
	for _, m := range f.masters {
		b = b.Join(m.Box())
	}
	s := f.plan.Block.Size
	for i, want := range f.plan.Block.Margins {
		axis := i / 2
		got := s[axis]/2 + b.Min.At(axis)
		if i%2 == 1 {
			got = s[axis]/2 - b.Max.At(axis)
		}
		if math.Abs(got-want) > 2e-3 {
			t.Errorf("the %s side leaves %.4f mm beside the castings, the plan says %.4f", sides[i], got, want)
		}
	}
}
