package block

import (
	"math"

	"pourwright/internal/mould/parting"
)

// level returns the height at which the parting surface best meets the sides
// of the block: the mean height of the middle of the metal along the rim of
// its shadow.
func (f *face) level() float64 {
	s, n := 0.0, 0
	for j := 1; j < f.ny-1; j++ {
		for i := 1; i < f.nx-1; i++ {
			q := j*f.nx + i
			if f.metal(q) && !(f.metal(q-1) && f.metal(q+1) && f.metal(q-f.nx) && f.metal(q+f.nx)) {
				s += (f.lo[q] + f.hi[q]) / 2
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return s / float64(n)
}

// membrane lays a height field between the first entry and the last exit of
// every column, level at the grid's rim, with the least integral of its squared
// slope (two obstacles, projected successive over-relaxation: C. Cryer, SIAM
// J. Control 9 (1971)).
func (f *face) membrane(edge float64) *parting.Surface {
	s := &parting.Surface{NX: f.nx, NY: f.ny, X0: f.x0, Y0: f.y0, H: f.h, Z: make([]float64, f.nx*f.ny)}
	for q := range s.Z {
		s.Z[q] = edge
		if f.metal(q) {
			s.Z[q] = min(max(edge, f.lo[q]), f.hi[q])
		}
	}
	const omega, sweeps = 1.85, 400
	for range sweeps {
		move := 0.0
		for j := 1; j < f.ny-1; j++ {
			for i := 1; i < f.nx-1; i++ {
				q := j*f.nx + i
				z := s.Z[q]
				v := z + omega*((s.Z[q-1]+s.Z[q+1]+s.Z[q-f.nx]+s.Z[q+f.nx])/4-z)
				if f.metal(q) {
					v = min(max(v, f.lo[q]), f.hi[q])
				}
				move = math.Max(move, math.Abs(v-z))
				s.Z[q] = v
			}
		}
		if move < 1e-5 {
			break
		}
	}
	return s
}
