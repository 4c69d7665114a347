package block

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Keys: common practice gives about 5 mm of depth and "away from the object";
// the other numbers are our own defaults.
const (
	keyDepth = 5.0  // mm
	keyClear = 5.0  // mm from cavity, channels and edge
	keyPitch = 40.0 // mm, more keys are set where the next is farther
	keyRise  = 0.3  // of the diameter, that the parting surface may rise over a key's foot

	steepRise = 0.7 // the same where no ground is that level

	keyTurn  = 65.0 // mm3 in the way of a half that is turned; 50 are asked
	mostKeys = 24
)

// spots lists the places where a key of diameter d fits.
func (k *work) spots(b vec.Box, d float64, flat func(x, y, r float64) bool) []vec.V2 {
	clear := keyClear + d/2
	var list []vec.V2
	nx := int((b.Max.X - b.Min.X - 2*clear) / 1)
	ny := int((b.Max.Y - b.Min.Y - 2*clear) / 1)
	for j := 0; j <= ny; j++ {
		for i := 0; i <= nx; i++ {
			// From both ends towards the middle, so that places hug the edges.
			x, y := b.Min.X+clear+float64(i), b.Min.Y+clear+float64(j)
			if i > nx/2 {
				x = b.Max.X - clear - float64(nx-i)
			}
			if j > ny/2 {
				y = b.Max.Y - clear - float64(ny-j)
			}
			if k.all.free(x, y) >= clear+1.42*k.all.h && (flat == nil || flat(x, y, d/2)) {
				list = append(list, vec.V2{X: x, Y: y})
			}
		}
	}
	return list
}

// flatness tells whether the parting surface rises by no more than rise of the
// diameter over a key's foot and leaves it rubber behind; work frame.
func (k *work) flatness(rise float64) func(x, y, r float64) bool {
	c := k.block.Centre()
	s := k.l.Surface
	return func(x, y, r float64) bool {
		x, y = x-c.X, y-c.Y
		z := s.At(x, y)
		lo, hi := z, z
		for i := range 16 {
			sn, cs := math.Sincos(math.Pi / 8 * float64(i))
			for _, q := range []float64{0.5, 1} {
				v := s.At(x+q*r*cs, y+q*r*sn)
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
		return hi-lo <= 2*r*rise && k.block.Size().Z/2-math.Abs(z) >= keyDepth+4
	}
}

// pickKeys chooses keys for block b: the largest diameter of which three or
// more fit and hold the halves one way only; nil where none does.
//
// Keys on the right stand on half 2 and enter half 1, keys on the left stand on
// half 1. Half 2 turned about z then brings its keys to where half 1 has no
// socket, and turned over it lays a flat back against the keys of half 1; so on
// a flat parting two keys of more than 65 mm3, one on each side, are enough for
// all three turns. On one that rises and falls more are set where they help.
//
// Before the parting surface over b is known (settled false) only the room is
// tried, and the ground as it was where flat is not nil.
func (k *work) pickKeys(b vec.Box, flat func(x, y, r float64) bool, settled bool) []Key {
	for _, d := range []float64{10, 8, 6} {
		spots := k.spots(b, d, flat)
		keys := k.tryKeys(b, d, spots)
		if len(keys) < 3 {
			continue
		}
		if !settled {
			return keys
		}
		if keys = k.holding(keys, d, spots); keys != nil {
			return keys
		}
	}
	return nil
}

// tryKeys sets one key towards each corner, the one at the lower left nearer to
// the middle so that the pattern has no centre, then more wherever a place is
// farther than the pitch from all of them. Fewer than three, or all on one
// side, is none.
func (k *work) tryKeys(b vec.Box, d float64, spots []vec.V2) []Key {
	c := b.Centre()
	var keys []Key
	near := func(p vec.V2) float64 { return nearest(keys, p) }
	add := func(p vec.V2) {
		depth := keyDepth
		if p.X < c.X {
			depth = -depth
		}
		keys = append(keys, Key{At: vec.V3{X: p.X, Y: p.Y, Z: k.edge}, Diameter: d, Depth: depth})
	}
	for corner := range 4 {
		q := vec.V2{X: b.Min.X, Y: b.Min.Y}
		if corner&1 != 0 {
			q.X = b.Max.X
		}
		if corner&2 != 0 {
			q.Y = b.Max.Y
		}
		best, at := math.Inf(1), -1
		for i, p := range spots {
			if (p.X < c.X) != (q.X < c.X) || (p.Y < c.Y) != (q.Y < c.Y) || near(p) < d+keyClear {
				continue
			}
			v := p.Add(q.Mul(-1)).Len()
			if corner == 0 {
				v = math.Abs(v - (d/2+keyClear)*math.Sqrt2 - d) // one diameter in from its corner
			}
			if v < best-1e-9 {
				best, at = v, i
			}
		}
		if at >= 0 {
			add(spots[at])
		}
	}
	if !spread(keys, c) {
		return nil
	}
	for len(keys) < mostKeys {
		best, at := keyPitch, -1
		for i, p := range spots {
			if r := near(p); r > best+1e-9 {
				best, at = r, i
			}
		}
		if at < 0 {
			break
		}
		add(spots[at])
	}
	return keys
}

// spread reports whether there are three keys or more, on both sides of the
// middle either way.
func spread(keys []Key, c vec.V3) bool {
	var left, right, up, down bool
	for _, q := range keys {
		left, right = left || q.Depth < 0, right || q.Depth > 0
		up, down = up || q.At.Y > c.Y, down || q.At.Y <= c.Y
	}
	return len(keys) >= 3 && left && right && up && down
}

// height returns how far the key stands above its foot at a distance from its
// axis.
func (k Key) height(d float64) float64 {
	return min(math.Abs(k.Depth), (k.Diameter/2-d)/math.Tan(Taper*math.Pi/180))
}
