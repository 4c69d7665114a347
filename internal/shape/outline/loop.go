// Package outline holds closed curves in a plane: the section of a mesh, its
// shadow, the contour of a field, and what paper needs of them: area, point
// inside or not, offset, fewer points within a bound.
//
// Main types and functions: Loop and Shape; Section (exact edge crossings,
// joined by edge), Shadow (exact on the lines of a raster), Contour (marching
// squares), Shape.Offset (signed distance on a raster), Shape.Simplify
// (Douglas & Peucker 1973, Cartographica 10). Lengths are in the unit of the
// caller, millimetres in pourwright.
//
// Limits: curves are chains of straight pieces; a shadow loses what is
// narrower than its raster, an offset what is finer than its step (the errors
// are stated at the functions). Loops of a section of a closed body without
// overlaps do not cross; overlapping bodies give crossing loops, whose union is
// the set of points with winding number above 0, as Shape.Inside takes it.
package outline

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Loop is a closed chain of points; the last joins the first and is not
// repeated.
type Loop []vec.V2

// Shape is a set of loops: counter-clockwise ones round the inside, clockwise
// ones round its holes.
type Shape []Loop

// Area returns the signed area, above zero for a counter-clockwise loop:
// A = 1/2 sum (p_i - p_0) x (p_i+1 - p_0).
func (l Loop) Area() float64 {
	s := 0.0
	for i := 1; i+1 < len(l); i++ {
		s += l[i].Sub(l[0]).Cross(l[i+1].Sub(l[0]))
	}
	return s / 2
}

// Length returns the length of the closed chain.
func (l Loop) Length() float64 {
	s := 0.0
	for i := range l {
		s += l[(i+1)%len(l)].Sub(l[i]).Len()
	}
	return s
}

// Turns returns how often the loop turns in all, 1 for a convex one: the sum of
// the absolute angles between its pieces over 2 pi.
func (l Loop) Turns() float64 {
	s := 0.0
	for i := range l {
		a := l[(i+1)%len(l)].Sub(l[i])
		b := l[(i+2)%len(l)].Sub(l[(i+1)%len(l)])
		s += math.Abs(math.Atan2(a.Cross(b), a.Dot(b)))
	}
	return s / (2 * math.Pi)
}

// Reversed returns the loop run the other way.
func (l Loop) Reversed() Loop {
	r := make(Loop, len(l))
	for i, p := range l {
		r[len(l)-1-i] = p
	}
	return r
}

// Winding returns how often the loop goes round p counter-clockwise, by the
// crossings of the half line from p along +x. A point on the loop belongs to
// the side towards +x, or +y for a level piece.
func (l Loop) Winding(p vec.V2) int {
	w := 0
	for i, a := range l {
		b := l[(i+1)%len(l)]
		if (a.Y <= p.Y) == (b.Y <= p.Y) {
			continue
		}
		lo, hi := a, b // from the lower end, so both directions agree
		if b.Y < a.Y {
			lo, hi = b, a
		}
		if hi.Sub(lo).Cross(p.Sub(lo)) <= 0 {
			continue // p on the piece or to its right: the half line starts behind it
		}
		if b.Y > a.Y {
			w++
		} else {
			w--
		}
	}
	return w
}

// Area returns the sum of the loops' areas, holes taken off.
func (s Shape) Area() float64 {
	a := 0.0
	for _, l := range s {
		a += l.Area()
	}
	return a
}

// Length returns the sum of the loops' lengths.
func (s Shape) Length() float64 {
	a := 0.0
	for _, l := range s {
		a += l.Length()
	}
	return a
}

// Inside reports whether the loops wind round p more than 0 times in all.
func (s Shape) Inside(p vec.V2) bool {
	w := 0
	for _, l := range s {
		w += l.Winding(p)
	}
	return w > 0
}

// Box returns the least and largest coordinates; lo above hi where there is no
// point.
func (s Shape) Box() (lo, hi vec.V2) {
	i := math.Inf(1)
	lo, hi = vec.V2{X: i, Y: i}, vec.V2{X: -i, Y: -i}
	for _, l := range s {
		for _, p := range l {
			lo.X, lo.Y = min(lo.X, p.X), min(lo.Y, p.Y)
			hi.X, hi.Y = max(hi.X, p.X), max(hi.Y, p.Y)
		}
	}
	return lo, hi
}

// Distance returns the distance from p to the nearest point of the loops,
// infinite where there is none.
func (s Shape) Distance(p vec.V2) float64 {
	d := math.Inf(1)
	for _, l := range s {
		for i, a := range l {
			d = min(d, toPiece(p, a, l[(i+1)%len(l)]))
		}
	}
	return d
}

// Moved returns the shape shifted by d.
func (s Shape) Moved(d vec.V2) Shape {
	r := make(Shape, len(s))
	for i, l := range s {
		r[i] = make(Loop, len(l))
		for k, p := range l {
			r[i][k] = p.Add(d)
		}
	}
	return r
}

// toPiece returns the distance from p to the straight piece a b.
func toPiece(p, a, b vec.V2) float64 {
	d := b.Sub(a)
	t := 0.0
	if q := d.Dot(d); q > 0 {
		t = min(max(p.Sub(a).Dot(d)/q, 0), 1)
	}
	return p.Sub(a.Add(d.Mul(t))).Len()
}
