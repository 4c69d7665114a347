package apart

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// faces is how many of a part's largest flat directions are tried.
const faces = 6

// special returns the directions that the shapes suggest, for the parts left: a peg
// leaves along its axis, a lid along its normal.
func (a *assembly) special() []vec.V3 {
	var r []vec.V3
	var mid []vec.V3
	for _, id := range a.left[:min(len(a.left), 16)] {
		c, axes := a.part[id].inertia()
		r = append(append(r, axes[:]...), a.part[id].flats()...)
		for _, o := range mid[max(0, len(mid)-4):] {
			r = append(r, c.Sub(o))
		}
		mid = append(mid, c)
	}
	return r
}

// inertia returns the centroid of the surface and the axes of its second moments,
//
//	integral (x - c)(x - c)^T dA over each triangle = A/12 (s s^T + sum p p^T), s = sum p
//
// with p the corners from c, diagonalised by Jacobi's turns.
func (p *part) inertia() (vec.V3, [3]vec.V3) {
	var sum vec.V3
	area := 0.0
	for i := range p.m.F {
		x, y, z := p.m.Tri(i)
		w := y.Sub(x).Cross(z.Sub(x)).Len()
		area += w
		sum = sum.Add(x.Add(y).Add(z).Mul(w / 3))
	}
	if !(area > 0) {
		return p.box.Centre(), [3]vec.V3{{X: 1}, {Y: 1}, {Z: 1}}
	}
	c := sum.Mul(1 / area)
	var m [3][3]float64
	add := func(v vec.V3, w float64) {
		q := v.Array()
		for i := range 3 {
			for j := range 3 {
				m[i][j] += w * q[i] * q[j]
			}
		}
	}
	for i := range p.m.F {
		x, y, z := p.m.Tri(i)
		w := y.Sub(x).Cross(z.Sub(x)).Len() / area
		x, y, z = x.Sub(c), y.Sub(c), z.Sub(c)
		add(x.Add(y).Add(z), w)
		add(x, w)
		add(y, w)
		add(z, w)
	}
	return c, vec.Eigen(m)
}

// flats returns the directions that most of the surface looks along, opposite ones
// taken as one.
func (p *part) flats() []vec.V3 {
	type bin struct {
		key  [3]int
		sum  vec.V3
		area float64
	}
	place := map[[3]int]int{}
	var list []bin
	for i := range p.m.F {
		x, y, z := p.m.Tri(i)
		w := y.Sub(x).Cross(z.Sub(x))
		n := w.Unit()
		if n.Z < -1e-9 || math.Abs(n.Z) <= 1e-9 && (n.Y < -1e-9 || math.Abs(n.Y) <= 1e-9 && n.X < 0) {
			n, w = n.Mul(-1), w.Mul(-1)
		}
		key := [3]int{int(math.Round(64 * n.X)), int(math.Round(64 * n.Y)), int(math.Round(64 * n.Z))}
		k, ok := place[key]
		if !ok {
			k = len(list)
			place[key] = k
			list = append(list, bin{key: key})
		}
		list[k].sum = list[k].sum.Add(w)
		list[k].area += w.Len()
	}
	slices.SortStableFunc(list, func(a, b bin) int { return cmp.Compare(b.area, a.area) })
	var r []vec.V3
	for _, b := range list[:min(len(list), faces)] {
		r = append(r, b.sum)
	}
	return r
}
