// Package voxel turns meshes into columns and cells: where the lines parallel
// to z are inside a body, and how much of each cell of a grid it fills.
package voxel

import (
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/mesh"
)

// Span is one stretch of a column that lies inside the body, Lo < Hi.
type Span struct{ Lo, Hi float64 }

// Columns holds, for a grid of lines parallel to z, the stretches inside a
// body. Line (i, j) stands at (X0 + i*H, Y0 + j*H). Inside means winding
// number above 0, so overlapping shells count once.
type Columns struct {
	NX, NY    int
	X0, Y0, H float64
	start     []int32 // NX*NY+1 offsets into spans
	spans     []Span
	Bad       int // columns whose crossings did not balance (an open mesh); they hold what closed
}

// At returns the spans of line (i, j) from low to high. The slice must not be
// changed.
func (c *Columns) At(i, j int) []Span { return c.Of(j*c.NX + i) }

// Of returns the spans of line q = j*NX + i.
func (c *Columns) Of(q int) []Span { return c.spans[c.start[q]:c.start[q+1]] }

// Len returns the number of lines.
func (c *Columns) Len() int { return c.NX * c.NY }

type crossing struct {
	z float64
	d int32 // +1 where the line, going up, enters; -1 where it leaves
}

// Cast finds the spans of m along z on the grid of nx x ny lines at
// (x0+i*h, y0+j*h). The edge test is evaluated from the lower to the higher
// corner index, so that the two triangles of an edge agree and every column of
// a closed mesh balances. Lines that pass exactly through an edge or corner
// are given to one side by that rule.
func Cast(m *mesh.Mesh, nx, ny int, x0, y0, h float64) *Columns {
	c := &Columns{NX: nx, NY: ny, X0: x0, Y0: y0, H: h, start: make([]int32, nx*ny+1)}
	n := len(m.V)
	u := make([]float64, n)
	v := make([]float64, n)
	for i, p := range m.V {
		u[i] = (p.X - x0) / h
		v[i] = (p.Y - y0) / h
	}
	// Two passes: count the crossings of each column, then store them. Bands of
	// rows go to the cores; a band scans all triangles but touches its rows only.
	count := make([]int32, nx*ny+1)
	const band = 64
	par.For(ny, band, func(lo, hi int) {
		for _, t := range m.F {
			raster(u, v, t, nx, lo, hi, func(q int, _, _ float64, _ bool) { count[q+1]++ })
		}
	})
	for q := range nx * ny {
		count[q+1] += count[q]
	}
	cross := make([]crossing, count[nx*ny])
	fill := slices.Clone(count[:nx*ny])
	par.For(ny, band, func(lo, hi int) {
		for _, t := range m.F {
			z0 := m.V[t[0]].Z
			d1, d2 := m.V[t[1]].Z-z0, m.V[t[2]].Z-z0
			raster(u, v, t, nx, lo, hi, func(q int, w1, w2 float64, up bool) {
				d := int32(1)
				if up {
					d = -1
				}
				cross[fill[q]] = crossing{z0 + w1*d1 + w2*d2, d}
				fill[q]++
			})
		}
	})
	// Merge each column's crossings to spans, in place of the crossings.
	parts := (ny + band - 1) / band
	lists := make([][]Span, parts)
	bad := make([]int, parts)
	par.For(ny, band, func(lo, hi int) {
		var out []Span
		for q := lo * nx; q < hi*nx; q++ {
			x := cross[count[q]:count[q+1]]
			if len(x) > 1 {
				slices.SortFunc(x, func(a, b crossing) int {
					if a.z != b.z {
						if a.z < b.z {
							return -1
						}
						return 1
					}
					return int(b.d - a.d)
				})
			}
			w, from, first := int32(0), 0.0, len(out)
			for _, k := range x {
				was := w
				w += k.d
				if was <= 0 && w > 0 {
					from = k.z
				}
				if was > 0 && w <= 0 && k.z > from {
					if len(out) > first && from <= out[len(out)-1].Hi {
						out[len(out)-1].Hi = k.z
					} else {
						out = append(out, Span{from, k.z})
					}
				}
			}
			if w != 0 {
				bad[lo/band]++
			}
			c.start[q+1] = int32(len(out))
		}
		lists[lo/band] = out
	})
	total := int32(0)
	for p, l := range lists {
		for q := p * band * nx; q < min(ny, (p+1)*band)*nx; q++ {
			c.start[q+1] += total
		}
		total += int32(len(l))
		c.Bad += bad[p]
	}
	c.spans = make([]Span, 0, total)
	for _, l := range lists {
		c.spans = append(c.spans, l...)
	}
	return c
}

// raster calls f(column, w1, w2, up) for every grid line of rows [j0, j1)
// that passes through triangle t, whose corners stand at (u, v) in grid units.
// w1 and w2 are the barycentric weights of corners 1 and 2; up says that the
// triangle faces +z (its turn is counter-clockwise seen from above).
func raster(u, v []float64, t [3]int32, nx, j0, j1 int, f func(q int, w1, w2 float64, up bool)) {
	a, b, c := t[0], t[1], t[2]
	u0, v0, u1, v1, u2, v2 := u[a], v[a], u[b], v[b], u[c], v[c]
	jl := max(j0, int(math.Ceil(min(v0, v1, v2))))
	jh := min(j1-1, int(math.Floor(max(v0, v1, v2))))
	if jl > jh {
		return
	}
	il := max(0, int(math.Ceil(min(u0, u1, u2))))
	ih := min(nx-1, int(math.Floor(max(u0, u1, u2))))
	if il > ih {
		return
	}
	area := (u1-u0)*(v2-v0) - (u2-u0)*(v1-v0)
	if area == 0 {
		return
	}
	up := area > 0
	fa, fb, fc := a > b, b > c, c > a
	ax, ay, adx, ady := along(u0, v0, u1, v1, fa)
	bx, by, bdx, bdy := along(u1, v1, u2, v2, fb)
	cx, cy, cdx, cdy := along(u2, v2, u0, v0, fc)
	inv := 1 / area
	for j := jl; j <= jh; j++ {
		y := float64(j)
		for i := il; i <= ih; i++ {
			x := float64(i)
			if (adx*(y-ay)-ady*(x-ax) >= 0) != fa != up {
				continue
			}
			if (bdx*(y-by)-bdy*(x-bx) >= 0) != fb != up {
				continue
			}
			if (cdx*(y-cy)-cdy*(x-cx) >= 0) != fc != up {
				continue
			}
			f(j*nx+i, ((x-u0)*(v2-v0)-(u2-u0)*(y-v0))*inv, ((u1-u0)*(y-v0)-(x-u0)*(v1-v0))*inv, up)
		}
	}
}

func along(u0, v0, u1, v1 float64, flip bool) (x, y, dx, dy float64) {
	if flip {
		return u1, v1, u0 - u1, v0 - v1
	}
	return u0, v0, u1 - u0, v1 - v0
}
