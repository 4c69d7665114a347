package cells

import (
	"math"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// open finds the mouths: the section of the cavity by the planes that lie a hair
// within the block's sides, where the cavity reaches them. m is in cells.
func (f *parts) open(m *mesh.Mesh, block lids) {
	b := m.Box()
	for d := range 3 {
		for side := range 2 {
			level := block.lo.At(d)
			reach := b.Min.At(d) <= level+onSide
			level += 2 * onSide
			if side == 1 {
				level = block.hi.At(d)
				reach = b.Max.At(d) >= level-onSide
				level -= 2 * onSide
			}
			k := int(math.Floor(level))
			if !reach || k < 0 || k >= f.dim[d] {
				continue
			}
			area := plane(m, f.dim, d, level)
			e, g := (d+1)%3, (d+2)%3
			for j := range f.dim[g] {
				for i := range f.dim[e] {
					q := i*f.step[e] + j*f.step[g] + k*f.step[d]
					if a := area[j*f.dim[e]+i]; a > thinnest && f.first[q] >= 0 {
						f.mouths = append(f.mouths, mouth{f.first[q], d, side == 1, a})
					}
				}
			}
		}
	}
}

// plane returns the shares of the cells' squares in the plane at level across d, the
// axis after d fastest.
func plane(m *mesh.Mesh, dim [3]int, d int, level float64) []float64 {
	e, f := (d+1)%3, (d+2)%3
	x := newEstimate(dim[e] * dim[f])
	// Along e: the two axes after e are f and d.
	c := voxel.Cast(turn(m, e), dim[f]*sub, 1, 0.5/sub, level, 1.0/sub)
	lines, ends := make([]float64, dim[e]), make([]float64, dim[e])
	for j := range dim[f] {
		clear(lines)
		clear(ends)
		for a := range sub {
			add(c.At(j*sub+a, 0), lines, ends)
		}
		x.take(lines, ends, sub, j*dim[e], 1)
	}
	// Along f: the two axes after f are d and e.
	c = voxel.Cast(turn(m, f), 1, dim[e]*sub, level, 0.5/sub, 1.0/sub)
	lines, ends = make([]float64, dim[f]), make([]float64, dim[f])
	for i := range dim[e] {
		clear(lines)
		clear(ends)
		for a := range sub {
			add(c.At(0, i*sub+a), lines, ends)
		}
		x.take(lines, ends, sub, i, dim[e])
	}
	return x.result()
}
