package followboard

import (
	"fmt"
	"math"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/block"
	"pourwright/internal/shape/mesh"
)

// Former is one printable body that keeps a channel free of rubber. A round
// one whose axis is level is printed as two halves on their flats. Where the
// parting is flat one half lies on the board while half 1 is poured and the
// other joins it for half 2; elsewhere the halves are glued and lie sunk in the
// board. Where the axis climbs but keeps to one upright plane the halves meet in
// that plane; any other is printed whole, on its wider end where it is straight.
type Former struct {
	Name   string
	Cases  []int        // numbers of the channels it serves
	Mesh   *mesh.Mesh   // in the block frame
	Sunk   *mesh.Mesh   // what the board must make room for; nil where it lies on top
	Half   int          // the half whose rubber it lies in; 0 where in both
	Gap    float64      // largest distance of its flat from the parting surface
	pieces []*mesh.Mesh // as printed, underside at z = 0
}

// flatness is how far the flat of a half former may stand off the parting
// surface, mm; a smear of clay closes that.
const flatness = 0.3

// apart is the least distance between bodies on the print bed, mm.
const apart = 3.0

// Formers makes the formers of the channels, trimmed at the block's box. height
// is the parting surface.
func Formers(channels []block.Channel, box vec.Box, height func(x, y float64) float64) []Former {
	var list []Former
	for i, c := range channels {
		c.Rings = trim(c.Rings, box)
		if len(c.Rings) < 2 {
			continue
		}
		f := Former{Name: fmt.Sprintf("%s %d", c.Name, i+1), Cases: []int{i}, Half: map[block.Lie]int{block.InHalf1: 1, block.InHalf2: 2}[c.Lie]}
		f.Mesh = c.Mesh()
		f.Gap = gap(c.Rings, height)
		up, down := c, c
		up.Lie, down.Lie = block.InHalf1, block.InHalf2
		switch level := levels(c.Rings); {
		case c.Lie == block.InHalf1:
			f.pieces = []*mesh.Mesh{laid(f.Mesh, c.Rings, false)}
		case c.Lie == block.InHalf2:
			f.Sunk = f.Mesh
			f.pieces = []*mesh.Mesh{laid(f.Mesh, c.Rings, true)}
		case level:
			f.pieces = []*mesh.Mesh{laid(up.Mesh(), c.Rings, false), laid(down.Mesh(), c.Rings, true)}
			if f.Gap > flatness {
				f.Sunk = f.Mesh
			}
		case upright(c.Rings):
			f.Sunk = f.Mesh
			f.pieces = []*mesh.Mesh{side(f.Mesh, c.Rings, 0), side(f.Mesh, c.Rings, 1)}
		default:
			f.Sunk = f.Mesh
			f.pieces = []*mesh.Mesh{stood(f.Mesh, c.Rings)}
		}
		list = append(list, f)
	}
	return list
}

// levels reports whether the axis lies level.
func levels(rings []block.Ring) bool {
	for _, r := range rings {
		if math.Abs(r.P.Z-rings[0].P.Z) > 1e-6*(1+math.Abs(r.P.Z)) {
			return false
		}
	}
	return true
}

// upright reports whether the axis keeps to one upright plane and always runs
// the same way in it.
func upright(rings []block.Ring) bool {
	across := rings[len(rings)-1].P.Sub(rings[0].P).Cross(vec.V3{Z: 1}).Unit()
	if across == (vec.V3{}) {
		return false
	}
	for i, r := range rings {
		if math.Abs(r.P.Sub(rings[0].P).Dot(across)) > 1e-6*(1+r.P.Len()) {
			return false
		}
		if i > 0 && r.P.Sub(rings[i-1].P).Cross(vec.V3{Z: 1}).Dot(across) <= 0 {
			return false
		}
	}
	return true
}

// side returns the half of a round former to one side of its upright plane,
// lying on that plane. The rings of block.Channel.Mesh have block.Sides corners
// each; corners a quarter and three quarters round stand in the plane.
func side(m *mesh.Mesh, rings []block.Ring, which int) *mesh.Mesh {
	const n, k = block.Sides, block.Sides/2 + 1
	from := n / 4
	if which == 1 {
		from = 3 * n / 4
	}
	r := &mesh.Mesh{}
	for i := range rings {
		for s := range k {
			r.V = append(r.V, m.V[i*n+(from+s)%n])
		}
	}
	at := func(i, s int) int32 { return int32(i*k + s%k) }
	last := len(rings) - 1
	for i := range last {
		for s := range k {
			a, b, c, d := at(i, s), at(i+1, s), at(i+1, s+1), at(i, s+1)
			r.F = append(r.F, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	for s := 1; s+1 < k; s++ {
		r.F = append(r.F, [3]int32{at(0, 0), at(0, s), at(0, s+1)}, [3]int32{at(last, 0), at(last, s+1), at(last, s)})
	}
	f := vec.Frame{X: rings[last].P.Sub(rings[0].P).Unit()}
	f.Z = f.X.Cross(vec.V3{Z: 1}).Unit()
	if which == 0 { // a quarter to three quarters: the side away from the first corner
		f.Z = f.Z.Mul(-1)
	}
	f.Y = f.Z.Cross(f.X)
	return set(r.Into(f))
}

// set puts a body on z = 0 with its least x and y at 0.
func set(m *mesh.Mesh) *mesh.Mesh {
	b := m.Box()
	for i := range m.V {
		m.V[i] = m.V[i].Sub(b.Min)
	}
	return m
}

// trim ends a chain of rings at the box's sides across the parting, where it
// runs out of the block.
func trim(rings []block.Ring, box vec.Box) []block.Ring {
	in := func(p vec.V3) float64 { // least distance inside the four sides
		return min(p.X-box.Min.X, box.Max.X-p.X, p.Y-box.Min.Y, box.Max.Y-p.Y)
	}
	var out []block.Ring
	for i, r := range rings {
		d := in(r.P)
		if i > 0 {
			if e := in(rings[i-1].P); (d < 0) != (e < 0) && d != e {
				q, t := rings[i-1], e/(e-d)
				if t > 1e-9 && t < 1-1e-9 {
					out = append(out, block.Ring{P: q.P.Lerp(r.P, t), A: q.A + t*(r.A-q.A), B: q.B + t*(r.B-q.B)})
				}
			}
		}
		if d >= 0 {
			out = append(out, r)
		}
	}
	return out
}

// gap returns how far the parting surface leaves the level of the axis under
// the width of the channel.
func gap(rings []block.Ring, height func(x, y float64) float64) float64 {
	g := 0.0
	for i := 1; i < len(rings); i++ {
		p, q := rings[i-1], rings[i]
		d := q.P.Sub(p.P)
		side := d.Cross(vec.V3{Z: 1}).Unit()
		n := max(1, int(d.Len()/0.5))
		for k := range n + 1 {
			t := float64(k) / float64(n)
			c, a := p.P.Lerp(q.P, t), p.A+t*(q.A-p.A)
			for _, w := range []float64{-1, -0.5, 0, 0.5, 1} {
				x := c.Add(side.Mul(w * a))
				g = max(g, math.Abs(height(x.X, x.Y)-c.Z))
			}
		}
	}
	return g
}

// laid turns a body so that its longest stretch runs along x, and sets it on
// z = 0; over turns it upside down.
func laid(m *mesh.Mesh, rings []block.Ring, over bool) *mesh.Mesh {
	d := rings[len(rings)-1].P.Sub(rings[0].P)
	d.Z = 0
	if d.Len() == 0 {
		d = vec.V3{X: 1}
	}
	f := vec.Frame{X: d.Unit(), Z: vec.V3{Z: 1}}
	if over {
		f.Z = vec.V3{Z: -1}
	}
	f.Y = f.Z.Cross(f.X)
	return set(m.Into(f))
}

// stood sets a whole former on its wider end, and one that is bent on its side.
func stood(m *mesh.Mesh, rings []block.Ring) *mesh.Mesh {
	a, z := rings[0], rings[len(rings)-1]
	d := z.P.Sub(a.P).Unit()
	for _, r := range rings {
		e := r.P.Sub(a.P)
		if e.Sub(d.Mul(e.Dot(d))).Len() > 0.01 {
			return laid(m, rings, false)
		}
	}
	if z.A*z.B > a.A*a.B {
		d = d.Mul(-1)
	}
	return set(m.Into(vec.AlongZ(d)))
}

// Bed lays the pieces of all formers out on a print bed of the given width,
// widest first, in rows, no two nearer than 3 mm, and returns them as one mesh
// of separate closed bodies.
func Bed(formers []Former, width float64) *mesh.Mesh {
	var all []*mesh.Mesh
	for _, f := range formers {
		all = append(all, f.pieces...)
	}
	size := make([]vec.V3, len(all))
	ix := make([]int, len(all))
	for i, m := range all {
		size[i], ix[i] = m.Box().Size(), i
	}
	slices.SortStableFunc(ix, func(a, b int) int {
		switch p, q := math.Round(size[a].Y*1e6), math.Round(size[b].Y*1e6); {
		case p > q:
			return -1
		case p < q:
			return 1
		}
		return 0
	})
	out := &mesh.Mesh{}
	x, y, row := 0.0, 0.0, 0.0
	for _, i := range ix {
		if x > 0 && x+size[i].X > width {
			x, y, row = 0, y+row+apart, 0
		}
		p := &mesh.Mesh{V: slices.Clone(all[i].V), F: all[i].F}
		for k := range p.V {
			p.V[k] = p.V[k].Add(vec.V3{X: x, Y: y})
		}
		out.Append(p)
		x += size[i].X + apart
		row = max(row, size[i].Y)
	}
	return out
}
