package heat

import (
	"math"

	"pourwright/internal/ground/par"
)

// cut returns the area of a unit cube's section by a plane of unit normal n at
// distance d from its centre:
//
//	A = (x^2 - sum (x - n_i)_+^2 + sum (x - n_i - n_j)_+^2) / (2 n_1 n_2 n_3),  x = (n_1 + n_2 + n_3)/2 - |d|
//
// (the derivative of the cut volume, Scardovelli & Zaleski 2000, from memory).
// Components under 0.02 count as 0.02, so that a plane that lies in the common
// face of two cells is shared between them.
func cut(n [3]float64, d float64) float64 {
	l := 0.0
	for i := range n {
		n[i] = max(math.Abs(n[i]), 0.02)
		l += n[i] * n[i]
	}
	l = math.Sqrt(l)
	for i := range n {
		n[i] /= l
	}
	x := (n[0]+n[1]+n[2])/2 - math.Abs(d)
	if x <= 0 {
		return 0
	}
	sq := func(v float64) float64 {
		if v <= 0 {
			return 0
		}
		return v * v
	}
	a := sq(x)
	for i := range n {
		a -= sq(x - n[i])
		a += sq(x - n[i] - n[(i+1)%3])
	}
	return max(0, a/(2*n[0]*n[1]*n[2]))
}

// slope returns the unit gradient of the distance at a cell, and its length before
// it was made one: 1 beside a single wall, less between two.
func (r *Run) slope(i, j, k int) (n [3]float64, length float64) {
	g, d := r.grid, r.dist
	c, size := [3]int{i, j, k}, [3]int{g.NX, g.NY, g.NZ}
	l := 0.0
	for a := range 3 {
		lo, hi := c, c
		if lo[a] > 0 {
			lo[a]--
		}
		if hi[a] < size[a]-1 {
			hi[a]++
		}
		if s := float64(hi[a] - lo[a]); s > 0 {
			n[a] = float64(d[g.At(hi[0], hi[1], hi[2])]-d[g.At(lo[0], lo[1], lo[2])]) / s
		}
		l += n[a] * n[a]
	}
	l = math.Sqrt(l)
	if l == 0 {
		return [3]float64{1, 0, 0}, 0
	}
	for a := range n {
		n[a] /= l
	}
	return n, l / g.H
}

// rough stands in the place of an area.
const rough = -1

// areas sets each wall's part of the true surface. The stepped faces times their
// normals add up to the surface only on average over placements, so the sum of
// both over 5 x 5 x 5 cells, weighted by nearness, sets a factor for the walls in
// the middle. In cells near edges and in thin metal, where the distance knows only
// one of two walls, the steps stand for the surface.
func (r *Run) areas() {
	g := r.grid
	truth, steps := make([]float32, g.Len()), make([]float32, g.Len())
	par.For(g.NZ, 1, func(k, _ int) {
		for q := g.At(0, 0, k); q < g.At(0, 0, k+1); q++ {
			if d := float64(r.dist[q]) / g.H; math.Abs(d) < 0.867 {
				i, j, _ := g.Cell(q)
				n, l := r.slope(i, j, k)
				truth[q] = float32(cut(n, d))
				if l < 0.8 {
					truth[q] = rough
				}
			}
		}
	})
	for c := range r.shut.cells {
		m := &r.shut.cells[c]
		q := r.index(m.id)
		for w := m.w0; w < m.w1; w++ {
			f := &r.walls[w]
			in := min(max(0.5+(0.5-f.theta)/0.08, 0), 1) // the wall lies in the rubber's cell
			steps[q] += f.normal * in
			steps[r.b.cell[f.lane]] += f.normal * (1 - in)
		}
	}
	par.For(len(r.shut.cells), 64, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			m := &r.shut.cells[c]
			i, j, k := g.Cell(r.index(m.id))
			a, b := 0.0, 0.0
			for z := max(k-2, 0); z <= min(k+2, g.NZ-1); z++ {
				for y := max(j-2, 0); y <= min(j+2, g.NY-1); y++ {
					for x := max(i-2, 0); x <= min(i+2, g.NX-1); x++ {
						w := float64((3 - abs(x-i)) * (3 - abs(y-j)) * (3 - abs(z-k)))
						q := g.At(x, y, z)
						b += w * float64(steps[q])
						if truth[q] == rough {
							a += w * float64(steps[q])
						} else {
							a += w * float64(truth[q])
						}
					}
				}
			}
			f := min(max(a/b, 0.5), 2)
			for w := m.w0; w < m.w1; w++ {
				s := &r.walls[w]
				s.area = r.h * r.h * float64(s.normal) * f
			}
		}
	})
}

func abs(x int) int { return max(x, -x) }

// index returns the grid's index of a place in the padded field.
func (r *Run) index(id int32) int {
	p, q := &r.pad, int(id)
	return r.grid.At(q%p.sx-1, q%p.sxy/p.sx-1, q/p.sxy-1)
}
