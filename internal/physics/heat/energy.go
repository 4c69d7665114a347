package heat

import "pourwright/internal/ground/par"

// Balance is the heat that has gone in and out since the Run was made, J. Heat
// counts from solid metal and rubber at the temperature of the air.
type Balance struct {
	Start       float64 // in the mould at the start
	Poured      float64 // in with the metal
	CarriedOut  float64 // out with castings
	LostOutside float64 // through the sides of the block
	LostOpen    float64 // through faces of cavity and parting while open
	LostMouth   float64 // through metal on the sides of the block
	Rubber      float64 // in the rubber now
	Boards      float64 // in the boards now
	Metal       float64 // in the metal that is in the mould now
	Left        float64 // what does not add up: Start + Poured - all that left - all that is there
}

// Share returns Left as a part of the heat poured, 0 before the first pour.
func (b Balance) Share() float64 {
	if b.Poured == 0 {
		return 0
	}
	return b.Left / b.Poured
}

// Energy returns the balance. It sums the whole field, about a millisecond per
// million cells.
func (r *Run) Energy() Balance {
	b := r.sum
	b.Rubber, b.Boards = r.rubberHeat(), r.boardHeat()
	if r.full {
		b.Metal = r.metalHeat()
	}
	b.Left = b.Start + b.Poured - b.CarriedOut - b.LostOutside - b.LostOpen - b.LostMouth - b.Rubber - b.Boards - b.Metal
	return b
}

// rubberHeat sums C T over the rubber cells.
func (r *Run) rubberHeat() float64 {
	g, dist := r.grid, r.dist
	s := par.Sum(g.NY*g.NZ, 16, func(lo, hi int) float64 {
		s := 0.0
		for row := lo; row < hi; row++ {
			t := r.t[r.pad.id(0, row%g.NY, row/g.NY):]
			for i, d := range dist[row*g.NX : (row+1)*g.NX] {
				if d >= 0 {
					s += float64(t[i])
				}
			}
		}
		return s
	}) * r.cell
	for _, m := range r.shut.cells {
		s += (m.c - r.cell) * float64(r.t[m.id])
	}
	return s
}

func (r *Run) boardHeat() float64 {
	s := 0.0
	for i := range r.edges {
		for _, t := range r.boards(i) {
			s += t * r.p.Sides[i].Capacity * r.h * r.h
		}
	}
	return s
}

// metalHeat sums rho c_s V (e - e_air).
func (r *Run) metalHeat() float64 {
	air := r.p.Air - r.tab.solidus
	s := 0.0
	for l, c := range r.b.cell {
		if c >= 0 {
			s += r.b.vol[l] * (r.e[l] - air)
		}
	}
	return s * r.tab.volume
}
