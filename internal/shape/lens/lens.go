// Package lens holds a camera with one term of radial distortion and fits its
// place over a plane to points and edges seen in a picture.
//
// Main types and functions: Camera (See, Ray, On), Homography, Begin (a first
// camera from four points of a plane), Fit (damped least squares).
//
// Units: mm in the world, pixels in the picture, x right and y down, the
// middle of the first pixel at (0.5, 0.5). The table is the plane z = 0, z up.
//
// Model: x = R X + T, u = c + f (1 + k1 r^2) (x/z, y/z) with r^2 = (x^2 + y^2)/z^2
// (Brown 1971, Close-range camera calibration, Photogrammetric Engineering
// 37(8)). The first camera of a homography H = K [r1 r2 t] follows Zhang
// (2000), A flexible new technique for camera calibration, IEEE PAMI 22(11);
// the fit is that of Levenberg (1944) and Marquardt (1963).
//
// Limits: square pixels, the optical axis through the middle of the picture (a
// cropped picture breaks that), one term of distortion.
package lens

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Camera takes points of the world to pixels.
type Camera struct {
	R      [3]vec.V3 // rows: right, down and forward of the camera in the world
	T      vec.V3
	F      float64 // focal length, px
	C      vec.V2  // principal point, px
	Radial float64 // k1
}

// Centre returns the camera's place in the world.
func (c *Camera) Centre() vec.V3 {
	return c.R[0].Mul(-c.T.X).Add(c.R[1].Mul(-c.T.Y)).Add(c.R[2].Mul(-c.T.Z))
}

// Tilt returns the angle between the optical axis and the plumb line, rad.
func (c *Camera) Tilt() float64 { return math.Acos(min(1, max(-1, -c.R[2].Z))) }

// See returns the pixel of a point; ok is false where it lies behind the
// camera.
func (c *Camera) See(p vec.V3) (q vec.V2, ok bool) {
	z := c.R[2].Dot(p) + c.T.Z
	if !(z > 1e-9) {
		return q, false
	}
	x, y := (c.R[0].Dot(p)+c.T.X)/z, (c.R[1].Dot(p)+c.T.Y)/z
	k := c.F * (1 + c.Radial*(x*x+y*y))
	return vec.V2{X: c.C.X + k*x, Y: c.C.Y + k*y}, true
}

// Ray returns the direction in the world that the middle of pixel q looks in.
// The distortion is undone by Newton's method on r_d = r (1 + k1 r^2).
func (c *Camera) Ray(q vec.V2) vec.V3 {
	x, y := (q.X-c.C.X)/c.F, (q.Y-c.C.Y)/c.F
	if rd := math.Hypot(x, y); c.Radial != 0 && rd > 0 {
		r := rd
		for range 8 {
			g := 1 + 3*c.Radial*r*r
			if g < 0.1 { // beyond the turn of a barrel: no point looks there
				break
			}
			r -= (r*(1+c.Radial*r*r) - rd) / g
		}
		x, y = x*r/rd, y*r/rd
	}
	return c.R[0].Mul(x).Add(c.R[1].Mul(y)).Add(c.R[2])
}

// On returns the point of height z that pixel q shows; ok is false where its
// ray does not come down on that plane.
func (c *Camera) On(q vec.V2, z float64) (p vec.V2, ok bool) {
	d, o := c.Ray(q), c.Centre()
	if !(d.Z < -1e-9) || !(o.Z > z) {
		return p, false
	}
	t := (z - o.Z) / d.Z
	return vec.V2{X: o.X + t*d.X, Y: o.Y + t*d.Y}, true
}

// Scale returns the pixels that one millimetre of the plane of height z takes
// at p, in the direction in which it takes the fewest.
func (c *Camera) Scale(p vec.V2, z float64) float64 {
	at := func(x, y float64) vec.V2 {
		q, _ := c.See(vec.V3{X: p.X + x, Y: p.Y + y, Z: z})
		return q
	}
	a, b := at(0.5, 0).Sub(at(-0.5, 0)), at(0, 0.5).Sub(at(0, -0.5))
	// The smaller singular value of [a b].
	s, d := a.Dot(a)+b.Dot(b), a.Cross(b)
	return math.Sqrt(max(0, (s-math.Sqrt(max(0, s*s-4*d*d)))/2))
}

// turned returns the camera turned by the small rotation w (its own axes) and
// moved, with factors on the focal length.
func (c *Camera) turned(s *[8]float64) Camera {
	w := vec.V3{X: s[0], Y: s[1], Z: s[2]}
	n := *c
	if a := w.Len(); a > 0 {
		k := w.Mul(1 / a)
		sin, cos := math.Sincos(a)
		col := func(v vec.V3) vec.V3 { // Rodrigues
			return v.Mul(cos).Add(k.Cross(v).Mul(sin)).Add(k.Mul(k.Dot(v) * (1 - cos)))
		}
		// The columns of R are the world's axes seen by the camera.
		x := col(vec.V3{X: c.R[0].X, Y: c.R[1].X, Z: c.R[2].X})
		y := col(vec.V3{X: c.R[0].Y, Y: c.R[1].Y, Z: c.R[2].Y})
		z := col(vec.V3{X: c.R[0].Z, Y: c.R[1].Z, Z: c.R[2].Z})
		n.R = [3]vec.V3{{X: x.X, Y: y.X, Z: z.X}, {X: x.Y, Y: y.Y, Z: z.Y}, {X: x.Z, Y: y.Z, Z: z.Z}}
	}
	n.T = c.T.Add(vec.V3{X: s[3], Y: s[4], Z: s[5]})
	n.F = c.F * math.Exp(s[6])
	n.Radial = c.Radial + s[7]
	return n
}
