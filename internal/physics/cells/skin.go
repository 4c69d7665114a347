package cells

import (
	"math"

	"pourwright/internal/ground/vec"
)

// skin is the sum of area n n n n over a cell's wall, in sides of a cell, n the wall's
// normal: how much wall there is and how its directions are spread, to the fourth
// order, which tells round from square. Components as in quartic.
type skin [15]float32

// wall is a skin in full precision, by volume.
type wall [15]float64

// quartic returns the products of four components of n: x4 y4 z4, x3y x3z, y3x y3z, z3x z3y,
// x2y2 x2z2 y2z2, x2yz y2xz z2xy.
func quartic(n vec.V3) (r [15]float64) {
	x, y, z := n.X, n.Y, n.Z
	xx, yy, zz, xy, xz, yz := x*x, y*y, z*z, x*y, x*z, y*z
	return [15]float64{xx * xx, yy * yy, zz * zz, xx * xy, xx * xz, yy * xy, yy * yz, zz * xz, zz * yz, xx * yy, xx * zz, yy * zz, xx * yz, yy * xz, zz * xy}
}

// add adds a flat piece by its area vector.
func (w *skin) add(a vec.V3) {
	l := a.Len()
	if !(l > 0) {
		return
	}
	for k, x := range quartic(a.Mul(1 / l)) {
		w[k] += float32(l * x)
	}
}

// area is the wall's area: (x2 + y2 + z2)^2.
func (w *skin) area() float64 {
	return float64(w[0]) + float64(w[1]) + float64(w[2]) + 2*(float64(w[9])+float64(w[10])+float64(w[11]))
}

// second returns the sum of area n n: xx, yy, zz, xy, xz, yz.
func (w *wall) second() [6]float64 {
	return [6]float64{
		w[0] + w[9] + w[10], w[1] + w[9] + w[11], w[2] + w[10] + w[11],
		w[3] + w[5] + w[14], w[4] + w[7] + w[13], w[6] + w[8] + w[12],
	}
}

// along returns the sum of area (n . d)^4.
func (w *wall) along(d vec.V3) float64 {
	times := [15]float64{1, 1, 1, 4, 4, 4, 4, 4, 4, 6, 6, 6, 12, 12, 12}
	s := 0.0
	for k, x := range quartic(d) {
		s += times[k] * x * w[k]
	}
	return s
}

// square returns how far the walls about an axis stand in four directions at right angles: 1 in
// a rectangle, 0 in a circle. It is |sum of area exp(4 i phi)| by the sum of area, phi the
// direction about the axis.
func (w *wall) square(axis vec.V3) float64 {
	f := vec.AlongZ(axis)
	var part [2]float64
	all := 0.0
	for k := range part {
		c, s := math.Cos(float64(k)*math.Pi/8), math.Sin(float64(k)*math.Pi/8)
		u, v := f.X.Mul(c).Add(f.Y.Mul(s)), f.Y.Mul(c).Sub(f.X.Mul(s))
		a := w.along(u) + w.along(v)
		b := w.along(u.Add(v).Mul(math.Sqrt(0.5))) + w.along(u.Sub(v).Mul(math.Sqrt(0.5)))
		part[k] = 2 * (a - b)
		all = a + 2*(b-a/2)/3
	}
	if !(all > 0) {
		return 0
	}
	return min(math.Hypot(part[0], part[1])/all, 1)
}

// eigen returns the eigenvalues of a symmetric 3 x 3 matrix, xx, yy, zz, xy, xz, yz,
// largest first (Smith, Commun. ACM 4 (1961) 168), and the direction of the last.
func eigen(t *[6]float64) ([3]float64, vec.V3) {
	m := (t[0] + t[1] + t[2]) / 3
	a, b, c, d, e, f := t[0]-m, t[1]-m, t[2]-m, t[3], t[4], t[5]
	p := math.Sqrt((a*a + b*b + c*c + 2*(d*d+e*e+f*f)) / 6)
	if !(p > 1e-14*math.Abs(m)) {
		return [3]float64{m, m, m}, vec.V3{Z: 1}
	}
	det := (a*(b*c-f*f) - d*(d*c-f*e) + e*(d*f-b*e)) / (2 * p * p * p)
	angle := math.Acos(min(max(det, -1), 1)) / 3
	x := 2 * p * math.Cos(angle)
	z := 2 * p * math.Cos(angle+2*math.Pi/3)
	r := [3]vec.V3{{X: a - z, Y: d, Z: e}, {X: d, Y: b - z, Z: f}, {X: e, Y: f, Z: c - z}}
	best := vec.V3{}
	for k := range 3 {
		if n := r[k].Cross(r[(k+1)%3]); n.Len() > best.Len() {
			best = n
		}
	}
	if !(best.Len() > 1e-9*p*p) {
		best = vec.V3{Z: 1}
	}
	return [3]float64{m + x, m - x - z, m + z}, best.Unit()
}
