package bvh

import (
	"math"

	"pourwright/internal/ground/par"
)

// bin gathers the triangles whose centres fall into one slice of an axis.
type bin struct {
	bound
	n int32
}

// binned holds n bins for each axis. The slice of a doubled centre c is
// (c - from) * scale; scale is 0 for an axis along which all centres are equal.
type binned struct {
	n     int
	from  [3]int32
	scale [3]float32
	bin   [3][maxBins]bin
}

// split parts refs[lo:hi] in place at the cheapest of the bins' borders:
// minimise area(left) n(left) + area(right) n(right) over all three axes. It
// returns the border and the boxes of both parts, neither of them empty.
// g is scratch.
func split(g *binned, refs []ref, lo, hi, depth int) (mid int, b0, b1 bound) {
	part := refs[lo:hi]
	axis := -1
	at := 0
	if depth < maxSplitDepth {
		g.measure(part)
		axis, at, b0, b1 = g.cheapest()
	}
	if axis < 0 { // all centres equal, or too deep: halve by number
		half := len(part) / 2
		b0, b1 = noBound(), noBound()
		for i := range half {
			b0.add(&part[i].lo, &part[i].hi)
		}
		for i := half; i < len(part); i++ {
			b1.add(&part[i].lo, &part[i].hi)
		}
		return lo + half, b0, b1
	}
	f, s := g.from[axis], g.scale[axis]
	i, j := 0, len(part)-1
	for {
		for i <= j && int(float32(part[i].lo[axis]+part[i].hi[axis]-f)*s) <= at {
			i++
		}
		for i <= j && int(float32(part[j].lo[axis]+part[j].hi[axis]-f)*s) > at {
			j--
		}
		if i >= j {
			break
		}
		part[i], part[j] = part[j], part[i]
	}
	return lo + i, b0, b1
}

// measure fills the bins from part: 16 of them, fewer where triangles are few.
func (g *binned) measure(part []ref) {
	g.n = maxBins
	if len(part) <= 12 {
		g.n = 4
	} else if len(part) <= 48 {
		g.n = 8
	}
	cb := centres(part)
	widest := 0.0
	for k := range 3 {
		widest = max(widest, float64(cb.hi[k])-float64(cb.lo[k]))
	}
	for k := range 3 {
		g.from[k], g.scale[k] = cb.lo[k], 0
		if w := float64(cb.hi[k]) - float64(cb.lo[k]); w > 0 && (w == widest || len(part) <= allAxes) {
			g.scale[k] = float32(float64(g.n) * 0.9999 / w)
		}
	}
	g.clear()
	if len(part) <= 4*chunk {
		g.fill(part)
		return
	}
	all := make([]binned, (len(part)+chunk-1)/chunk)
	par.For(len(part), chunk, func(lo, hi int) {
		b := &all[lo/chunk]
		b.n, b.from, b.scale = g.n, g.from, g.scale
		b.clear()
		b.fill(part[lo:hi])
	})
	for k := range all {
		for a := range 3 {
			if g.scale[a] == 0 {
				continue
			}
			for i := range g.n {
				o := &all[k].bin[a][i]
				g.bin[a][i].add(&o.lo, &o.hi)
				g.bin[a][i].n += o.n
			}
		}
	}
}

// centres returns the bound of the doubled box centres.
func centres(part []ref) bound {
	b := noBound()
	for i := range part {
		r := &part[i]
		c := [3]int32{r.lo[0] + r.hi[0], r.lo[1] + r.hi[1], r.lo[2] + r.hi[2]}
		b.add(&c, &c)
	}
	return b
}

func (g *binned) clear() {
	for a := range 3 {
		if g.scale[a] == 0 {
			continue
		}
		for i := range g.n {
			g.bin[a][i] = bin{bound: noBound()}
		}
	}
}

func (g *binned) fill(part []ref) {
	for a := range 3 {
		if g.scale[a] == 0 {
			continue
		}
		f, s := g.from[a], g.scale[a]
		bins := &g.bin[a]
		for i := range part {
			r := &part[i]
			k := int(float32(r.lo[a]+r.hi[a]-f) * s)
			b := &bins[uint(k)%maxBins]
			b.add(&r.lo, &r.hi)
			b.n++
		}
	}
}

// cheapest returns the axis and the last bin of the left part; axis -1 where
// no border parts the triangles.
func (g *binned) cheapest() (axis, at int, b0, b1 bound) {
	axis = -1
	best := math.Inf(1)
	for a := range 3 {
		if g.scale[a] == 0 {
			continue
		}
		var cost [maxBins]float64 // of bins i and above; bin 0 is never asked
		r, n := noBound(), int32(0)
		for i := g.n - 1; i > 0; i-- {
			b := &g.bin[a][i]
			cost[i] = -1
			if n += b.n; n > 0 {
				r.add(&b.lo, &b.hi)
				cost[i] = r.half() * float64(n)
			}
		}
		l, n := noBound(), int32(0)
		for i := range g.n - 1 {
			b := &g.bin[a][i]
			if n += b.n; n == 0 || cost[i+1] < 0 {
				continue
			}
			l.add(&b.lo, &b.hi)
			if c := l.half()*float64(n) + cost[i+1]; c < best {
				best, axis, at = c, a, i
			}
		}
	}
	if axis < 0 {
		return axis, at, b0, b1
	}
	b0, b1 = noBound(), noBound()
	for i := range g.n {
		b := &g.bin[axis][i]
		if i <= at {
			b0.add(&b.lo, &b.hi)
		} else {
			b1.add(&b.lo, &b.hi)
		}
	}
	return axis, at, b0, b1
}
