// Package standin makes a plain body in the place of a master that is known by
// its measures alone: of the same box and the same volume, and of its kind where
// that is named. A mould is laid out round it; it says nothing of the master's
// own shape.
//
// Main function: Body.
//
// Unit: mm. The body fills the box from 0 to Size.
//
// Forms: a superellipsoid |x/a|^p + |y/b|^p + |z/c|^p = 1 (Barr, IEEE Computer
// Graphics and Applications 1 (1981) 11-23), a frustum, a ring of superelliptic
// section, and, where less than three tenths of the box are filled, three round
// limbs that cross. One number of each form is found so that the volume of the
// mesh is the one wanted.
package standin

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// Form is what is known.
type Form struct {
	Size   vec.V3  // of the box, mm
	Volume float64 // mm3
	Kind   string  // bar plate ring disc cone figure; empty is none
	Axis   int     // 0, 1, 2: that of a ring or a cone; all else lies on its least side
	Bore   float64 // of a ring, mm; 0 is not known
	Round  bool    // the outline of a cone or of a piece with a flat back is round
	Flat   bool    // the back is flat, on the least side of the box
}

const (
	n      = 24   // quads along an edge of the cube that is blown up
	around = 96   // corners of a circle
	solid  = 0.30 // share of the box below which three limbs stand in
	blunt  = 64.0 // exponent that counts as a box
	near   = 1e-6 // share of the volume that is let off
)

// Body returns a closed body in the box from 0 to Size with the volume wanted, and
// the name of its form: superellipsoid, frustum, ring or limbs. The volume is met
// to 1e-6, by limbs and by what comes near the box to a few percent. What cannot
// be made (a box with next to nothing in it) is an error that says so.
func Body(f Form) (*mesh.Mesh, string, error) {
	l := f.Size.Array()
	box := l[0] * l[1] * l[2]
	if !(box > 0) || !(f.Volume > 0) || f.Volume > box*(1+1e-9) || math.IsInf(box, 0) {
		return nil, "", fault.New(fault.Internal, "stand-in", "", "a volume of %g mm3 in a box of %v", f.Volume, l)
	}
	share := f.Volume / box
	switch {
	case f.Kind == "ring" && f.Bore > 0:
		return f.ring(), "ring", nil
	case f.Kind == "cone" && share < 0.95*f.outline() && share > 0.97*f.outline()/3:
		return f.frustum(), "frustum", nil
	case share < solid:
		m, err := f.limbs()
		return m, "limbs", err
	}
	return f.egg(), "superellipsoid", nil
}

// turn takes a body round the z axis to the form's axis: x of it goes to the
// axis after, y to the one after that.
func (f Form) turn(m *mesh.Mesh) *mesh.Mesh {
	for i, p := range m.V {
		var q [3]float64
		q[(f.Axis+1)%3], q[(f.Axis+2)%3], q[f.Axis] = p.X, p.Y, p.Z
		m.V[i] = vec.FromArray(q)
	}
	return m
}

// half returns half the box along the axes across Axis, and the length along it.
func (f Form) half() (a, b, h float64) {
	l := f.Size.Array()
	return l[(f.Axis+1)%3] / 2, l[(f.Axis+2)%3] / 2, l[f.Axis]
}

// least is the axis along which the box is shortest, the last of equals.
func (f Form) least() int {
	l, k := f.Size.Array(), 0
	for i := range 3 {
		if l[i] <= l[k] {
			k = i
		}
	}
	return k
}

// find returns the body between lo and hi that has the volume, which grows with
// the number; the nearer end where it lies outside. By false position, the end that
// stays counted half (the Illinois rule: Dowell and Jarratt, BIT 11 (1971) 168).
func (f Form) find(lo, hi float64, body func(x float64) *mesh.Mesh) *mesh.Mesh {
	off := func(m *mesh.Mesh) float64 { return m.Volume()/f.Volume - 1 }
	a, b := body(lo), body(hi)
	fa, fb := off(a), off(b)
	switch {
	case fa > -near:
		return a
	case fb < near:
		return b
	}
	m := a
	stays := 0
	for range 60 {
		x := lo + (hi-lo)*fa/(fa-fb)
		m = body(x)
		switch d := off(m); {
		case math.Abs(d) < near || hi-lo < 1e-12*math.Abs(hi):
			return m
		case d < 0:
			if lo, fa = x, d; stays == -1 {
				fb /= 2
			}
			stays = -1
		default:
			if hi, fb = x, d; stays == 1 {
				fa /= 2
			}
			stays = 1
		}
	}
	return m
}

// egg is the superellipsoid, by an exponent between 1 and blunt. A disc, and a
// round piece with a flat back, keep their outline round.
func (f Form) egg() *mesh.Mesh {
	f.Axis = f.least()
	a, b, h := f.half()
	at := func(p float64) *mesh.Mesh {
		q := p
		if f.Kind == "disc" || f.Flat && f.Round {
			q = 2
		}
		return f.turn(blown(a, b, h, p, q, f.Flat))
	}
	// 1/p is halved, which the volume follows more evenly.
	return f.find(-1, -1/blunt, func(x float64) *mesh.Mesh { return at(-1 / x) })
}

// blown is a cube blown up to ((|x/a|^q + |y/b|^q)^(p/q) + |z/c|^p)^(1/p) = 1 in
// the box from 0 to (2 a, 2 b, h); of a flat one only the upper half, as high as
// the box.
func blown(a, b, h, p, q float64, flat bool) *mesh.Mesh {
	across := func(x, y float64) float64 { // the q norm, free of overflow
		k := max(math.Abs(x), math.Abs(y))
		if k == 0 {
			return 0
		}
		return k * math.Pow(math.Pow(math.Abs(x)/k, q)+math.Pow(math.Abs(y)/k, q), 1/q)
	}
	norm := func(x, y, z float64) float64 {
		r := across(x, y)
		k := max(r, math.Abs(z))
		return k * math.Pow(math.Pow(r/k, p)+math.Pow(math.Abs(z)/k, p), 1/p)
	}
	bottom, rows := -1.0, n
	if flat {
		bottom, rows = 0, n/2
	}
	place := func(i, j, k int) vec.V3 {
		x, y, z := 2*float64(i)/n-1, 2*float64(j)/n-1, bottom+2*float64(k)/n
		if flat && k == 0 {
			if r := max(math.Abs(x), math.Abs(y)); r > 0 {
				s := r / across(x, y)
				x, y = x*s, y*s
			}
			return vec.V3{X: a * (1 + x), Y: b * (1 + y)}
		}
		s := 1 / norm(x, y, z)
		x, y, z = x*s, y*s, z*s
		if flat {
			return vec.V3{X: a * (1 + x), Y: b * (1 + y), Z: h * z}
		}
		return vec.V3{X: a * (1 + x), Y: b * (1 + y), Z: h / 2 * (1 + z)}
	}
	m := &mesh.Mesh{}
	index := map[[3]int]int32{}
	at := func(c [3]int) int32 {
		v, ok := index[c]
		if !ok {
			v = int32(len(m.V))
			index[c] = v
			m.V = append(m.V, place(c[0], c[1], c[2]))
		}
		return v
	}
	top := [3]int{n, n, rows}
	for axis := range 3 {
		u, v := (axis+1)%3, (axis+2)%3
		for _, end := range [2]int{0, top[axis]} {
			for i := range top[u] {
				for j := range top[v] {
					corner := func(di, dj int) int32 {
						var c [3]int
						c[axis], c[u], c[v] = end, i+di, j+dj
						return at(c)
					}
					p, q, r, s := corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)
					if end == 0 {
						q, s = s, q
					}
					m.F = append(m.F, [3]int32{p, q, r}, [3]int32{p, r, s})
				}
			}
		}
	}
	return m
}

// ring has a superelliptic section of exponent 1 to blunt round an oval.
func (f Form) ring() *mesh.Mesh {
	a, b, h := f.half()
	w := max(min(a, b)-f.Bore/2, 1e-3*min(a, b))
	const m = 48
	at := func(p float64) *mesh.Mesh {
		r := &mesh.Mesh{}
		for i := range around {
			s, c := math.Sincos(2 * math.Pi * float64(i) / around)
			for j := range m {
				// even steps along the edge of a square, drawn in to the section
				u, v := onSquare(float64(j) / m)
				k := 1 / math.Pow(math.Pow(math.Abs(u), p)+math.Pow(math.Abs(v), p), 1/p)
				u, v = u*k, v*k
				r.V = append(r.V, vec.V3{X: a + c*(a-w/2+u*w/2), Y: b + s*(b-w/2+u*w/2), Z: h / 2 * (1 + v)})
			}
		}
		for i := range int32(around) {
			for j := range int32(m) {
				p, q := i*m+j, i*m+(j+1)%m
				s, t := (i+1)%around*m+j, (i+1)%around*m+(j+1)%m
				r.F = append(r.F, [3]int32{p, s, t}, [3]int32{p, t, q})
			}
		}
		return f.turn(r)
	}
	return f.find(-1, -1/blunt, func(x float64) *mesh.Mesh { return at(-1 / x) })
}

// onSquare goes round the square of half width 1, counter-clockwise from its
// lower right corner, t from 0 to 1.
func onSquare(t float64) (u, v float64) {
	s := 4 * t
	k := math.Floor(s)
	x := 2*(s-k) - 1
	switch int(k) {
	case 0:
		return 1, x
	case 1:
		return -x, 1
	case 2:
		return -1, -x
	}
	return x, -1
}

// outline is the share of its rectangle that a cone's outline takes up.
func (f Form) outline() float64 {
	if f.Round {
		return math.Pi / 4
	}
	return 1
}

// frustum stands on the box's foot; its top is found.
func (f Form) frustum() *mesh.Mesh {
	a, b, h := f.half()
	ring := func(k float64) sculpt.Ring {
		var r sculpt.Ring
		for i := range around {
			var u, v float64
			if f.Round {
				v, u = math.Sincos(2 * math.Pi * float64(i) / around)
			} else {
				u, v = onSquare((float64(i) + 0.5) / around)
			}
			r = append(r, vec.V2{X: a * (1 + k*u), Y: b * (1 + k*v)})
		}
		return r
	}
	at := func(k float64) *mesh.Mesh {
		m, err := sculpt.Lofted([]sculpt.Level{{Z: 0, Ring: ring(1)}, {Z: h, Ring: ring(k)}})
		if err != nil {
			panic(err) // the rings are convex
		}
		return f.turn(m)
	}
	return f.find(0.01, 1, at)
}

// limbs are three round limbs that cross in the middle of the box, each as long
// as the box is. In a box that is flat for their radius r two of them lie in its
// plane, pressed flat:
//
//	V = sum (2 pi r2 (L - r) + 4/3 pi r3) - 3 16/3 r3 + 8 (2 - sqrt 2) r3   of three
//	V = (sum of two - 16/3 r3) c/r                                          of two, c half the least length
//
// (two and three crossing cylinders of Steinmetz), from which r is found.
func (f Form) limbs() (*mesh.Mesh, error) {
	f.Axis = f.least()
	a, b, h := f.half()
	c := h / 2
	limb := func(L, r float64) float64 { return 2*math.Pi*r*r*(L-r) + 4*math.Pi/3*r*r*r }
	volume := func(r float64) float64 {
		two := limb(a, r) + limb(b, r) - 16./3*r*r*r
		if r > c {
			return two * c / r
		}
		return two + limb(c, r) - 32./3*r*r*r + 8*(2-math.Sqrt2)*r*r*r
	}
	lo, hi := 0.0, min(a, b)
	for range 60 {
		if r := (lo + hi) / 2; volume(r) < f.Volume {
			lo = r
		} else {
			hi = r
		}
	}
	r := (lo + hi) / 2
	cell := max(r/4, max(a, b, c)/110)
	if r < 2*cell {
		return nil, fault.New(fault.Input, "volume", "measure the lengths and the volume again; a piece as open as that is laid out from a mesh alone",
			"the piece fills %.2g %% of the box of its three lengths: too little for a plain body to stand in for it", 100*f.Volume/(f.Size.X*f.Size.Y*f.Size.Z))
	}
	high := max(c, r) // of the body before it is pressed flat
	mid := vec.V3{X: a, Y: b, Z: high}
	along := func(d vec.V3) sculpt.Field { return sculpt.Limb(mid.Sub(d), r, mid.Add(d), r) }
	g := sculpt.Union(along(vec.V3{X: a - r}), along(vec.V3{Y: b - r}))
	if c > r {
		g = sculpt.Union(g, along(vec.V3{Z: c - r}))
	}
	edge := vec.V3{X: 2 * cell, Y: 2 * cell, Z: 2 * cell}
	m, err := sculpt.Contour(g, vec.Box{Min: edge.Mul(-1), Max: mid.Mul(2).Add(edge)}, cell)
	if err != nil {
		return nil, err
	}
	for i := range m.V {
		m.V[i].Z *= c / high
	}
	return f.turn(m), nil
}
