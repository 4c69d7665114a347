package chill

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/mesh"
)

// Wall is a patch of the cavity's skin in one cell.
type Wall struct {
	Cell   int32
	Area   float64 // m2
	Bend   float64 // 1/m, sum of the main curvatures, positive where rubber surrounds the metal: 2/R in a ball, 1/R on a rod; 0 flat
	At     vec.V3  // its middle, in cells from the cell's low corner
	Normal vec.V3  // of length 1, out of the metal's room
}

// Walls are all patches in the order of their cells: those of cell c are
// [Start[c], Start[c+1]).
type Walls struct {
	Patch []Wall
	Start []int32
}

// Area returns the sum, m2.
func (w *Walls) Area() float64 {
	s := 0.0
	for i := range w.Patch {
		s += w.Patch[i].Area
	}
	return s
}

// sixth returns which of six directions a normal is nearest to.
func sixth(n vec.V3) int {
	x := n.Array()
	d := 0
	for e := 1; e < 3; e++ {
		if math.Abs(x[e]) > math.Abs(x[d]) {
			d = e
		}
	}
	if x[d] > 0 {
		return 2*d + 1
	}
	return 2 * d
}

// gathered adds up bits of skin by cell and direction.
type gathered struct {
	area   float64
	at     vec.V3
	normal vec.V3
}

// pack makes patches of what was gathered, six to a cell.
func pack(n int, sum []gathered) *Walls {
	w := &Walls{Start: make([]int32, n+1)}
	for c := range n {
		w.Start[c] = int32(len(w.Patch))
		for _, g := range sum[6*c : 6*c+6] {
			if g.area > 0 {
				w.Patch = append(w.Patch, Wall{Cell: int32(c), Area: g.area, At: g.at.Mul(1 / g.area), Normal: g.normal.Unit()})
			}
		}
	}
	w.Start[n] = int32(len(w.Patch))
	return w
}

// bit is the longest edge of the pieces in which skin is dealt out, in cells.
const bit = 0.35

// FromMesh deals the skin of a closed cavity in mm, its normals pointing out, out
// to the cells: triangles are halved until they are small, and each bit goes to
// the cell just inside it. Triangles on a side of box, where the cavity stands
// open, are no wall, nor are bits that lie deep in the open (where bodies that
// make up the cavity overlap). It returns also the area in m2 of bits with no cell
// within reach.
func FromMesh(c *cells.Cells, m *mesh.Mesh, box vec.Box) (*Walls, float64) {
	mm := c.H * 1e3
	skin := heat.Walls(m, box, 1e-3*mm)
	sum, lost := make([]gathered, 6*c.N), 0.0
	var deal func(p [3]vec.V3, n vec.V3, side, deep int)
	deal = func(p [3]vec.V3, n vec.V3, side, deep int) {
		long, at := 0.0, 0
		for i := range 3 {
			if l := p[i].Sub(p[(i+1)%3]).Len(); l > long {
				long, at = l, i
			}
		}
		if long > bit && deep > 0 {
			a, b, o := p[at], p[(at+1)%3], p[(at+2)%3]
			m := a.Add(b).Mul(0.5)
			deal([3]vec.V3{a, m, o}, n, side, deep-1)
			deal([3]vec.V3{m, b, o}, n, side, deep-1)
			return
		}
		mid := p[0].Add(p[1]).Add(p[2]).Mul(1. / 3)
		area := p[1].Sub(p[0]).Cross(p[2].Sub(p[0])).Len() / 2
		k, inside := under(c, mid, n)
		if inside {
			return
		}
		if k < 0 {
			lost += area
			return
		}
		g := &sum[6*int(k)+side]
		q := c.I[k]
		g.area += area * c.H * c.H
		g.at = g.at.Add(mid.Sub(vec.V3{X: float64(q[0]), Y: float64(q[1]), Z: float64(q[2])}).Mul(area * c.H * c.H))
		g.normal = g.normal.Add(n.Mul(area))
	}
	for _, f := range skin.F {
		var p [3]vec.V3
		for i, v := range f {
			p[i] = skin.V[v].Mul(1e-3).Sub(c.Origin).Mul(1 / c.H)
		}
		n := p[1].Sub(p[0]).Cross(p[2].Sub(p[0]))
		if l := n.Len(); l > 0 && !math.IsInf(l, 0) {
			n = n.Mul(1 / l)
			deal(p, n, sixth(n), 60)
		}
	}
	return pack(c.N, sum), lost * c.H * c.H
}

// under returns the open cell that a bit of skin at p (in cells) with normal n
// bounds, -1 where there is none near; inside is true where both sides of it lie
// in whole open cells.
func under(c *cells.Cells, p, n vec.V3) (k int32, inside bool) {
	at := func(d float64) int32 {
		q := p.Sub(n.Mul(d))
		k := c.At(int(math.Floor(q.X)), int(math.Floor(q.Y)), int(math.Floor(q.Z)))
		if int(k) >= c.N {
			return -1
		}
		return k
	}
	for _, d := range []float64{0.02, 0.25, 0.6, 1} {
		if k = at(d); k >= 0 {
			if o := at(-0.75); o >= 0 && whole(c, k) && whole(c, o) {
				return -1, true
			}
			return k, false
		}
	}
	best := 3.0
	k = -1
	base := [3]int{int(math.Floor(p.X)), int(math.Floor(p.Y)), int(math.Floor(p.Z))}
	for z := -1; z <= 1; z++ {
		for y := -1; y <= 1; y++ {
			for x := -1; x <= 1; x++ {
				o := c.At(base[0]+x, base[1]+y, base[2]+z)
				if int(o) >= c.N {
					continue
				}
				mid := vec.V3{X: float64(base[0]+x) + 0.5, Y: float64(base[1]+y) + 0.5, Z: float64(base[2]+z) + 0.5}
				if d := mid.Sub(p).Len(); d < best {
					best, k = d, o
				}
			}
		}
	}
	return k, false
}

// whole reports whether no wall touches a cell.
func whole(c *cells.Cells, k int32) bool {
	for d := range 3 {
		if c.A[d][k] < 0.999 || c.A[d][c.Nb[2*d+1][k]] < 0.999 {
			return false
		}
	}
	return c.V[k] > 0.999 && c.V[k] < 1.001
}

// Curve gives the walls of thin round parts their bend: 1/R of a rod of the
// section's width, by how near the section is to round or square. Elsewhere walls
// count as flat.
func (w *Walls) Curve(sections []cells.Section) {
	for i := range w.Patch {
		p := &w.Patch[i]
		if s := sections[p.Cell]; s.Width > 0 && s.Flat > 0.5 {
			p.Bend = 2 * s.Flat / s.Width
		}
	}
}
