package sculpt

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Body is a mesh with the volume written down beside it, mm3.
type Body struct {
	Mesh   *mesh.Mesh
	Volume float64 // of the mesh, in closed form
	Ideal  float64 // of the smooth body that the mesh stands for
}

func must(m *mesh.Mesh, err error) *mesh.Mesh {
	if err != nil {
		panic(err) // the rings are fixed by this package
	}
	return m
}

func turnedBody(p []vec.V2, closed bool, n int, ideal float64) Body {
	return Body{Turned(p, closed, n), TurnedVolume(p, closed, n), ideal}
}

// arc returns points of the circle round (cx, cy) from angle t0 to t1, both
// included, in n steps.
func arc(cx, cy, r, t0, t1 float64, n int) []vec.V2 {
	p := make([]vec.V2, n+1)
	for i := range p {
		s, c := math.Sincos(t0 + (t1-t0)*float64(i)/float64(n))
		p[i] = vec.V2{X: cx + r*c, Y: cy + r*s}
	}
	return p
}

func half(r float64, n int) []vec.V2 {
	p := arc(0, 0, r, -math.Pi/2, math.Pi/2, n/2)
	p[0], p[len(p)-1] = vec.V2{Y: -r}, vec.V2{Y: r}
	return p
}

// Ball returns the ball of radius r round the origin, n sectors. Ideal 4/3 pi r^3.
func Ball(r float64, n int) Body {
	return turnedBody(half(r, n), false, n, 4*math.Pi/3*r*r*r)
}

// HollowBall returns a ball with a closed void of radius ri at its centre.
// Ideal 4/3 pi (ro^3 - ri^3).
func HollowBall(ro, ri float64, n int) Body {
	o, i := Ball(ro, n), Ball(ri, n)
	for k, t := range i.Mesh.F {
		i.Mesh.F[k] = [3]int32{t[0], t[2], t[1]}
	}
	o.Mesh.Append(i.Mesh)
	return Body{o.Mesh, o.Volume - i.Volume, o.Ideal - i.Ideal}
}

// Torus returns the torus of tube radius r on a circle of radius R in the x-y
// plane; n sectors round z, m round the tube. Ideal 2 pi^2 R r^2.
func Torus(R, r float64, n, m int) Body {
	p := arc(R, 0, r, 0, 2*math.Pi, m)[:m]
	return turnedBody(p, true, n, 2*math.Pi*math.Pi*R*r*r)
}

// Cone returns the cone with base radius r at z = 0 and tip at z = h. Ideal
// pi r^2 h/3.
func Cone(r, h float64, n int) Body {
	return turnedBody([]vec.V2{{}, {X: r}, {Y: h}}, false, n, math.Pi*r*r*h/3)
}

// Cylinder returns the cylinder of radius r from z = 0 to h. Ideal pi r^2 h.
func Cylinder(r, h float64, n int) Body {
	return turnedBody([]vec.V2{{}, {X: r}, {X: r, Y: h}, {Y: h}}, false, n, math.Pi*r*r*h)
}

// Box returns the box from 0 to (x, y, z).
func Box(x, y, z float64) Body {
	return Body{must(Raised(0, z, Rect(0, 0, x, y))), x * y * z, x * y * z}
}

// Cup returns a round cup, mouth along +z: outer radius ro, bore ri, height h,
// floor f. Ideal pi (ro^2 h - ri^2 (h - f)).
func Cup(ro, ri, h, f float64, n int) Body {
	p := []vec.V2{{}, {X: ro}, {X: ro, Y: h}, {X: ri, Y: h}, {X: ri, Y: f}, {Y: f}}
	return turnedBody(p, false, n, math.Pi*(ro*ro*h-ri*ri*(h-f)))
}

// Hanging returns a round block of radius r and height h from z = 0 up, with a
// pin of the given diameter and length hanging below it. In the mould the pin
// is a blind bore that hangs below its only entry when +z is up. Ideal
// pi (r^2 h + d^2/4 l).
func Hanging(r, h, bore, length float64, n int) Body {
	b := bore / 2
	p := []vec.V2{{Y: -length}, {X: b, Y: -length}, {X: b}, {X: r}, {X: r, Y: h}, {Y: h}}
	return turnedBody(p, false, n, math.Pi*(r*r*h+b*b*length))
}

// upright raises a polygon of the x-z plane over y = 0 .. depth.
func upright(r Ring, depth float64) Body {
	m := must(Raised(-depth, 0, r))
	f := vec.Frame{X: vec.V3{X: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{Y: -1}}
	v := math.Abs(r.Area()) * depth
	return Body{m.OutOf(f), v, v}
}

// U returns a U open along +z: two posts of width w with a gap g between them
// on a yoke of height w; the left post stands a, the right b above the yoke's
// top; depth along y. Volume depth ((2 w + g) w + w (a + b)).
func U(w, g, a, b, depth float64) Body {
	return upright(Ring{{}, {X: 2*w + g}, {X: 2*w + g, Y: w + b}, {X: w + g, Y: w + b}, {X: w + g, Y: w}, {X: w, Y: w}, {X: w, Y: w + a}, {Y: w + a}}, depth)
}

// Towers returns a box base of length l, depth d and height t with two square
// towers of side s and heights a and b that stand m in from its two ends and
// from both long sides (d = s + 2 m). Volume l d t + s^2 (a + b).
func Towers(l, t, s, m, a, b float64) Body {
	d := s + 2*m
	left := Rect(m, m, m+s, m+s)
	right := Rect(l-m-s, m, l-m, m+s)
	r := &mesh.Mesh{}
	put := func(q Ring, z float64) int32 {
		n := int32(len(r.V))
		for _, p := range q {
			r.V = append(r.V, vec.V3{X: p.X, Y: p.Y, Z: z})
		}
		return n
	}
	quad := func(a, b, c, d int32) { r.F = append(r.F, [3]int32{a, b, c}, [3]int32{a, c, d}) }
	wall := func(lo, hi int32) {
		for i := range int32(4) {
			j := (i + 1) % 4
			quad(lo+i, lo+j, hi+j, hi+i)
		}
	}
	base := Rect(0, 0, l, d)
	b0, b1 := put(base, 0), put(base, t)
	l0, r0 := put(left, t), put(right, t)
	l1, r1 := put(left, t+a), put(right, t+b)
	quad(b0+3, b0+2, b0+1, b0)
	wall(b0, b1)
	wall(l0, l1)
	wall(r0, r1)
	quad(l1, l1+1, l1+2, l1+3)
	quad(r1, r1+1, r1+2, r1+3)
	tri, err := fill(base, left, right)
	if err != nil {
		panic(err) // the rings are fixed above
	}
	for _, q := range tri {
		r.F = append(r.F, [3]int32{q[0] + b1, q[1] + b1, q[2] + b1})
	}
	v := l*d*t + s*s*(a+b)
	return Body{r, v, v}
}

// Links returns a chain of rings, each a torus, alternately flat in the x-y
// and in the x-z plane, every one passing through the next. Ideal
// count 2 pi^2 R r^2; needs R > 3 r.
func Links(R, r float64, count, n, m int) Body {
	out := Body{Mesh: &mesh.Mesh{}}
	for i := range count {
		b := Torus(R, r, n, m)
		f := vec.World()
		if i%2 == 1 {
			f = vec.Frame{X: f.X, Y: f.Z, Z: f.Y.Mul(-1)}
		}
		f.Origin.X = float64(i) * (2*R - 2.5*r)
		out.Mesh.Append(b.Mesh.OutOf(f))
		out.Volume += b.Volume
		out.Ideal += b.Ideal
	}
	return out
}

// Pierced returns a plate l x w x t lying on z = 0 with a row of count round
// holes of diameter d along its middle. Ideal t (l w - count pi d^2/4).
func Pierced(l, w, t, d float64, count, n int) Body {
	holes := make([]Ring, count)
	hole := Oval(d/2, d/2, n)
	for i := range holes {
		holes[i] = hole.Move(vec.V2{X: l * (float64(i) + 0.5) / float64(count), Y: w / 2})
	}
	k := float64(count)
	return Body{must(Raised(0, t, Rect(0, 0, l, w), holes...)), t * (l*w - k*hole.Area()), t * (l*w - k*math.Pi*d*d/4)}
}
