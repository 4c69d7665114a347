package shot

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

// Carry takes a state x of one mould (Slow, or Steady.Field) to another of the same
// block on other cells: trilinear between the centres of rubber cells, metal cells
// left out; boards by the nearest face. It is a start for Settle and Prove, no
// result: the heat of the two states differs a little.
func Carry(x []float32, from, to *Run) ([]float32, error) {
	a, b := from.p.Body, to.p.Body
	field := make([]float32, a.Grid.Len())
	q := 0
	for i, d := range a.Dist {
		field[i] = float32(math.NaN())
		if d >= 0 && q < len(x) {
			field[i] = x[q]
			q++
		}
	}
	boards := 0
	for i, s := range from.p.Sides {
		if s.Capacity > 0 {
			boards += faces(a.Grid, i)
		}
		if (s.Capacity > 0) != (to.p.Sides[i].Capacity > 0) {
			return nil, fault.New(fault.Input, "mould", "give both moulds the same boards", "a mould's state cannot be carried to one with other boards")
		}
	}
	if q+boards != len(x) {
		return nil, fault.New(fault.Input, "mould", "give a state of the mould it is said to be of", "a state of %d temperatures is not of a mould of %d", len(x), q+boards)
	}
	out := make([]float32, 0, len(to.Slow()))
	fine := make([]float32, b.Grid.Len())
	par.For(b.Grid.Len(), 1<<14, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if b.Dist[i] >= 0 {
				fine[i] = between(field, a.Grid, b.Grid.Centre(b.Grid.Cell(i)))
			}
		}
	})
	for i, d := range b.Dist {
		if d >= 0 {
			out = append(out, fine[i])
		}
	}
	for i, s := range from.p.Sides {
		if s.Capacity == 0 {
			continue
		}
		old := x[q : q+faces(a.Grid, i)]
		q += len(old)
		for f := range faces(b.Grid, i) {
			out = append(out, old[facing(a.Grid, b.Grid, i, f)])
		}
	}
	return out, nil
}

// faces returns how many cells a side of the block has.
func faces(g grid.Grid, side int) int {
	return [3]int{g.NY * g.NZ, g.NX * g.NZ, g.NX * g.NY}[side/2]
}

// facing returns the face of a that lies nearest to face f of b on a side. Faces
// run along the first of the side's axes, as the boards of a heat.Run do.
func facing(a, b grid.Grid, side, f int) int {
	u := [3][2]int{{b.NY, a.NY}, {b.NX, a.NX}, {b.NX, a.NX}}[side/2]
	v := [3][2]int{{b.NZ, a.NZ}, {b.NZ, a.NZ}, {b.NY, a.NY}}[side/2]
	at := func(i int, n [2]int) int { return min(n[1]-1, int((float64(i)+0.5)/float64(n[0])*float64(n[1]))) }
	return at(f/u[0], v)*u[1] + at(f%u[0], u)
}

// between reads a field at a place: trilinear between cells that are no NaN, or
// the mean of the nearest ring of cells that has one; 0 where there is none at all.
func between(field []float32, g grid.Grid, p vec.V3) float32 {
	x := p.Sub(g.Origin).Mul(1 / g.H).Sub(vec.V3{X: 0.5, Y: 0.5, Z: 0.5})
	n := [3]int{g.NX, g.NY, g.NZ}
	base := [3]int{}
	frac := [3]float64{}
	for d, c := range x.Array() {
		c = min(max(c, 0), float64(n[d]-1))
		base[d] = min(int(c), max(0, n[d]-2))
		frac[d] = c - float64(base[d])
	}
	s, w := 0.0, 0.0
	for c := range 8 {
		f := 1.0
		at := base
		for d := range 3 {
			if c>>d&1 != 0 {
				at[d] = min(at[d]+1, n[d]-1)
				f *= frac[d]
			} else {
				f *= 1 - frac[d]
			}
		}
		if v := field[g.At(at[0], at[1], at[2])]; v == v {
			s += f * float64(v)
			w += f
		}
	}
	if w > 1e-3 {
		return float32(s / w)
	}
	for r := 1; r < max(n[0], n[1], n[2]); r++ {
		s, m := 0.0, 0
		for k := max(0, base[2]-r); k <= min(n[2]-1, base[2]+r); k++ {
			for j := max(0, base[1]-r); j <= min(n[1]-1, base[1]+r); j++ {
				for i := max(0, base[0]-r); i <= min(n[0]-1, base[0]+r); i++ {
					if v := field[g.At(i, j, k)]; v == v {
						s += float64(v)
						m++
					}
				}
			}
		}
		if m > 0 {
			return float32(s / float64(m))
		}
	}
	return 0
}
