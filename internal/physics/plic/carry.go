package plic

import (
	"math"

	"pourwright/internal/ground/par"
)

// carrier moves what the metal carries.
type carrier struct {
	flux  [][]float64
	value []float64
}

func (s *carrier) start(a *Advection, q [][]float64, r *Report) {
	n := a.c.Wall + 1
	for len(s.flux) < len(q) {
		s.flux = append(s.flux, make([]float64, n))
	}
	if len(q) > 0 && s.value == nil {
		s.value = make([]float64, n)
	}
	r.QDropped = make([]float64, len(q))
	for range q {
		r.QIn, r.QOut = append(r.QIn, make([]float64, a.c.Ports)), append(r.QOut, make([]float64, a.c.Ports))
	}
}

// sweep carries q with the metal's fluxes along d: with M the metal in the cell
// (no dilation in it), v = q V/M its value and s the slope of v along d, limited to
// twice the smaller rise to either side (van Leer, J. Comput. Phys. 32 (1979) 101)
// and 0 where a cell beside it has no metal,
//
//	q V += G_lo v_lo - G_hi v_hi      v_hi = v + s/2 (1 - G_hi/M) for G_hi > 0
//
// A cell's new value lies between its own and its neighbours' old ones as long as it
// does not give away more than it has.
func (s *carrier) sweep(a *Advection, d int, f []float64, q [][]float64) {
	for k := range q {
		s.one(a, d, f, q[k], s.flux[k])
	}
}

func (s *carrier) one(a *Advection, d int, f, q, flux []float64) {
	c := a.c
	par.For(len(a.wet), 256, func(lo, hi int) {
		for _, i := range a.wet[lo:hi] {
			s.value[i] = 0
			if m := a.metal[i]; m > Empty*c.V[i] {
				s.value[i] = q[i] * c.V[i] / m
			}
		}
	})
	par.For(len(a.wet), 256, func(lo, hi int) {
		for _, i := range a.wet[lo:hi] {
			flux[i] = s.through(a, d, i, c.Nb[2*d][i], i, f, q)
			if o := c.Nb[2*d+1][i]; a.port(o) {
				flux[o] = s.through(a, d, o, i, o, f, q)
			}
		}
	})
	par.For(len(a.wet), 256, func(lo, hi int) {
		for _, i := range a.wet[lo:hi] {
			g := flux[i]
			if o := c.Nb[2*d+1][i]; a.port(o) || int(o) < c.N && a.stamp[o] == a.turn {
				g -= flux[o]
			}
			q[i] += g / c.V[i]
		}
	})
}

// through returns what goes through a side with the metal.
func (s *carrier) through(a *Advection, d int, face, lo, hi int32, f, q []float64) float64 {
	g := a.flux[face]
	if g == 0 {
		return 0
	}
	from, sign := lo, 1.0
	if g < 0 {
		from, sign = hi, -1
	}
	if int(from) >= a.c.N {
		return g * q[from] / f[from]
	}
	v, m := s.value[from], a.metal[from]
	out := math.Abs(g)
	if !(m > out) {
		return g * v
	}
	return g * (v + sign*s.slope(a, d, from)/2*(1-out/m))
}

// slope is limited as in sweep.
func (s *carrier) slope(a *Advection, d int, i int32) float64 {
	lo, hi := a.c.Nb[2*d][i], a.c.Nb[2*d+1][i]
	if !s.has(a, lo) || !s.has(a, hi) {
		return 0
	}
	v := s.value[i]
	l, r := v-s.value[lo], s.value[hi]-v
	if l*r <= 0 {
		return 0
	}
	x := min(2*math.Abs(l), 2*math.Abs(r), math.Abs(l+r)/2)
	return math.Copysign(x, l)
}

// has reports whether a cell holds enough metal for its value to count.
func (s *carrier) has(a *Advection, i int32) bool {
	return int(i) < a.c.N && a.stamp[i] == a.turn && a.metal[i] > 1e-6*a.c.V[i]
}
