package fill

import (
	"math"
)

// Bubbles returns the speed, m/s, at which bubbles of some millimetres rise through still metal, whatever their
// size (Harmathy, AIChE J. 6 (1960) 281, from memory), in gravity of g m/s2:
//
//	u = 1.53 (g sigma / rho)^(1/4)
func (m Metal) Bubbles(g float64) float64 {
	return 1.53 * math.Pow(g*m.Tension/m.Density, 0.25)
}

// least is the void in a cell, share of its volume, that stays where it is: what the solver leaves.
const least = 1e-9

// rise lets void that metal holds go up through it: froth that the move makes where fronts fold over each other,
// finer than a cell shows. Nothing else moves it: to the pressure such a cell is metal, so the void would
// be carried about in it to the end of the pour, the more of it the coarser the cells.
//
// Between a cell i, none of whose 26 neighbours is air, and the cell of metal j above it, void and
// metal change places,
//
//	q = A u (1 - F_i) F_j dt/h,   u = u_b / (1 + K u_b/g) / thick
//
// with u_b the speed of bubbles, K the drag of walls and mush on the side, 1/s, and thick what solid in the melt does
// to its viscosity. Along axes that gravity does not lie in, with its components. The air in that void goes along.
// The surface itself is left alone: void beside air is the surface's shape.
func (r *Run) rise(dt float64) {
	g := r.p.Gravity.Len()
	if !(r.p.Rise > 0 && g > 0) {
		return
	}
	r.airy()
	c := r.c
	specks := -1.0 // m3, not yet known
	for d := range 3 {
		e := -r.p.Gravity.At(d) / g
		if math.Abs(e) < 1e-6 {
			continue
		}
		reach := r.p.Rise * math.Abs(e) * dt / c.H
		for k := range c.N {
			// from the top of the list down or up, so that what a cell takes in does not go on in the same step
			j := int32(k)
			if e > 0 {
				j = int32(c.N - 1 - k)
			}
			side := 2 * d
			if e < 0 {
				side++
			}
			i := c.Nb[side][j] // the lower one
			if int(i) >= c.N || r.state[j] != metal || r.state[i] != metal || r.airs[i]&8 != 0 {
				continue
			}
			void := 1 - r.F[i]
			if !(void > least) || !(r.F[j] > 0) {
				continue
			}
			f := j
			if e < 0 {
				f = i
			}
			if r.of[d][f] < 0 {
				continue
			}
			thick := 1.0
			if r.thick != nil {
				thick = max(1, max(r.thick[i], r.thick[j]))
			}
			q := c.A[d][f] * reach / (thick * (1 + r.drag[d][f]*r.p.Rise/g)) * void * min(r.F[j], 1)
			q = min(q, 0.5*min(void*c.V[i], r.F[j]*c.V[j]))
			if !(q > 0) {
				continue
			}
			if specks < 0 {
				specks = r.specks()
			}
			specks = r.lift(i, j, q, specks)
		}
	}
}

// lift moves q of metal, in volumes of a cell's cube, from j down to i, with its heat, and the air of as much void up.
// specks is the void in specks, m3, before and after.
func (r *Run) lift(i, j int32, q, specks float64) float64 {
	c := r.c
	hot := q * r.Heat[j] / r.F[j]
	r.Heat[i] += hot / c.V[i]
	r.Heat[j] -= hot / c.V[j]
	r.F[i] += q / c.V[i]
	r.F[j] -= q / c.V[j]
	r.was[i] = min(r.was[i]+q/c.V[i], 1)
	r.was[j] = max(r.was[j]-q/c.V[j], 0)
	a, s := &r.air, &r.Sum.Enclosed
	from, to := a.label[i], a.label[j]
	if from == to {
		return specks
	}
	q *= c.H * c.H * c.H
	air := 0.0
	switch {
	case from >= 0:
		x := &a.list[from]
		air = x.Amount * min(q/max(x.Volume, 1e-300), 1)
		x.Amount -= air
		x.Volume -= q
	case from == none:
		air = s.Lost * min(q/max(specks, 1e-300), 1)
		s.Lost -= air
		specks -= q
	}
	switch {
	case to >= 0:
		a.list[to].Amount += air
		a.list[to].Volume += q
	case to == none:
		s.Lost += air
		specks += q
	default:
		s.Let += air
	}
	return specks
}

// specks is the void that metal holds as such, m3.
func (r *Run) specks() float64 {
	c, v := r.c, 0.0
	for i := range c.N {
		if r.air.label[i] == none {
			v += max(0, 1-r.F[i]) * c.V[i]
		}
	}
	return v * c.H * c.H * c.H
}

// airy marks, by a bit of 8, the cells with air in one of the 26 round them, as far as a way along x, then y, then
// z leads there.
func (r *Run) airy() {
	c := r.c
	r.airs = sized(r.airs, c.Wall+1)
	for i := range r.airs {
		r.airs[i] = 0
		switch s := r.state[i]; {
		case s == open && i >= c.N:
			r.airs[i] = 1 | 2 | 4
		case s == hollow && i < c.N:
			r.airs[i] = 1
		}
	}
	for d := range 3 {
		from := uint8(1) << d
		lo, hi := c.Nb[2*d], c.Nb[2*d+1]
		for i := range c.N {
			if (r.airs[i]|r.airs[lo[i]]|r.airs[hi[i]])&from != 0 {
				r.airs[i] |= from << 1
			}
		}
	}
}
