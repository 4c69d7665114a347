package outline

// Simplify returns the shape with fewer points: each loop is cut at two far
// points, and of each half only those points stay without which the chain would
// leave the others by more than tol (Douglas & Peucker 1973). Loops that fall
// to less than three points, narrower than tol, are left out.
func (s Shape) Simplify(tol float64) Shape {
	var r Shape
	for _, l := range s {
		if q := l.Simplify(tol); len(q) > 2 {
			r = append(r, q)
		}
	}
	return r
}

// Simplify is Shape.Simplify for one loop.
func (l Loop) Simplify(tol float64) Loop {
	n := len(l)
	if n < 4 {
		return append(Loop(nil), l...)
	}
	// The first cut is the lowest point by y, then x, whatever the loop's first
	// point; the second is furthest from it.
	a := 0
	for i, p := range l {
		if p.Y < l[a].Y || p.Y == l[a].Y && p.X < l[a].X {
			a = i
		}
	}
	c := append(append(Loop(nil), l[a:]...), l[:a+1]...) // closed: n+1 points
	b := 0
	for i, p := range c[:n] {
		if p.Sub(c[0]).Len() > c[b].Sub(c[0]).Len() {
			b = i
		}
	}
	if b == 0 {
		return nil // all points in one place
	}
	keep := make([]bool, n+1)
	keep[0], keep[b] = true, true
	type stretch struct{ a, b int }
	for todo := []stretch{{0, b}, {b, n}}; len(todo) > 0; {
		x := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		far, at := tol, -1
		for i := x.a + 1; i < x.b; i++ {
			if d := toPiece(c[i], c[x.a], c[x.b]); d > far {
				far, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			todo = append(todo, stretch{x.a, at}, stretch{at, x.b})
		}
	}
	r := Loop{}
	for i, p := range c[:n] {
		if keep[i] {
			r = append(r, p)
		}
	}
	return r
}
