package bvh

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Accurate is the accuracy that Winding uses: a node is taken as a whole where
// the point is further than Accurate of its radii from its centre. The largest
// error over random points round balls, tori and plates is 0.05 (at the very
// centre of a ball, where all errors add; the 0.5 that decides inside is far
// away) and falls with the square of the accuracy (both are tests).
const Accurate = 2.0

// moment is the far field of a node: area vectors n_i a_i placed at the
// triangles' centres x_i, expanded about their area-weighted centre p.
type moment struct {
	p      vec.V3        // expansion centre
	n      vec.V3        // sum of area vectors (half the cross product)
	q      [3][3]float64 // sum of (x_i - p)_r (a_i n_i)_s
	area   float64
	radius float64 // of the ball about p that holds the triangles
	code   [2]int32
}

// Winding returns the generalised winding number of the surface about p: 1
// inside a closed outward mesh, 0 outside, in between near holes; overlapping
// bodies add up. See WindingTo for the method.
func (t *Tree) Winding(p vec.V3) float64 { return t.WindingTo(p, Accurate) }

// WindingTo is the fast winding number with an accuracy of its own (larger is
// slower and better; Barill, Dickson, Schmidt, Levin & Jacobson 2018, Fast
// winding numbers for soups and clouds). Nodes further away than accuracy radii
// count by two terms of their far field, with r = x - p,
//
//	w = 1/(4 pi) [ n . r / |r|^3 + sum_rs Q_rs ( d_rs / |r|^3 - 3 r_r r_s / |r|^5 ) ],
//
// nearer ones are opened, and single triangles count by their solid angle.
func (t *Tree) WindingTo(p vec.V3, accuracy float64) float64 {
	if len(t.tri) == 0 {
		return 0
	}
	t.once.Do(t.moments)
	var stack [stackSize]int32
	top := 0
	sum := 0.0
	code := t.root
	for {
		if code >= 0 {
			m := &t.moment[code]
			r := m.p.Sub(p)
			r2 := r.Dot(r)
			if reach := accuracy * m.radius; r2 > reach*reach {
				sum += m.far(r, r2)
			} else {
				stack[top] = m.code[1]
				top++
				code = m.code[0]
				continue
			}
		} else {
			first, end := leafRange(code)
			for k := first; k < end; k++ {
				sum += angle(&t.tri[k], p)
			}
		}
		if top == 0 {
			return sum / (4 * math.Pi)
		}
		top--
		code = stack[top]
	}
}

// WindingExact is the plain sum of the solid angles of all triangles over 4 pi
// (Jacobson, Kavan & Sorkine-Hornung 2013, Robust inside-outside segmentation
// using generalized winding numbers).
func (t *Tree) WindingExact(p vec.V3) float64 {
	sum := 0.0
	for k := range t.tri {
		sum += angle(&t.tri[k], p)
	}
	return sum / (4 * math.Pi)
}

// angle returns the signed solid angle of a triangle from p, positive where p
// is behind it: tan(w/2) = a.(b x c) / (|a||b||c| + (a.b)|c| + (b.c)|a| + (c.a)|b|)
// (Van Oosterom & Strackee 1983, IEEE Trans. Biomed. Eng. 30).
func angle(t *tri, p vec.V3) float64 {
	a, b, c := t.corners()
	a, b, c = a.Sub(p), b.Sub(p), c.Sub(p)
	la, lb, lc := a.Len(), b.Len(), c.Len()
	y := a.Dot(b.Cross(c))
	x := la*lb*lc + a.Dot(b)*lc + b.Dot(c)*la + c.Dot(a)*lb
	if y == 0 { // in the plane of the triangle: no side
		return 0
	}
	return 2 * math.Atan2(y, x)
}

// far returns 4 pi times the node's share, r pointing from the point to the
// node's centre.
func (m *moment) far(r vec.V3, r2 float64) float64 {
	i2 := 1 / r2
	i3 := i2 * math.Sqrt(i2)
	q := &m.q
	trace := q[0][0] + q[1][1] + q[2][2]
	rqr := r.X*(q[0][0]*r.X+q[0][1]*r.Y+q[0][2]*r.Z) +
		r.Y*(q[1][0]*r.X+q[1][1]*r.Y+q[1][2]*r.Z) +
		r.Z*(q[2][0]*r.X+q[2][1]*r.Y+q[2][2]*r.Z)
	return i3 * (m.n.Dot(r) + trace - 3*i2*rqr)
}

// moments fills the far field of every node from the leaves up; children come
// after their parents in the node list.
func (t *Tree) moments() {
	t.moment = make([]moment, len(t.node))
	for k := len(t.node) - 1; k >= 0; k-- {
		n := &t.node[k]
		m := &t.moment[k]
		m.code = [2]int32{n.c0, n.c1}
		var part [2]moment
		for s, c := range m.code {
			if c >= 0 {
				part[s] = t.moment[c]
			} else {
				part[s] = t.leafMoment(c)
			}
			m.area += part[s].area
			m.n = m.n.Add(part[s].n)
		}
		if m.area > 0 {
			m.p = part[0].p.Mul(part[0].area / m.area).Add(part[1].p.Mul(part[1].area / m.area))
		} else {
			m.p = part[0].p.Lerp(part[1].p, 0.5)
		}
		for s := range part {
			m.take(&part[s], part[s].p)
			d := part[s].p.Sub(m.p)
			m.radius = math.Max(m.radius, d.Len()+part[s].radius)
		}
	}
}

// take adds the second moments of o, which is expanded about x.
func (m *moment) take(o *moment, x vec.V3) {
	d, n := x.Sub(m.p).Array(), o.n.Array()
	for r := range 3 {
		for s := range 3 {
			m.q[r][s] += o.q[r][s] + d[r]*n[s]
		}
	}
}

func (t *Tree) leafMoment(code int32) moment {
	var m moment
	var one [1<<leafBits - 1]moment // the triangles, each about its centre
	first, end := leafRange(code)
	for k := first; k < end; k++ {
		a, b, c := t.tri[k].corners()
		o := &one[k-first]
		o.p = a.Add(b).Add(c).Mul(1.0 / 3)
		o.n = b.Sub(a).Cross(c.Sub(a)).Mul(0.5)
		o.area = o.n.Len()
		m.area += o.area
		m.n = m.n.Add(o.n)
		m.p = m.p.Add(o.p.Mul(o.area))
	}
	if m.area > 0 {
		m.p = m.p.Mul(1 / m.area)
	} else if first < end {
		m.p = one[0].p
	}
	for k := first; k < end; k++ {
		m.take(&one[k-first], one[k-first].p)
		a, b, c := t.tri[k].corners()
		m.radius = max(m.radius, a.Dist(m.p), b.Dist(m.p), c.Dist(m.p))
	}
	return m
}
