package fill

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/physics/plic"
)

// pace is how the length of a step follows the flow.
type pace struct {
	// pieces is in how many the metal's move may be cut: a cell that a wall cuts has less volume than the sides it is
	// passed through by, up to 3 times.
	pieces float64
	// slack is how much faster than chosen a step may turn out: the move is cut finer then, and the velocities it came
	// from were slow enough.
	slack  float64
	growth float64 // of a step over the one before, at most
	// tension is the step over sqrt(rho h^3/(4 pi sigma)) (Brackbill, Kothe & Zemach, J. Comput. Phys. 100 (1992) 335: 1 for
	// metal beside gas; waves of two cells would bear 1.27).
	tension float64
}

var (
	careful = pace{pieces: 1, slack: 1.1, growth: 1.3, tension: 0.7}
	quick   = pace{pieces: 3, slack: 1.5, growth: 2, tension: 1}
)

// swift is the speed, in that of waves as long as a cell, from which on the metal of a quick run counts as in motion:
// its planes are turned once, and curvature is only found where it counts.
const swift = 0.1

// roughly is how often the planes of slow metal are fitted to each other in a quick run.
const roughly = 2

// slight is the share of its cube under which the metal in a cell does not set the step: where its move asks for
// shorter ones it is cut.
const slight = 1e-3

// crosses returns how much of a cell the metal crosses in dt with the velocities u, the largest sum over the directions; of a
// quick run that of the speeds, or that of the fluxes cut in pieces, with the speed, m/s, and the pieces.
func (r *Run) crosses(u *[3][]float64, dt float64) (x, speed float64, cuts int) {
	if !r.p.Quick {
		return r.adv.Courant(r.F, u, dt), 0, 1
	}
	speed, flux := r.swiftest(u)
	k := dt / r.c.H
	return max(speed, flux/r.pace.pieces) * k, speed, int(min(math.Ceil(flux*k/r.p.Courant-0.1), 2*r.pace.pieces))
}

// swiftest returns the largest sums over the directions of what passes a cell with metal, m/s: speed of
// the velocities, which bounds the explicit part of the momentum, and flux of them times the open share of
// the side over that of the cell, which bounds the move.
func (r *Run) swiftest(u *[3][]float64) (speed, flux float64) {
	c := r.c
	const chunk = 512
	r.swift = sized(r.swift, (c.N+chunk-1)/chunk)
	par.For(c.N, chunk, func(lo, hi int) {
		var m [2]float64
		for i := lo; i < hi; i++ {
			if x := r.F[i]; !(x*c.V[i] > slight) && (r.state[i] != metal || x <= plic.Empty) {
				continue
			}
			s, w := 0.0, 0.0
			for d := range 3 {
				a := math.Abs(u[d][i])
				b := a * c.A[d][i]
				if o := c.Nb[2*d+1][i]; int(o) < c.Wall {
					v := math.Abs(u[d][o])
					a, b = max(a, v), max(b, v*c.A[d][o])
				}
				s += a
				w += b
			}
			if w /= c.V[i]; !(w <= m[1]) {
				m[1] = w
			}
			if r.state[i] == metal && !(s <= m[0]) {
				m[0] = s
			}
		}
		r.swift[lo/chunk] = m
	})
	for _, m := range r.swift {
		speed, flux = max(speed, m[0]), max(flux, m[1]) // no number stays none
	}
	return speed, flux
}

// slow holds back what leaves a cell of gas with what metal it has, in sides whose velocity is only
// carried on: a crumb in a small cell would ask for many short moves of all the metal.
func (r *Run) slow(dt float64) {
	c := r.c
	most := r.pace.pieces * r.pace.slack * r.p.Courant * c.H / dt
	for i := range int32(c.N) {
		if r.state[i] == metal || !(r.F[i] > 0) {
			continue
		}
		out := 0.0
		for d := range 3 {
			if u := r.U[d][i]; u < 0 {
				out -= u * c.A[d][i]
			}
			if o := c.Nb[2*d+1][i]; int(o) < c.Wall && r.U[d][o] > 0 {
				out += r.U[d][o] * c.A[d][o]
			}
		}
		if !(out > most*c.V[i]) {
			continue
		}
		k := most * c.V[i] / out
		for d := range 3 {
			if r.U[d][i] < 0 && r.valid[d][i] != 1 {
				r.U[d][i] *= k
			}
			if o := c.Nb[2*d+1][i]; int(o) < c.Wall && r.U[d][o] > 0 && r.valid[d][o] != 1 {
				r.U[d][o] *= k
			}
		}
	}
}
