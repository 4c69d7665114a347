package voxel

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
)

// Cells returns one byte for each cell of g, in the order of g.At: 1 where the
// cell's centre lies inside m.
func Cells(m *mesh.Mesh, g grid.Grid) []uint8 {
	cells := make([]uint8, g.Len())
	// Lines along x, so that each span is a run of bytes.
	c := cast(m, [3]int{1, 2, 0}, g.NY, g.NZ, g.Origin.Y+g.H/2, g.Origin.Z+g.H/2, g.H)
	par.For(c.Len(), 4096, func(lo, hi int) {
		for q := lo; q < hi; q++ {
			row := cells[q*g.NX : (q+1)*g.NX]
			for _, s := range c.Of(q) {
				i0 := max(0, ceil((s.Lo-g.Origin.X)/g.H-0.5))
				i1 := min(g.NX, ceil((s.Hi-g.Origin.X)/g.H-0.5))
				for i := i0; i < i1; i++ {
					row[i] = 1
				}
			}
		}
	})
	return cells
}

func ceil(x float64) int { return int(math.Ceil(x)) }

// Fractions returns the share of each cell of g that lies inside m, 0 to 1, in
// the order of g.At. Each cell is sampled by sub x sub lines along z whose ends
// are exact: a level face has no error, an upright one at most 1/sub of the
// cells it cuts, and the sum over all cells converges with sub^-2.
func Fractions(m *mesh.Mesh, g grid.Grid, sub int) []float32 {
	sub = max(1, sub)
	f := make([]float32, g.Len())
	step := g.H / float64(sub)
	c := Cast(m, g.NX*sub, g.NY*sub, g.Origin.X+step/2, g.Origin.Y+step/2, step)
	all := float64(sub * sub)
	par.For(g.NY, 4, func(lo, hi int) {
		col := make([]float64, g.NZ)
		for j := lo; j < hi; j++ {
			for i := range g.NX {
				first, end := g.NZ, 0 // cells of this column that hold something
				for b := range sub {
					for a := range sub {
						for _, s := range c.At(i*sub+a, j*sub+b) {
							k0, k1 := fill(col, (s.Lo-g.Origin.Z)/g.H, (s.Hi-g.Origin.Z)/g.H)
							first, end = min(first, k0), max(end, k1)
						}
					}
				}
				for k := first; k < end; k++ {
					f[g.At(i, j, k)] = float32(col[k] / all)
					col[k] = 0
				}
			}
		}
	})
	return f
}

// fill adds to each cell the length of [lo, hi], in cells, that lies in it. It
// returns the range of cells touched.
func fill(col []float64, lo, hi float64) (k0, k1 int) {
	lo, hi = max(lo, 0), min(hi, float64(len(col)))
	if !(lo < hi) {
		return len(col), 0
	}
	k0, k1 = int(lo), int(hi)
	if k0 == k1 {
		col[k0] += hi - lo
		return k0, k0 + 1
	}
	col[k0] += float64(k0+1) - lo
	for k := k0 + 1; k < k1; k++ {
		col[k]++
	}
	if k1 < len(col) {
		col[k1] += hi - float64(k1)
		k1++
	}
	return k0, k1
}
