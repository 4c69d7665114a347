package sculpt

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Field is a signed field of a body: below 0 inside, above 0 outside, zero on
// the surface, changing no faster than distance. It need not be the distance.
type Field func(p vec.V3) float64

// Sphere is the ball of radius r round c.
func Sphere(c vec.V3, r float64) Field {
	return func(p vec.V3) float64 { return p.Dist(c) - r }
}

// Cuboid is the box between lo and hi, edges sharp.
func Cuboid(lo, hi vec.V3) Field {
	c, h := lo.Lerp(hi, 0.5), hi.Sub(lo).Mul(0.5)
	return func(p vec.V3) float64 {
		x, y, z := math.Abs(p.X-c.X)-h.X, math.Abs(p.Y-c.Y)-h.Y, math.Abs(p.Z-c.Z)-h.Z
		out := math.Sqrt(max(x, 0)*max(x, 0) + max(y, 0)*max(y, 0) + max(z, 0)*max(z, 0))
		return out + min(max(x, y, z), 0)
	}
}

// Below is the half space of points p with n.p < d, n a unit vector.
func Below(n vec.V3, d float64) Field {
	return func(p vec.V3) float64 { return n.Dot(p) - d }
}

// Rod is the cylinder of radius r from a to b with flat ends.
func Rod(a, b vec.V3, r float64) Field {
	l := b.Dist(a)
	z := b.Sub(a).Unit()
	return func(p vec.V3) float64 {
		d := p.Sub(a)
		t := d.Dot(z)
		x := math.Sqrt(max(d.Dot(d)-t*t, 0)) - r
		y := math.Abs(t-l/2) - l/2
		return math.Hypot(max(x, 0), max(y, 0)) + min(max(x, y), 0)
	}
}

// Limb is the tapered limb from a (radius ra) to b (radius rb) with round ends:
// the union of all balls between, by linear radius (a lower bound of distance
// where the radii differ).
func Limb(a vec.V3, ra float64, b vec.V3, rb float64) Field {
	d := b.Sub(a)
	k := 1 / d.Dot(d)
	s := 1 / math.Sqrt(1+(rb-ra)*(rb-ra)*k)
	return func(p vec.V3) float64 {
		q := p.Sub(a)
		t := min(max(q.Dot(d)*k, 0), 1)
		return (q.Sub(d.Mul(t)).Len() - ra - (rb-ra)*t) * s
	}
}

// Hoop is the torus round c with axis n (unit), ring radius R, tube radius r.
func Hoop(c, n vec.V3, R, r float64) Field {
	return func(p vec.V3) float64 {
		d := p.Sub(c)
		h := d.Dot(n)
		x := math.Sqrt(max(d.Dot(d)-h*h, 0)) - R
		return math.Hypot(x, h) - r
	}
}

// Egg is the ellipsoid with half axes a round c, as a lower bound of distance:
// k (k-1)/g with k = |p/a| and g = |p/a^2| (Quilez), held below slope 1.
func Egg(c, a vec.V3) Field {
	least := min(a.X, a.Y, a.Z)
	return func(p vec.V3) float64 {
		d := p.Sub(c)
		x, y, z := d.X/a.X, d.Y/a.Y, d.Z/a.Z
		k := math.Sqrt(x*x + y*y + z*z)
		g := math.Sqrt(x*x/a.X/a.X + y*y/a.Y/a.Y + z*z/a.Z/a.Z)
		if g < 1e-9 {
			return -least
		}
		return k * (k - 1) / g
	}
}

// Spun is the body that a closed polygon of (radius, height) sweeps round z.
func Spun(r Ring) Field {
	d := Flat(r)
	return func(p vec.V3) float64 { return d(vec.V2{X: math.Hypot(p.X, p.Y), Y: p.Z}) }
}

// Flat is the signed distance to a polygon in the plane, below 0 inside.
func Flat(r Ring) func(vec.V2) float64 {
	return func(p vec.V2) float64 {
		best := math.Inf(1)
		in := false
		for i, a := range r {
			b := r[(i+1)%len(r)]
			e, w := b.Sub(a), p.Sub(a)
			t := min(max(w.Dot(e)/e.Dot(e), 0), 1)
			q := w.Sub(e.Mul(t))
			best = min(best, q.Dot(q))
			if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*e.X {
				in = !in
			}
		}
		if in {
			return -math.Sqrt(best)
		}
		return math.Sqrt(best)
	}
}

// Union joins bodies, edges sharp.
func Union(f ...Field) Field {
	return func(p vec.V3) float64 {
		d := f[0](p)
		for _, g := range f[1:] {
			d = min(d, g(p))
		}
		return d
	}
}

// Common is what all bodies share, edges sharp.
func Common(f ...Field) Field {
	return func(p vec.V3) float64 {
		d := f[0](p)
		for _, g := range f[1:] {
			d = max(d, g(p))
		}
		return d
	}
}

// Cut takes the bodies g out of f, edges sharp.
func Cut(f Field, g ...Field) Field {
	return func(p vec.V3) float64 {
		d := f(p)
		for _, h := range g {
			d = max(d, -h(p))
		}
		return d
	}
}

// smooth is the least of a and b with the corner rounded over a width k.
func smooth(a, b, k float64) float64 {
	h := max(k-math.Abs(a-b), 0)
	return min(a, b) - h*h/(4*k)
}

// Blend joins two bodies with a fillet of about radius k.
func Blend(k float64, f, g Field) Field {
	return func(p vec.V3) float64 { return smooth(f(p), g(p), k) }
}

// Carve takes g out of f with rounded lips of about radius k.
func Carve(k float64, f, g Field) Field {
	return func(p vec.V3) float64 { return -smooth(-f(p), g(p), k) }
}

// Near is f, which lies inside the ball of radius r round c, with the distance
// to that ball in its place further than 4 mm from it, where that is cheaper.
func Near(c vec.V3, r float64, f Field) Field {
	return func(p vec.V3) float64 {
		if d := p.Dist(c) - r; d > 4 {
			return d
		}
		return f(p)
	}
}

// Curve is a polyline with a nearest point fast enough for fields: its
// segments stand in groups with a ball round each.
type Curve struct {
	P    []vec.V3
	At   []float64 // length from the start to each point
	mid  []vec.V3
	rad  []float64
	step int
}

// NewCurve prepares a polyline of at least two points.
func NewCurve(p []vec.V3) *Curve {
	c := &Curve{P: p, At: make([]float64, len(p)), step: 8}
	for i := 1; i < len(p); i++ {
		c.At[i] = c.At[i-1] + p[i].Dist(p[i-1])
	}
	for i := 0; i+1 < len(p); i += c.step {
		b := vec.Empty()
		for k := i; k <= min(i+c.step, len(p)-1); k++ {
			b = b.Add(p[k])
		}
		m, r := b.Centre(), 0.0
		for k := i; k <= min(i+c.step, len(p)-1); k++ {
			r = max(r, p[k].Dist(m))
		}
		c.mid, c.rad = append(c.mid, m), append(c.rad, r)
	}
	return c
}

// Near returns the point of the curve nearest to p, its length from the start
// and the unit tangent there.
func (c *Curve) Near(p vec.V3) (q vec.V3, s float64, along vec.V3) {
	best, at, par := math.Inf(1), 0, 0.0
	first, near := 0, math.Inf(1)
	for g, m := range c.mid {
		if d := p.Dist(m) + c.rad[g]; d < near {
			near, first = d, g
		}
	}
	for k := range c.mid {
		g := k
		if k == 0 {
			g = first
		} else if k <= first {
			g = k - 1
		}
		d := p.Dist(c.mid[g]) - c.rad[g]
		if d > 0 && d*d >= best {
			continue
		}
		for i := g * c.step; i < min((g+1)*c.step, len(c.P)-1); i++ {
			e, w := c.P[i+1].Sub(c.P[i]), p.Sub(c.P[i])
			t := min(max(w.Dot(e)/e.Dot(e), 0), 1)
			o := w.Sub(e.Mul(t))
			if l := o.Dot(o); l < best {
				best, at, par = l, i, t
			}
		}
	}
	e := c.P[at+1].Sub(c.P[at])
	return c.P[at].Add(e.Mul(par)), c.At[at] + par*(c.At[at+1]-c.At[at]), e.Unit()
}

// Len returns the length of the curve.
func (c *Curve) Len() float64 { return c.At[len(c.At)-1] }
