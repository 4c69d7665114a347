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
	f, err := s.Field(math.Abs(d)+2*step, math.Max(d, 0)+2*step, step) // distances beyond do not matter
	if err != nil || f == nil {
		return nil, err
	}
	return f.Contour(-d), nil
}

// Field is the signed distance from a shape on a raster, above zero inside.
// The value of point (i, j), at O + (i, j) Step, is V[j*NX+i].
type Field struct {
	O      vec.V2
	Step   float64
	NX, NY int
	V      []float64
}

// Field returns the distances over the shape's box and a margin round it; those
// beyond reach are cut to it. Nil for a shape without points.
func (s Shape) Field(reach, margin, step float64) (*Field, error) {
	lo, hi := s.Box()
	if lo.X > hi.X {
		return nil, nil
	}
	fx, fy := math.Ceil((hi.X-lo.X+2*margin)/step)+1, math.Ceil((hi.Y-lo.Y+2*margin)/step)+1
	if !(step > 0) || !(fx*fy <= 1<<28) {
		return nil, fault.New(fault.Input, "", "use a step above zero that parts the outline into at most some thousand pieces",
			"an outline of %g x %g cannot be offset on a raster of step %g", hi.X-lo.X, hi.Y-lo.Y, step)
	}
	f := &Field{O: vec.V2{X: lo.X - margin, Y: lo.Y - margin}, Step: step, NX: int(fx), NY: int(fy)}
	f.V = make([]float64, f.NX*f.NY)
	for q := range f.V {
		f.V[q] = reach
	}
	for _, l := range s {
		for i, a := range l {
			near(f.V, f.NX, f.NY, f.O, step, reach, a, l[(i+1)%len(l)])
		}
	}
	s.sign(f.V, f.NX, f.NY, f.O, step)
	return f, nil
}

// At returns the distance at p, linear between the points of the raster, and
// outside it that of its nearest point.
func (f *Field) At(p vec.V2) float64 {
	x := min(max((p.X-f.O.X)/f.Step, 0), float64(f.NX-1))
	y := min(max((p.Y-f.O.Y)/f.Step, 0), float64(f.NY-1))
	i, j := min(int(x), max(0, f.NX-2)), min(int(y), max(0, f.NY-2))
	a, b := x-float64(i), y-float64(j)
	v := func(i, j int) float64 { return f.V[min(j, f.NY-1)*f.NX+min(i, f.NX-1)] }
	return (1-b)*((1-a)*v(i, j)+a*v(i+1, j)) + b*((1-a)*v(i, j+1)+a*v(i+1, j+1))
}

// Contour returns the loops along which the distance is level.
func (f *Field) Contour(level float64) Shape {
	r := Contour(f.V, f.NX, f.NY, level)
	for _, l := range r {
		for k, p := range l {
			l[k] = f.O.Add(p.Mul(f.Step))
		}
	}
	return r
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
