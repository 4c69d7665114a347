package outline

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// Offset returns the set of points within distance d of the shape (d above 0),
// or those inside it further than -d from its border (d below 0), as loops.
// step is the raster's; the distances on it are exact, so smooth borders come
// out within about step^2/(8 r) for a radius r of the result (at least |d|
// outwards), and sharp inner corners are cut by up to step/2. What is thinner
// than step may be lost. Loops that cross each other are taken as their union
// outwards; inwards each keeps its distance from the others' borders too.
func (s Shape) Offset(d, step float64) (Shape, error) {
	lo, hi := s.Box()
	if lo.X > hi.X {
		return nil, nil
	}
	reach := math.Abs(d) + 2*step // distances beyond do not matter
	margin := math.Max(d, 0) + 2*step
	fx, fy := math.Ceil((hi.X-lo.X+2*margin)/step)+1, math.Ceil((hi.Y-lo.Y+2*margin)/step)+1
	if !(step > 0) || !(fx*fy <= 1<<28) {
		return nil, fault.New(fault.Input, "", "use a step above zero that parts the outline into at most some thousand pieces",
			"an outline of %g x %g cannot be offset by %g on a raster of step %g", hi.X-lo.X, hi.Y-lo.Y, d, step)
	}
	nx, ny := int(fx), int(fy)
	o := vec.V2{X: lo.X - margin, Y: lo.Y - margin}
	v := make([]float64, nx*ny)
	for q := range v {
		v[q] = reach
	}
	for _, l := range s {
		for i, a := range l {
			near(v, nx, ny, o, step, reach, a, l[(i+1)%len(l)])
		}
	}
	s.sign(v, nx, ny, o, step)
	r := Contour(v, nx, ny, -d)
	for _, l := range r {
		for k, p := range l {
			l[k] = o.Add(p.Mul(step))
		}
	}
	return r, nil
}

// near lowers the distances of the raster points within reach of piece a b.
func near(v []float64, nx, ny int, o vec.V2, step, reach float64, a, b vec.V2) {
	at := func(x, o float64, n int, up bool) int {
		x = (x - o) / step
		if up {
			return min(n-1, int(math.Floor(x)))
		}
		return max(0, int(math.Ceil(x)))
	}
	i0, i1 := at(min(a.X, b.X)-reach, o.X, nx, false), at(max(a.X, b.X)+reach, o.X, nx, true)
	j0, j1 := at(min(a.Y, b.Y)-reach, o.Y, ny, false), at(max(a.Y, b.Y)+reach, o.Y, ny, true)
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			p := vec.V2{X: o.X + float64(i)*step, Y: o.Y + float64(j)*step}
			if d := toPiece(p, a, b); d < v[j*nx+i] {
				v[j*nx+i] = d
			}
		}
	}
}

// sign turns the distance of the points outside below zero, row by row: a
// point is inside where the loops wind round it more than 0 times.
func (s Shape) sign(v []float64, nx, ny int, o vec.V2, step float64) {
	turn := make([]int32, nx*ny) // change of the winding number at this point, going right
	for _, l := range s {
		for i, a := range l {
			b, way := l[(i+1)%len(l)], int32(-1) // to the right of a piece that goes up it is one less
			if b.Y < a.Y {
				a, b, way = b, a, 1
			}
			j0, j1 := max(0, ceil((a.Y-o.Y)/step)), min(ny, ceil((b.Y-o.Y)/step))
			for j := j0; j < j1; j++ {
				y := o.Y + float64(j)*step
				x := a.X + (y-a.Y)/(b.Y-a.Y)*(b.X-a.X)
				if k := max(0, ceil((x-o.X)/step)); k < nx {
					turn[j*nx+k] += way
				}
			}
		}
	}
	for j := range ny {
		w := int32(0)
		for i := range nx {
			if w += turn[j*nx+i]; w <= 0 {
				v[j*nx+i] = -v[j*nx+i]
			}
		}
	}
}
