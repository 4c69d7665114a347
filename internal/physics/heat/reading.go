package heat

import (
	"math"
	"sort"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

// sample is a temperature near the place of a reading.
type sample struct {
	x    vec.V3  // from the place, in cells
	deep float64 // depth in the rubber less that of the place, in cells
	w, t float64 // weight; K over the air
}

// reach is how far samples lie from the place of a reading, in cells.
const reach = 2.2

func weight(x vec.V3) float64 {
	l := 1 - x.Len()/reach
	return max(l, 0) * max(l, 0)
}

// read returns degC at a place, NaN outside the block. In rubber near a wall it is
// the value of a fit to the samples there, deeper in the trilinear mean of the
// rubber cells round it; in metal the mean of the metal cells round it.
func (r *Run) read(p vec.V3) float64 {
	g := r.grid
	i, j, k, ok := g.Find(p)
	if !ok {
		return math.NaN()
	}
	deep := r.depth(p)
	metal := deep < 0
	if deep > (Band-1)*g.H {
		return r.trilinear(p)
	}
	var list []sample
	for z := max(k-2, 0); z <= min(k+2, g.NZ-1); z++ {
		for y := max(j-2, 0); y <= min(j+2, g.NY-1); y++ {
			for x := max(i-2, 0); x <= min(i+2, g.NX-1); x++ {
				q := g.At(x, y, z)
				d := g.Centre(x, y, z).Sub(p).Mul(1 / g.H)
				w := weight(d)
				if w == 0 || (r.dist[q] < 0) != metal || float64(r.dist[q]) >= Band*g.H {
					continue
				}
				if metal {
					list = append(list, sample{w: w, t: r.inMetal(x, y, z)})
					continue
				}
				list = append(list, sample{d, (r.middle(q) - deep) / g.H, w, float64(r.t[r.pad.id(x, y, z)])})
				if r.kind[q] == wallRubber && r.full {
					list = r.faces(list, q, d, deep)
				}
			}
		}
	}
	if metal {
		return mean(list) + r.p.Air
	}
	return fit(list) + r.p.Air
}

// inMetal returns the temperature of a metal cell, K over the air; 0 while the
// cavity is empty.
func (r *Run) inMetal(i, j, k int) float64 {
	if !r.full {
		return 0
	}
	return float64(r.temp[r.b.lane(i, k*r.grid.NY+j)]) + r.tab.solidus - r.p.Air
}

// faces adds the surface of the rubber at the walls of cell q, which lies at d.
func (r *Run) faces(list []sample, q int, d vec.V3, deep float64) []sample {
	g := r.grid
	m := r.mendOf(q)
	c := g.Centre(g.Cell(q))
	for _, f := range r.walls[m.w0:m.w1] {
		o := g.Centre(g.Cell(int(r.b.cell[f.lane])))
		e := d.Add(o.Sub(c).Mul(float64(f.theta) / g.H))
		if w := weight(e); w > 0 {
			list = append(list, sample{e, -deep / g.H, w, float64(f.face)})
		}
	}
	return list
}

func mean(list []sample) float64 {
	s, w := 0.0, 0.0
	for _, x := range list {
		s += x.w * x.t
		w += x.w
	}
	return s / w // NaN without samples
}

// fit returns the value at the place of
//
//	T = a + b s + c s^2 + g . x
//
// fitted by weighted least squares, s being the depth less that of the place.
func fit(list []sample) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range list {
		lo, hi = min(lo, x.t), max(hi, x.t)
	}
	if len(list) < 8 {
		return mean(list)
	}
	var a [6][7]float64
	sum := 0.0
	for _, x := range list {
		sum += x.w
		v := [6]float64{1, x.deep, x.deep * x.deep, x.x.X, x.x.Y, x.x.Z}
		for m := range 6 {
			for n := range 6 {
				a[m][n] += x.w * v[m] * v[n]
			}
			a[m][6] += x.w * v[m] * x.t
		}
	}
	for m := 1; m < 6; m++ { // what the samples leave open stays near zero
		a[m][m] += 1e-6 * sum
	}
	return min(max(solve(&a), lo), hi)
}

// trilinear returns degC between the centres of the rubber cells round p.
func (r *Run) trilinear(p vec.V3) float64 {
	g := r.grid
	s, sw := 0.0, 0.0
	corners(g, p, func(i, j, k int, w float64) {
		if r.dist[g.At(i, j, k)] >= 0 {
			s += w * float64(r.t[r.pad.id(i, j, k)])
			sw += w
		}
	})
	return s/sw + r.p.Air
}

// corners visits the eight cells whose centres lie round p, with their trilinear
// weights.
func corners(g grid.Grid, p vec.V3, visit func(i, j, k int, w float64)) {
	x := p.Sub(g.Origin).Mul(1 / g.H).Sub(vec.V3{X: 0.5, Y: 0.5, Z: 0.5}).Array()
	size := [3]int{g.NX, g.NY, g.NZ}
	for c := range 8 {
		w := 1.0
		var at [3]int
		for d := range 3 {
			base := math.Floor(x[d])
			b := c >> d & 1
			w *= [2]float64{1 - (x[d] - base), x[d] - base}[b]
			at[d] = min(max(int(base)+b, 0), size[d]-1)
		}
		visit(at[0], at[1], at[2], w)
	}
}

// Level returns the distance from the wall as the cells know it, mm: trilinear
// between their centres.
func (b *Body) Level(p vec.V3) float64 {
	s := 0.0
	corners(b.Grid, p, func(i, j, k int, w float64) { s += w * float64(b.Dist[b.Grid.At(i, j, k)]) })
	return s
}

// depth returns the distance from the wall at a place, mm:
//
//	d = sum w_i (d_i + n_i . (p - x_i)/2)
//
// over the centres round it with their trilinear weights, n the gradient: exact for
// a distance that curves evenly, where the trilinear mean alone is too deep.
func (r *Run) depth(p vec.V3) float64 {
	g, s := r.grid, 0.0
	corners(g, p, func(i, j, k int, w float64) {
		n, _ := r.slope(i, j, k)
		s += w * (float64(r.dist[g.At(i, j, k)]) + 0.5*vec.FromArray(n).Dot(p.Sub(g.Centre(i, j, k))))
	})
	return s
}

// middle returns how deep in the rubber a cell's temperature is meant, mm: the
// cell's centre, at a wall the middle of its layer.
func (r *Run) middle(q int) float64 {
	d := float64(r.dist[q])
	if r.kind[q] != wallRubber {
		return d
	}
	m := r.mendOf(q)
	s, n := 0.0, 0.0
	for _, w := range r.walls[m.w0:m.w1] {
		s += float64(w.normal) * float64(w.near) * float64(w.normal)
		n += float64(w.normal)
	}
	return s / n * r.grid.H
}

// mendOf returns the entry of a wall cell.
func (r *Run) mendOf(q int) *mend {
	i, j, k := r.grid.Cell(q)
	id := int32(r.pad.id(i, j, k))
	list := r.shut.cells[r.shut.plane[k]:r.shut.plane[k+1]]
	n := sort.Search(len(list), func(n int) bool { return list[n].id >= id })
	return &list[n]
}

// solve returns the first unknown of a symmetric system by elimination with
// pivots on the diagonal.
func solve(a *[6][7]float64) float64 {
	for c := 5; c >= 0; c-- { // the first unknown is left to the end
		if a[c][c] <= 0 {
			continue
		}
		for m := range c {
			f := a[m][c] / a[c][c]
			for n := range 7 {
				a[m][n] -= f * a[c][n]
			}
		}
	}
	return a[0][6] / a[0][0]
}
