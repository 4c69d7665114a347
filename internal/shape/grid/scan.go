package grid

// Scan finds the whole-number points (i, j) of the plane that a triangle
// covers, row by row.
//
// A directed edge that crosses row j at x adds -1 to all points i >= x where it
// goes up and +1 where it goes down. The sum over the three edges of a triangle
// is +1 on the points of a counter-clockwise triangle, -1 on those of a
// clockwise one. x is computed from the edge's lower to its upper corner, so
// the triangles on both sides of an edge get the same number and their shares
// cancel exactly, whatever the rounding: over a closed surface every point sums
// to 0. A triangle may, by rounding, turn round within a row; Row then says so
// by its sign, and the balance still holds. A point exactly on an edge belongs
// to the side towards +i, or +j for a level edge.
type Scan struct {
	J0, J1 int // rows of the triangle: J0 <= j < J1

	jm         int     // rows below jm meet the edge 0-1, others 1-2
	u0, v0, sl float64 // long edge: lower corner and du/dv
	us, vs, s0 float64 // edge 0-1
	ut, vt, s1 float64 // edge 1-2
	turned     bool    // the long edge goes up in the sense of the triangle
}

// Set takes the corners of a triangle in grid units, in their sense of turn,
// and the rows [j0, j1) of interest; false where it meets none of them. The
// coordinates must be below 2^30 in size.
func (s *Scan) Set(u0, v0, u1, v1, u2, v2 float64, j0, j1 int) bool {
	s.J0 = max(j0, ceil(min(v0, v1, v2)))
	s.J1 = min(j1, ceil(max(v0, v1, v2)))
	if s.J0 >= s.J1 {
		return false
	}
	s.turned = false
	if v1 < v0 {
		u0, v0, u1, v1 = u1, v1, u0, v0
		s.turned = !s.turned
	}
	if v2 < v1 {
		u1, v1, u2, v2 = u2, v2, u1, v1
		s.turned = !s.turned
		if v1 < v0 {
			u0, v0, u1, v1 = u1, v1, u0, v0
			s.turned = !s.turned
		}
	}
	s.jm = ceil(v1)
	s.u0, s.v0, s.sl = u0, v0, slope(u2-u0, v2-v0)
	s.us, s.vs, s.ut, s.vt = u0, v0, u1, v1
	s.s0, s.s1 = 0, 0
	if s.jm > s.J0 {
		s.s0 = slope(u1-u0, v1-v0)
	}
	if s.jm < s.J1 {
		s.s1 = slope(u2-u1, v2-v1)
	}
	return true
}

// Row returns the points i0 <= i < i1 of row j, J0 <= j < J1, before any limit
// to the left and right, and whether they count +1 (counter-clockwise).
func (s *Scan) Row(j int) (i0, i1 int, ccw bool) {
	y := float64(j)
	long := ceil(s.u0 + float64((y-s.v0)*s.sl))
	var short int
	if j < s.jm {
		short = ceil(s.us + float64((y-s.vs)*s.s0))
	} else {
		short = ceil(s.ut + float64((y-s.vt)*s.s1))
	}
	// Not turned: the two short edges go up, the long one comes down.
	if long <= short {
		return long, short, !s.turned
	}
	return short, long, s.turned
}

// slope returns du/dv; 0 where dv is so small that the row is at the corner.
func slope(du, dv float64) float64 {
	x := du / dv
	if x-x != 0 {
		return 0
	}
	return x
}

// ceil rounds up to a whole number; x must be below 2^62 in size.
func ceil(x float64) int {
	i := int(x)
	if float64(i) < x {
		i++
	}
	return i
}
