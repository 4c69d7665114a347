package parting

// Surface is the parting surface: a height field z(x, y) on a grid of nodes in
// some frame whose z is the pull, linear on the two triangles of every square
// (diagonal from (i, j) to (i+1, j+1)).
type Surface struct {
	NX, NY    int
	X0, Y0, H float64
	Z         []float64 // node (i, j) is Z[j*NX+i]
	Edge      float64   // height at the block's edge
	Added     float64   // volume that the surface locks beyond the gaps
	Steep     float64   // area of the surface in rubber that is steeper than 63 degrees
	Stiff     float64   // the stiffness that was kept, a length; infinite for a plane
	Uneven    int       // nodes on the block's edge that could not stand at Edge
}

// At returns the height at (x, y), held constant beyond the grid.
func (s *Surface) At(x, y float64) float64 {
	u := min(max((x-s.X0)/s.H, 0), float64(s.NX-1))
	v := min(max((y-s.Y0)/s.H, 0), float64(s.NY-1))
	i, j := min(int(u), s.NX-2), min(int(v), s.NY-2)
	u -= float64(i)
	v -= float64(j)
	q := j*s.NX + i
	z00, z10, z01, z11 := s.Z[q], s.Z[q+1], s.Z[q+s.NX], s.Z[q+s.NX+1]
	if u >= v {
		return z00 + u*(z10-z00) + v*(z11-z10)
	}
	return z00 + v*(z01-z00) + u*(z11-z01)
}
