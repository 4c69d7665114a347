package bvh

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Closest returns the point of the surface nearest to p, its triangle and the
// distance, if that is at most maxDist; otherwise triangle -1 and the distance
// maxDist. Of equally near triangles the lowest number wins.
func (t *Tree) Closest(p vec.V3, maxDist float64) (q vec.V3, triangle int, dist float64) {
	triangle = -1
	if len(t.tri) == 0 || !p.Finite() || !(maxDist >= 0) {
		return q, triangle, maxDist
	}
	best := maxDist * maxDist // in mesh units
	l := t.local(p)
	px, py, pz := float32(l.X), float32(l.Y), float32(l.Z)
	// A box at distance x in tree units is skipped where x^2 > cut; the slack
	// covers the rounding of p to float32.
	slack := 1e-6 * (1 + math.Abs(l.X) + math.Abs(l.Y) + math.Abs(l.Z))
	limit := func() float32 {
		x := math.Sqrt(best)*t.inv + slack
		return float32(math.Min(x*x*(1+1e-6), math.MaxFloat32))
	}
	cut := limit()
	type entry struct {
		d2   float32
		code int32
	}
	var stack [stackSize]entry
	top := 0
	code := t.root
	for {
		if code >= 0 {
			n := &t.node[code]
			d0 := away(px, py, pz, n.lo0(), n.hi0())
			d1 := away(px, py, pz, n.lo1(), n.hi1())
			c0, c1 := n.c0, n.c1
			if d1 < d0 {
				d0, d1, c0, c1 = d1, d0, c1, c0
			}
			if d0 <= cut {
				if d1 <= cut {
					stack[top] = entry{d1, c1}
					top++
				}
				code = c0
				continue
			}
		} else {
			first, end := leafRange(code)
			for k := first; k < end; k++ {
				a, b, c := t.tri[k].corners()
				x := nearest(p, a, b, c)
				e := x.Sub(p)
				d2 := e.Dot(e)
				if d2 < best || d2 == best && (triangle < 0 || int(t.id[k]) < triangle) {
					best, q, triangle = d2, x, int(t.id[k])
					cut = limit()
				}
			}
		}
		for top > 0 && stack[top-1].d2 > cut {
			top--
		}
		if top == 0 {
			break
		}
		top--
		code = stack[top].code
	}
	return q, triangle, math.Sqrt(best)
}

// away returns the squared distance of a point from a box, 0 inside.
func away(x, y, z float32, lo, hi *[3]float32) float32 {
	dx := max(lo[0]-x, x-hi[0], 0)
	dy := max(lo[1]-y, y-hi[1], 0)
	dz := max(lo[2]-z, z-hi[2], 0)
	return dx*dx + dy*dy + dz*dz
}

// Nearest returns the point of triangle a b c nearest to p.
func Nearest(p, a, b, c vec.V3) vec.V3 { return nearest(p, a, b, c) }

// nearest returns the point of triangle a b c nearest to p. For slivers, whose
// weights drown in rounding, the nearest point of the edges competes.
func nearest(p, a, b, c vec.V3) vec.V3 {
	ab, ac := b.Sub(a), c.Sub(a)
	q := region(p, a, b, c, ab, ac)
	n := ab.Cross(ac)
	if n.Dot(n) >= 1e-8*ab.Dot(ab)*ac.Dot(ac) && n != (vec.V3{}) {
		return q
	}
	e := q.Sub(p)
	best := e.Dot(e)
	for _, s := range [3][2]vec.V3{{a, b}, {b, c}, {c, a}} {
		x := onEdge(p, s[0], s[1])
		if e := x.Sub(p); !(e.Dot(e) >= best) {
			best, q = e.Dot(e), x
		}
	}
	return q
}

func onEdge(p, a, b vec.V3) vec.V3 {
	d := b.Sub(a)
	l := d.Dot(d)
	if l == 0 {
		return a
	}
	return a.Add(d.Mul(min(max(p.Sub(a).Dot(d)/l, 0), 1)))
}

// region finds the nearest point by the regions of corners, edges and face
// (Ericson 2004, Real-time collision detection, 5.1.5).
func region(p, a, b, c, ab, ac vec.V3) vec.V3 {
	ap := p.Sub(a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return a
	}
	bp := p.Sub(b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return b
	}
	vc := d1*d4 - d3*d2
	if vc <= 0 && d1 >= 0 && d3 <= 0 {
		return a.Add(ab.Mul(d1 / (d1 - d3)))
	}
	cp := p.Sub(c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return c
	}
	vb := d5*d2 - d1*d6
	if vb <= 0 && d2 >= 0 && d6 <= 0 {
		return a.Add(ac.Mul(d2 / (d2 - d6)))
	}
	va := d3*d6 - d5*d4
	if va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 {
		return b.Add(c.Sub(b).Mul((d4 - d3) / ((d4 - d3) + (d5 - d6))))
	}
	s := 1 / (va + vb + vc)
	v := min(max(vb*s, 0), 1)
	return a.Add(ab.Mul(v)).Add(ac.Mul(min(max(vc*s, 0), 1-v)))
}

// BoxQuery calls f with every triangle whose own box overlaps b (touching
// counts), in the order of the tree, until f returns false.
func (t *Tree) BoxQuery(b vec.Box, f func(triangle int) bool) {
	if len(t.tri) == 0 {
		return
	}
	l, h := t.local(b.Min), t.local(b.Max)
	// Rounding to float32 is covered by the padding of the nodes: clamped to
	// the root's neighbourhood first, so that it is absolute.
	var lo, hi [3]float32
	for k := range 3 {
		lo[k] = float32(math.Min(math.Max(l.At(k), -2), 2))
		hi[k] = float32(math.Min(math.Max(h.At(k), -2), 2))
	}
	var stack [stackSize]int32
	top := 0
	code := t.root
	for {
		if code >= 0 {
			n := &t.node[code]
			in0 := overlap(&lo, &hi, n.lo0(), n.hi0())
			in1 := overlap(&lo, &hi, n.lo1(), n.hi1())
			if in0 {
				if in1 {
					stack[top] = n.c1
					top++
				}
				code = n.c0
				continue
			}
			if in1 {
				code = n.c1
				continue
			}
		} else {
			first, end := leafRange(code)
			for k := first; k < end; k++ {
				v0, v1, v2 := t.tri[k].corners()
				x, y := v0.Min(v1).Min(v2), v0.Max(v1).Max(v2)
				if x.X <= b.Max.X && y.X >= b.Min.X && x.Y <= b.Max.Y && y.Y >= b.Min.Y &&
					x.Z <= b.Max.Z && y.Z >= b.Min.Z && !f(int(t.id[k])) {
					return
				}
			}
		}
		if top == 0 {
			return
		}
		top--
		code = stack[top]
	}
}

func overlap(lo, hi, lo1, hi1 *[3]float32) bool {
	return lo[0] <= hi1[0] && hi[0] >= lo1[0] && lo[1] <= hi1[1] && hi[1] >= lo1[1] &&
		lo[2] <= hi1[2] && hi[2] >= lo1[2]
}
