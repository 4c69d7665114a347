package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// levelSet returns the curves f = 0 on the mesh, seen along z: for
// f = z - S(x, y) - e the outline of a body in the face of a half, for
// f = x - c a section. Loops of a closed mesh come closed (the first point is
// not repeated), whatever way the triangles turn; f must be cheap. Inside a
// triangle the curve is followed to 0.02 mm where f bends.
func levelSet(m *mesh.Mesh, f func(vec.V3) float64) [][]vec.V3 {
	if m == nil {
		return nil
	}
	val := make([]float64, len(m.V))
	for i, p := range m.V {
		val[i] = f(p)
		if val[i] == 0 {
			val[i] = math.SmallestNonzeroFloat64
		}
	}
	links := map[edge]*[2]edge{}
	var order []edge
	link := func(a, b edge) {
		n := links[a]
		if n == nil {
			links[a] = &[2]edge{b, none}
			order = append(order, a)
		} else if n[1] == none {
			n[1] = b
		}
	}
	for _, t := range m.F {
		s0, s1, s2 := val[t[0]] > 0, val[t[1]] > 0, val[t[2]] > 0
		if s0 == s1 && s1 == s2 {
			continue
		}
		// the corner that is alone on its side
		a, b, c := t[0], t[1], t[2]
		switch {
		case s1 != s0 && s1 != s2:
			a, b, c = b, c, a
		case s2 != s0 && s2 != s1:
			a, b, c = c, a, b
		}
		e, g := edgeOf(a, b), edgeOf(a, c)
		link(e, g)
		link(g, e)
	}
	point := func(e edge) vec.V3 { return crossing(m.V[e[0]], m.V[e[1]], val[e[0]], val[e[1]], f) }
	var out [][]vec.V3
	done := make(map[edge]bool, len(order))
	for pass := range 2 { // open chains first, from an end; then the loops
		for _, s := range order {
			if done[s] || (pass == 0 && links[s][1] != none) {
				continue
			}
			if loop := walk(s, links, done, point, f); len(loop) > 2 {
				out = append(out, loop)
			}
		}
	}
	return out
}

// edge names an edge of a mesh by its two corners, the lower first.
type edge [2]int32

var none = edge{-1, -1}

func edgeOf(a, b int32) edge { return edge{min(a, b), max(a, b)} }

// walk follows the links from s to the end of the chain or round the loop.
func walk(s edge, links map[edge]*[2]edge, done map[edge]bool, point func(edge) vec.V3, f func(vec.V3) float64) []vec.V3 {
	var loop []vec.V3
	e := s
	a := point(e)
	for {
		done[e] = true
		loop = append(loop, a)
		next := none
		for _, n := range links[e] {
			if n != none && !done[n] {
				next = n
				break
			}
		}
		if next == none {
			if n := links[e]; n[0] == s || n[1] == s {
				loop = follow(loop, a, loop[0], f, 5)
			}
			return loop
		}
		b := point(next)
		loop = follow(loop, a, b, f, 5)
		e, a = next, b
	}
}

// crossing finds f = 0 on the edge from p to q by regula falsi with halving.
func crossing(p, q vec.V3, fp, fq float64, f func(vec.V3) float64) vec.V3 {
	lo, hi := 0.0, 1.0
	t := fp / (fp - fq)
	for range 6 {
		x := p.Lerp(q, t)
		fx := f(x)
		if math.Abs(fx) < 1e-6 {
			break
		}
		if (fx > 0) == (fp > 0) {
			lo, fp = t, fx
		} else {
			hi, fq = t, fx
		}
		t = lo + (hi-lo)*fp/(fp-fq)
		if !(t > lo && t < hi) {
			t = (lo + hi) / 2
		}
	}
	return p.Lerp(q, t)
}

// follow inserts points between a and b where f bends the curve away from the
// chord. The chord lies in the plane of a triangle; only z is corrected, which
// leaves the view along z true where the wall is upright and errs by less than
// the correction times the slope elsewhere.
func follow(loop []vec.V3, a, b vec.V3, f func(vec.V3) float64, depth int) []vec.V3 {
	if depth == 0 || a.Dist(b) < 1 {
		return loop
	}
	m := a.Lerp(b, 0.5)
	g := f(m)
	if math.Abs(g) < 0.02 {
		return loop
	}
	m.Z -= g
	loop = follow(loop, a, m, f, depth-1)
	loop = append(loop, m)
	return follow(loop, m, b, f, depth-1)
}

// flat drops z.
func flat(loops [][]vec.V3) [][]vec.V2 {
	out := make([][]vec.V2, len(loops))
	for i, l := range loops {
		out[i] = make([]vec.V2, len(l))
		for j, p := range l {
			out[i][j] = vec.V2{X: p.X, Y: p.Y}
		}
	}
	return out
}

// thinned drops points of closed loops that lie within tol of the line between
// their neighbours that stay (Douglas & Peucker 1973), and loops smaller than
// least across.
func thinned(loops [][]vec.V2, tol, least float64) [][]vec.V2 {
	var out [][]vec.V2
	for _, l := range loops {
		lo, hi, ok := bounds([][]vec.V2{l})
		if !ok || max(hi.X-lo.X, hi.Y-lo.Y) < least {
			continue
		}
		far, best := 0, -1.0
		for i, q := range l {
			if d := q.Sub(l[0]).Len(); d > best {
				far, best = i, d
			}
		}
		ring := append(append([]vec.V2{}, l...), l[0])
		r := thinLineOf(ring[:far+1], tol)
		r = append(r[:len(r)-1], thinLineOf(ring[far:], tol)...)
		r = r[:len(r)-1]
		if len(r) >= 3 {
			out = append(out, r)
		}
	}
	return out
}

func thinLineOf(l []vec.V2, tol float64) []vec.V2 {
	keep := make([]bool, len(l))
	keep[0], keep[len(l)-1] = true, true
	type part struct{ a, b int }
	stack := []part{{0, len(l) - 1}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		d := l[s.b].Sub(l[s.a])
		n := d.Len()
		worst, at := tol, -1
		for i := s.a + 1; i < s.b; i++ {
			e := l[i].Sub(l[s.a])
			dist := e.Len()
			if n > 0 {
				if u := e.Dot(d) / n; u > 0 && u < n {
					dist = math.Abs(e.Cross(d)) / n
				} else if u >= n {
					dist = l[i].Sub(l[s.b]).Len()
				}
			}
			if dist > worst {
				worst, at = dist, i
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, part{s.a, at}, part{at, s.b})
		}
	}
	var out []vec.V2
	for i, k := range keep {
		if k {
			out = append(out, l[i])
		}
	}
	return out
}

// turned orders the loops so that outer ones turn one way (positive area) and
// holes the other, by how many others each lies in.
func turned(loops [][]vec.V2) [][]vec.V2 {
	out := make([][]vec.V2, len(loops))
	for i, l := range loops {
		depth := 0
		for j, o := range loops {
			if i != j && within([][]vec.V2{o}, l[0]) {
				depth++
			}
		}
		if (areaOf([][]vec.V2{l}) > 0) != (depth%2 == 0) {
			l = reversed(l)
		}
		out[i] = l
	}
	return out
}

// areaOf returns the signed area inside the loops.
func areaOf(loops [][]vec.V2) float64 {
	s := 0.0
	for _, l := range loops {
		for i, q := range l {
			s += q.Cross(l[(i+1)%len(l)])
		}
	}
	return s / 2
}

// within reports whether q lies inside the loops (even-odd).
func within(loops [][]vec.V2, q vec.V2) bool {
	in := false
	for _, l := range loops {
		for i, a := range l {
			b := l[(i+1)%len(l)]
			if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+(b.X-a.X)*(q.Y-a.Y)/(b.Y-a.Y) {
				in = !in
			}
		}
	}
	return in
}
