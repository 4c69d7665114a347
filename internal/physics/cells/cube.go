package cells

import (
	"math"

	"pourwright/internal/ground/vec"
)

// bent is a plane's normal folded into the positive octant, scaled so that its
// parts add up to 1 and put in order, m1 <= m2 <= m3. The share of the unit cube
// under m . x <= t has its middle at t = 1/2.
type bent struct {
	m1, m2, m3 float64
	low, sum   float64 // a = low + sum t
}

// bend folds n; sum is 0 for a normal without length.
func bend(n vec.V3) bent {
	x, y, z := math.Abs(n.X), math.Abs(n.Y), math.Abs(n.Z)
	b := bent{sum: x + y + z, low: min(n.X, 0) + min(n.Y, 0) + min(n.Z, 0)}
	if !(b.sum > 0) {
		return bent{}
	}
	if x > y {
		x, y = y, x
	}
	if y > z {
		y, z = z, y
	}
	if x > y {
		x, y = y, x
	}
	b.m1, b.m2 = x/b.sum, y/b.sum
	b.m3 = 1 - b.m1 - b.m2
	return b
}

// under returns the share of the cube below t and its derivative, 0 <= t <= 1/2
// (Scardovelli & Zaleski, J. Comput. Phys. 164 (2000) 228, eq. 11, here summed so
// that no term exceeds the result by more than a factor, however small m1 is):
//
//	V = t^3 / (6 m1 m2 m3)                        t < m1
//	  = (t (t - m1) / 2 + m1^2 / 6) / (m2 m3)     t < m2
//	  - (t - m2)^3 / (6 m1 m2 m3)                 t < min(m3, m1 + m2)
//	  - (t - m3)^3 / (6 m1 m2 m3)                 m3 <= t, where m3 <= m1 + m2
//	  = (t - (m1 + m2) / 2) / m3                  m1 + m2 <= t
func (b *bent) under(t float64) (v, slope float64) {
	m1, m2, m3 := b.m1, b.m2, b.m3
	if t <= 0 {
		return 0, 0
	}
	if t < m1 {
		r := t / m1 * (t / m2)
		return r * (t / m3) / 6, r / m3 / 2
	}
	m12 := m1 + m2
	if t >= m12 && m12 <= m3 {
		return (t - m12/2) / m3, 1 / m3
	}
	v = (t/m2*((t-m1)/m3) + m1/m2*(m1/m3)/3) / 2
	slope = (t - m1/2) / m2 / m3
	if s := t - m2; s > 0 {
		r := s / m1 * (s / m2)
		v, slope = v-r*(s/m3)/6, slope-r/m3/2
	}
	if s := t - m3; s > 0 {
		r := s / m1 * (s / m2)
		v, slope = v-r*(s/m3)/6, slope-r/m3/2
	}
	return v, slope
}

// plane is the inverse of under, 0 <= v <= 1/2.
func (b *bent) plane(v float64) float64 {
	m1, m2, m3 := b.m1, b.m2, b.m3
	m12 := m1 + m2
	if m12 <= m3 && v >= m12/m3/2 {
		return m12/2 + m3*v
	}
	v1 := 0.0
	if m2 > 0 {
		v1 = m1 / m2 * (m1 / m3) / 6
	}
	if v <= v1 {
		return math.Cbrt(6 * m1 * m2 * m3 * v)
	}
	if v <= v1+(m2-m1)/m3/2 {
		return (m1 + math.Sqrt(max(8*m2*m3*v-m1*m1/3, 0))) / 2
	}
	// V bends upwards as far as the middle, so Newton's steps from above
	// stay above.
	lo, t := m2, 0.5
	if m12 < m3 {
		t = m12
	}
	for range 60 {
		f, slope := b.under(t)
		f -= v
		if !(slope > 0) {
			break
		}
		next := max(t-f/slope, lo)
		// The slope changes over m1 at the least, so that the next step would be
		// the square of this one over m1.
		if math.Abs(next-t) <= 1e-9*m1 {
			return next
		}
		t = next
	}
	return t
}

// CubeUnder returns the share of the unit cube where n . x <= a. A normal without
// length holds all of it where a >= 0.
func CubeUnder(n vec.V3, a float64) float64 {
	b := bend(n)
	if b.sum == 0 {
		if a >= 0 {
			return 1
		}
		return 0
	}
	t := (a - b.low) / b.sum
	if t >= 1 {
		return 1
	}
	if t > 0.5 {
		v, _ := b.under(1 - t)
		return 1 - v
	}
	v, _ := b.under(t)
	return v
}

// CubePlane returns the a for which CubeUnder(n, a) is share; a share of 0 and
// less, or 1 and more, gives the a at which the plane touches the cube. Of a
// normal without length it returns 0.
func CubePlane(n vec.V3, share float64) float64 {
	b := bend(n)
	if b.sum == 0 {
		return 0
	}
	share = min(max(share, 0), 1)
	t := 0.0
	if share > 0.5 {
		t = 1 - b.plane(1-share)
	} else {
		t = b.plane(share)
	}
	return b.low + b.sum*t
}

// cube is the whole cell as a Part.
var cube = PartOf(vec.V3{}, 0)

// CubeCut returns the share of the unit cube where n . x <= a, and area and
// centroid of the polygon that the plane cuts out of it.
func CubeCut(n vec.V3, a float64) (share, area float64, centre vec.V3) { return cube.Cut(n, a) }
