package block

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/voxel"
)

// turns are the three ways in which half 2 may be laid wrong: turned by 180
// degrees about the block's x, y and z.
var turns = map[byte]vec.V3{'x': {X: 1, Y: -1, Z: -1}, 'y': {X: -1, Y: 1, Z: -1}, 'z': {X: -1, Y: -1, Z: 1}}

// Turned returns the volume in mm3 of the rubber of keys that stands in the
// rubber of the other half when half 2 is turned by 180 degrees about the
// block's axis 'x', 'y' or 'z'. Turned over, it is pushed back to its own side:
// its flat back to the lowest height at which the halves part at the block's
// left, right and bottom.
//
// Columns 0.25 mm apart over the keys of half 1 and over the places to which
// the turn takes those of half 2. The relief of the parting surface stops a
// turned half too; it does not count.
func (l *Layout) Turned(axis byte) float64 {
	return l.turned(l.Keys, turns[axis], 0.25)
}

func (l *Layout) turned(keys []Key, sign vec.V3, h float64) float64 {
	v := 0.0
	for i := range keys {
		v += l.against(keys, i, sign, h)
	}
	return v
}

// against is the share of key i in turned.
func (l *Layout) against(keys []Key, i int, sign vec.V3, h float64) float64 {
	k := &keys[i]
	push := 0.0
	if sign.Z < 0 {
		push = l.rim - l.Size.Z/2
	}
	r := k.Diameter / 2
	n := int(math.Ceil(2 * r / h))
	v := 0.0
	for b := range n {
		for a := range n {
			x, y := k.At.X-r+(float64(a)+0.5)*h, k.At.Y-r+(float64(b)+0.5)*h
			if k.height(math.Hypot(x-k.At.X, y-k.At.Y)) <= 0 {
				continue
			}
			own := l.column(keys, x, y)
			peg := own.key()
			if peg.Hi <= peg.Lo {
				continue
			}
			if k.Depth < 0 { // of half 1: it stays, half 2 comes
				other := l.column(keys, sign.X*x, sign.Y*y)
				for _, s := range l.rubber(&other, 2) {
					v += both(peg, shifted(s, sign.Z, push))
				}
				continue
			}
			peg = shifted(peg, sign.Z, push) // of half 2: it comes, half 1 stays
			here := l.column(keys, sign.X*x, sign.Y*y)
			for _, s := range l.rubber(&here, 1) {
				v += both(peg, s)
				if here.bound < here.foot { // a key of half 1, counted there
					v -= both(peg, voxel.Span{Lo: math.Max(s.Lo, here.bound), Hi: math.Min(s.Hi, here.foot)})
				}
			}
		}
	}
	return v * h * h
}

// lowest returns the lowest height of the parting surface along the block's
// left, right and bottom.
func (l *Layout) lowest() float64 {
	b := l.Box()
	low := math.Inf(1)
	const n = 256
	for i := range n + 1 {
		u := float64(i) / n
		x, y := b.Min.X+u*l.Size.X, b.Min.Y+u*l.Size.Y
		low = math.Min(low, math.Min(l.Surface.At(x, b.Min.Y), math.Min(l.Surface.At(b.Min.X, y), l.Surface.At(b.Max.X, y))))
	}
	return low
}

// column is where the halves meet on the line at (x, y): foot without keys,
// bound with them.
type column struct{ x, y, foot, bound float64 }

func (l *Layout) column(keys []Key, x, y float64) column {
	z := l.Surface.At(x, y)
	c := column{x, y, z, z}
	for i := range keys {
		k := &keys[i]
		t := k.height(math.Hypot(x-k.At.X, y-k.At.Y))
		if t <= 0 {
			continue
		}
		if k.Depth > 0 {
			c.bound = math.Max(c.bound, k.At.Z+t)
		} else {
			c.bound = math.Min(c.bound, k.At.Z-t)
		}
	}
	return c
}

// key returns the stretch that a key fills, empty where there is none.
func (c *column) key() voxel.Span {
	return voxel.Span{Lo: math.Min(c.foot, c.bound), Hi: math.Max(c.foot, c.bound)}
}

// rubber lists the stretches of a half on the line: the block's share of it
// less the metal.
func (l *Layout) rubber(c *column, half int) []voxel.Span {
	z := l.Size.Z / 2
	s := voxel.Span{Lo: c.bound, Hi: z}
	if half == 2 {
		s = voxel.Span{Lo: -z, Hi: c.bound}
	}
	f := l.away
	var list []voxel.Span
	for _, m := range f.cols.Of(f.node(c.x, c.y)) {
		if m.Hi <= s.Lo || m.Lo >= s.Hi {
			continue
		}
		if m.Lo > s.Lo {
			list = append(list, voxel.Span{Lo: s.Lo, Hi: m.Lo})
		}
		s.Lo = m.Hi
	}
	if s.Hi > s.Lo {
		list = append(list, s)
	}
	return list
}

func both(a, b voxel.Span) float64 { return math.Max(0, math.Min(a.Hi, b.Hi)-math.Max(a.Lo, b.Lo)) }

func shifted(s voxel.Span, sign, push float64) voxel.Span {
	a, b := sign*s.Lo+push, sign*s.Hi+push
	return voxel.Span{Lo: math.Min(a, b), Hi: math.Max(a, b)}
}

// standing takes keys to the block frame, their feet on the parting surface.
func (l *Layout) standing(keys []Key, centre vec.V3) []Key {
	var list []Key
	for _, k := range keys {
		k.At = k.At.Sub(centre)
		k.At.Z = l.Surface.At(k.At.X, k.At.Y)
		list = append(list, k)
	}
	return list
}

// least returns the smallest of the three overlaps.
func (l *Layout) least(keys []Key, h float64) float64 {
	m := math.Inf(1)
	for _, a := range []byte("xyz") {
		m = math.Min(m, l.turned(keys, turns[a], h))
	}
	return m
}

// holding returns keys (work frame) with more of them set where they stand most
// in the way of the turns that are not yet held by 65 mm3 of keys; nil where
// that cannot be had.
func (k *work) holding(keys []Key, d float64, spots []vec.V2) []Key {
	const coarse = 0.5
	l, c := k.l, k.block.Centre()
	stand := l.standing(keys, c)
	add := func(list []Key, p vec.V2, depth float64) []Key {
		return append(list[:len(list):len(list)], Key{At: vec.V3{X: p.X, Y: p.Y, Z: k.edge}, Diameter: d, Depth: depth})
	}
	for l.least(stand, 0.25) < keyTurn {
		if len(keys) >= mostKeys {
			return nil
		}
		best, value := keys, l.worth(stand, coarse)
		stride := len(spots)/150 + 1
		for i := 0; i < len(spots); i += stride {
			p := spots[i]
			if nearest(keys, p) < d+keyClear {
				continue
			}
			for _, depth := range []float64{keyDepth, -keyDepth} {
				try := add(keys, p, depth)
				if v := l.worth(l.standing(try, c), coarse); v > value+1 {
					best, value = try, v
				}
			}
		}
		if len(best) == len(keys) {
			return nil
		}
		keys = best
		stand = l.standing(keys, c)
	}
	return keys
}

// worth sums the three overlaps, each as far as it is asked, with some to spare.
func (l *Layout) worth(keys []Key, h float64) float64 {
	v := 0.0
	for _, a := range []byte("xyz") {
		v += math.Min(l.turned(keys, turns[a], h), 1.2*keyTurn)
	}
	return v
}

func nearest(keys []Key, p vec.V2) float64 {
	r := math.Inf(1)
	for _, q := range keys {
		r = math.Min(r, math.Hypot(p.X-q.At.X, p.Y-q.At.Y))
	}
	return r
}
