package block

import (
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mesh"
)

// mostCells is how many cells the longest side of a sheet's triangle may span
// either way: a body that is cut into a larger one leaves a fan of slivers across
// all of it, and what follows must be tested against each of them.
const mostCells = 16

// under closes the sheet of s down to height floor: sheet, walls, floor. The
// sheet covers the square of 2^k cells that starts at the grid's first node
// and holds the grid; beyond the grid it keeps the height of the grid's edge.
//
// Squares are merged to larger right triangles where the surface stays within
// tol(i, j) mm of them (right-triangulated irregular network: Evans,
// Kirkpatrick & Townsend, Algorithmica 30 (2001) 264; a corner that a triangle
// needs is kept in its neighbour too, so that no corner lies on an edge).
func under(s *parting.Surface, floor float64, tol func(i, j int) float64) *mesh.Mesh {
	n := 1
	for n < s.NX-1 || n < s.NY-1 {
		n *= 2
	}
	w := n + 1
	z := make([]float64, w*w)
	for j := range w {
		row := min(j, s.NY-1) * s.NX
		for i := range w {
			z[j*w+i] = s.Z[row+min(i, s.NX-1)]
		}
	}
	need := needs(z, n, tol, func(mx, my, size int) bool {
		return size > mostCells && mx < s.NX+size && my < s.NY+size
	})
	m := &mesh.Mesh{}
	id := make([]int32, w*w)
	point := func(x, y int) int32 {
		q := y*w + x
		if id[q] == 0 {
			m.V = append(m.V, vec.V3{X: s.X0 + float64(x)*s.H, Y: s.Y0 + float64(y)*s.H, Z: z[q]})
			id[q] = int32(len(m.V))
		}
		return id[q] - 1
	}
	var cut func(ax, ay, bx, by, cx, cy int)
	cut = func(ax, ay, bx, by, cx, cy int) {
		mx, my := (ax+bx)/2, (ay+by)/2
		if abs(ax-cx)+abs(ay-cy) > 1 && need[my*w+mx] {
			cut(cx, cy, ax, ay, mx, my)
			cut(bx, by, cx, cy, mx, my)
			return
		}
		m.F = append(m.F, [3]int32{point(ax, ay), point(bx, by), point(cx, cy)})
	}
	cut(0, 0, n, n, n, 0)
	cut(n, n, 0, 0, 0, n)
	// The two halves above turn clockwise seen from +z as written in the
	// literature's image axes; here y goes up, so set the turn once.
	for i := range m.F {
		a, b, c := m.Tri(i)
		if (b.X-a.X)*(c.Y-a.Y)-(b.Y-a.Y)*(c.X-a.X) < 0 {
			m.F[i][1], m.F[i][2] = m.F[i][2], m.F[i][1]
		}
	}
	skirt(m, id, w, floor)
	return m
}

// needs marks the nodes that the sheet must keep: from the smallest triangles
// up, a node is kept where the middle of a triangle's longest edge lies more
// than tol from the surface, where big says so of that middle and the size of the
// edge in cells, or where a triangle under it is cut.
func needs(z []float64, n int, tol func(i, j int) float64, big func(mx, my, size int) bool) []bool {
	w := n + 1
	need := make([]bool, w*w)
	count := 2*n*n - 2
	for t := count - 1; t >= 0; t-- {
		id := t + 2
		ax, ay, bx, by, cx, cy := 0, 0, 0, 0, 0, 0
		if id&1 != 0 {
			bx, by, cx = n, n, n
		} else {
			ax, ay, cy = n, n, n
		}
		for id >>= 1; id > 1; id >>= 1 {
			mx, my := (ax+bx)>>1, (ay+by)>>1
			if id&1 != 0 {
				bx, by, ax, ay = ax, ay, cx, cy
			} else {
				ax, ay, bx, by = bx, by, cx, cy
			}
			cx, cy = mx, my
		}
		mx, my := (ax+bx)>>1, (ay+by)>>1
		q := my*w + mx
		if (ax+bx)&1 != 0 || (ay+by)&1 != 0 {
			continue
		}
		if d := (z[ay*w+ax]+z[by*w+bx])/2 - z[q]; d > tol(mx, my) || -d > tol(mx, my) {
			need[q] = true
		}
		if big(mx, my, max(abs(ax-bx), abs(ay-by))) {
			need[q] = true
		}
		// Children that are cut force this one.
		lx, ly, rx, ry := ax+cx, ay+cy, bx+cx, by+cy
		if lx&1 == 0 && ly&1 == 0 && rx&1 == 0 && ry&1 == 0 {
			if need[ly/2*w+lx/2] || need[ry/2*w+rx/2] {
				need[q] = true
			}
		}
	}
	return need
}

// skirt closes the sheet m, whose corners id numbers on a grid w wide, by
// walls round its rim and a floor.
func skirt(m *mesh.Mesh, id []int32, w int, floor float64) {
	var rim []int32
	walk := func(x, y, dx, dy int) {
		for range w - 1 {
			if k := id[y*w+x]; k != 0 {
				rim = append(rim, k-1)
			}
			x, y = x+dx, y+dy
		}
	}
	walk(0, 0, 1, 0)
	walk(w-1, 0, 0, 1)
	walk(w-1, w-1, -1, 0)
	walk(0, w-1, 0, -1)
	base := int32(len(m.V))
	for _, k := range rim {
		p := m.V[k]
		m.V = append(m.V, vec.V3{X: p.X, Y: p.Y, Z: floor})
	}
	a, b := m.V[rim[0]], m.V[id[w*w-1]-1]
	mid := int32(len(m.V))
	m.V = append(m.V, vec.V3{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2, Z: floor})
	n := int32(len(rim))
	for k := range n {
		l := (k + 1) % n
		p, q, pd, qd := rim[k], rim[l], base+k, base+l
		m.F = append(m.F, [3]int32{q, p, pd}, [3]int32{q, pd, qd}, [3]int32{mid, qd, pd})
	}
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}
