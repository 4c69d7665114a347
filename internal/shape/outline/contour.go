package outline

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Contour returns the loops along which the field v crosses level, points with
// v above level to the left. v[j*nx+i] belongs to the point (i, j), and the
// loops are in these units. Outside the field counts as below, so loops close
// along its border. Marching squares: crossings are linear along the lines of
// the grid, and a cell whose diagonals disagree goes by the mean of its
// corners. NaN counts as below.
func Contour(v []float64, nx, ny int, level float64) Shape {
	if nx < 1 || ny < 1 {
		return nil
	}
	in := make([]bool, nx*ny)
	for q := range in {
		in[q] = v[q] > level
	}
	value := func(i, j int) float64 {
		if i < 0 || j < 0 || i >= nx || j >= ny || math.IsNaN(v[j*nx+i]) {
			return math.Inf(-1)
		}
		return v[j*nx+i]
	}
	return march(nx, ny, in, func(i, j int, up bool) float64 {
		a, b := value(i, j), value(i+1, j)
		if up {
			b = value(i, j+1)
		}
		switch { // a border runs along the last points of the field
		case math.IsInf(a, -1):
			return 1
		case math.IsInf(b, -1):
			return 0
		}
		return (level - a) / (b - a)
	}, func(i, j int) bool {
		return (value(i, j)+value(i+1, j)+value(i, j+1)+value(i+1, j+1))/4 > level
	})
}

// march links the cells' pieces to loops. in tells the points inside; at gives
// the place, 0 to 1, of the border between (i, j) and its right neighbour or,
// with up, its upper one; middle decides cells whose diagonals disagree.
func march(nx, ny int, in []bool, at func(i, j int, up bool) float64, middle func(i, j int) bool) Shape {
	inside := func(i, j int) bool { return i >= 0 && j >= 0 && i < nx && j < ny && in[j*nx+i] }
	// The edge right of or above point (i, j) has a number, even or odd.
	w := nx + 1
	number := func(i, j, up int) int32 { return int32(2*((j+1)*w+i+1) + up) }
	next := make([]int32, 2*w*(ny+1)+2*w)
	var starts []int32
	for j := -1; j < ny; j++ {
		b0, b3 := false, false
		for i := -1; i < nx; i++ {
			c := [4]bool{b0, inside(i+1, j), inside(i+1, j+1), b3}
			b0, b3 = c[1], c[2]
			if c[0] == c[1] && c[1] == c[2] && c[2] == c[3] {
				continue
			}
			e := [4]int32{number(i, j, 0), number(i+1, j, 1), number(i, j+1, 0), number(i, j, 1)}
			// A piece starts where the border is crossed outwards, going round
			// the cell counter-clockwise, and ends at the next inward crossing:
			// the next but one way round if the middle parts the outside.
			step := 3
			if c[0] == c[2] && c[1] == c[3] && middle(i, j) {
				step = 1
			}
			for k := range 4 {
				if !c[k] || c[(k+1)%4] {
					continue
				}
				m := (k + step) % 4
				for c[m] || !c[(m+1)%4] {
					m = (m + step) % 4
				}
				next[e[k]] = e[m] + 1
				starts = append(starts, e[k])
			}
		}
	}
	var all Shape
	for _, s := range starts {
		var l Loop
		for e := s; next[e] != 0; {
			q := int(e / 2)
			i, j := q%w-1, q/w-1
			p := vec.V2{X: float64(i), Y: float64(j)}
			if e%2 == 1 {
				p.Y += at(i, j, true)
			} else {
				p.X += at(i, j, false)
			}
			l = append(l, p)
			e, next[e] = next[e]-1, 0
		}
		if l = distinct(l); len(l) > 2 {
			all = append(all, l)
		}
	}
	return all
}
