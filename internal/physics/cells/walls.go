package cells

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// oneWall is how far the sides of a cell may differ from those of its half space.
const oneWall = 0.2

// walls finds the walls of cut cells: their area vector is that of the triangles' pieces
// or, in a cell that is parted, has a mouth or is covered twice, what its open sides lack
// (they and the wall add up to nothing, Gauss). Where the half space with this normal and the cell's volume has
// other sides than the cell, the cell has more than one wall and gets none.
func (f *parts) walls(s *samples) {
	type faces [6]float64
	open := make([]faces, len(f.place))
	for _, e := range f.edges {
		open[e.lo][2*e.d+1] += e.a
		open[e.hi][2*e.d] += e.a
	}
	gate := make([]bool, len(f.place))
	for _, m := range f.mouths {
		k := 2 * m.d
		if m.high {
			k++
		}
		open[m.node][k] += m.a
		gate[m.node] = true
	}
	par.For(len(f.place), 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			q := int(f.place[i])
			x := &open[i]
			lack := vec.V3{X: x[0] - x[1], Y: x[2] - x[3], Z: x[4] - x[5]}
			first, end := f.at(q)
			n := lack
			if end-first == 1 && s.sure[q] && !gate[i] {
				n = vec.V3{X: s.area[0][q], Y: s.area[1][q], Z: s.area[2][q]}
			}
			if s.sure[q] {
				for k, t := range s.skin[q] {
					f.skin[i][k] += t * float32(f.own[i]/s.v[q])
				}
			} else {
				f.skin[i].add(lack)
			}
			if f.own[i] < 1 && n.Len() > 1e-6 {
				n = n.Unit()
				if misfit(n, f.own[i], (*[6]float64)(x)) < oneWall {
					f.normal[i] = n
				}
			}
		}
	})
}

// misfit returns the largest difference between the sides of a half space of the
// given share and those of the cell.
func misfit(n vec.V3, share float64, sides *[6]float64) float64 {
	at := CubePlane(n, share)
	worst := 0.0
	for d := range 3 {
		m := n.Array()
		k := m[d]
		m[d] = 0
		flat := vec.FromArray(m)
		worst = max(worst, math.Abs(CubeUnder(flat, at)-sides[2*d]), math.Abs(CubeUnder(flat, at-k)-sides[2*d+1]))
	}
	return worst
}
