package sequence

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/chord"
)

// places names the three places where a caliper says most against a scan: the
// thinnest wall, the longest extent and the thinnest wall well apart from the
// first, or the thickest section where there is none. The third is chosen by
// thickness alone; no verdict is computed again for it.
func (m *Master) places() []plan.Place {
	r := []plan.Place{}
	if m.Wall.Length > 0 {
		r = append(r, across("thinnest wall", m.Wall.At, m.Wall.Normal, m.Wall.Length))
	}
	p, q := farthest(m.Mesh.V)
	r = append(r, plan.Place{What: "longest extent", From: p.Array(), To: q.Array(), Length: p.Dist(q)})
	if c := m.otherWalls().Quantile(0.01); c.Length > 0 {
		return append(r, across("next thin wall", c.At, c.Normal, c.Length))
	}
	if n := len(m.Section); n > 0 {
		c := m.Section[n-1]
		r = append(r, across("thickest section", c.At, c.Normal, c.Length))
	}
	return r
}

// otherWalls holds the chords between parallel faces (within 30 degrees) that do
// not belong to the thinnest wall: well apart from its place, and not in the
// layer that it lies in.
func (m *Master) otherWalls() chord.Sections {
	const parallel, apart = 0.866, 0.2
	var r chord.Sections
	w, far := m.Wall, apart*m.Mesh.Box().Longest()
	for _, c := range m.Section {
		end := c.At.Sub(c.Normal.Mul(c.Length))
		off := c.At.Lerp(end, 0.5).Sub(w.At.Sub(w.Normal.Mul(w.Length / 2)))
		layer := math.Abs(c.Normal.Dot(w.Normal)) > parallel && math.Abs(off.Dot(w.Normal)) <= w.Length
		if c.Facing >= parallel && !layer && off.Len() > far {
			r = append(r, c)
		}
	}
	return r
}

// across is the chord of length l from at along the inward normal.
func across(what string, at, normal vec.V3, l float64) plan.Place {
	return plan.Place{What: what, From: at.Array(), To: at.Sub(normal.Mul(l)).Array(), Length: l}
}

// farthest returns two corners, each of which lies farthest from the other, so
// that the jaws of a caliper across them touch there and nowhere else first.
func farthest(v []vec.V3) (p, q vec.V3) {
	from := func(p vec.V3) vec.V3 {
		best, far := p, 0.0
		for _, x := range v {
			if d := x.Dist(p); d > far {
				best, far = x, d
			}
		}
		return best
	}
	p = from(v[0])
	for q = from(p); ; {
		next := from(q)
		if next.Dist(q) <= p.Dist(q) {
			return p, q
		}
		p, q = q, next
	}
}
