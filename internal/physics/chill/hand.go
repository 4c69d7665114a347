package chill

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
)

// Filled returns what a filling leaves, for each cell of a grid in mm: metal, its
// heat, and the heat that the rubber behind its walls got. Cells are spread over
// the cells of the grid that they overlap, by volume; nothing is lost on a grid that
// holds them all. heat.Run.PourFilled takes it.
func (s *State) Filled(g grid.Grid, f, q []float64) (heat.Filled, error) {
	n := g.Len()
	r := heat.Filled{Volume: make([]float64, n), Heat: make([]float64, n), Rubber: make([]float64, n)}
	h := s.c.H
	ratio := h * 1e3 / g.H
	low := s.c.Origin.Mul(1e3).Sub(g.Origin).Mul(1 / g.H).Array()
	size := [3]int{g.NX, g.NY, g.NZ}
	var at [3][]int
	var part [3][]float64
	for c := range s.c.N {
		for d := range 3 {
			at[d], part[d] = overlap(low[d]+float64(s.c.I[c][d])*ratio, ratio, size[d], at[d][:0], part[d][:0])
			if len(at[d]) == 0 {
				return r, fault.New(fault.Internal, "chill", "lay both over the same block", "cell %v lies outside a grid of %v cells", s.c.I[c], size)
			}
		}
		v := max(f[c], 0) * s.c.V[c] * h * h * h
		e := q[c] * s.c.V[c] * h * h * h
		rubber := 0.0
		for _, x := range s.taken[s.w.Start[c]:s.w.Start[c+1]] {
			rubber += x
		}
		if v == 0 && rubber == 0 {
			continue
		}
		for i, x := range at[0] {
			for j, y := range at[1] {
				for k, z := range at[2] {
					w := part[0][i] * part[1][j] * part[2][k]
					o := g.At(x, y, z)
					if v > 0 {
						r.Volume[o] += w * v
						r.Heat[o] += w * e
					}
					r.Rubber[o] += w * rubber
				}
			}
		}
	}
	return r, nil
}

// overlap appends the cells of a row of n that [from, from+wide] lies over, and the
// shares of it in each; a share under 1e-6 is rounding. The shares add up to 1.
func overlap(from, wide float64, n int, at []int, part []float64) ([]int, []float64) {
	sum := 0.0
	for i := int(math.Floor(from)); float64(i) < from+wide; i++ {
		x := (min(from+wide, float64(i+1)) - max(from, float64(i))) / wide
		if i < 0 || i >= n || x < 1e-6 {
			continue
		}
		at, part = append(at, i), append(part, x)
		sum += x
	}
	for i := range part {
		part[i] /= sum
	}
	return at, part
}

// Warm returns the temperature of the rubber behind the walls of each open cell,
// degC, for Problem.Start: from a field over a grid in mm, read a little way behind
// each wall where dist, the distance from the cavity's wall, is not negative (a
// heat.Run's Temperature and its Body's Dist). Where no rubber is near it is otherwise.
func Warm(c *cells.Cells, w *Walls, g grid.Grid, dist, T []float32, otherwise float64) ([]float64, error) {
	if len(dist) != g.Len() || len(T) != g.Len() {
		return nil, fault.New(fault.Internal, "chill", "", "%d distances and %d temperatures for %d cells", len(dist), len(T), g.Len())
	}
	r := make([]float64, c.Wall+1)
	for i := range r {
		r[i] = otherwise
	}
	for k := range c.N {
		sum, area := 0.0, 0.0
		for _, p := range w.Patch[w.Start[k]:w.Start[k+1]] {
			q := c.I[k]
			at := c.Origin.Add(vec.V3{X: float64(q[0]), Y: float64(q[1]), Z: float64(q[2])}.Add(p.At).Mul(c.H)).Mul(1e3)
			for _, d := range []float64{0.5, 0.8, 1.2, 1.8, 2.5} {
				x := at.Add(p.Normal.Mul(d * g.H)).Sub(g.Origin).Mul(1 / g.H)
				i, j, l := int(math.Floor(x.X)), int(math.Floor(x.Y)), int(math.Floor(x.Z))
				if i < 0 || j < 0 || l < 0 || i >= g.NX || j >= g.NY || l >= g.NZ {
					break
				}
				if o := g.At(i, j, l); dist[o] >= 0 {
					sum, area = sum+p.Area*float64(T[o]), area+p.Area
					break
				}
			}
		}
		if area > 0 {
			r[k] = sum / area
		}
	}
	return r, nil
}
