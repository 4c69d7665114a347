package fill

import (
	"math"

	"pourwright/internal/ground/par"
)

// solved says whether the velocity through a side follows from the pressure: metal
// on at least one of its sides, nothing shut or given there.
func (r *Run) solved(s side) bool {
	a, b := r.state[s.lo], r.state[s.hi]
	if a == shut || b == shut || a == given || b == given {
		return false
	}
	return a == metal || b == metal
}

// momentum puts into w what the velocities become in dt without the pressure:
// carried on by limited upwind differences of second order (van Leer, J. Comput.
// Phys. 23 (1977) 276), with friction and gravity.
func (r *Run) momentum(dt float64) {
	g := r.p.Gravity.Array()
	nu := r.p.Metal.Viscosity / r.p.Metal.Density
	par.For(len(r.side), 2048, func(lo, hi int) {
		for _, s := range r.side[lo:hi] {
			d, c := s.d, s.hi
			u := r.U[d][c]
			switch {
			case r.state[s.lo] == given || r.state[s.hi] == given:
				if r.state[s.lo] == given {
					u = r.ports[int(s.lo)-r.c.N].Speed
				} else {
					u = -r.ports[int(s.hi)-r.c.N].Speed
				}
			case r.state[s.lo] == shut || r.state[s.hi] == shut:
				u = 0
			case r.solved(s):
				u += dt * (g[d] + r.carried(s, u) + nu*r.friction(s, u))
			case r.valid[d][c] == 0 && (r.F[s.lo] > 0 || r.F[s.hi] > 0):
				u += dt * g[d] // a crumb in free flight
			}
			r.w[d][c] = u
		}
	})
}

// beside returns the velocity through the next side of the same axis, e and up
// saying where, and whether there is one that is open and known.
func (r *Run) beside(d uint8, c int32, e int, up int) (int32, bool) {
	n := r.c.Nb[2*e+up][c]
	if int(n) >= r.c.Wall || r.of[d][n] < 0 || r.valid[d][n] == 0 {
		return 0, false
	}
	return n, true
}

// carried is -u . grad u of the velocity through a side.
func (r *Run) carried(s side, u float64) float64 {
	c := r.c
	d := s.d
	sum := 0.0
	for e := range 3 {
		v := u
		if e != int(d) {
			v = 0
			for _, i := range [2]int32{s.lo, s.hi} {
				v += r.U[e][i] + r.U[e][c.Nb[2*e+1][i]]
			}
			v /= 4
		}
		if v == 0 {
			continue
		}
		// Values at one and two sides before and behind, against the flow.
		before, behind := 0, 1
		if v < 0 {
			before, behind = 1, 0
		}
		get := func(i int32, up int, from float64) (float64, int32) {
			if i < 0 {
				return from, -1
			}
			if n, ok := r.beside(d, i, e, up); ok {
				return r.U[d][n], n
			}
			if e == int(d) && int(c.Nb[2*e+up][i]) == c.Wall {
				return 0, -1 // no way through the wall
			}
			return from, -1
		}
		m, i := get(s.hi, before, u)
		mm, _ := get(i, before, m)
		p, _ := get(s.hi, behind, u)
		d0, d1, d2 := m-mm, u-m, p-u
		sum -= math.Abs(v) * (d1 + (lee(d1, d2)-lee(d0, d1))/2)
	}
	return sum / c.H
}

// lee is van Leer's mean of two slopes.
func lee(a, b float64) float64 {
	if a*b <= 0 {
		return 0
	}
	return 2 * a * b / (a + b)
}

// friction is the Laplacian of the velocity through a side. A wall across the side
// lies half a cell away and holds the metal there: with the value on the other side
// at one cell and nothing at half a cell, the second difference of the parabola
// through the three is (4/3)(u' - 3 u)/h2.
func (r *Run) friction(s side, u float64) float64 {
	d := s.d
	stick := (r.wall[s.lo] + r.wall[s.hi]) / 2
	sum := 0.0
	for e := range 3 {
		if r.c.Dim[e] == 1 {
			continue
		}
		lo, okLo := r.beside(d, s.hi, e, 0)
		hi, okHi := r.beside(d, s.hi, e, 1)
		if e == int(d) {
			if okLo {
				sum += r.U[d][lo] - u
			}
			if okHi {
				sum += r.U[d][hi] - u
			}
			continue
		}
		wallLo, wallHi := !okLo && r.walled(s, e, 0), !okHi && r.walled(s, e, 1)
		switch {
		case okLo && okHi:
			sum += r.U[d][lo] + r.U[d][hi] - 2*u
		case okLo && wallHi:
			sum += (1-stick)*(r.U[d][lo]-u) + stick*4./3*(r.U[d][lo]-3*u)
		case okHi && wallLo:
			sum += (1-stick)*(r.U[d][hi]-u) + stick*4./3*(r.U[d][hi]-3*u)
		case okLo:
			sum += r.U[d][lo] - u
		case okHi:
			sum += r.U[d][hi] - u
		case wallLo && wallHi:
			sum -= stick * 8 * u
		case wallLo || wallHi:
			sum -= stick * 2 * u // a free surface opposite
		}
	}
	return sum / (r.c.H * r.c.H)
}

// walled says whether there is wall beside both cells of a side.
func (r *Run) walled(s side, e, up int) bool {
	a, b := r.c.Nb[2*e+up][s.lo], r.c.Nb[2*e+up][s.hi]
	return int(a) == r.c.Wall && int(b) == r.c.Wall
}

// layers is how far beyond the metal velocities are known.
const layers = 4

// extend carries the velocities of the metal on into the gas, each the mean of those
// of the same axis beside it, layer by layer.
func (r *Run) extend(dt float64) {
	for _, s := range r.side {
		r.valid[s.d][s.hi] = 0
		if r.solved(s) || r.state[s.lo] == given || r.state[s.hi] == given {
			r.valid[s.d][s.hi] = 1
		}
	}
	type found struct {
		k int32
		u float64
	}
	for l := uint8(1); l <= layers; l++ {
		n := (len(r.side) + 2047) / 2048
		parts := make([][]found, n)
		par.For(len(r.side), 2048, func(lo, hi int) {
			var list []found
			for k := lo; k < hi; k++ {
				s := r.side[k]
				d, c := s.d, s.hi
				if r.valid[d][c] != 0 || r.state[s.lo] == shut || r.state[s.hi] == shut {
					continue
				}
				sum, w := 0.0, 0.0
				for j := range 6 {
					q := r.c.Nb[j][c]
					if int(q) < r.c.Wall && r.of[d][q] >= 0 {
						if v := r.valid[d][q]; v > 0 && v <= l {
							sum += r.U[d][q]
							w++
						}
					}
				}
				if w > 0 {
					list = append(list, found{int32(k), sum / w})
				}
			}
			parts[lo/2048] = list
		})
		for _, list := range parts {
			for _, x := range list {
				s := r.side[x.k]
				r.U[s.d][s.hi], r.valid[s.d][s.hi] = x.u, l+1
			}
		}
	}
}
