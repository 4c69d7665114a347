package sculpt

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// Ring is a closed polygon; the first point is not repeated.
type Ring []vec.V2

// Area returns the signed area, positive where the ring turns
// counter-clockwise (shoelace formula).
func (r Ring) Area() float64 {
	s := 0.0
	for i, p := range r {
		s += p.Cross(r[(i+1)%len(r)])
	}
	return s / 2
}

// Move returns the ring moved by d.
func (r Ring) Move(d vec.V2) Ring {
	c := slices.Clone(r)
	for i := range c {
		c[i] = c[i].Add(d)
	}
	return c
}

// Oval returns n points of the ellipse with half axes a and b. Its area is
// n sin(2 pi/n)/2 a b.
func Oval(a, b float64, n int) Ring {
	r := make(Ring, n)
	for i := range r {
		t := 2 * math.Pi * float64(i) / float64(n)
		r[i] = vec.V2{X: a * math.Cos(t), Y: b * math.Sin(t)}
	}
	return r
}

// Rect returns the rectangle from (x0, y0) to (x1, y1).
func Rect(x0, y0, x1, y1 float64) Ring {
	return Ring{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func ringFault(place, text string) error {
	return fault.New(fault.Internal, place, "give rings that do not cross themselves or each other, holes inside the outer ring", "%s", text)
}

// fill triangulates the region inside outer and outside the holes. Corners are
// numbered through outer, then the holes, in the order and sense of the
// slices as given; triangles turn counter-clockwise. Ear clipping with bridges
// to the holes (Eberly, Triangulation by ear clipping), then Lawson's flips
// towards Delaunay on all edges that are not sides of a ring.
func fill(outer Ring, holes ...Ring) ([][3]int32, error) {
	var p []vec.V2
	var ids [][]int32
	add := func(r Ring, ccw bool) {
		n := int32(len(p))
		id := make([]int32, len(r))
		for i := range id {
			id[i] = n + int32(i)
		}
		p = append(p, r...)
		if (r.Area() > 0) != ccw {
			slices.Reverse(id)
		}
		ids = append(ids, id)
	}
	add(outer, true)
	for _, h := range holes {
		add(h, false)
	}
	fixed := map[[2]int32]bool{}
	for _, id := range ids {
		for i, a := range id {
			b := id[(i+1)%len(id)]
			fixed[[2]int32{min(a, b), max(a, b)}] = true
		}
	}
	loop := ids[0]
	rest := ids[1:]
	right := func(id []int32) float64 {
		x := math.Inf(-1)
		for _, i := range id {
			x = max(x, p[i].X)
		}
		return x
	}
	slices.SortStableFunc(rest, func(a, b []int32) int { return cmp.Compare(right(b), right(a)) })
	for _, h := range rest {
		l, err := bridge(p, loop, h)
		if err != nil {
			return nil, err
		}
		loop = l
	}
	tri, err := clip(p, loop)
	if err != nil {
		return nil, err
	}
	flip(p, tri, fixed)
	return tri, nil
}

func turn(a, b, c vec.V2) float64 { return b.Sub(a).Cross(c.Sub(a)) }

// holds reports whether q lies in the closed triangle a, b, c.
func holds(a, b, c, q vec.V2) bool {
	return turn(a, b, q) >= 0 && turn(b, c, q) >= 0 && turn(c, a, q) >= 0
}

// bridge joins hole h to loop by two coincident edges.
func bridge(p []vec.V2, loop, h []int32) ([]int32, error) {
	m := 0
	for i, k := range h {
		if p[k].X > p[h[m]].X {
			m = i
		}
	}
	q := p[h[m]]
	// The nearest side of the loop that the ray from q along +x meets.
	best, at := math.Inf(1), -1
	for i, a := range loop {
		b := loop[(i+1)%len(loop)]
		pa, pb := p[a], p[b]
		if (pa.Y > q.Y) == (pb.Y > q.Y) {
			continue
		}
		x := pa.X + (q.Y-pa.Y)/(pb.Y-pa.Y)*(pb.X-pa.X)
		if x >= q.X && x < best {
			best = x
			at = i
			if p[loop[(i+1)%len(loop)]].X > pa.X {
				at = (i + 1) % len(loop)
			}
		}
	}
	if at < 0 {
		return nil, ringFault("polygon", "a hole lies outside its outer ring")
	}
	// A reflex corner inside the triangle may hide that end: take the one
	// nearest in direction.
	e := p[loop[at]]
	hit := vec.V2{X: best, Y: q.Y}
	a, b, c := q, hit, e
	if turn(a, b, c) < 0 {
		b, c = c, b
	}
	tan := math.Inf(1)
	if d := e.Sub(q); d.X > 0 {
		tan = math.Abs(d.Y) / d.X
	}
	for i, k := range loop {
		r := p[k]
		if r == e || r.X < q.X || !holds(a, b, c, r) {
			continue
		}
		if turn(p[loop[(i+len(loop)-1)%len(loop)]], r, p[loop[(i+1)%len(loop)]]) > 0 {
			continue
		}
		if t := math.Abs(r.Y-q.Y) / max(r.X-q.X, 1e-300); t < tan {
			tan, at = t, i
		}
	}
	out := slices.Clone(loop[:at+1])
	out = append(out, h[m:]...)
	out = append(out, h[:m+1]...)
	return append(out, loop[at:]...), nil
}

// clip cuts ears off the loop.
func clip(p []vec.V2, loop []int32) ([][3]int32, error) {
	loop = slices.Clone(loop)
	tri := make([][3]int32, 0, len(loop))
	at, idle := 0, 0
	for len(loop) > 3 {
		n := len(loop)
		i0, i1, i2 := at%n, (at+1)%n, (at+2)%n
		a, b, c := p[loop[i0]], p[loop[i1]], p[loop[i2]]
		ok := turn(a, b, c) > 0
		for k := 0; ok && k < n; k++ {
			q := p[loop[k]]
			if k != i0 && k != i1 && k != i2 && q != a && q != b && q != c && holds(a, b, c, q) {
				ok = false
			}
		}
		if !ok {
			at++
			if idle++; idle > 2*n {
				return nil, ringFault("polygon", "no ear is left to cut: the rings cross or touch")
			}
			continue
		}
		tri = append(tri, [3]int32{loop[i0], loop[i1], loop[i2]})
		loop = slices.Delete(loop, i1, i1+1)
		idle = 0
	}
	if turn(p[loop[0]], p[loop[1]], p[loop[2]]) <= 0 {
		return nil, ringFault("polygon", "the last ear is flat: the rings cross or touch")
	}
	return append(tri, [3]int32{loop[0], loop[1], loop[2]}), nil
}

// flip turns inner edges until all are Delaunay, at most 40 rounds.
func flip(p []vec.V2, tri [][3]int32, fixed map[[2]int32]bool) {
	for range 40 {
		side := map[[2]int32]int{}
		for i, t := range tri {
			for k := range 3 {
				side[[2]int32{t[k], t[(k+1)%3]}] = i
			}
		}
		touched := make([]bool, len(tri))
		done := true
		for i := range tri {
			for k := 0; k < 3 && !touched[i]; k++ {
				a, b, c := tri[i][k], tri[i][(k+1)%3], tri[i][(k+2)%3]
				j, ok := side[[2]int32{b, a}]
				if !ok || touched[j] || fixed[[2]int32{min(a, b), max(a, b)}] {
					continue
				}
				t := tri[j]
				d := t[0] + t[1] + t[2] - a - b
				if inCircle(p[a], p[b], p[c], p[d]) && turn(p[c], p[a], p[d]) > 0 && turn(p[d], p[b], p[c]) > 0 {
					tri[i] = [3]int32{c, a, d}
					tri[j] = [3]int32{d, b, c}
					touched[i], touched[j] = true, true
					done = false
				}
			}
		}
		if done {
			return
		}
	}
}

// inCircle reports whether d lies clearly inside the circle through the
// counter-clockwise a, b, c.
func inCircle(a, b, c, d vec.V2) bool {
	a, b, c = a.Sub(d), b.Sub(d), c.Sub(d)
	a2, b2, c2 := a.Dot(a), b.Dot(b), c.Dot(c)
	det := a2*b.Cross(c) + b2*c.Cross(a) + c2*a.Cross(b)
	m := max(a2, b2, c2)
	return det > 1e-10*m*m
}
