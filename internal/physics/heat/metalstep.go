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
	back           []float32    // W/K that the walls take less, the colder the metal gets
	mean           []float32    // temperature, weighted over the stages so far
	share          float32      // this stage's weight in the mean
	g              [3][]float32 // W/K to the next lane along x, y, z
	near           [][4]int32
	pieces         []piece
	tail           piece // beyond the liquidus
}

// stagePlain does one stage for blocks from..to.
//
//	f  = src - back T + sum over six neighbours of g (T_n - T)
//	mean += share T
//	d' = mu d1 + nu d2 + mt w f + ga l0          written over d2
//	T' = min(e, 0) + sum of slope clamp(e - from, 0, wide) over the pieces,  e = base + d'
func stagePlain(s *stage, from, to int) {
	for n := from; n < to; n++ {
		near := &s.near[n]
		for x := range lanes {
			l := n*lanes + x
			f := s.flow(l, near, x)
			s.mean[l] += float32(s.share * s.t[l])
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
	f := s.src[l] - float32(s.back[l]*c)
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

// legendre holds the coefficients of the stages of a Runge-Kutta-Legendre step of
// second order:
//
//	Y_0 = y,  Y_1 = Y_0 + mt_1 dt M(Y_0)
//	Y_j = mu_j Y_{j-1} + nu_j Y_{j-2} + (1 - mu_j - nu_j) Y_0 + mt_j dt M(Y_{j-1}) + ga_j dt M(Y_0)
//	b_0 = b_1 = b_2 = 1/3,  b_j = (j^2 + j - 2)/(2 j (j + 1)),  w_1 = 4/(s^2 + s - 2)
//	mu_j = (2j - 1)/j b_j/b_{j-1},  nu_j = -(j - 1)/j b_j/b_{j-2}
//	mt_1 = b_1 w_1,  mt_j = mu_j w_1,  ga_j = -(1 - b_{j-1}) mt_j
//
// stable for dt <= dt_explicit (s^2 + s - 2)/4 (Meyer, Balsara & Aslam 2014).
// share_j is the weight of M(Y_{j-1}) in the whole step, Y_s = Y_0 + dt sum share_j
// M(Y_{j-1}), found by walking the recursion backwards; the shares add up to 1.
type legendre struct{ mu, nu, mt, ga, share []float64 }

func newLegendre(n int) *legendre {
	l := &legendre{}
	for _, s := range []*[]float64{&l.mu, &l.nu, &l.mt, &l.ga, &l.share} {
		*s = make([]float64, n+1)
	}
	b := func(j int) float64 {
		if j <= 2 {
			return 1.0 / 3
		}
		x := float64(j)
		return (x*x + x - 2) / (2 * x * (x + 1))
	}
	w1 := 4 / (float64(n*n+n) - 2)
	l.mt[1] = b(1) * w1
	for j := 2; j <= n; j++ {
		x := float64(j)
		l.mu[j] = (2*x - 1) / x * b(j) / b(j-1)
		l.nu[j] = -(x - 1) / x * b(j) / b(j-2)
		l.mt[j] = l.mu[j] * w1
		l.ga[j] = -(1 - b(j-1)) * l.mt[j]
	}
	p1, p2 := 1.0, 0.0 // influence of Y_j and Y_{j+1} on the result
	for j := n; j >= 1; j-- {
		l.share[j] += l.mt[j] * p1
		l.share[1] += l.ga[j] * p1
		next := l.mu[j] * p1
		if j < n {
			next += l.nu[j+1] * p2
		}
		p1, p2 = next, p1
	}
	return l
}

// metalStep takes the metal forward by one super time step of dt with the heat of
// the walls that stands in r.walls[].heat. It is written in increments D_j = Y_j -
// Y_0, which are small and may be float32, while Y_0 is kept in float64. It
// returns the heat lost through the mouths, J.
//
// The walls' heat was found with the metal's temperature foreseen; where the metal
// goes another way they take G' (T - T_foreseen) more, G' being the response of the
// rubber cell, so that a thin casting does not swing however long the step is. What
// they take more is given to the rubber at the end.
func (r *Run) metalStep(dt float64) (mouths float64) {
	s := r.prepare(dt)
	n := stages(dt / r.metalStep1)
	if r.legendre == nil || len(r.legendre.mu) != n+1 {
		r.legendre = newLegendre(n)
	}
	c := r.legendre
	r.Sweeps += n
	set := func(j int) {
		s.mu, s.nu, s.mt, s.ga, s.share = float32(c.mu[j]), float32(c.nu[j]), float32(c.mt[j]), float32(c.ga[j]), float32(c.share[j])
	}
	set(1)
	r.mouth(s)
	r.sweep(s, r.kernel.first)
	for j := 2; j <= n; j++ {
		set(j)
		s.t, s.u = s.u, s.t
		s.d1, s.d2 = s.d2, s.d1
		r.mouth(s)
		r.sweep(s, r.kernel.stage)
	}
	r.delta, r.work = s.d2, s.d1
	r.temp, r.next = s.u, s.t
	for i := range r.mouths {
		m := &r.mouths[i]
		mouths -= m.g * (m.out - float64(s.mean[m.lane])) * dt
	}
	r.repay(dt)
	return mouths
}

// few is up to how many blocks a sweep is done before a second core has started.
const few = 1500

// sweep does one stage for all blocks.
func (r *Run) sweep(s *stage, f func(s *stage, from, to int)) {
	if r.b.count < few {
		f(s, 1, r.b.count+1)
		return
	}
	par.For(r.b.count, r.blockChunk, func(lo, hi int) { f(s, lo+1, hi+1) })
}

// repay gives the rubber what its walls took more than foreseen.
func (r *Run) repay(dt float64) {
	shift := r.tab.solidus - r.p.Air
	for c := range r.shut.cells {
		m := &r.shut.cells[c]
		q := 0.0
		for i := m.w0; i < m.w1; i++ {
			w := &r.walls[i]
			x := w.back * (float64(r.mean[w.lane]) + shift - w.tm - w.rate*dt/2) * dt
			w.heat += x
			q += x
		}
		r.t[m.id] = float32(float64(r.t[m.id]) + q/m.c)
	}
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
	clear(r.back)
	kh, shift := r.p.Rubber.K*r.h, r.tab.solidus-r.p.Air
	for c := range r.shut.cells {
		m := &r.shut.cells[c]
		all := m.c/dt + kh*float64(m.sum)
		for i := m.w0; i < m.w1; i++ {
			all += r.walls[i].g
		}
		for i := m.w0; i < m.w1; i++ {
			w := &r.walls[i]
			w.back = 1 / (1/w.g + 1/(all-w.g))
			r.back[w.lane] += float32(w.back)
			r.src64[w.lane] += w.back*(w.tm+w.rate*dt/2-shift) - w.heat/dt
		}
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
		m.base = r.src[m.lane]
	}
	s.d1, s.d2, s.t, s.u = r.delta, r.work, r.temp, r.next
	s.l0, s.base, s.src, s.w, s.g, s.near = r.l0, r.base, r.src, r.w, r.g, b.near
	s.back, s.mean = r.back, r.mean
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
//	l0 = w f,  d1 = 0,  d2 = mt l0,  mean = share T
func firstPlain(s *stage, from, to int) {
	for n := from; n < to; n++ {
		for x := range lanes {
			l := n*lanes + x
			f := float32(s.flow(l, &s.near[n], x) * s.w[l])
			s.mean[l] = float32(s.share * s.t[l])
			s.l0[l] = f
			s.d1[l] = 0
			s.d2[l] = float32(s.mt * f)
			s.u[l] = s.temperature(s.base[l] + s.d2[l])
		}
	}
}

// mouth adds the heat through the mouths, at the temperatures of the last stage,
// to the sources. A lane may have several mouths.
func (r *Run) mouth(s *stage) {
	for i := range r.mouths {
		s.src[r.mouths[i].lane] = r.mouths[i].base
	}
	for i := range r.mouths {
		m := &r.mouths[i]
		s.src[m.lane] += float32(m.g * (m.out - float64(s.t[m.lane])))
	}
}
