package fill

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/plic"
)

// solved says whether the velocity through a side follows from the pressure: metal
// on at least one of its sides or pressed in from beyond a port, nothing shut or given
// there.
func (r *Run) solved(s side) bool {
	a, b := r.state[s.lo], r.state[s.hi]
	if a == shut || b == shut || a == given || b == given {
		return false
	}
	return a == metal || b == metal || a == held || b == held
}

// bare says whether there is no metal beside a side that could move.
func (r *Run) bare(s side) bool { return r.state[s.lo] == hollow && r.state[s.hi] == hollow }

// momentum puts into w what the velocities become in dt without the pressure:
// carried on by limited upwind differences of second order (van Leer, J. Comput.
// Phys. 23 (1977) 276), with friction and gravity, and the drag K taken at the end of the step, u/(1 + dt K):
// the pressure, which is hindered by it as much, must find what it leaves.
func (r *Run) momentum(dt float64) {
	g := r.p.Gravity.Array()
	nu := r.p.Metal.Viscosity / r.p.Metal.Density
	film := r.p.Quick && r.p.Gravity.Len() > 0
	par.For(len(r.side), 256, func(lo, hi int) {
		for k, s := range r.side[lo:hi] {
			d, c := s.d, s.hi
			u := r.U[d][c]
			if r.bare(s) && (r.valid[d][c] != 0 || !(r.F[s.lo] > 0 || r.F[s.hi] > 0)) {
				r.w[d][c] = u // nothing there to be moved
				continue
			}
			switch {
			case r.state[s.lo] == shut || r.state[s.hi] == shut:
				u = 0
			case r.state[s.lo] == given || r.state[s.hi] == given:
				if r.state[s.lo] == given {
					u = r.ports[int(s.lo)-r.c.N].Speed
				} else {
					u = -r.ports[int(s.hi)-r.c.N].Speed
				}
			case r.solved(s):
				v := nu
				if r.thick != nil { // an explicit step bears so much
					v = max(nu, min(nu*(r.thick[s.lo]+r.thick[s.hi])/2, 0.15*r.c.H*r.c.H/dt))
				}
				u = r.carried(int32(lo+k), d, u, dt) + dt*(g[d]+v*r.friction(s, u)+r.surfaceFriction(s, u, dt))
				u /= 1 + dt*r.drag[d][c]
				if film && r.F[s.lo] < thread && r.F[s.hi] < thread {
					u = r.fallen(s, u)
				}
			case r.valid[d][c] == 0 && (r.F[s.lo] > 0 || r.F[s.hi] > 0):
				u = r.flight(s, u+dt*g[d])
			}
			r.w[d][c] = u
		}
	})
}

// thread is the share under which metal on both sides of a side is a thread or a film.
const thread = 0.5

// fallen holds the speed of a thread or a film in a quick run to what a fall from the highest place of the cavity
// gives it, with the speed of what comes in (Bernoulli): what comes in behind it comes from cells of gas, to which
// its own velocity is carried on, so that nothing held a film that ran down a wall: 4 m/s where a fall gives 1.1.
func (r *Run) fallen(s side, u float64) float64 {
	i := s.lo
	if int(i) >= r.c.N {
		i = s.hi
	}
	most := 2*r.depth(i) + r.entry
	if u*u <= most {
		return u
	}
	return math.Copysign(math.Sqrt(most), u)
}

// depth is the work of gravity on a mass that comes down to cell i from the highest place of the cavity, J/kg.
func (r *Run) depth(i int32) float64 { return r.top + r.p.Gravity.Dot(r.c.Centre(i)) }

// highest returns the place of depth 0: the upper side of the highest cell.
func highest(c *cells.Cells, gravity vec.V3) float64 {
	x := math.Inf(-1)
	for i := range int32(c.N) {
		x = max(x, -gravity.Dot(c.Centre(i)))
	}
	return x + gravity.Len()*c.H/2
}

// flight is the velocity of a crumb in free flight through a side of which nothing else is known: none
// where it would come from an empty cell, else no faster than a fall from top to bottom. A crumb
// that lies on a floor gave the side above it the speed of an endless fall, and all cells its step.
func (r *Run) flight(s side, u float64) float64 {
	from := s.lo
	if u < 0 {
		from = s.hi
	}
	if !(r.F[from] > plic.Empty) {
		return 0
	}
	most := math.Sqrt(2 * r.p.Gravity.Len() * r.c.H * float64(r.c.Dim[0]+r.c.Dim[1]+r.c.Dim[2]))
	return max(-most, min(most, u))
}

// beside finds the next sides of every side, and those across.
func (r *Run) beside() {
	c := r.c
	r.next, r.across = make([][6]int32, len(r.side)), make([][2][4]int32, len(r.side))
	for k, s := range r.side {
		for j := range 2 {
			e := (int(s.d) + 1 + j) % 3
			lo, hi := s.lo, s.hi
			if int(lo) >= c.N {
				lo = hi
			} else if int(hi) >= c.N {
				hi = lo
			}
			r.across[k][j] = [4]int32{lo, c.Nb[2*e+1][lo], hi, c.Nb[2*e+1][hi]}
		}
		for j := range 6 {
			e, up := j/2, j%2
			r.next[k][j] = -1
			n := c.Nb[j][s.hi]
			switch {
			case e == int(s.d) && up == 0:
				n = s.lo
			case e != int(s.d) && (int(n) == c.Wall || r.of[s.d][n] < 0):
				// by the cell on the other side, as where the side leads out to a port
				if n = c.Nb[j][s.lo]; int(n) != c.Wall {
					n = c.Nb[2*int(s.d)+1][n]
				}
			}
			if int(n) != c.Wall && r.of[s.d][n] >= 0 {
				r.next[k][j] = n
			}
		}
	}
}

// known returns the cell of the next side of side k, whose axis is d, at j, -1 where
// there is none whose velocity is known.
func (r *Run) known(d uint8, k int32, j int) int32 {
	n := r.next[k][j]
	if n >= 0 && r.valid[d][n] == 0 {
		return -1
	}
	return n
}

// carried is the velocity through side q, of axis d, after dt of -u . grad u. In a quick run, whose fastest metal
// crosses more than a cell in a step, it stays between what was there and what came from before it.
func (r *Run) carried(q int32, d uint8, u, dt float64) float64 {
	at, valid, of := r.U[d], r.valid[d], r.of[d]
	at, valid = at[:len(of)], valid[:len(of)]
	x := &r.next[q]
	sum, least, most := 0.0, u, u
	for e := range 3 {
		v := u
		if e != int(d) {
			a, b := &r.across[q][(e-int(d)+2)%3], r.U[e]
			v = ((b[a[0]] + b[a[1]]) + (b[a[2]] + b[a[3]])) / 4
		}
		if v == 0 {
			continue
		}
		// Values at one and two sides before and behind, against the flow.
		j, k := 2*e, 2*e+1
		if v < 0 {
			j, k = k, j
		}
		m, p := 0.0, 0.0
		mm := 0.0
		if n := x[j]; n >= 0 && valid[n] != 0 {
			m = at[n]
			if nn := r.next[of[n]][j]; nn >= 0 && valid[nn] != 0 {
				mm = at[nn]
			} else {
				mm = r.edge(d, of[n], j, m)
			}
		} else {
			m = r.edge(d, q, j, u)
			mm = m
		}
		if n := x[k]; n >= 0 && valid[n] != 0 {
			p = at[n]
		} else {
			p = r.edge(d, q, k, u)
		}
		least, most = min(least, m), max(most, m)
		d0, d1, d2 := m-mm, u-m, p-u
		sum -= math.Abs(v) * (d1 + (lee(d1, d2)-lee(d0, d1))/2)
	}
	u += dt * sum / r.c.H
	if r.p.Quick {
		u = min(max(u, least), most)
	}
	return u
}

// edge is the velocity at j beside side k, whose axis is d, where no next side is known: that given, or 0.
func (r *Run) edge(d uint8, k int32, j int, from float64) float64 {
	along := j/2 == int(d)
	if x := r.side[k]; along && r.next[k][j] < 0 && int(x.lo) < r.c.N && int(x.hi) < r.c.N {
		i := x.lo
		if j%2 == 1 {
			i = x.hi
		}
		// A wall across stops the metal; along one that cuts the cell it slides on. To
		// stop it there too took 60 % of its head from what ran along a rounded mouth.
		if r.c.Own[i] == 1 {
			return 0
		}
		return from * r.fed(i)
	}
	if !along && r.straight(k, j) {
		return 0
	}
	return from
}

// feeding is the share of metal in what enters a cell from which on it counts as fed.
const feeding = 0.1

// fed says how much of what leaves a cell that a wall cuts comes from metal that enters it, 0 .. 1. Metal that lies in a
// corner with gas round it slides nowhere: what came in was void, fell, and was turned by the wall, ever faster, and
// no metal moved.
func (r *Run) fed(i int32) float64 {
	c := r.c
	all, metal := 0.0, 0.0
	add := func(n int32, w float64) {
		if w > 0 {
			all += w
			metal += w * r.F[n]
		}
	}
	for d := range 3 {
		if lo := c.Nb[2*d][i]; int(lo) != c.Wall {
			add(lo, r.U[d][i]*c.A[d][i])
		}
		if hi := c.Nb[2*d+1][i]; int(hi) != c.Wall {
			add(hi, -r.U[d][hi]*c.A[d][hi])
		}
	}
	if metal >= feeding*all {
		return 1
	}
	return metal / (feeding * all)
}

// straight says whether metal comes in beside side k, at j, from beyond a port: straight, with no speed along the opening.
// Nothing else holds that speed in the first cells: taken as that within, a stream under its mouth began to swirl, at 1 m/s
// after a second, which doubled what bounds the steps.
func (r *Run) straight(k int32, j int) bool {
	x := r.side[k]
	for _, i := range [2]int32{x.lo, x.hi} {
		if int(i) < r.c.N {
			if o := r.c.Nb[j][i]; int(o) >= r.c.N && (r.state[o] == given || r.state[o] == held) {
				return true
			}
		}
	}
	return false
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
// at one cell and the wall's at half a cell, the second difference of the parabola
// through the three is (4/3)(u' - 3 u + 2 w)/h2.
func (r *Run) friction(s side, u float64) float64 {
	d := s.d
	q := r.of[d][s.hi]
	stick := (r.wall[s.lo] + r.wall[s.hi]) / 2
	sum := 0.0
	for e := range 3 {
		if r.c.Dim[e] == 1 {
			continue
		}
		lo, hi := r.known(s.d, q, 2*e), r.known(s.d, q, 2*e+1)
		okLo, okHi := lo >= 0, hi >= 0
		if e == int(d) {
			if okLo {
				sum += r.U[d][lo] - u
			}
			if okHi {
				sum += r.U[d][hi] - u
			}
			continue
		}
		wLo, wHi := r.p.Slide[2*e].At(int(d)), r.p.Slide[2*e+1].At(int(d))
		wallLo, wallHi := !okLo && r.walled(s, e, 0), !okHi && r.walled(s, e, 1)
		switch {
		case okLo && okHi:
			sum += r.U[d][lo] + r.U[d][hi] - 2*u
		case okLo && wallHi:
			sum += (1-stick)*(r.U[d][lo]-u) + stick*4./3*(r.U[d][lo]-3*u+2*wHi)
		case okHi && wallLo:
			sum += (1-stick)*(r.U[d][hi]-u) + stick*4./3*(r.U[d][hi]-3*u+2*wLo)
		case okLo:
			sum += r.U[d][lo] - u
		case okHi:
			sum += r.U[d][hi] - u
		case wallLo && wallHi:
			sum += stick * 4 * (wLo + wHi - 2*u)
		case wallLo: // a free surface opposite
			sum += stick * 2 * (wLo - u)
		case wallHi:
			sum += stick * 2 * (wHi - u)
		}
	}
	return sum / (r.c.H * r.c.H)
}

// surfaceViscosity is the kinematic viscosity of the surface's layer over sqrt(sigma h/rho).
const surfaceViscosity = 0.3

// surfaceFriction is a friction of the velocity through a side in the surface with those beside it, not with walls:
// with viscosity surfaceViscosity sqrt(sigma h/rho), less as rho u^2 h/sigma nears 1 and tension counts little.
// A flow with a potential does not feel it. What runs along the surface through sides between
// metal and gas alone, which no equation holds, would else grow where tension has the right sign.
func (r *Run) surfaceFriction(s side, u, dt float64) float64 {
	m, h := r.p.Metal, r.c.H
	if r.state[s.lo] == metal && r.state[s.hi] == metal || !(m.Tension > 0) {
		return 0
	}
	we := m.Density * u * u * h / m.Tension
	if we >= 1 {
		return 0
	}
	sum := 0.0
	for j := range 6 {
		if j/2 == int(s.d) {
			continue // a wave's speed falls off with depth: no shear
		}
		if n := r.known(s.d, r.of[s.d][s.hi], j); n >= 0 {
			sum += r.U[s.d][n] - u
		}
	}
	return min(surfaceViscosity*(1-we)*math.Sqrt(m.Tension*h/m.Density)/(h*h), 0.1/dt) * sum
}

// walled says whether there is wall beside a side along e.
func (r *Run) walled(s side, e, up int) bool {
	for _, i := range [2]int32{s.lo, s.hi} {
		if int(i) < r.c.N && int(r.c.Nb[2*e+up][i]) != r.c.Wall {
			return false
		}
	}
	return true
}

// layers is how far beyond the metal velocities are known.
const layers = 4

// spread is the room for extend.
type spread struct {
	from      []int32 // by side: where its entries in by begin
	by        []int32 // the sides that a side is next to
	now, then []int32
	rest      []int32 // sides of which nothing is known yet
	value     []float64
	done      []bool // by side: its velocity is known, or will be when the layer is, or nothing moves through it
}

// lay lists the sides that each side is next to.
func (x *spread) lay(next [][6]int32, side []side, of *[3][]int32) {
	n := len(side)
	x.from, x.done = make([]int32, n+1), make([]bool, n)
	each := func(do func(k, q int32)) {
		for k := range next {
			for _, c := range next[k] {
				if c >= 0 {
					do(int32(k), of[side[k].d][c])
				}
			}
		}
	}
	each(func(_, q int32) { x.from[q+1]++ })
	for k := range n {
		x.from[k+1] += x.from[k]
	}
	x.by = make([]int32, x.from[n])
	at := append([]int32{}, x.from[:n]...)
	each(func(k, q int32) {
		x.by[at[q]] = k
		at[q]++
	})
}

// touches says whether the velocity of a side beside side k is known.
func (r *Run) touches(k int32) bool {
	valid := r.valid[r.side[k].d]
	for _, c := range r.next[k] {
		if c >= 0 && valid[c] != 0 {
			return true
		}
	}
	return false
}

// extend carries the velocities of the metal on into the gas, each the mean of those
// of the same axis beside it, layer by layer.
func (r *Run) extend() {
	x := &r.spread
	if x.from == nil {
		x.lay(r.next, r.side, &r.of)
	}
	x.now, x.rest = x.now[:0], x.rest[:0]
	for k, s := range r.side {
		r.valid[s.d][s.hi], x.done[k] = 0, false
		if r.bare(s) {
			x.rest = append(x.rest, int32(k))
			continue
		}
		a, b := r.state[s.lo], r.state[s.hi]
		known := a == given || b == given || r.solved(s)
		if known {
			r.valid[s.d][s.hi] = 1
			x.now = append(x.now, int32(k))
		}
		x.done[k] = known || a == shut || b == shut
		if !x.done[k] {
			x.rest = append(x.rest, int32(k))
		}
	}
	for l := uint8(1); l <= layers; l++ {
		x.then = x.then[:0]
		if 3*len(x.rest) < len(x.now) { // the same sides, found from the other end: most of the metal is deep
			left := x.rest[:0]
			for _, k := range x.rest {
				if x.done[k] {
					continue
				}
				if r.touches(k) {
					x.then = append(x.then, k)
				} else {
					left = append(left, k)
				}
			}
			for _, k := range x.then {
				x.done[k] = true
			}
			x.rest = left
		} else {
			for _, q := range x.now {
				for _, k := range x.by[x.from[q]:x.from[q+1]] {
					if !x.done[k] {
						x.done[k] = true
						x.then = append(x.then, k)
					}
				}
			}
		}
		x.value = sized(x.value, len(x.then))
		par.For(len(x.then), 256, func(lo, hi int) {
			for j := lo; j < hi; j++ {
				k := x.then[j]
				d := r.side[k].d
				sum, w := 0.0, 0.0
				for _, q := range r.next[k] {
					if q >= 0 && r.valid[d][q] > 0 {
						sum += r.U[d][q]
						w++
					}
				}
				x.value[j] = sum / w
			}
		})
		for j, k := range x.then {
			s := r.side[k]
			r.U[s.d][s.hi], r.valid[s.d][s.hi] = x.value[j], l+1
		}
		x.now, x.then = x.then, x.now
	}
}
