// Package vec holds points, boxes and right-handed frames in three dimensions.
// Lengths carry whatever unit the caller uses; inside pourwright that is
// millimetres for geometry.
package vec

import "math"

// V3 is a point or a vector.
type V3 struct{ X, Y, Z float64 }

// V2 is a point or a vector in a plane.
type V2 struct{ X, Y float64 }

func (a V3) Add(b V3) V3         { return V3{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a V3) Sub(b V3) V3         { return V3{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a V3) Mul(s float64) V3    { return V3{a.X * s, a.Y * s, a.Z * s} }
func (a V3) Dot(b V3) float64    { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a V3) Len() float64        { return math.Sqrt(a.Dot(a)) }
func (a V3) Dist(b V3) float64   { return a.Sub(b).Len() }
func (a V3) Min(b V3) V3         { return V3{math.Min(a.X, b.X), math.Min(a.Y, b.Y), math.Min(a.Z, b.Z)} }
func (a V3) Max(b V3) V3         { return V3{math.Max(a.X, b.X), math.Max(a.Y, b.Y), math.Max(a.Z, b.Z)} }
func (a V3) Array() [3]float64   { return [3]float64{a.X, a.Y, a.Z} }
func FromArray(a [3]float64) V3  { return V3{a[0], a[1], a[2]} }
func (a V3) At(axis int) float64 { return a.Array()[axis] }
func (a V3) Lerp(b V3, t float64) V3 {
	return V3{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y), a.Z + t*(b.Z-a.Z)}
}

// Cross returns the right-handed vector product a x b.
func (a V3) Cross(b V3) V3 {
	return V3{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// Unit returns a scaled to length 1, and a itself where its length is zero.
func (a V3) Unit() V3 {
	l := a.Len()
	if l == 0 {
		return a
	}
	return a.Mul(1 / l)
}

// Finite reports whether no component is NaN or infinite.
func (a V3) Finite() bool {
	s := a.X + a.Y + a.Z
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}

func (a V2) Add(b V2) V2        { return V2{a.X + b.X, a.Y + b.Y} }
func (a V2) Sub(b V2) V2        { return V2{a.X - b.X, a.Y - b.Y} }
func (a V2) Mul(s float64) V2   { return V2{a.X * s, a.Y * s} }
func (a V2) Dot(b V2) float64   { return a.X*b.X + a.Y*b.Y }
func (a V2) Cross(b V2) float64 { return a.X*b.Y - a.Y*b.X }
func (a V2) Len() float64       { return math.Hypot(a.X, a.Y) }

// Box is an axis-aligned box. The zero Box is a point at the origin; start
// from Empty when growing one.
type Box struct{ Min, Max V3 }

// Empty returns a box that holds nothing and grows by the first Add.
func Empty() Box {
	i := math.Inf(1)
	return Box{V3{i, i, i}, V3{-i, -i, -i}}
}

// Add returns the smallest box holding b and p.
func (b Box) Add(p V3) Box { return Box{b.Min.Min(p), b.Max.Max(p)} }

// Join returns the smallest box holding both boxes.
func (b Box) Join(c Box) Box { return Box{b.Min.Min(c.Min), b.Max.Max(c.Max)} }

// Size returns the edge lengths of the box.
func (b Box) Size() V3 { return b.Max.Sub(b.Min) }

// Centre returns the middle of the box.
func (b Box) Centre() V3 { return b.Min.Add(b.Max).Mul(0.5) }

// Grow returns the box widened by d on all six sides.
func (b Box) Grow(d float64) Box {
	e := V3{d, d, d}
	return Box{b.Min.Sub(e), b.Max.Add(e)}
}

// Longest returns the longest edge.
func (b Box) Longest() float64 {
	s := b.Size()
	return math.Max(s.X, math.Max(s.Y, s.Z))
}

// Frame is a right-handed orthonormal frame given in an outer frame.
type Frame struct{ Origin, X, Y, Z V3 }

// World is the identity frame.
func World() Frame { return Frame{X: V3{1, 0, 0}, Y: V3{0, 1, 0}, Z: V3{0, 0, 1}} }

// To takes a point of the outer frame into f.
func (f Frame) To(p V3) V3 {
	d := p.Sub(f.Origin)
	return V3{d.Dot(f.X), d.Dot(f.Y), d.Dot(f.Z)}
}

// From takes a point of f back into the outer frame.
func (f Frame) From(q V3) V3 {
	return f.Origin.Add(f.FromDir(q))
}

// ToDir and FromDir do the same for directions.
func (f Frame) ToDir(d V3) V3 { return V3{d.Dot(f.X), d.Dot(f.Y), d.Dot(f.Z)} }

// FromDir takes a direction of f back into the outer frame.
func (f Frame) FromDir(q V3) V3 {
	return f.X.Mul(q.X).Add(f.Y.Mul(q.Y)).Add(f.Z.Mul(q.Z))
}

// AlongZ returns the frame at the origin whose z is the unit vector of d. The
// other two axes depend on d alone, so the same d gives the same frame.
func AlongZ(d V3) Frame {
	z := d.Unit()
	a := V3{0, 0, 1}
	if math.Abs(z.Z) >= 0.9 {
		a = V3{1, 0, 0}
	}
	x := a.Cross(z).Unit()
	return Frame{X: x, Y: z.Cross(x), Z: z}
}

// Standing returns the frame at the origin with z = pull and y = up, both made
// unit and up made square to pull.
func Standing(pull, up V3) Frame {
	z := pull.Unit()
	y := up.Sub(z.Mul(up.Dot(z))).Unit()
	return Frame{X: y.Cross(z), Y: y, Z: z}
}
