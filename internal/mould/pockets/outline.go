package pockets

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// outline finds the convex hull of the shadow (Andrew 1979, Another efficient
// algorithm for convex hulls in two dimensions, Inf. Proc. Lett. 9), of the
// extreme corners in 1024 strips.
func (v *view) outline() {
	const n = 1024
	x := make([]float64, len(v.b.m.V))
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, p := range v.b.m.V {
		if v.b.start[i] == v.b.start[i+1] {
			continue
		}
		x[i] = p.Dot(v.frame.X)
		lo, hi = min(lo, x[i]), max(hi, x[i])
	}
	var least, most [n]vec.V2
	for i := range n {
		least[i].Y, most[i].Y = math.Inf(1), math.Inf(-1)
	}
	scale := 0.0
	if hi > lo {
		scale = n / (hi - lo)
	}
	for i, p := range v.b.m.V {
		if v.b.start[i] == v.b.start[i+1] {
			continue
		}
		q := vec.V2{X: x[i], Y: p.Dot(v.frame.Y)}
		k := min(n-1, int((x[i]-lo)*scale))
		if q.Y < least[k].Y {
			least[k] = q
		}
		if q.Y > most[k].Y {
			most[k] = q
		}
	}
	var pts []vec.V2
	for i := range n {
		if most[i].Y >= least[i].Y {
			pts = append(pts, least[i], most[i])
		}
	}
	slices.SortFunc(pts, func(a, b vec.V2) int {
		switch {
		case a.X < b.X || a.X == b.X && a.Y < b.Y:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	v.hull = convex(pts)
}

// convex returns the hull of points sorted by x, then y.
func convex(pts []vec.V2) []vec.V2 {
	half := func(p []vec.V2) []vec.V2 {
		var h []vec.V2
		for _, q := range p {
			for len(h) > 1 && h[len(h)-1].Sub(h[len(h)-2]).Cross(q.Sub(h[len(h)-1])) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, q)
		}
		return h[:len(h)-1]
	}
	hull := half(pts)
	slices.Reverse(pts)
	return append(hull, half(pts)...)
}

// rectangle finds the direction of the longer side of the smallest rectangle
// round the shadow; one of its sides runs along a side of the hull (Freeman &
// Shapira 1975, Comm. ACM 18).
func (v *view) rectangle() {
	least := math.Inf(1)
	for i, p := range v.hull {
		d := v.hull[(i+1)%len(v.hull)].Sub(p)
		if d.Len() < 1e-6*v.b.size {
			continue
		}
		a := math.Atan2(d.Y, d.X)
		w, h := v.span(a)
		if w*h < least*(1-1e-9) {
			least = w * h
			if h > w {
				a += math.Pi / 2
			}
			v.turn = a
		}
	}
	// Of the two senses take the one that looks the frame's way.
	if s, c := math.Sincos(v.turn - 0.3); c < -1e-9 || math.Abs(c) <= 1e-9 && s < 0 {
		v.turn += math.Pi
	}
	v.least = math.Inf(1)
	for k := range 36 {
		w, h := v.span(v.turn + float64(k)*math.Pi/36)
		v.least = min(v.least, v.block(w, h))
	}
}

// span returns the extent of the shadow along the direction at an angle, and
// across it.
func (v *view) span(a float64) (along, across float64) {
	s, c := math.Sincos(a)
	lo, hi := vec.V2{X: math.Inf(1), Y: math.Inf(1)}, vec.V2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range v.hull {
		x, y := p.X*c+p.Y*s, p.Y*c-p.X*s
		lo = vec.V2{X: min(lo.X, x), Y: min(lo.Y, y)}
		hi = vec.V2{X: max(hi.X, x), Y: max(hi.Y, y)}
	}
	return hi.X - lo.X, hi.Y - lo.Y
}

// block is the face of the block round a shadow: a margin on three sides, two
// and a half on the side of the cup.
func (v *view) block(up, across float64) float64 {
	return (up + 3.5*v.o.Margin) * (across + 2*v.o.Margin)
}

// at returns the direction across the pull at an angle from the longer side.
func (v *view) at(a float64) vec.V3 {
	s, c := math.Sincos(v.turn + a)
	return v.frame.X.Mul(c).Add(v.frame.Y.Mul(s)).Unit()
}

// angle is the inverse of at.
func (v *view) angle(up vec.V3) float64 {
	return math.Atan2(up.Dot(v.frame.Y), up.Dot(v.frame.X)) - v.turn
}
