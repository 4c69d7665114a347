package heat

import (
	"math"

	"pourwright/internal/ground/par"
)

// stage holds one stage of the metal's super time step. Per-lane slices are as
// in blocks; enthalpy and temperature are counted as in table.
type stage struct {
	mu, nu, mt, ga float32
	d1, d2         []float32    // increment of enthalpy after the last stage, and after the one before: overwritten
	t, u           []float32    // temperature after the last stage; after this one
	l0             []float32    // increment per full step at the start
	base           []float32    // enthalpy at the start
	src            []float32    // W from the walls and mouths
	w              []float32    // dt/(rho c_s V): K of enthalpy per W; 0 where there is no metal
	g              [3][]float32 // W/K to the next lane along x, y, z
	near           [][4]int32
	pieces         []piece
	tail           piece // beyond the liquidus
}

// stagePlain does one stage for blocks from..to.
//
//	f  = src + sum over six neighbours of g (T_n - T)
//	d' = mu d1 + nu d2 + mt w f + ga l0          written over d2
//	T' = min(e, 0) + sum of slope clamp(e - from, 0, wide) over the pieces,  e = base + d'
func stagePlain(s *stage, from, to int) {
	for n := from; n < to; n++ {
		near := &s.near[n]
		for x := range lanes {
			l := n*lanes + x
			f := s.flow(l, near, x)
			d := float32(s.mu*s.d1[l]) + float32(s.nu*s.d2[l])
			d += float32(s.mt * float32(f*s.w[l]))
			d += float32(s.ga * s.l0[l])
			s.d2[l] = d
			s.u[l] = s.temperature(s.base[l] + d)
		}
	}
}

// flow returns the heat that flows into lane l, W.
func (s *stage) flow(l int, near *[4]int32, x int) float32 {
	c := s.t[l]
	y0, y1, z0, z1 := int(near[0])+x, int(near[1])+x, int(near[2])+x, int(near[3])+x
	f := s.src[l]
	f += float32(s.g[0][l]*(s.t[l+1]-c)) + float32(s.g[0][l-1]*(s.t[l-1]-c))
	f += float32(s.g[1][l]*(s.t[y1]-c)) + float32(s.g[1][y0]*(s.t[y0]-c))
	f += float32(s.g[2][l]*(s.t[z1]-c)) + float32(s.g[2][z0]*(s.t[z0]-c))
	return f
}

// temperature is T(e) in float32, without branches.
func (s *stage) temperature(e float32) float32 {
	t := lower(e, 0)
	for i := range s.pieces {
		p := &s.pieces[i]
		t += float32(lower(higher(e-p.from, 0), p.wide) * p.slope)
	}
	return t + float32(higher(e-s.tail.from, 0)*s.tail.slope)
}

// lower and higher take the second where both are equal, as the vectors do.
func lower(a, b float32) float32 {
	if a < b {
		return a
	}
	return b
}

func higher(a, b float32) float32 {
	if a > b {
		return a
	}
	return b
}

// metalStep takes the metal forward by dt with the heat of the walls that stands
// in r.walls[].heat, by one Runge-Kutta-Legendre step of second order:
//
//	Y_0 = y,  Y_1 = Y_0 + mt_1 dt M(Y_0)
//	Y_j = mu_j Y_{j-1} + nu_j Y_{j-2} + (1 - mu_j - nu_j) Y_0 + mt_j dt M(Y_{j-1}) + ga_j dt M(Y_0)
//	b_0 = b_1 = b_2 = 1/3,  b_j = (j^2 + j - 2)/(2 j (j + 1)),  w_1 = 4/(s^2 + s - 2)
//	mu_j = (2j - 1)/j b_j/b_{j-1},  nu_j = -(j - 1)/j b_j/b_{j-2}
//	mt_1 = b_1 w_1,  mt_j = mu_j w_1,  ga_j = -(1 - b_{j-1}) mt_j
//
// stable for dt <= dt_explicit (s^2 + s - 2)/4 (Meyer, Balsara & Aslam 2014). It
// is written in increments D_j = Y_j - Y_0, which are small and may be float32,
// while Y_0 is kept in float64. It returns the heat lost through the mouths, J.
func (r *Run) metalStep(dt float64) (mouths float64) {
	s := r.prepare(dt)
	n := stages(dt / r.metalStep1)
	r.Sweeps += n
	w1 := 4 / (float64(n)*float64(n) + float64(n) - 2)
	b1, b2 := 1.0/3, 1.0/3
	s.mu, s.nu, s.mt, s.ga = 0, 0, float32(b1*w1), 0
	r.mouth(s, 0, 0, dt*b1*w1, 0)
	par.For(r.b.count, r.blockChunk, func(lo, hi int) { r.kernel.first(s, lo+1, hi+1) })
	for j := 2; j <= n; j++ {
		b := 1.0 / 3
		if j > 2 {
			b = (float64(j*j+j) - 2) / (2 * float64(j) * float64(j+1))
		}
		mu := (2*float64(j) - 1) / float64(j) * b / b1
		nu := -(float64(j) - 1) / float64(j) * b / b2
		mt := mu * w1
		ga := -(1 - b1) * mt
		s.mu, s.nu, s.mt, s.ga = float32(mu), float32(nu), float32(mt), float32(ga)
		s.t, s.u = s.u, s.t
		s.d1, s.d2 = s.d2, s.d1
		r.mouth(s, mu, nu, dt*mt, dt*ga)
		par.For(r.b.count, r.blockChunk, func(lo, hi int) { r.kernel.stage(s, lo+1, hi+1) })
		b2, b1 = b1, b
	}
	r.delta, r.work = s.d2, s.d1
	r.temp, r.next = s.u, s.t
	for i := range r.mouths {
		mouths -= r.mouths[i].now
	}
	return mouths
}

// stages returns the least odd number of stages, 3 or more, that is stable over x
// explicit steps.
func stages(x float64) int {
	n := max(3, int(math.Ceil((-1+math.Sqrt(9+16*x))/2-1e-9)))
	return n | 1
}

// prepare sets conductances, sources and scales for a step of dt.
func (r *Run) prepare(dt float64) *stage {
	b, s := r.b, &r.st
	clear(r.src)
	for i := range r.walls {
		w := &r.walls[i]
		r.src64[w.lane] -= w.heat / dt
	}
	ahead := 0.0
	if r.lastDt > 0 {
		ahead = 0.5 * dt / r.lastDt
	}
	ks, kl := r.p.Metal.KSolid, r.p.Metal.KLiquid
	par.For(b.count, 256, func(lo, hi int) {
		for l := (lo + 1) * lanes; l < (hi+1)*lanes; l++ {
			if b.cell[l] < 0 {
				continue
			}
			e := r.e[l]
			r.base[l] = float32(e)
			r.temp[l] = s.temperature(r.base[l])
			f := r.tab.liquid(e + ahead*float64(r.delta[l])) // as it will be halfway
			r.k[l] = float32(ks + (kl-ks)*f)
			if f > 0 && f < 1 {
				r.k[l] = -r.k[l] // freezing
			}
			r.src[l] = float32(r.src64[l])
			r.src64[l] = 0
			r.w[l] = float32(dt / (r.tab.volume * b.vol[l]))
		}
	})
	par.For(b.count, 256, func(lo, hi int) {
		for n := lo + 1; n < hi+1; n++ {
			near := &b.near[n]
			for x := range lanes {
				l := n*lanes + x
				k := r.k[l]
				r.g[0][l] = b.geo[0][l] * between(k, r.k[l+1])
				r.g[1][l] = b.geo[1][l] * between(k, r.k[int(near[1])+x])
				r.g[2][l] = b.geo[2][l] * between(k, r.k[int(near[3])+x])
			}
		}
	})
	for i := range r.mouths {
		m := &r.mouths[i]
		k := math.Abs(float64(r.k[m.lane])) * m.geo
		m.g = k * m.coef * m.area / (k + m.coef*m.area)
		if math.IsInf(m.coef, 1) {
			m.g = k
		}
		m.now, m.last, m.first = 0, 0, math.NaN()
		m.base = r.src[m.lane]
	}
	s.d1, s.d2, s.t, s.u = r.delta, r.work, r.temp, r.next
	s.l0, s.base, s.src, s.w, s.g, s.near = r.l0, r.base, r.src, r.w, r.g, b.near
	return s
}

// between returns the conductivity of a face. Cells that freeze come as negative
// numbers: a front inside a cell stands on average in its middle, so that towards
// a neighbour that is wholly solid or liquid the way leads through the neighbour's
// kind alone. The mean of the two there costs 1 % of the place of a sharp front.
func between(a, b float32) float32 {
	switch {
	case a >= 0 && b < 0:
		return a
	case a < 0 && b >= 0:
		return b
	case a < 0:
		return -0.5 * (a + b)
	}
	return 0.5 * (a + b)
}

// firstPlain does the first stage for blocks from..to and keeps the increments per
// full step:
//
//	l0 = w f,  d1 = 0,  d2 = mt l0
func firstPlain(s *stage, from, to int) {
	for n := from; n < to; n++ {
		for x := range lanes {
			l := n*lanes + x
			f := float32(s.flow(l, &s.near[n], x) * s.w[l])
			s.l0[l] = f
			s.d1[l] = 0
			s.d2[l] = float32(s.mt * f)
			s.u[l] = s.temperature(s.base[l] + s.d2[l])
		}
	}
}

// mouth adds the heat through the mouths to the sources, at the temperatures of
// the last stage, and carries it through the same recursion as the enthalpy, so
// that what left is booked exactly. A lane may have several mouths.
func (r *Run) mouth(s *stage, mu, nu, mt, ga float64) {
	for i := range r.mouths {
		s.src[r.mouths[i].lane] = r.mouths[i].base
	}
	for i := range r.mouths {
		m := &r.mouths[i]
		f := m.g * (m.out - float64(s.t[m.lane]))
		if math.IsNaN(m.first) {
			m.first = f
		}
		m.now, m.last = mu*m.now+nu*m.last+mt*f+ga*m.first, m.now
		s.src[m.lane] += float32(f)
	}
}
