package parting

import (
	"math"

	"pourwright/internal/shape/mesh"
)

// flat is a flat face at one end of a mesh along z.
type flat struct {
	z    float64
	side int // -1: the lower end, looking down
	area float64
	off  float64 // how far inside the metal the parting is laid
}

// height returns where the parting is laid.
func (f *flat) height() float64 { return f.z - float64(f.side)*f.off }

// flatBacks returns the flat faces at the two ends of a mesh along z: triangles
// within 1 degree of square to z whose corners are within 0.2 mm (at 60 mm) of
// the end and that hold more than 15 % of the box's ground. The lower end comes
// first.
func flatBacks(m *mesh.Mesh, long float64) []flat {
	box := bounds(m)
	tol := 0.2 / 60 * long
	c := math.Cos(math.Pi / 180)
	low, high := flat{z: box.Min.Z, side: -1}, flat{z: box.Max.Z, side: 1}
	dl, dh := 0.0, 0.0
	for t := range m.F {
		p, q, r := m.Tri(t)
		n := q.Sub(p).Cross(r.Sub(p))
		l := n.Len()
		top, bottom := max(p.Z, q.Z, r.Z), min(p.Z, q.Z, r.Z)
		switch {
		case n.Z <= -c*l && l > 0 && top <= box.Min.Z+tol:
			low.area += l / 2
			dl = max(dl, top-box.Min.Z)
		case n.Z >= c*l && l > 0 && bottom >= box.Max.Z-tol:
			high.area += l / 2
			dh = max(dh, box.Max.Z-bottom)
		}
	}
	s := box.Size()
	var r []flat
	low.off, high.off = dl+0.01/60*long, dh+0.01/60*long
	if low.area > 0.15*s.X*s.Y {
		r = append(r, low)
	}
	if high.area > 0.15*s.X*s.Y {
		r = append(r, high)
	}
	return r
}

// sheet solves the parting surface of the body, whose mesh m stands in the
// frame of the pull: on a flat back where that locks nothing more, over the
// whole of the rectangle otherwise.
func (b *body) sheet(m *mesh.Mesh, r Rect, set Setting) (*Surface, *flat) {
	for _, f := range flatBacks(m, b.long) {
		if f.off > 0.5*(bounds(m).Size().Z) {
			continue
		}
		z := f.height()
		set.Back = &z
		if s := Solve([]Body{{Mesh: m}}, r, set); s.Added <= budget/3*math.Abs(b.volume) {
			return s, &f
		}
	}
	set.Back = nil
	return Solve([]Body{{Mesh: m}}, r, set), nil
}
