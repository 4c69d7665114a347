package pockets

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// Outlets says where else air may leave. The zero value is the bare master:
// each connected part of the cavity breathes at its own highest point. (Parts
// that do not touch are castings of their own; a part without a channel is no
// trapped air but a missing ingate.)
type Outlets struct {
	Balls []Ball // mouths of vents and flow-offs
	Slabs []Slab // flat regions, such as the rim of a cup or the block's top face
	Knife []bool // corners of the mesh that a knife can reach, such as those on the parting line; see Stand.Left
	Only  bool   // the highest points are no outlets: all air must leave by Balls and Slabs
}

// Ball opens every piece of the cavity's surface within Radius of At. A branch
// that the ball reaches keeps only the air above the highest point opened.
type Ball struct {
	At     vec.V3
	Radius float64
}

// Slab opens every piece of the cavity's surface within Half of the plane
// through At with the given normal.
type Slab struct {
	At, Normal vec.V3
	Half       float64
}

// mouth is the height at which one outlet opens a branch, and the highest
// item of the piece of surface it opens.
type mouth struct {
	h   float64
	top int32
	cut bool
}

// mouths lists the given outlets from the highest to the lowest.
func (b *Body) mouths(up vec.V3, h []float64, rank []int32, out Outlets) []mouth {
	var list []mouth
	add := func(t [3]int32, z float64) {
		top := t[0]
		for _, c := range t[1:] {
			if rank[c] < rank[top] {
				top = c
			}
		}
		list = append(list, mouth{h: min(z, h[top]), top: top})
	}
	for _, o := range out.Balls {
		at := o.At.Sub(b.centre)
		for _, t := range b.m.F {
			if z, ok := inBall(b.m.V[t[0]], b.m.V[t[1]], b.m.V[t[2]], at, o.Radius, up); ok {
				add(t, z)
			}
		}
	}
	for _, o := range out.Slabs {
		n := o.Normal.Unit()
		d := o.At.Sub(b.centre).Dot(n)
		for _, t := range b.m.F {
			z, ok := math.Inf(-1), false
			for k := range 3 {
				p, q := b.m.V[t[k]], b.m.V[t[(k+1)%3]]
				u, v := p.Dot(n)-d, q.Dot(n)-d
				lo, hi, in := clip(u, v, -o.Half, o.Half)
				if in {
					ok = true
					z = max(z, p.Lerp(q, lo).Dot(up), p.Lerp(q, hi).Dot(up))
				}
			}
			if ok {
				add(t, z)
			}
		}
	}
	if len(out.Knife) == len(h) {
		for v, k := range out.Knife {
			if v := b.same(int32(v)); k && b.start[v] < b.start[v+1] {
				list = append(list, mouth{h[v], v, true})
			}
		}
	}
	slices.SortFunc(list, func(a, b mouth) int {
		if a.h != b.h {
			return cmp.Compare(b.h, a.h)
		}
		return cmp.Compare(rank[a.top], rank[b.top])
	})
	return list
}

// clip returns the stretch of [0, 1] on which a value that runs from u to v
// lies within [lo, hi].
func clip(u, v, lo, hi float64) (a, b float64, ok bool) {
	a, b = 0, 1
	if u == v {
		return a, b, u >= lo && u <= hi
	}
	s, t := (lo-u)/(v-u), (hi-u)/(v-u)
	if s > t {
		s, t = t, s
	}
	a, b = max(a, s), min(b, t)
	return a, b, a <= b
}

// inBall returns the greatest height of triangle p q r within a ball: at a
// corner, on an edge, or at the top of the disc that the ball cuts from the
// plane.
func inBall(p, q, r, at vec.V3, radius float64, up vec.V3) (z float64, ok bool) {
	lo, hi := p.Min(q).Min(r), p.Max(q).Max(r)
	if lo.X > at.X+radius || hi.X < at.X-radius || lo.Y > at.Y+radius ||
		hi.Y < at.Y-radius || lo.Z > at.Z+radius || hi.Z < at.Z-radius {
		return 0, false
	}
	z = math.Inf(-1)
	c := [3]vec.V3{p, q, r}
	for k := range 3 {
		a, d := c[k], c[(k+1)%3].Sub(c[k])
		// |a + s d - at|^2 = radius^2
		e := a.Sub(at)
		A, B, C := d.Dot(d), d.Dot(e), e.Dot(e)-radius*radius
		if A == 0 {
			continue
		}
		D := B*B - A*C
		if D < 0 {
			continue
		}
		w := math.Sqrt(D)
		s, t := max(0, (-B-w)/A), min(1, (-B+w)/A)
		if s <= t {
			z, ok = max(z, a.Add(d.Mul(s)).Dot(up), a.Add(d.Mul(t)).Dot(up)), true
		}
	}
	n := q.Sub(p).Cross(r.Sub(p)).Unit()
	off := at.Sub(p).Dot(n)
	if n == (vec.V3{}) || math.Abs(off) > radius {
		return z, ok
	}
	foot := at.Sub(n.Mul(off))
	rise := up.Sub(n.Mul(up.Dot(n)))
	for _, x := range []vec.V3{foot, foot.Add(rise.Unit().Mul(math.Sqrt(radius*radius - off*off)))} {
		if q.Sub(p).Cross(x.Sub(p)).Dot(n) >= 0 && r.Sub(q).Cross(x.Sub(q)).Dot(n) >= 0 && p.Sub(r).Cross(x.Sub(r)).Dot(n) >= 0 {
			z, ok = max(z, x.Dot(up)), true
		}
	}
	return z, ok
}
