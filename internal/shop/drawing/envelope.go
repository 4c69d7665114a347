package drawing

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// envelope is the upper and the lower height of bodies over a grid of squares:
// cell (i, j) covers [x0+i h, x0+(i+1) h) and is sampled at its middle. Where
// there is no body, top is below bot.
type envelope struct {
	x0, y0, h float64
	nx, ny    int
	top, bot  []float32
}

// envelopeOf samples bodies from above and below, at most n cells a side.
func envelopeOf(bodies []*mesh.Mesh, n int) *envelope {
	b := vec.Empty()
	for _, m := range bodies {
		b = b.Join(boxOf(m))
	}
	e := &envelope{}
	s := b.Size()
	if !(s.X > 0 && s.Y > 0) {
		return e
	}
	e.h = max(s.X, s.Y) / float64(n-6)
	e.nx, e.ny = int(s.X/e.h)+6, int(s.Y/e.h)+6
	e.x0 = b.Centre().X - e.h*float64(e.nx)/2
	e.y0 = b.Centre().Y - e.h*float64(e.ny)/2
	e.top = make([]float32, e.nx*e.ny)
	e.bot = make([]float32, e.nx*e.ny)
	for i := range e.top {
		e.top[i], e.bot[i] = float32(math.Inf(-1)), float32(math.Inf(1))
	}
	for _, m := range bodies {
		e.add(m)
	}
	return e
}

// band is the number of rows that one worker fills alone; each takes the
// triangles in their order, so the result does not depend on the workers.
const band = 48

func (e *envelope) add(m *mesh.Mesh) {
	row := func(y float64) float64 { return (y-e.y0)/e.h - 0.5 }
	lists := bands(m, e.ny, func(p vec.V3) float64 { return row(p.Y) })
	par.For(len(lists), 1, func(lo, hi int) {
		for b := lo; b < hi; b++ {
			r0, r1 := b*band, min(e.ny, (b+1)*band)
			for _, i := range lists[b] {
				p, q, r := m.Tri(int(i))
				scan(e.grid(p), e.grid(q), e.grid(r), e.nx, r0, r1, func(k, n int, z, dz float64) {
					for end := k + n; k < end; k, z = k+1, z+dz {
						e.top[k] = max(e.top[k], float32(z))
						e.bot[k] = min(e.bot[k], float32(z))
					}
				})
			}
		}
	})
}

func (e *envelope) grid(p vec.V3) vec.V3 {
	return vec.V3{X: (p.X-e.x0)/e.h - 0.5, Y: (p.Y-e.y0)/e.h - 0.5, Z: p.Z}
}

// bands sorts the triangles by the bands of rows that they touch.
func bands(m *mesh.Mesh, rows int, row func(vec.V3) float64) [][]int32 {
	n := (rows + band - 1) / band
	span := make([][2]int32, len(m.F))
	ys := make([]float32, len(m.V))
	par.For(len(m.V), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			ys[i] = float32(row(m.V[i]))
		}
	})
	count := make([]int, n)
	for i, t := range m.F {
		a, b, c := ys[t[0]], ys[t[1]], ys[t[2]]
		lo := int32(max(0, min(a, b, c)-1)) / band
		hi := int32(max(-1, max(a, b, c)+1)) / band
		if max(a, b, c) < -1 || lo >= int32(n) {
			span[i] = [2]int32{1, 0}
			continue
		}
		hi = min(hi, int32(n-1))
		span[i] = [2]int32{lo, hi}
		for k := lo; k <= hi; k++ {
			count[k]++
		}
	}
	out := make([][]int32, n)
	for k := range out {
		out[k] = make([]int32, 0, count[k])
	}
	for i, s := range span {
		for k := s[0]; k <= s[1]; k++ {
			out[k] = append(out[k], int32(i))
		}
	}
	return out
}

// scan calls put for every stretch of grid points in rows [r0, r1) inside the
// triangle, with the index row*nx+column of the first, their number, the height
// there on the triangle's plane and its step from point to point. Points on an
// edge count, so closed meshes leave no gap. Heights at the ends may leave the
// triangle's range by a rounding error.
func scan(a, b, c vec.V3, nx, r0, r1 int, put func(k, n int, z, dz float64)) {
	ylo, yhi := min(a.Y, b.Y, c.Y), max(a.Y, b.Y, c.Y)
	j0, j1 := max(r0, ceil(ylo)), min(r1-1, floor(yhi))
	if j0 > j1 || ceil(min(a.X, b.X, c.X)-1e-9) > floor(max(a.X, b.X, c.X)+1e-9) {
		return
	}
	area := (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X)
	if area == 0 {
		return
	}
	dzdx := ((b.Z-a.Z)*(c.Y-a.Y) - (c.Z-a.Z)*(b.Y-a.Y)) / area
	dzdy := ((c.Z-a.Z)*(b.X-a.X) - (b.Z-a.Z)*(c.X-a.X)) / area
	for j := j0; j <= j1; j++ {
		y := float64(j)
		xlo, xhi := math.MaxFloat64, -math.MaxFloat64
		cross(a, b, y, &xlo, &xhi)
		cross(b, c, y, &xlo, &xhi)
		cross(c, a, y, &xlo, &xhi)
		i0, i1 := max(0, ceil(xlo-1e-9)), min(nx-1, floor(xhi+1e-9))
		if i0 <= i1 {
			put(j*nx+i0, i1-i0+1, a.Z+(float64(i0)-a.X)*dzdx+(y-a.Y)*dzdy, dzdx)
		}
	}
}

// cross widens [lo, hi] to where the edge from p to q meets the level y.
func cross(p, q vec.V3, y float64, lo, hi *float64) {
	if (p.Y > y && q.Y > y) || (p.Y < y && q.Y < y) {
		return
	}
	if p.Y == q.Y {
		*lo, *hi = min(*lo, p.X, q.X), max(*hi, p.X, q.X)
		return
	}
	x := p.X + (q.X-p.X)*((y-p.Y)/(q.Y-p.Y))
	*lo, *hi = min(*lo, x), max(*hi, x)
}

// ceil and floor round to whole numbers, held within 30 bits.
func ceil(x float64) int  { return int(math.Ceil(min(max(x, -1<<30), 1<<30))) }
func floor(x float64) int { return int(math.Floor(min(max(x, -1<<30), 1<<30))) }

// at returns the heights over (x, y); ok is false where there is no body.
func (e *envelope) at(x, y float64) (top, bot float64, ok bool) {
	i, j := int(math.Floor((x-e.x0)/e.h)), int(math.Floor((y-e.y0)/e.h))
	if e.nx == 0 || i < 0 || j < 0 || i >= e.nx || j >= e.ny {
		return 0, 0, false
	}
	k := j*e.nx + i
	if e.top[k] < e.bot[k] {
		return 0, 0, false
	}
	return float64(e.top[k]), float64(e.bot[k]), true
}

// shadow returns the outline of the bodies seen along z, by marching squares
// on the cells; it is true to half a cell.
func (e *envelope) shadow() [][]vec.V2 {
	if e.nx == 0 {
		return nil
	}
	in := func(i, j int) bool { return e.top[j*e.nx+i] >= e.bot[j*e.nx+i] }
	// A border edge is named by the two cells that it parts: 2k right of cell
	// k, 2k+1 above it.
	next := map[int]int{}
	var starts []int
	link := func(a, b int) {
		if _, ok := next[a]; !ok {
			next[a] = b
			starts = append(starts, a)
		}
	}
	for j := 0; j+1 < e.ny; j++ {
		for i := 0; i+1 < e.nx; i++ {
			k := j*e.nx + i
			bottom, rightE, topE, leftE := 2*k, 2*(k+1)+1, 2*(k+e.nx), 2*k+1
			code := 0
			for b, on := range [4]bool{in(i, j), in(i+1, j), in(i+1, j+1), in(i, j+1)} {
				if on {
					code |= 1 << b
				}
			}
			for _, s := range marching[code] {
				edges := [4]int{bottom, rightE, topE, leftE}
				link(edges[s[0]], edges[s[1]])
			}
		}
	}
	pos := func(edge int) vec.V2 {
		k := edge / 2
		q := vec.V2{X: e.x0 + (float64(k%e.nx)+0.5)*e.h, Y: e.y0 + (float64(k/e.nx)+0.5)*e.h}
		if edge%2 == 0 {
			q.X += e.h / 2
		} else {
			q.Y += e.h / 2
		}
		return q
	}
	var out [][]vec.V2
	for _, s := range starts {
		var loop []vec.V2
		for k := s; ; {
			n, ok := next[k]
			if !ok {
				break
			}
			delete(next, k)
			loop = append(loop, pos(k))
			k = n
		}
		if len(loop) > 3 {
			out = append(out, loop)
		}
	}
	return turned(thinned(out, 0.6*e.h, 4*e.h))
}

// marching lists the border pieces of a square of four cells (bits: lower
// left, lower right, upper right, upper left) between its edges (bottom,
// right, top, left), material at the left hand.
var marching = [16][][2]int{
	1: {{0, 3}}, 2: {{1, 0}}, 3: {{1, 3}}, 4: {{2, 1}}, 5: {{0, 3}, {2, 1}}, 6: {{2, 0}}, 7: {{2, 3}},
	8: {{3, 2}}, 9: {{0, 2}}, 10: {{1, 0}, {3, 2}}, 11: {{1, 2}}, 12: {{3, 1}}, 13: {{0, 1}}, 14: {{3, 0}},
}
