package plic

import "math"

// plane is m . x <= a in a unit cube: m signed, |m.x| + |m.y| + |m.z| = 1; a counts
// from the corner that lies deepest in the metal, 0 .. 1.
type plane struct {
	m [3]float64
	a float64
}

// order sorts three numbers.
func order(x, y, z float64) (float64, float64, float64) {
	x, y = min(x, y), max(x, y)
	y, z = min(y, z), max(y, z)
	x, y = min(x, y), max(x, y)
	return x, y, z
}

// under returns the share of the unit cube below t, 0 <= t <= 1/2, where m1 <= m2
// <= m3 add up to 1 (Scardovelli & Zaleski 2000):
//
//	V = t^3 / (6 m1 m2 m3)                        t < m1
//	  = (t (t - m1) / 2 + m1^2 / 6) / (m2 m3)     t < m2
//	  - (t - m2)^3 / (6 m1 m2 m3)                 t < min(m3, m1 + m2)
//	  - (t - m3)^3 / (6 m1 m2 m3)                 m3 <= t, where m3 <= m1 + m2
//	  = (t - (m1 + m2) / 2) / m3                  m1 + m2 <= t
//
// No term exceeds the result by more than a factor, however small m1 is.
func under(m1, m2, m3, t float64) float64 {
	m12 := m1 + m2
	if t >= m12 && m12 <= m3 {
		return (t - m12/2) / m3
	}
	if t < m1 {
		return t / m1 * (t / m2) * (t / m3) / 6
	}
	k := 1 / (m2 * m3)
	v := (t*(t-m1)/2 + m1*m1/6) * k
	if s := t - m2; s > 0 {
		s3 := s / m1 * (s * s)
		if s := t - m3; s > 0 {
			s3 += s / m1 * (s * s)
		}
		v -= s3 * k / 6
	}
	return v
}

// share returns the share of the unit cube where x . m <= a; x, y, z >= 0 need not
// add up to 1.
func share(x, y, z, a float64) float64 {
	s := x + y + z
	if a <= 0 {
		return 0
	}
	if a >= s {
		return 1
	}
	r := 1 / s
	x, y, _ = order(x*r, y*r, z*r)
	a *= r
	if a > 0.5 {
		return 1 - under(x, y, 1-x-y, max(1-a, 0))
	}
	return under(x, y, 1-x-y, a)
}

// slab returns the share of metal in the slab of width w at the low or high side
// of the cube along d.
func (p *plane) slab(d int, high bool, w float64) float64 {
	m := [3]float64{math.Abs(p.m[0]), math.Abs(p.m[1]), math.Abs(p.m[2])}
	a := p.a
	if (p.m[d] >= 0) == high { // the slab lies away from the metal
		a -= m[d] * (1 - w)
	}
	m[d] *= w
	return share(m[0], m[1], m[2], a)
}

// constant returns the t for which the cube's share under m1 <= m2 <= m3 is v, to
// 1e-14; m1 + m2 + m3 = 1.
func constant(m1, m2, m3, v float64) float64 {
	over := v > 0.5
	if over {
		v = 1 - v
	}
	t := half(m1, m2, m3, v)
	if over {
		return 1 - t
	}
	return t
}

// half is constant for 0 <= v <= 1/2.
func half(m1, m2, m3, v float64) float64 {
	m12 := m1 + m2
	if v*m3 >= m12/2 && m12 <= m3 {
		return m12/2 + m3*v
	}
	k := m2 * m3
	// Shares at t = m1 and m2.
	v1 := 0.0
	if k > 0 {
		v1 = m1 * m1 / k / 6
	}
	if v <= v1 {
		return math.Cbrt(6 * m1 * k * v)
	}
	v2 := v1 + (m2-m1)/m3/2
	if v <= v2 {
		return (m1 + math.Sqrt(max(8*k*v-m1*m1/3, 0))) / 2
	}
	if m1 < 1e-18 {
		return m12/2 + m3*v
	}
	// From here on V(t) is a cubic, kept between m2 and where the branch ends.
	lo, hi := m2, 0.5
	if m12 <= m3 {
		hi = m12
	}
	t := min(max((m1+math.Sqrt(max(8*k*v-m1*m1/3, 0)))/2, lo), hi)
	inv, want := 1/m1, v*k
	for range 50 {
		// f = 6 V m1 m2 m3 / (6 m1), and what it rises by.
		s := max(t-m2, 0)
		r := s * inv
		f, g, b := t*(t-m1)/2+m1*m1/6-r*(s*s)/6-want, t-m1/2-r*s/2, 1-r
		if s = t - m3; s > 0 {
			r = s * inv
			f, g, b = f-r*(s*s)/6, g-r*s/2, b-r
		}
		step := 2 * f * g / (2*g*g - f*b) // Halley: the error goes with its cube
		next := t - step
		if !(next >= lo) {
			next = lo
		} else if next > hi {
			next = hi
		}
		t = next
		if math.Abs(step) <= 3e-6*m1 {
			break
		}
	}
	return t
}

// through returns the plane with normal n (any length but zero) that leaves the
// share f under it.
func through(n [3]float64, f float64) plane {
	x, y, z := math.Abs(n[0]), math.Abs(n[1]), math.Abs(n[2])
	r := 1 / (x + y + z)
	m1, m2, _ := order(x*r, y*r, z*r)
	return plane{m: [3]float64{n[0] * r, n[1] * r, n[2] * r}, a: constant(m1, m2, 1-m1-m2, f)}
}

// corner returns area and first moments of the part of the unit square where m1 x +
// m2 y <= t, m1 <= m2.
func corner(m1, m2, t float64) (area, mx, my float64) {
	if t <= 0 {
		return 0, 0, 0
	}
	if t >= m1+m2 {
		return 1, 0.5, 0.5
	}
	// The upper edge falls from 1 at x = p to 0 at x = q.
	p, q := 0.0, 1.0
	if t > m2 {
		p = min((t-m2)/m1, 1)
	}
	if t < m1 {
		q = t / m1
	}
	l, r := min(max((t-m1*p)/m2, 0), 1), min(max((t-m1*q)/m2, 0), 1)
	w := q - p
	area = p + w*(l+r)/2
	mx = p*p/2 + w*(p*(l+r)/2+w*(l+2*r)/6)
	my = p/2 + w*(l*l+l*r+r*r)/6
	return area, mx, my
}

// polygon returns area and centroid of what the plane cuts out of the cube: seen
// along the largest part of the normal, it is what lies between two parallel lines in
// a square. The area is in sides of the cube.
func (p *plane) polygon() (area float64, centre [3]float64) {
	m := [3]float64{math.Abs(p.m[0]), math.Abs(p.m[1]), math.Abs(p.m[2])}
	i, j, k := 0, 1, 2 // from least to most
	if m[i] > m[j] {
		i, j = j, i
	}
	if m[j] > m[k] {
		j, k = k, j
	}
	if m[i] > m[j] {
		i, j = j, i
	}
	t, over := p.a, p.a > 0.5
	if over {
		t = 1 - t
	}
	a, x, y := corner(m[i], m[j], t)
	if b := t - m[k]; b > 0 {
		a2, x2, y2 := corner(m[i], m[j], b)
		a, x, y = a-a2, x-x2, y-y2
	}
	if a > 0 {
		x, y = x/a, y/a
	} else {
		a, x, y = 0, 0, 0
	}
	z := min(max((t-m[i]*x-m[j]*y)/m[k], 0), 1)
	centre[i], centre[j], centre[k] = x, y, z
	for d := range centre {
		if (p.m[d] < 0) != over {
			centre[d] = 1 - centre[d]
		}
	}
	return a * math.Sqrt(m[0]*m[0]+m[1]*m[1]+m[2]*m[2]) / m[k], centre
}

// offset returns a of n . x <= a in the cube's own coordinates.
func (p *plane) offset() float64 {
	return p.a + min(p.m[0], 0) + min(p.m[1], 0) + min(p.m[2], 0)
}
