package cells

import (
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// cut finds the offsets of the walls from the cells' own shares and makes the
// parts of the cut cells.
func (c *Cells) cut() {
	c.part = make([]int32, c.Wall+1)
	var list []int32
	for i := range c.part {
		c.part[i] = -1
		if c.Normal[i] != (vec.V3{}) {
			c.part[i] = int32(len(list))
			list = append(list, int32(i))
		}
	}
	c.parts = make([]Part, len(list))
	par.For(len(list), 256, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			i := list[k]
			c.Offset[i] = CubePlane(c.Normal[i], c.Own[i])
			c.parts[k] = PartOf(c.Normal[i], c.Offset[i])
		}
	})
}

// Part returns the open part of a cut cell, and nil where it is the whole cube: in
// whole cells, porous ones (Normal), ports and Wall.
func (c *Cells) Part(i int32) *Part {
	if k := c.part[i]; k >= 0 {
		return &c.parts[k]
	}
	return nil
}

// Under returns the share of cell i's open part where n . x <= a, x in cells from
// the low corner.
func (c *Cells) Under(i int32, n vec.V3, a float64) float64 {
	if k := c.part[i]; k >= 0 {
		return c.parts[k].Under(n, a)
	}
	return CubeUnder(n, a)
}

// Cut returns that share with area (in sides of a cell) and centroid of the
// polygon that the plane cuts out of the open part.
func (c *Cells) Cut(i int32, n vec.V3, a float64) (share, area float64, centre vec.V3) {
	if k := c.part[i]; k >= 0 {
		return c.parts[k].Cut(n, a)
	}
	return CubeCut(n, a)
}

// Plane returns the a for which Under(i, n, a) is share.
func (c *Cells) Plane(i int32, n vec.V3, share float64) float64 {
	if k := c.part[i]; k >= 0 {
		return c.parts[k].Plane(n, share)
	}
	return CubePlane(n, share)
}

// Level returns the share of each cell that lies under the plane through point (m)
// with the normal n out of the metal: a level at rest. Of ports their cube counts,
// of Wall nothing.
func Level(c *Cells, n, point vec.V3) []float64 {
	f := make([]float64, c.Wall+1)
	par.For(c.Wall, 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			f[i] = c.Under(int32(i), n, c.Local(int32(i), n, point))
		}
	})
	return f
}

// Local returns a for which n . x = a is, in the coordinates of cell i, the plane
// through point (m) with the normal n.
func (c *Cells) Local(i int32, n, point vec.V3) float64 {
	p := c.I[i]
	x := point.Sub(c.Origin).Mul(1 / c.H).Sub(vec.V3{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])})
	return n.Dot(x)
}
