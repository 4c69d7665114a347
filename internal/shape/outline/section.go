package outline

import (
	"cmp"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Section cuts m with the plane z = 0 of frame f and returns the closed loops
// of the cut in f's x and y, material to the left, and the chains that do not
// close (an open mesh), each from its start to its end.
//
// A corner at z >= 0 counts as above, so a plane through corners, edges or
// whole faces cuts like one that lies a little lower, and every cut triangle
// gives exactly one piece. The crossing of an edge is computed once, from its
// lower to its higher corner number, and pieces are joined by the edge they
// share, never by distance; so the loops of a closed mesh always close. Where
// more than two triangles share an edge, they are paired in the mesh's order.
// Loops come in the order of their lowest triangle.
func Section(m *mesh.Mesh, f vec.Frame) (loops Shape, open []Loop) {
	h := make([]float64, len(m.V))
	for i, p := range m.V {
		h[i] = p.Sub(f.Origin).Dot(f.Z)
	}
	// Pieces run from the triangle's edge that goes down to the one that goes up.
	var starts, ends []edge
	for _, t := range m.F {
		up0, up1, up2 := h[t[0]] >= 0, h[t[1]] >= 0, h[t[2]] >= 0
		if up0 == up1 && up1 == up2 {
			continue
		}
		var down, up edge
		n := int32(len(starts))
		for k, a := range [3]bool{up0, up1, up2} {
			b := [3]bool{up1, up2, up0}[k]
			if a == b {
				continue
			}
			i, j := t[k], t[(k+1)%3]
			e := edge{min(i, j), max(i, j), n}
			if a {
				down = e
			} else {
				up = e
			}
		}
		starts, ends = append(starts, down), append(ends, up)
	}
	next, prev := link(starts, ends)
	at := func(e edge) vec.V2 {
		a, b := m.V[e.a], m.V[e.b]
		p := f.To(a.Lerp(b, h[e.a]/(h[e.a]-h[e.b])))
		return vec.V2{X: p.X, Y: p.Y}
	}
	seen := make([]bool, len(starts))
	walk := func(k int32) Loop {
		var l Loop
		for k >= 0 && !seen[k] {
			seen[k] = true
			l = append(l, at(starts[k]))
			if next[k] < 0 {
				l = append(l, at(ends[k]))
			}
			k = next[k]
		}
		return l
	}
	for k := range starts { // chains first: they start where nothing comes before
		if prev[k] < 0 {
			open = append(open, walk(int32(k)))
		}
	}
	for k := range starts {
		if !seen[k] {
			if l := distinct(walk(int32(k))); len(l) > 2 {
				loops = append(loops, l)
			}
		}
	}
	return loops, open
}

// edge is an edge of the mesh, lower corner first, with the piece on it.
type edge struct{ a, b, piece int32 }

func byEdge(x, y edge) int {
	return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b), cmp.Compare(x.piece, y.piece))
}

// link pairs the end of each piece with a start on the same edge; -1 where
// there is none.
func link(starts, ends []edge) (next, prev []int32) {
	n := len(starts)
	next, prev = make([]int32, n), make([]int32, n)
	for k := range n {
		next[k], prev[k] = -1, -1
	}
	s, e := slices.Clone(starts), slices.Clone(ends)
	slices.SortFunc(s, byEdge)
	slices.SortFunc(e, byEdge)
	for i, j := 0, 0; i < n && j < n; {
		switch c := cmp.Or(cmp.Compare(s[i].a, e[j].a), cmp.Compare(s[i].b, e[j].b)); {
		case c < 0:
			i++
		case c > 0:
			j++
		default:
			next[e[j].piece], prev[s[i].piece] = s[i].piece, e[j].piece
			i++
			j++
		}
	}
	return next, prev
}

// distinct leaves out points that equal the one before them.
func distinct(l Loop) Loop {
	r := l[:0]
	for _, p := range l {
		if len(r) == 0 || p != r[len(r)-1] {
			r = append(r, p)
		}
	}
	for len(r) > 1 && r[0] == r[len(r)-1] {
		r = r[:len(r)-1]
	}
	return r
}
