package voxel

import (
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
)

// crossing is where line q meets a triangle.
type crossing struct {
	w float64
	q int32
	d int32 // +1 where the line, going up, enters; -1 where it leaves
}

const (
	triangles = 8192 // per parallel piece
	bandCount = 16   // bands of rows, at most
	bandRows  = 8    // rows of a band, at least
)

// bands holds the crossings by piece of triangles and band of rows.
type bands struct {
	rows int // of a band
	list [][][]crossing
}

// scanAll finds all crossings.
func scanAll(m *mesh.Mesh, axes [3]int, nx, ny int, x0, y0, h float64) bands {
	p := make([]point, len(m.V))
	par.For(len(p), 2*triangles, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			a := m.V[i].Array()
			p[i] = point{(a[axes[0]] - x0) / h, (a[axes[1]] - y0) / h, a[axes[2]]}
		}
	})
	rows := max(bandRows, (ny+bandCount-1)/bandCount)
	count := (ny + rows - 1) / rows
	b := bands{rows, make([][][]crossing, (len(m.F)+triangles-1)/triangles)}
	par.For(len(m.F), triangles, func(lo, hi int) {
		list := make([][]crossing, count)
		scanSome(p, m.F[lo:hi], nx, ny, rows, list)
		b.list[lo/triangles] = list
	})
	return b
}

// scanSome appends the crossings of the triangles f to the lists of their bands.
//
// The height of a crossing is that of the triangle's plane, w = w0 + g.(x - x0),
// held between the triangle's corners: a plane that is nearly upright has a
// gradient that rounding would carry away.
func scanSome(p []point, f [][3]int32, nx, ny, rows int, list [][]crossing) {
	var s grid.Scan
	right := float64(nx - 1)
	for _, t := range f {
		a, b, c := &p[t[0]], &p[t[1]], &p[t[2]]
		u0, u1, u2 := a.u, b.u, c.u
		lo, hi := min(u0, u1, u2), max(u0, u1, u2)
		// No line between lo and hi: most triangles that are smaller than a cell.
		// A row may round past either end by a few parts in 1e16 of its size, hence the slack.
		if lo > right+1e-6 || hi < -1e-6 {
			continue
		}
		slack := 1e-9 * (1 + hi - lo)
		if k := float64(int(hi + slack)); k < lo-slack && hi > 0 {
			continue
		}
		if !s.Set(u0, a.v, u1, b.v, u2, c.v, 0, ny) {
			continue
		}
		if x := u0 + u1 + u2 + a.v + b.v + c.v + a.w + b.w + c.w; x-x != 0 {
			continue
		}
		du1, dv1, dw1 := u1-u0, b.v-a.v, b.w-a.w
		du2, dv2, dw2 := u2-u0, c.v-a.v, c.w-a.w
		var gu, gv float64
		if area := du1*dv2 - du2*dv1; area != 0 {
			gu, gv = (dw1*dv2-dw2*dv1)/area, (du1*dw2-du2*dw1)/area
		}
		low, high := min(a.w, b.w, c.w), max(a.w, b.w, c.w)
		band := s.J0 / rows
		for j := s.J0; j < s.J1; j++ {
			i0, i1, ccw := s.Row(j)
			i0, i1 = max(i0, 0), min(i1, nx)
			if i0 >= i1 {
				continue
			}
			for (band+1)*rows <= j {
				band++
			}
			d := int32(1)
			if ccw {
				d = -1
			}
			base := a.w + gv*(float64(j)-a.v)
			out := list[band]
			for i := i0; i < i1; i++ {
				w := base + gu*(float64(i)-u0)
				if !(w >= low) {
					w = low
				} else if w > high {
					w = high
				}
				out = append(out, crossing{w, int32(j*nx + i), d})
			}
			list[band] = out
		}
	}
}

// collect sorts the crossings to lines and merges each line's to spans.
func (c *Columns) collect(b bands) {
	parts := (c.NY + b.rows - 1) / b.rows
	lists := make([][]Span, parts)
	bad := make([]int, parts)
	par.For(parts, 1, func(p, _ int) {
		lo, hi := p*b.rows*c.NX, min(c.NY, (p+1)*b.rows)*c.NX
		lists[p], bad[p] = c.merge(lo, b.sorted(p, lo, hi-lo), c.start[lo+1:hi+1])
	})
	total := int32(0)
	for p, l := range lists {
		if total > 0 {
			for q := p * b.rows * c.NX; q < min(c.NY, (p+1)*b.rows)*c.NX; q++ {
				c.start[q+1] += total
			}
		}
		total += int32(len(l))
		c.Bad += bad[p]
	}
	c.spans = make([]Span, 0, total)
	for _, l := range lists {
		c.spans = append(c.spans, l...)
	}
}

// lines holds the crossings of n lines, those of line q at at[q] up to at[q+1].
type lines struct {
	at []int32
	x  []crossing
}

// sorted gathers band p, whose first line is lo, by a counting sort.
func (b *bands) sorted(p, lo, n int) lines {
	at := make([]int32, n+2)
	total := 0
	for _, l := range b.list {
		for k := range l[p] {
			at[int(l[p][k].q)-lo+2]++
		}
		total += len(l[p])
	}
	for q := 2; q <= n; q++ {
		at[q] += at[q-1]
	}
	x := make([]crossing, total)
	for _, l := range b.list {
		for _, k := range l[p] {
			q := &at[int(k.q)-lo+1]
			x[*q] = k
			*q++
		}
	}
	return lines{at[:n+1], x}
}

// merge returns the spans of the lines, and sets ends to where each line's
// spans end in them; bad counts lines that did not balance.
func (c *Columns) merge(lo int, l lines, ends []int32) (out []Span, bad int) {
	out = make([]Span, 0, len(l.x)/2)
	for q := range ends {
		x := l.x[l.at[q]:l.at[q+1]]
		if len(x) > 0 {
			order(x)
			w, from, first := int32(0), 0.0, len(out)
			for _, k := range x {
				was := w
				w += k.d
				if was <= 0 && w > 0 {
					from = k.w
				}
				if was > 0 && w <= 0 && k.w > from {
					if len(out) > first && from <= out[len(out)-1].Hi {
						out[len(out)-1].Hi = k.w
					} else {
						out = append(out, Span{from, k.w})
					}
				}
			}
			if w != 0 {
				bad++
			}
		}
		ends[q] = int32(len(out))
	}
	return out, bad
}

// order sorts by height, entries before exits where heights are equal, so that
// bodies that touch become one span.
func order(x []crossing) {
	if len(x) > 32 {
		slices.SortFunc(x, func(a, b crossing) int {
			switch {
			case before(&a, &b):
				return -1
			case before(&b, &a):
				return 1
			}
			return 0
		})
		return
	}
	for i := 1; i < len(x); i++ {
		k := x[i]
		j := i
		for j > 0 && before(&k, &x[j-1]) {
			x[j] = x[j-1]
			j--
		}
		x[j] = k
	}
}

func before(a, b *crossing) bool { return a.w < b.w || a.w == b.w && a.d > b.d }
