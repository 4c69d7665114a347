package cells

import (
	"math"

	"pourwright/internal/ground/vec"
)

// cubic is a share as a polynomial in a, less the middle of an interval.
type cubic [4]float64

// Plane returns the a for which Under(n, a) is share; a share of 0 and less, or 1 and more,
// gives the a at which the plane touches the part. Between two corners in the order of n . x the
// share is one cubic in a, a sum over the tetrahedra; the interval is guessed and left for the next where
// the share is not in it.
func (p *Part) Plane(n vec.V3, share float64) float64 {
	if p.m == 0 {
		return CubePlane(n, share)
	}
	var h, sorted [10]float64
	m := int(p.n)
	for i := range m {
		x := &p.corner[i]
		v, k := n.X*x.X+n.Y*x.Y+n.Z*x.Z, i
		h[i] = v
		for ; k > 0 && sorted[k-1] > v; k-- {
			sorted[k] = sorted[k-1]
		}
		sorted[k] = v
	}
	first, last := sorted[0], sorted[m-1]
	if !(share > 0) || !(last > first) {
		return first
	}
	if share >= 1 {
		return last
	}
	guess := first + share*(last-first)
	k := 0
	for k < m-2 && sorted[k+1] <= guess {
		k++
	}
	for way := 0; ; k += way {
		for k < m-2 && way == 0 && tiny(sorted[k], sorted[k+1], last-first) {
			k++
		}
		if k < 0 || k > m-2 {
			return sorted[min(max(k, 0), m-1)]
		}
		lo, hi := sorted[k], sorted[k+1]
		if tiny(lo, hi, last-first) {
			if way == 0 {
				way = -1
			}
			continue
		}
		half := (hi - lo) / 2
		f := p.share3(&h, lo, lo+half)
		x, to := f.solve(share, half)
		if to == 0 || to == -way {
			return lo + half + x
		}
		way = to
	}
}

// tiny reports whether corners are as good as equally high.
func tiny(lo, hi, all float64) bool { return hi-lo <= 2e-15*all }

// solve returns the root of f(x) = share in -half .. half and 0, or the nearer end and
// the direction in which the root lies beyond it.
func (f *cubic) solve(share, half float64) (x float64, to int) {
	c0, c1, c2, c3 := f[0]-share, f[1]*half, f[2]*half*half, f[3]*half*half*half
	if c0-c1+c2-c3 > 0 {
		return -half, -1
	}
	if c0+c1+c2+c3 < 0 {
		return half, 1
	}
	lo, hi, y := -1.0, 1.0, 0.0
	for range 60 {
		v := c0 + y*(c1+y*(c2+y*c3))
		if v > 0 {
			hi = y
		} else {
			lo = y
		}
		next := y - v/(c1+y*(2*c2+y*3*c3))
		if !(next >= lo && next <= hi) {
			next = (lo + hi) / 2
		}
		step := math.Abs(next - y)
		y = next
		if step < 1e-15 {
			break
		}
	}
	return y * half, 0
}

// share3 returns the share of the part under n . x <= at + x as a cubic in x, good between the
// corners' heights next to at; those up to lo are wet.
func (p *Part) share3(h *[10]float64, lo, at float64) (f cubic) {
	for k := range p.m {
		t := &p.tet[k]
		a, b, c, d := h[t[0]%10], h[t[1]%10], h[t[2]%10], h[t[3]%10]
		// Lowest first.
		if a > b {
			a, b = b, a
		}
		if c > d {
			c, d = d, c
		}
		if a > c {
			a, c = c, a
		}
		if b > d {
			b, d = d, b
		}
		if b > c {
			b, c = c, b
		}
		s := p.share[k]
		switch {
		case a > lo:
		case d <= lo:
			f[0] += s
		case b > lo: // x3 / ((b-a)(c-a)(d-a)) of the lowest
			q, x := s/((b-a)*(c-a)*(d-a)), at-a
			f[0] += q * x * x * x
			f[1] += 3 * q * x * x
			f[2] += 3 * q * x
			f[3] += q
		case c <= lo: // all but the highest
			q, x := s/((d-a)*(d-b)*(d-c)), d-at
			f[0] += s - q*x*x*x
			f[1] += 3 * q * x * x
			f[2] -= 3 * q * x
			f[3] += q
		default:
			f.wedge(s, at, a, b, c, d)
		}
	}
	return f
}

// wedge adds a tetrahedron with two wet corners, a and b (see wet):
//
//	t_ac t_ad + t_bc t_bd + t_bc t_ad (1 - t_ac - t_bd),   t_ac = (at + x - a) / (c - a)
func (f *cubic) wedge(s, at, a, b, c, d float64) {
	i, j := 1/((c-a)*(d-a)), 1/((c-b)*(d-b))
	ac, ad, bc, bd := (d-a)*i, (c-a)*i, (d-b)*j, (c-b)*j // slopes
	x, y := at-a, at-b
	tac, tad, tbc, tbd := x*ac, x*ad, y*bc, y*bd
	q0, q1, q2 := tbc*tad, tbc*ad+bc*tad, bc*ad
	l0, l1 := 1-tac-tbd, -ac-bd
	f[0] += s * (tac*tad + tbc*tbd + q0*l0)
	f[1] += s * (tac*ad + ac*tad + tbc*bd + bc*tbd + q0*l1 + q1*l0)
	f[2] += s * (ac*ad + bc*bd + q1*l1 + q2*l0)
	f[3] += s * q2 * l1
}
