package tension

import (
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// walls knows the wall of each cut cell and how its normal turns from there on.
type walls struct {
	at []int32 // of cells: place in of, -1 where none is known
	of []turning
}

// turning is a wall's normal near x (grid coordinates, cells): n + g (y - x).
type turning struct {
	n, x vec.V3
	g    [3]vec.V3 // by component of the normal
	area float64
}

// newWalls fits, for each cut cell, the normals of the walls round it, which are
// those at the middle of their section, by a linear function of place.
func newWalls(c *cells.Cells) *walls {
	w := &walls{at: make([]int32, c.Wall+1)}
	var list []int32
	for i := range w.at {
		w.at[i] = -1
		if i < c.N && c.Normal[i] != (vec.V3{}) {
			w.at[i] = int32(len(list))
			list = append(list, int32(i))
		}
	}
	w.of = make([]turning, len(list))
	par.For(len(list), 256, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			i := list[k]
			_, area, x := cells.CubeCut(c.Normal[i], c.Offset[i])
			w.of[k] = turning{n: c.Normal[i], x: x.Add(corner(c, i)), area: min(area, 2)}
		}
	})
	n := make([]vec.V3, len(list))
	par.For(len(list), 256, func(lo, hi int) {
		var b block
		for k := lo; k < hi; k++ {
			b.fill(c, list[k])
			n[k] = w.turn(&b, int32(k))
		}
	})
	for k := range n {
		w.of[k].n = n[k]
	}
	return w
}

func corner(c *cells.Cells, i int32) vec.V3 {
	p := c.I[i]
	return vec.V3{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])}
}

// alike is the least cosine between the normals of walls that count as one wall.
const alike = 0.8

// turn finds g and returns the normal that goes with it at the cell's own section: in the wall's tangents t1, t2, least squares of the normals'
// differences; sections count with their area.
func (w *walls) turn(b *block, k int32) vec.V3 {
	o := &w.of[k]
	t2 := vec.V3{Z: 1}
	if o.n.Z*o.n.Z > 0.5 {
		t2 = vec.V3{X: 1}
	}
	t1 := t2.Cross(o.n).Unit()
	t2 = o.n.Cross(t1)
	m := o.area + 1e-3
	a00, a01, a02, a11, a12, a22 := m, 0.0, 0.0, 1e-3*m, 0.0, 1e-3*m
	var r0, r1, r2 vec.V3
	for _, q := range b {
		if q < 0 || w.at[q] < 0 || w.at[q] == k {
			continue
		}
		p := &w.of[w.at[q]]
		if p.n.Dot(o.n) < alike {
			continue
		}
		d, e, m := p.x.Sub(o.x), p.n.Sub(o.n), p.area
		x, y := d.Dot(t1), d.Dot(t2)
		a00 += m
		a01 += m * x
		a02 += m * y
		a11 += m * x * x
		a12 += m * x * y
		a22 += m * y * y
		r0 = r0.Add(e.Mul(m))
		r1 = r1.Add(e.Mul(m * x))
		r2 = r2.Add(e.Mul(m * y))
	}
	// Elimination, the constant first.
	u, v := a01/a00, a02/a00
	a11, a12, a22 = a11-u*a01, a12-u*a02, a22-v*a02
	r1, r2 = r1.Sub(r0.Mul(u)), r2.Sub(r0.Mul(v))
	det := a11*a22 - a12*a12
	if !(det > 1e-12) {
		return o.n
	}
	g1 := r1.Mul(a22).Sub(r2.Mul(a12)).Mul(1 / det)
	g2 := r2.Mul(a11).Sub(r1.Mul(a12)).Mul(1 / det)
	e := r0.Mul(1 / a00).Sub(g1.Mul(u)).Sub(g2.Mul(v))
	if l := e.Len(); l > 0.33 {
		e = e.Mul(0.33 / l)
	}
	o.g = [3]vec.V3{
		t1.Mul(g1.X).Add(t2.Mul(g2.X)),
		t1.Mul(g1.Y).Add(t2.Mul(g2.Y)),
		t1.Mul(g1.Z).Add(t2.Mul(g2.Z)),
	}
	return o.n.Add(e).Unit()
}

// normal returns the wall's normal at x, which turns by no more than a third from
// that of the cell.
func (o *turning) normal(x vec.V3) vec.V3 {
	d := x.Sub(o.x)
	e := vec.V3{X: o.g[0].Dot(d), Y: o.g[1].Dot(d), Z: o.g[2].Dot(d)}
	if l := e.Len(); l > 0.33 {
		e = e.Mul(0.33 / l)
	}
	return o.n.Add(e).Unit()
}

// off is how far x lies under the wall. The chord from the middle of the section
// counts by the mean of the normals at its ends, which is right for a wall of steady curvature.
func (o *turning) off(x vec.V3) float64 {
	return o.n.Add(o.normal(x)).Dot(o.x.Sub(x)) / 2
}

// together is the mean normal of walls at x and how far x lies under them; nearer
// ones count more.
func together(list []*turning, x vec.V3) (n vec.V3, off float64, ok bool) {
	sum := 0.0
	for _, o := range list {
		d := o.x.Sub(x)
		w := (o.area + 1e-3) / (d.Dot(d) + 0.1)
		sum += w
		n = n.Add(o.normal(x).Mul(w))
		off += w * o.off(x)
	}
	if sum == 0 || n.Len() < 0.3*sum {
		return n, 0, false
	}
	return n.Unit(), off / sum, true
}
