package cells

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Part is the open part of a cell: a box cut by one half space. It is held as
// tetrahedra about a corner that lies on the wall, where one is cut, so that a
// second plane needs nothing but the closed form of a cut tetrahedron: each share
// is a sum of positive terms, and no case is special. At most 10 corners and 9
// tetrahedra. Coordinates are those of the unit cell. A Part is not changed
// after it is made.
type Part struct {
	corner [10]vec.V3
	share  [12]float64 // of the tetrahedra in the volume
	tet    [12][4]uint8
	n, m   uint8 // corners, tetrahedra
	volume float64
	lo, hi vec.V3 // of the corners
}

// loops are the corners of the faces of a box, in order round the face; bit d of
// a corner says that it lies at the high side along d.
var loops = [6][4]uint8{{0, 2, 6, 4}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 3, 7, 6}, {0, 1, 3, 2}, {4, 5, 7, 6}}

// rims are the edges of a box: low corner and direction.
var rims = func() (r [12]struct{ c, d uint8 }) {
	k := 0
	for d := range uint8(3) {
		for c := range uint8(8) {
			if c>>d&1 == 0 {
				r[k] = struct{ c, d uint8 }{c, d}
				k++
			}
		}
	}
	return r
}()

// rimOf names the edge between two corners of a box.
var rimOf = func() (r [8][8]uint8) {
	for k, e := range rims {
		r[e.c][e.c|1<<e.d], r[e.c|1<<e.d][e.c] = uint8(k), uint8(k)
	}
	return r
}()

// PartOf returns the unit cube where normal . x <= offset; all of it for a normal
// without length.
func PartOf(normal vec.V3, offset float64) Part {
	return PartIn(vec.V3{}, vec.V3{X: 1, Y: 1, Z: 1}, normal, offset)
}

// PartIn returns the part of the box lo .. hi where normal . x <= offset.
func PartIn(lo, hi, normal vec.V3, offset float64) Part {
	var p Part
	var d [8]float64
	var at [8]vec.V3
	inside := 0
	for c := range 8 {
		x := lo
		if c&1 != 0 {
			x.X = hi.X
		}
		if c&2 != 0 {
			x.Y = hi.Y
		}
		if c&4 != 0 {
			x.Z = hi.Z
		}
		at[c], d[c] = x, offset-normal.Dot(x)
		if normal == (vec.V3{}) {
			d[c] = 1
		}
		if d[c] >= 0 {
			inside |= 1 << c
		}
	}
	if inside == 0 {
		return p
	}
	var name [20]uint8 // of corners and, from 8 on, of edges
	for c := range 8 {
		if inside>>c&1 != 0 {
			name[c] = p.n
			p.corner[p.n] = at[c]
			p.n++
		}
	}
	root := uint8(0)
	if inside != 255 {
		root = p.n
		for k, e := range rims {
			f := e.c | 1<<e.d
			if (inside>>e.c^inside>>f)&1 == 0 {
				continue
			}
			x, t := at[e.c], d[e.c]/(d[e.c]-d[f])
			switch e.d {
			case 0:
				x.X += t * (hi.X - lo.X)
			case 1:
				x.Y += t * (hi.Y - lo.Y)
			default:
				x.Z += t * (hi.Z - lo.Z)
			}
			name[8+k] = p.n
			p.corner[p.n] = x
			p.n++
		}
	}
	p.hull()
	for f := range loops {
		p.fan(&loops[f], inside, &name, root)
	}
	if p.volume > 0 {
		inv := 1 / p.volume
		for k := range p.m {
			p.share[k] *= inv
		}
	}
	return p
}

func (p *Part) hull() {
	p.lo, p.hi = p.corner[0], p.corner[0]
	for _, x := range p.corner[1:p.n] {
		p.lo = vec.V3{X: min(p.lo.X, x.X), Y: min(p.lo.Y, x.Y), Z: min(p.lo.Z, x.Z)}
		p.hi = vec.V3{X: max(p.hi.X, x.X), Y: max(p.hi.Y, x.Y), Z: max(p.hi.Z, x.Z)}
	}
}

// fan adds the tetrahedra over one face of the box; those of the cut itself have
// no volume about a corner in it.
func (p *Part) fan(loop *[4]uint8, inside int, name *[20]uint8, root uint8) {
	var poly [6]uint8
	n := 0
	for i, c := range loop {
		e := loop[(i+1)&3]
		in := inside>>c&1 != 0
		if in {
			poly[n] = name[c]
			n++
		}
		if in != (inside>>e&1 != 0) {
			poly[n] = name[8+rimOf[c][e]]
			n++
		}
	}
	for i := range n {
		if poly[i] == root {
			return
		}
	}
	o := p.corner[root]
	for i := 2; i < n; i++ {
		a, b, c := p.corner[poly[0]].Sub(o), p.corner[poly[i-1]].Sub(o), p.corner[poly[i]].Sub(o)
		if v := math.Abs(a.Dot(b.Cross(c))) / 6; v > 0 {
			p.tet[p.m], p.share[p.m] = [4]uint8{root, poly[0], poly[i-1], poly[i]}, v
			p.volume += v
			p.m++
		}
	}
}

// Volume returns the part's volume; 1 is that of the cell.
func (p *Part) Volume() float64 { return p.volume }

// depths returns how far each corner lies under the plane, times |n|, and how many
// do.
func (p *Part) depths(n vec.V3, a float64, d *[10]float64) int {
	k := 0
	for i := range p.n {
		x := &p.corner[i]
		d[i] = a - (n.X*x.X + n.Y*x.Y + n.Z*x.Z)
		if d[i] > least {
			k++
		}
	}
	return k
}

// least is the depth from which a corner counts as under a plane: above what
// could vanish in a product of three.
const least = 1e-60

// Under returns the share of the part where n . x <= a, exact but for rounding.
// A part without volume is taken as the whole cube.
func (p *Part) Under(n vec.V3, a float64) float64 {
	if p.m == 0 {
		return CubeUnder(n, a)
	}
	var d [10]float64
	switch k := p.depths(n, a, &d); {
	case k == 0:
		return 0
	case k == int(p.n):
		return 1
	}
	s := 0.0
	for k := range p.m {
		t := &p.tet[k]
		s += p.share[k] * wet(d[t[0]%10], d[t[1]%10], d[t[2]%10], d[t[3]%10])
	}
	return min(s, 1)
}

// wet returns the share of a tetrahedron under a plane from the depths of its
// corners: with r, s dry and p, q wet,
//
//	p alone  d_p^3 / ((d_p - d_q)(d_p - d_r)(d_p - d_s))
//	p and q  t_pr t_ps + t_qr (1 - t_pr) t_ps + t_qr t_qs (1 - t_ps),  t_pr = d_p / (d_p - d_r)
//
// (the wedge as three tetrahedra).
func wet(a, b, c, d float64) float64 {
	// The wet ones first.
	if a < b {
		a, b = b, a
	}
	if c < d {
		c, d = d, c
	}
	if a < c {
		a, c = c, a
	}
	if b < d {
		b, d = d, b
	}
	if b < c {
		b, c = c, b
	}
	switch {
	case a <= least:
		return 0
	case d > least:
		return 1
	case b <= least:
		return a * a * a / ((a - b) * (a - c) * (a - d))
	case c > least:
		return 1 - d*d*d/((d-a)*(d-b)*(d-c))
	}
	i, j := 1/((a-c)*(a-d)), 1/((b-c)*(b-d))
	ac, ad := a*(a-d)*i, a*(a-c)*i
	bc, bd := b*(b-d)*j, b*(b-c)*j
	return ac*ad + bc*((1-ac)*ad+bd*(1-ad))
}

// Cut returns the share of the part where n . x <= a, and area and centroid of
// the polygon that the plane cuts out of the part; the volume under the plane
// grows with a by area / |n|. Where the plane only touches, the area is 0 or, at
// the top of the part, that of the face in it, and the centre the touched corners' mean.
func (p *Part) Cut(n vec.V3, a float64) (share, area float64, centre vec.V3) {
	if p.m == 0 {
		return CubeCut(n, a)
	}
	var d [10]float64
	under := p.depths(n, a, &d)
	var sum vec.V3
	for k := range p.m {
		t := &p.tet[k]
		if under > 0 {
			x := p.section(t, &d)
			area += x.area
			sum = sum.Add(x.moment)
		}
		share += p.share[k] * wet(d[t[0]], d[t[1]], d[t[2]], d[t[3]])
	}
	share = min(share, 1)
	if area > 0 {
		centre = sum.Mul(1 / area)
		return share, area, centre
	}
	// Nothing is cut: the mean of the corners nearest the plane.
	near, count := math.Inf(1), 0.0
	for i := range p.n {
		near = min(near, math.Abs(d[i]))
	}
	for i := range p.n {
		if math.Abs(d[i]) <= near+1e-14*n.Len() {
			centre = centre.Add(p.corner[i])
			count++
		}
	}
	if count > 0 {
		centre = centre.Mul(1 / count)
	}
	return share, 0, centre
}

type section struct {
	area   float64
	moment vec.V3
}

// section is the polygon in one tetrahedron.
func (p *Part) section(t *[4]uint8, d *[10]float64) (s section) {
	var up, down [4]uint8
	u, o := 0, 0
	for _, c := range t {
		if d[c%10] > least {
			up[u] = c
			u++
		} else {
			down[o] = c
			o++
		}
	}
	switch u {
	case 1:
		s.triangle(p.cross(d, up[0], down[0]), p.cross(d, up[0], down[1]), p.cross(d, up[0], down[2]))
	case 2:
		a, c := p.cross(d, up[0], down[0]), p.cross(d, up[1], down[1])
		s.triangle(a, p.cross(d, up[0], down[1]), c)
		s.triangle(a, c, p.cross(d, up[1], down[0]))
	case 3:
		s.triangle(p.cross(d, up[0], down[0]), p.cross(d, up[1], down[0]), p.cross(d, up[2], down[0]))
	}
	return s
}

// cross is where the plane meets the edge from a corner under it to one above.
func (p *Part) cross(d *[10]float64, i, j uint8) vec.V3 {
	i, j = i%10, j%10
	a, b, t := &p.corner[i], &p.corner[j], d[i]/(d[i]-d[j])
	return vec.V3{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y), Z: a.Z + t*(b.Z-a.Z)}
}

func (s *section) triangle(a, b, c vec.V3) {
	u, v := vec.V3{X: b.X - a.X, Y: b.Y - a.Y, Z: b.Z - a.Z}, vec.V3{X: c.X - a.X, Y: c.Y - a.Y, Z: c.Z - a.Z}
	x, y, z := u.Y*v.Z-u.Z*v.Y, u.Z*v.X-u.X*v.Z, u.X*v.Y-u.Y*v.X
	area := math.Sqrt(x*x+y*y+z*z) / 2
	third := area / 3
	s.area += area
	s.moment.X += third * (a.X + b.X + c.X)
	s.moment.Y += third * (a.Y + b.Y + c.Y)
	s.moment.Z += third * (a.Z + b.Z + c.Z)
}
