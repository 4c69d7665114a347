package block

import (
	"fmt"
	"math"

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

// enclose finds the smallest block whose keys fit.
func (k *work) enclose() error {
	castings := vec.Empty()
	for _, s := range k.shifts {
		castings = castings.Add(k.box.Min.Add(s)).Add(k.box.Max.Add(s))
	}
	ways := vec.Empty()
	met := &mesh.Mesh{}
	for _, s := range k.shifts {
		met.Append(moved(k.m, s))
		for i := range k.channels {
			c := k.channels[i].Moved(s)
			cm := c.Mesh()
			met.Append(cm)
			ways = ways.Join(cm.Box())
		}
	}
	plain, keyed := plainMargin, keyMargin
	if k.d.Margin != nil {
		plain = *k.d.Margin
		keyed = plain
	}
	out := keyMargin + 15
	h := k.f.h
	k.all = look(met, vec.V2{X: math.Min(castings.Min.X, ways.Min.X) - out, Y: castings.Min.Y - out},
		vec.V2{X: math.Max(castings.Max.X, ways.Max.X) + out, Y: k.rim + 2*h}, h)
	type choice struct {
		b     vec.Box
		rules [6]Rule
		keys  []Key
		n     int
	}
	var best *choice
	for set := range 8 {
		var c choice
		c.b, c.rules = k.sides(castings, ways, set, plain, keyed)
		if best != nil && volumeOf(c.b) >= volumeOf(best.b) {
			continue
		}
		if c.keys = k.placeKeys(c.b); len(c.keys) < 3 {
			continue
		}
		best = &c
	}
	if best == nil {
		best = &choice{}
		best.b, best.rules = k.sides(castings, ways, 7, plain, keyed)
		f := k.l.finding("keys", "should", nil, "no room for three keys that keep 5 mm from cavity, channels and edge",
			"widen [block] margin to 20, or hold the halves in a box that locates them")
		limited(f, 0, 3)
	}
	if s := best.b.Size(); !s.Finite() || s.X <= 0 {
		return fault.New(fault.Input, "", "check the unit of the mesh", "the block has no size")
	}
	k.block = best.b
	k.l.Keys = best.keys
	k.l.Rules = best.rules
	c := best.b.Centre()
	l := k.l
	l.Size = best.b.Size()
	for i, x := range []float64{best.b.Min.X - c.X, best.b.Max.X - c.X, best.b.Min.Y - c.Y, best.b.Max.Y - c.Y, best.b.Min.Z - c.Z, best.b.Max.Z - c.Z} {
		l.Rules[i].At = x
	}
	l.Margins = [6]float64{castings.Min.X - best.b.Min.X, best.b.Max.X - castings.Max.X, castings.Min.Y - best.b.Min.Y,
		best.b.Max.Y - castings.Max.Y, castings.Min.Z - best.b.Min.Z, best.b.Max.Z - castings.Max.Z}
	for i, r := range l.Rules {
		l.figure(fmt.Sprintf("block side, %s", sideNames[i]), r.Value, "mm", "the farthest of what the rules ask: "+r.Name+", from "+r.From, ours, nil)
	}
	return nil
}

func volumeOf(b vec.Box) float64 { s := b.Size(); return s.X * s.Y * s.Z }

func moved(m *mesh.Mesh, t vec.V3) *mesh.Mesh {
	r := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	for i, p := range m.V {
		r.V[i] = p.Add(t)
	}
	return r
}

// sides returns the block for one choice of sides that carry keys (bit 0 left,
// 1 right, 2 bottom): on each side the farthest of what the rules ask.
func (k *work) sides(castings, ways vec.Box, set int, plain, keyed float64) (vec.Box, [6]Rule) {
	var r [6]Rule
	for s := range r {
		r[s] = Rule{Side: Side(s)}
	}
	round := math.Min(cupRubber, plain)
	var at [6]float64
	ask := func(s Side, out, from, value float64, name, what string) {
		if x := out * (from + out*value); r[s].Name == "" || x > out*at[s] {
			at[s] = from + out*value
			r[s].Value, r[s].Name, r[s].From = value, name, what
		}
	}
	margin := func(bit int) (float64, string) {
		if set>>bit&1 != 0 {
			return keyed, "rubber on a side that carries keys"
		}
		return plain, "rubber beside the casting"
	}
	v, name := margin(0)
	ask(Left, -1, castings.Min.X, v, name, "the casting")
	ask(Left, -1, ways.Min.X, round, "rubber round cup and channels", "the channel")
	v, name = margin(1)
	ask(Right, 1, castings.Max.X, v, name, "the casting")
	ask(Right, 1, ways.Max.X, round, "rubber round cup and channels", "the channel")
	v, name = margin(2)
	ask(Bottom, -1, castings.Min.Y, v, name, "the casting")
	ask(Bottom, -1, ways.Min.Y, round, "rubber round cup and channels", "the channel")
	ask(Up, 1, castings.Max.Y, k.rim-castings.Max.Y, "head", "the casting's top")
	back := func(s Side, out, c, w float64) {
		ask(s, out, c, plain, "rubber behind the casting", "the casting")
		ask(s, out, w, round, "rubber round cup and channels", "the channel")
		if k.d.Margin == nil || *k.d.Margin > keyDepth+1 {
			ask(s, out, k.edge, keyDepth+leastMargin, "rubber behind a key", "the parting surface")
		}
	}
	back(Back2, -1, castings.Min.Z, ways.Min.Z)
	back(Back1, 1, castings.Max.Z, ways.Max.Z)
	b := vec.Box{Min: vec.V3{X: at[Left], Y: at[Bottom], Z: at[Back2]}, Max: vec.V3{X: at[Right], Y: at[Up], Z: at[Back1]}}
	// The block's half sizes stand on the lattice of the solids.
	c, s := b.Centre(), b.Size()
	half := func(x float64) float64 { return math.Ceil(x/2/solid.Lattice-1e-6) * solid.Lattice }
	e := vec.V3{X: half(s.X), Y: half(s.Y), Z: half(s.Z)}
	return vec.Box{Min: c.Sub(e), Max: c.Add(e)}, r
}
