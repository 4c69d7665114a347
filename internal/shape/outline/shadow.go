package outline

import (
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Shadow returns the outline of m seen along z, as loops in x and y, drawn with
// a raster of step h. The raster's lines are cut by each triangle exactly, so
// the loops' points lie on the true outline; between two of them the outline is
// straight, an error of about h^2/8 over its radius, and corners are cut by up
// to h/2. Parts and gaps narrower than h may be lost.
func Shadow(m *mesh.Mesh, h float64) (Shape, error) {
	b := m.Box()
	s := b.Size()
	if len(m.F) == 0 || !s.Finite() || !(h > 0) || math.IsInf(h, 0) {
		return nil, fault.New(fault.Input, "", "give a body with a size and a step above zero", "the shadow of %d triangles cannot be drawn with step %g", len(m.F), h)
	}
	fx, fy := math.Ceil(s.X/h)+2, math.Ceil(s.Y/h)+2
	if fx*fy > 1<<28 {
		return nil, fault.New(fault.Input, "", "use a larger step", "a raster of %.0f x %.0f points is too large for a shadow", fx, fy)
	}
	nx, ny := int(fx), int(fy)
	// Lines stand off the box by an odd part of a step: bodies drawn on whole
	// millimetres would otherwise have all their edges on lines.
	x0, y0 := b.Min.X-0.6180339*h, b.Min.Y-0.4142135*h
	u, v := make([]float64, len(m.V)), make([]float64, len(m.V))
	for i, p := range m.V {
		u[i], v[i] = (p.X-x0)/h, (p.Y-y0)/h
	}
	rows := chords(m, u, v, ny)
	cols := chords(m, v, u, nx)
	in := make([]bool, nx*ny)
	right, above := borders(nx*ny), borders(nx*ny)
	for j, row := range rows {
		for _, c := range row {
			i0, i1 := max(0, ceil(c.lo)), min(nx, ceil(c.hi))
			if i0 >= i1 {
				continue
			}
			for i := i0; i < i1; i++ {
				in[j*nx+i] = true
			}
			right.mark(j*nx, 1, nx, c, i0, i1)
		}
	}
	for i, col := range cols {
		for _, c := range col {
			if j0, j1 := max(0, ceil(c.lo)), min(ny, ceil(c.hi)); j0 < j1 {
				above.mark(i, nx, ny, c, j0, j1)
			}
		}
	}
	loops := march(nx, ny, in, func(i, j int, up bool) float64 {
		set := right
		if up {
			set = above
		}
		if i >= 0 && j >= 0 {
			if x := set[j*nx+i]; x >= 0 {
				return float64(x)
			}
		}
		if i >= 0 && j >= 0 && in[j*nx+i] { // rows and columns differ by rounding: at the point inside
			return 0
		}
		return 1
	}, func(i, j int) bool { return false })
	for _, l := range loops {
		for k, p := range l {
			l[k] = vec.V2{X: x0 + h*p.X, Y: y0 + h*p.Y}
		}
	}
	return loops, nil
}

// border holds for each point the place of the outline on the way to its right
// (or upper) neighbour, -1 where it was not met.
type border []float32

func borders(n int) border {
	b := make(border, n)
	for i := range b {
		b[i] = -1
	}
	return b
}

// mark stores both ends of chord c, which holds the points i0 <= i < i1 of n.
func (b border) mark(first, stride, n int, c chord, i0, i1 int) {
	if i0 > 0 {
		b[first+(i0-1)*stride] = float32(min(max(c.lo-float64(i0-1), 0), 1))
	}
	if i1 <= n {
		b[first+(i1-1)*stride] = float32(min(max(c.hi-float64(i1-1), 0), 1))
	}
}

// chord is a stretch of a raster line that the shadow covers.
type chord struct{ lo, hi float64 }

// chords returns, for each of the n lines v = 0, 1, 2 ..., the stretches of u
// covered by triangles, merged and in order.
func chords(m *mesh.Mesh, u, v []float64, n int) [][]chord {
	const chunk = 8192
	const band = 64
	type piece struct {
		j int32
		c chord
	}
	parts := (len(m.F) + chunk - 1) / chunk
	found := make([][]piece, parts)
	par.For(len(m.F), chunk, func(lo, hi int) {
		var list []piece
		for _, t := range m.F[lo:hi] {
			v0, v1, v2 := v[t[0]], v[t[1]], v[t[2]]
			j0, j1 := max(0, ceil(min(v0, v1, v2))), min(n, ceil(max(v0, v1, v2)))
			for j := j0; j < j1; j++ {
				c := chord{math.Inf(1), math.Inf(-1)}
				y := float64(j)
				for k := range 3 {
					a, b := t[k], t[(k+1)%3]
					if v[b] < v[a] {
						a, b = b, a
					}
					if v[a] <= y && y < v[b] {
						x := u[a] + (y-v[a])/(v[b]-v[a])*(u[b]-u[a])
						c.lo, c.hi = min(c.lo, x), max(c.hi, x)
					}
				}
				if c.lo <= c.hi {
					list = append(list, piece{int32(j), c})
				}
			}
		}
		found[lo/chunk] = list
	})
	lines := make([][]chord, n)
	for _, list := range found {
		for _, p := range list {
			lines[p.j] = append(lines[p.j], p.c)
		}
	}
	par.For(n, band, func(lo, hi int) {
		for j := lo; j < hi; j++ {
			lines[j] = union(lines[j])
		}
	})
	return lines
}

// union merges the chords that touch, in place. Neighbouring triangles may
// miss each other by rounding, so gaps below 1e-9 of a step close.
func union(c []chord) []chord {
	slices.SortFunc(c, func(a, b chord) int {
		switch {
		case a.lo < b.lo:
			return -1
		case a.lo > b.lo:
			return 1
		}
		return 0
	})
	out := c[:0]
	for _, x := range c {
		if n := len(out); n > 0 && x.lo <= out[n-1].hi+1e-9 {
			out[n-1].hi = max(out[n-1].hi, x.hi)
		} else {
			out = append(out, x)
		}
	}
	return out
}

func ceil(x float64) int { return int(math.Ceil(x)) }
