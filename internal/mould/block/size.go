package block

import (
	"fmt"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/solid"
)

// Margins that the layout uses where the job gives none, mm. Practice asks
// 5-13 mm of rubber beside a casting and more where keys stand; the heads come
// on top.
const (
	plainMargin = 12.0
	keyMargin   = 20.0
	leastMargin = 6.0
)

// choice is one block: which sides carry keys, and what follows.
type choice struct {
	set   int // bit 0 left, 1 right, 2 bottom
	box   vec.Box
	rules [6]Rule
	asked []Rule
}

func (c *choice) name() string {
	switch c.set {
	case 0:
		return "keys where there is room anyway"
	case 1:
		return "20 mm for keys on the left"
	case 2:
		return "20 mm for keys on the right"
	case 3:
		return "20 mm for keys left and right"
	case 4:
		return "20 mm for keys at the bottom"
	case 5:
		return "20 mm for keys left and at the bottom"
	case 6:
		return "20 mm for keys right and at the bottom"
	}
	return "20 mm for keys left, right and at the bottom"
}

// enclose finds the smallest block in which the keys fit, and lays everything
// into it.
func (k *work) enclose() error {
	castings, ways, met := k.union(k.cavities, true)
	if k.d.Margin != nil && !(*k.d.Margin > 0) {
		return fault.New(fault.Input, "[block] margin", "give a length above 0 mm, such as 12", "the margin is %g mm", *k.d.Margin)
	}
	plain, keyed := plainMargin, keyMargin
	if k.d.Margin != nil {
		plain, keyed = *k.d.Margin, *k.d.Margin
		k.overruledMargin()
	}
	out := keyMargin + 15 + plain
	h := k.f.h
	k.all = look(met, vec.V2{X: math.Min(castings.Min.X, ways.Min.X) - out, Y: castings.Min.Y - out},
		vec.V2{X: math.Max(castings.Max.X, ways.Max.X) + out, Y: k.rim + 2*h}, h)
	var list []choice
	for set := range 8 {
		if k.d.Margin != nil && set > 0 {
			break
		}
		c := choice{set: set}
		c.box, c.rules, c.asked = k.sides(castings, ways, set, plain, keyed)
		list = append(list, c)
	}
	slices.SortStableFunc(list, func(a, b choice) int { return cmpFloat(volumeOf(a.box), volumeOf(b.box)) })
	if s := list[0].box.Size(); !s.Finite() || s.X <= 0 {
		return fault.New(fault.Input, "", "check the unit of the mesh", "the block has no size")
	}
	// Keys ask for level ground; where there is none they are set on a slope.
	kept, tried := k.fit(list, keyRise)
	if kept < 0 {
		kept, tried = k.fit(list, steepRise)
	}
	k.l.Tried = append(k.l.Tried, tried...)
	if kept < 0 {
		kept = 0
		k.settle(list[0])
	}
	k.report(list[kept], castings)
	return nil
}

// fit lays everything into the smallest block in which keys fit whose ground
// rises by no more than rise of their diameter, and sets them. The parting
// surface is solved for at most three blocks; kept is -1 where keys fit none.
func (k *work) fit(list []choice, rise float64) (kept int, tried []plan.Trial) {
	solved := 0
	for i, c := range list {
		t := plan.Trial{What: "block with " + c.name(), Result: "no room for keys that hold the halves one way only", Score: plan.Ptr(volumeOf(c.box))}
		if solved < 3 && k.pickKeys(c.box, nil, false) != nil && (solved == 0 || k.pickKeys(c.box, k.flatness(rise), false) != nil) {
			solved++
			k.settle(c)
			if l := k.pickKeys(c.box, k.flatness(rise), true); l != nil {
				k.l.Keys = l
				t.Result, t.Kept = fmt.Sprintf("%.0f cm3, %d keys", volumeOf(c.box)/1e3, len(l)), true
				return i, append(tried, t)
			}
		}
		tried = append(tried, t)
	}
	return -1, tried
}

// report writes margins, rules and key findings for the block that was kept.
func (k *work) report(c choice, castings vec.Box) {
	l := k.l
	mid := c.box.Centre()
	l.Rules = c.rules
	for _, r := range c.asked {
		r.At -= mid.At(int(r.Side) / 2)
		l.asked = append(l.asked, r)
	}
	for i := range l.Rules {
		s := Side(i)
		l.Rules[i].At = s.of(l.Box())
		l.Margins[i] = s.out() * (s.of(c.box) - s.of(castings))
	}
	for i, r := range l.Rules {
		l.figure("block side, "+sideNames[i], r.Value, "mm", "the farthest that the rules ask: "+r.Name+", from "+r.From+"; 1 mm less breaks it", ours, map[string]float64{"at, mm": r.At})
	}
	for i, m := range l.Margins {
		if m < leastMargin-1e-9 {
			limited(l.finding("margin", "should", nil, fmt.Sprintf("%.1f mm of rubber on the %s side: thin walls bulge under load and heat up", m, sideNames[i]), "ask at least 6 mm by [block] margin"), m, leastMargin)
		}
	}
	if l.Keys == nil {
		limited(l.finding("keys", "should", nil, "no room for keys that keep 5 mm from cavity, channels and edge and hold the halves one way only",
			"widen [block] margin to 20, or hold the halves in a box that locates them"), 0, 3)
	}
	l.Keys = l.standing(l.Keys, mid)
	if l.Keys != nil {
		for _, axis := range []string{"x", "y", "z"} {
			l.figure("keys in the way of half 2 turned about "+axis, l.Turned(axis[0]), "mm3", "overlap of the keys with the other half after a turn by 180 degrees", "geometry", nil)
		}
	}
}

func (k *work) overruledMargin() {
	limited(k.l.finding("overruled", "note", nil, fmt.Sprintf("[block] margin overrules the search: %.1f mm on all sides without the cup, where 12 mm (20 mm on sides that carry keys) is the default", *k.d.Margin),
		"leave margin out of [block] to take the search's block"), *k.d.Margin, plainMargin)
}

func volumeOf(b vec.Box) float64 { s := b.Size(); return s.X * s.Y * s.Z }

func moved(m *mesh.Mesh, t vec.V3) *mesh.Mesh {
	r := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	for i, p := range m.V {
		r.V[i] = p.Add(t)
	}
	return r
}

// sides returns the block for one choice of sides that carry keys: each side
// as near as the rules let it be. Of every side the binding rule is returned,
// and all that were asked.
func (k *work) sides(castings, ways vec.Box, set int, plain, keyed float64) (vec.Box, [6]Rule, []Rule) {
	asked := k.asks(castings, ways, set, plain, keyed)
	var r [6]Rule
	for _, a := range asked {
		if q := &r[a.Side]; q.Name == "" || a.beyond(q.At) > 0 {
			*q = a
		}
	}
	b := vec.Box{Min: vec.V3{X: r[Left].At, Y: r[Bottom].At, Z: r[Back2].At}, Max: vec.V3{X: r[Right].At, Y: r[Up].At, Z: r[Back1].At}}
	// The block's half sizes stand on the lattice of the solids.
	c, s := b.Centre(), b.Size()
	half := func(x float64) float64 { return math.Ceil(x/2/solid.Lattice-1e-6) * solid.Lattice }
	e := vec.V3{X: half(s.X), Y: half(s.Y), Z: half(s.Z)}
	return vec.Box{Min: c.Sub(e), Max: c.Add(e)}, r, asked
}

// asks lists how near every rule lets every side come; work frame.
func (k *work) asks(castings, ways vec.Box, set int, plain, keyed float64) []Rule {
	var list []Rule
	ask := func(s Side, from, value float64, name, what string) {
		list = append(list, Rule{Side: s, Name: name, Value: value, From: what, At: from + s.out()*value})
	}
	round := math.Min(cupRubber, plain)
	for _, s := range []Side{Left, Right, Bottom} {
		v, name := plain, "rubber beside the casting"
		switch {
		case k.d.Margin != nil:
			name = "[block] margin"
		case set>>s&1 != 0:
			v, name = keyed, "rubber on a side that carries keys"
		}
		ask(s, s.of(castings), v, name, "the casting")
		ask(s, s.of(ways), round, "rubber round cup and channels", "the channel")
	}
	ask(Up, castings.Max.Y, k.rim-castings.Max.Y, k.headRule, "the casting's top")
	behind := "rubber behind the casting"
	if k.d.Margin != nil {
		behind = "[block] margin"
	}
	for _, s := range []Side{Back2, Back1} {
		ask(s, s.of(castings), plain, behind, "the casting")
		ask(s, s.of(ways), round, "rubber round cup and channels", "the channel")
		ask(s, k.edge, keyDepth+math.Min(leastMargin, plain), "rubber behind a key", "the parting surface")
	}
	return list
}

// Broken lists the rules that a block of the given size, b in the block frame,
// would break: those whose side it brings nearer than they ask. The block as
// laid out breaks none.
func (l *Layout) Broken(b vec.Box) []Rule {
	var list []Rule
	for _, r := range l.asked {
		if r.beyond(r.Side.of(b)) > 3*solid.Lattice {
			list = append(list, r)
		}
	}
	return list
}
