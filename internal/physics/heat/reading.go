package heat

import (
	"math"
	"sort"

	"pourwright/internal/ground/vec"
)

// read returns degC at a place. In rubber it is the value at p of
//
//	T(x) = a + b (s - s_p) + c (s - s_p)^2 + g . (x - p)
//
// fitted by weighted least squares to the rubber cells within 2.2 cells of p,
// where s is the depth from the cavity's wall and g lies along the wall. In metal
// it is the mean of the cells round p, weighted by nearness.
func (r *Run) read(p vec.V3) float64 {
	g := r.grid
	i, j, k, ok := g.Find(p)
	if !ok {
		return math.NaN()
	}
	sp := r.depth(p)
	metal := sp < 0
	const reach = 2.2
	var a [6][7]float64
	sw, st := 0.0, 0.0
	add := func(d vec.V3, s, w, t float64) {
		sw += w
		v := [6]float64{1, s, s * s, d.X, d.Y, d.Z}
		for m := range 6 {
			for n := range 6 {
				a[m][n] += w * v[m] * v[n]
			}
			a[m][6] += w * v[m] * t
		}
	}
	for dk := -2; dk <= 2; dk++ {
		for dj := -2; dj <= 2; dj++ {
			for di := -2; di <= 2; di++ {
				x, y, z := i+di, j+dj, k+dk
				if x < 0 || y < 0 || z < 0 || x >= g.NX || y >= g.NY || z >= g.NZ {
					continue
				}
				q := g.At(x, y, z)
				if (r.dist[q] < 0) != metal {
					continue
				}
				d := g.Centre(x, y, z).Sub(p).Mul(1 / g.H)
				l := d.Len()
				if l >= reach {
					continue
				}
				w := 1 - l/reach
				w *= w
				t := 0.0
				if metal {
					t = r.p.Air - r.p.Air
					if r.full {
						t = float64(r.temp[r.b.lane(x, z*g.NY+y)]) + r.tab.solidus - r.p.Air
					}
				} else {
					t = float64(r.t[r.pad.id(x, y, z)])
				}
				if metal {
					sw += w
					st += w * t
					continue
				}
				add(d, (r.middle(q)-sp)/g.H, w, t)
				if r.kind[q] != wallRubber || !r.full {
					continue
				}
				m := r.mendOf(q)
				for _, f := range r.walls[m.w0:m.w1] {
					o := g.Centre(g.Cell(int(r.b.cell[f.lane])))
					e := d.Add(o.Sub(g.Centre(x, y, z)).Mul(float64(f.theta) / g.H))
					if l := e.Len(); l < reach {
						add(e, -sp/g.H, (1-l/reach)*(1-l/reach), float64(f.face))
					}
				}
			}
		}
	}
	if sw == 0 {
		return math.NaN()
	}
	if metal {
		return st/sw + r.p.Air
	}
	for m := range 6 {
		a[m][m] += 1e-6 * sw
	}
	a[0][0] -= 1e-6 * sw
	return solve(&a) + r.p.Air
}

// depth returns the distance from the wall at a place, mm: trilinear between the
// cells' centres.
func (r *Run) depth(p vec.V3) float64 {
	g := r.grid
	x := p.Sub(g.Origin).Mul(1 / g.H).Sub(vec.V3{X: 0.5, Y: 0.5, Z: 0.5})
	i, j, k := int(math.Floor(x.X)), int(math.Floor(x.Y)), int(math.Floor(x.Z))
	f := [3]float64{x.X - float64(i), x.Y - float64(j), x.Z - float64(k)}
	s := 0.0
	for c := range 8 {
		w := 1.0
		var at [3]int
		for d, base := range [3]int{i, j, k} {
			b := c >> d & 1
			w *= [2]float64{1 - f[d], f[d]}[b]
			at[d] = min(max(base+b, 0), [3]int{g.NX, g.NY, g.NZ}[d]-1)
		}
		s += w * float64(r.dist[g.At(at[0], at[1], at[2])])
	}
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
