package block

import (
	"math"

	"pourwright/internal/ground/vec"
)

const (
	keyDepth = 5.0 // mm; common practice
	keyClear = 5.0 // mm from cavity, channels and edge; our own default
	keyPitch = 40.0
)

// placeKeys places keys on the parting face of block b: the largest diameter
// of which three or more fit, first towards the corners, then wherever a place
// is more than the pitch from the others.
func (k *work) placeKeys(b vec.Box) []Key {
	for _, d := range []float64{10, 8, 6} {
		if keys := k.tryKeys(b, d); len(keys) >= 3 {
			return keys
		}
	}
	return nil
}

func (k *work) tryKeys(b vec.Box, d float64) []Key {
	clear := keyClear + d/2
	var spots []vec.V2
	step := 1.0
	for y := b.Min.Y + clear; y <= b.Max.Y-clear+1e-9; y += step {
		for x := b.Min.X + clear; x <= b.Max.X-clear+1e-9; x += step {
			if k.all.free(x, y) >= clear {
				spots = append(spots, vec.V2{X: x, Y: y})
			}
		}
	}
	c := b.Centre()
	var keys []Key
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
			if (p.X < c.X) != (q.X < c.X) || (p.Y < c.Y) != (q.Y < c.Y) {
				continue
			}
			if v := p.Add(q.Mul(-1)).Len(); v < best-1e-9 {
				best, at = v, i
			}
		}
		if at >= 0 {
			add(spots[at])
		}
	}
	if len(keys) < 3 {
		return nil
	}
	for len(keys) < 16 {
		best, at := keyPitch, -1
		for i, p := range spots {
			near := math.Inf(1)
			for _, q := range keys {
				near = math.Min(near, math.Hypot(p.X-q.At.X, p.Y-q.At.Y))
			}
			if near > best+1e-9 {
				best, at = near, i
			}
		}
		if at < 0 {
			break
		}
		add(spots[at])
	}
	return keys
}
