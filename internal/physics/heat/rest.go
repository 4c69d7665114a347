package heat

import (
	"pourwright/internal/ground/par"
)

// rest holds what an empty mould needs for long steps.
type rest struct {
	d1, d2   []float32 // K gained since the start of the step, padded
	stash    []float32 // of each cell to mend, before the plain kernel writes over it
	legendre *legendre
	mean     [6][]float64 // K over the air, cells at boards, weighted over the stages
	ahead    [6][]float64 // K over the air, boards halfway through the step
	rate     [6][]float64 // K/s of the boards in the last long step
	event    float64      // Run.event when the rates were found
}

// restStep takes the rubber of an empty mould forward by one super time step of dt,
// many explicit steps long, and returns the heat that leaves the block and its
// inner faces, J. Increments D over the start T_0 are carried, as in metalStep:
//
//	D_j = mu_j D_{j-1} + nu_j D_{j-2} + (mt_j + ga_j) dt M(T_0) + mt_j dt M'(D_{j-1})
//
// M is the conduction of rubberStep, M' the same without what lies outside. Boards
// that store heat are held at where they will be halfway, by their rate in the step
// before, and take up at the end what the rubber lost to them.
func (r *Run) restStep(dt float64, list *patch) (outside, inside float64) {
	p, q := &r.pad, &r.long
	r.readyRest(dt, list)
	c := q.legendre
	n := len(c.mu) - 1
	ratio := r.p.Rubber.Diffusivity() * dt / (r.h * r.h)
	d1, d2 := q.d1, q.d2
	par.For(p.nz, r.chunk, func(lo, hi int) {
		for k := lo; k < hi; k++ { // M(T_0) dt to u, the first increment to d2
			r.lossOut[k] = r.restGhosts(r.t, k, dt, 1, true)
			at := p.id(0, 0, k)
			r.kernel.rate(r.u[at:], r.t, at, p, float32(ratio))
			r.lossIn[k] = r.mendRate(list, k, dt)
			mt := float32(c.mt[1])
			for j := range p.ny {
				row := at + j*p.sx
				for i := row; i < row+p.wide; i++ {
					d1[i], d2[i] = 0, float32(mt*r.u[i])
				}
			}
		}
	})
	outside, inside = r.losses(1)
	for j := 2; j <= n; j++ {
		d1, d2 = d2, d1
		s := long{mu: float32(c.mu[j]), nu: float32(c.nu[j]), a: float32(c.mt[j] + c.ga[j]), m: float32(c.mt[j] * ratio)}
		par.For(p.nz, r.chunk, func(lo, hi int) {
			for k := lo; k < hi; k++ {
				r.lossOut[k] = r.restGhosts(d1, k, dt, c.share[j], false)
				at := p.id(0, 0, k)
				for i := list.plane[k]; i < list.plane[k+1]; i++ {
					q.stash[i] = d2[list.cells[i].id]
				}
				r.kernel.long(d2[at:], r.u[at:], d1, at, p, s)
				r.lossIn[k] = r.mendLong(list, d1, d2, k, dt, s, c.mt[j])
			}
		})
		o, i := r.losses(c.share[j])
		outside += o
		inside += i
	}
	par.For(p.nz, r.chunk, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			for j := range p.ny {
				row := p.id(0, j, k)
				t, d := r.t[row:row+p.wide], d2[row:row+p.wide]
				for i := range t {
					t[i] += d[i]
				}
			}
		}
	})
	q.d1, q.d2 = d1, d2
	return outside + r.settleBoards(dt), inside
}

// losses adds up the planes' losses.
func (r *Run) losses(share float64) (outside, inside float64) {
	for k := range r.lossOut {
		outside += r.lossOut[k]
		inside += r.lossIn[k]
	}
	return share * outside, share * inside
}

// readyRest makes room, chooses the stages and foresees the boards.
func (r *Run) readyRest(dt float64, list *patch) {
	q := &r.long
	if q.d1 == nil {
		q.d1, q.d2 = make([]float32, r.pad.n), make([]float32, r.pad.n)
	}
	if len(q.stash) < len(list.cells) {
		q.stash = make([]float32, len(list.cells))
	}
	// the faces open to the air make the explicit step a little shorter
	kh, step := r.p.Rubber.K*r.h, r.step1
	for i := range list.cells {
		m := &list.cells[i]
		step = min(step, 0.95*m.c/(kh*float64(m.sum)+m.air))
	}
	if n := stages(dt / step); q.legendre == nil || len(q.legendre.mu) != n+1 {
		q.legendre = newLegendre(n)
	}
	r.sizeBoards()
	for i := range r.edges {
		if q.event != r.event {
			clear(q.rate[i])
		}
		for f, t := range r.edges[i].board {
			q.mean[i][f] = 0
			q.ahead[i][f] = t + q.rate[i][f]*dt/2
		}
	}
	q.event = r.event
}

// sizeBoards makes room for the boards there are.
func (r *Run) sizeBoards() {
	q := &r.long
	for i := range r.edges {
		if n := len(r.edges[i].board); len(q.rate[i]) != n {
			q.mean[i], q.ahead[i], q.rate[i] = make([]float64, n), make([]float64, n), make([]float64, n)
		}
	}
}

// restGhosts fills the ghosts of plane k: of temperatures where whole is true,
// else of increments. share is this stage's weight in the boards' mean. It returns
// what leaves the block except through boards that store heat, J over dt.
func (r *Run) restGhosts(t []float32, k int, dt, share float64, whole bool) float64 {
	hk, sum := r.h/r.p.Rubber.K, 0.0
	r.pad.rows(k, func(side int, x run) {
		e := &r.edges[side]
		if e.board == nil {
			add := float32(0)
			if whole {
				add = e.add
			}
			sum += e.plain(t, x, add)
			return
		}
		for i := range x.n {
			q, f := x.from+i*x.step, x.f+i
			if e.metal != nil && e.metal[f] {
				t[q+x.shift] = t[q]
				continue
			}
			v, b := float64(t[q]), 0.0
			if whole {
				b = r.long.ahead[side][f]
			}
			t[q+x.shift] = float32(v - hk*e.in*(v-b))
			r.long.mean[side][f] += share * v
		}
	})
	return sum * r.h * r.h * dt
}

// settleBoards gives the boards what the rubber lost to them and returns what they
// lost to the outside, J.
//
//	store (b' - b) = (in (mean - ahead) - outer ((b + b')/2 - out)) dt
func (r *Run) settleBoards(dt float64) float64 {
	sum := 0.0
	for i := range r.edges {
		e := &r.edges[i]
		for f, b := range e.board {
			q := 0.0
			if e.metal == nil || !e.metal[f] {
				q = e.in * (r.long.mean[i][f] - r.long.ahead[i][f]) * dt
			}
			n := (e.store*b + q - e.outer*(b/2-e.out)*dt) / (e.store + e.outer*dt/2)
			sum += e.outer * ((b+n)/2 - e.out) * dt
			e.board[f] = n
			r.long.rate[i][f] = (n - b) / dt
		}
	}
	return sum * r.h * r.h
}

// mendRate puts M(T) dt of the listed cells to u, and the faces that touch walls.
func (r *Run) mendRate(list *patch, k int, dt float64) (lost float64) {
	kh := r.p.Rubber.K * r.h
	for _, c := range r.touch[r.touchPlane[k]:r.touchPlane[k+1]] {
		r.u[c.id] += float32(kh * dt / r.cell * float64(c.rho) * (float64(r.t[c.near]) - float64(r.t[c.id])))
	}
	for i := list.plane[k]; i < list.plane[k+1]; i++ {
		m := &list.cells[i]
		f, t := r.conduct(m, r.t, kh), float64(r.t[m.id])
		r.u[m.id] = float32((f - m.air*t) * dt / m.c)
		lost += m.air * t * dt
	}
	return lost
}

// mendLong does one stage for the listed cells and the faces that touch walls.
func (r *Run) mendLong(list *patch, d1, d2 []float32, k int, dt float64, s long, mt float64) (lost float64) {
	kh := r.p.Rubber.K * r.h
	for _, c := range r.touch[r.touchPlane[k]:r.touchPlane[k+1]] {
		d2[c.id] += float32(mt * kh * dt / r.cell * float64(c.rho) * (float64(d1[c.near]) - float64(d1[c.id])))
	}
	for i := list.plane[k]; i < list.plane[k+1]; i++ {
		m := &list.cells[i]
		d := float64(d1[m.id])
		x := float64(s.mu)*d + float64(s.nu)*float64(r.long.stash[i]) + float64(s.a)*float64(r.u[m.id])
		d2[m.id] = float32(x + mt*(r.conduct(m, d1, kh)-m.air*d)*dt/m.c)
		lost += m.air * d * dt
	}
	return lost
}

// conduct returns the heat that flows into a cell from its neighbours of rubber, W.
func (r *Run) conduct(m *mend, t []float32, kh float64) float64 {
	v, s := float64(t[m.id]), 0.0
	for a, rho := range m.rho {
		s += float64(rho) * (float64(t[int(m.id)+r.pad.off[a]]) - v)
	}
	return kh * s
}

// long holds the coefficients of a stage for the kernel.
type long struct{ mu, nu, a, m float32 }

// ratePlain writes ratio times the sum of the differences to the six neighbours.
func ratePlain(out, in []float32, at int, p *padded, ratio float32) {
	for j := range p.ny {
		q, n := at+j*p.sx, p.wide
		o := out[j*p.sx : j*p.sx+n]
		c, l, h := in[q:q+n], in[q-1:q-1+n], in[q+1:q+1+n]
		y0, y1 := in[q-p.sx:q-p.sx+n], in[q+p.sx:q+p.sx+n]
		z0, z1 := in[q-p.sxy:q-p.sxy+n], in[q+p.sxy:q+p.sxy+n]
		for i := range o {
			s := ((l[i] + h[i]) + (y0[i] + y1[i])) + (z0[i] + z1[i])
			o[i] = float32(ratio * (s - float32(6*c[i])))
		}
	}
}

// longPlain does one stage of restStep for a plane: out holds d2 and is written
// over, start holds M(T_0) dt, both from the plane's first inner cell on.
//
//	out = ((mu c + nu out) + a start) + m (sum of six neighbours - 6 c)
func longPlain(out, start, in []float32, at int, p *padded, x long) {
	for j := range p.ny {
		q, n := at+j*p.sx, p.wide
		o, b := out[j*p.sx:j*p.sx+n], start[j*p.sx:j*p.sx+n]
		c, l, h := in[q:q+n], in[q-1:q-1+n], in[q+1:q+1+n]
		y0, y1 := in[q-p.sx:q-p.sx+n], in[q+p.sx:q+p.sx+n]
		z0, z1 := in[q-p.sxy:q-p.sxy+n], in[q+p.sxy:q+p.sxy+n]
		for i := range o {
			s := ((l[i] + h[i]) + (y0[i] + y1[i])) + (z0[i] + z1[i])
			s -= float32(6 * c[i])
			d := float32(x.mu*c[i]) + float32(x.nu*o[i])
			d += float32(x.a * b[i])
			o[i] = d + float32(x.m*s)
		}
	}
}
