package heat

import (
	"math"

	"pourwright/internal/ground/par"
)

// rubberStep takes the rubber forward by one explicit step of dt from r.t to r.u
// and swaps the two. after is the time from the start of the coupling step to the
// middle of this one, for the metal's temperature. It returns the heat that
// leaves the block and, in an open mould, the heat that leaves its inner faces.
//
//	T'[i] = T[i] + r (sum of six neighbours - 6 T[i]),  r = k dt/(rho c h^2)
//
// and in cells at walls, with the metal's temperature held,
//
//	T' = (C T + dt (kh sum (T_n - T) + sum G T_m)) / (C + dt (sum G + G_air))
func (r *Run) rubberStep(dt, after float64, list *patch) (outside, inside float64) {
	p := &r.pad
	ratio := float32(r.p.Rubber.K / (r.p.Rubber.Density * r.p.Rubber.Cp) * dt / (r.h * r.h))
	par.For(p.nz, r.chunk, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			r.lossOut[k] = r.ghosts(r.t, k, dt)
			at := p.id(0, 0, k)
			r.kernel.plane(r.u[at:], r.t, at, p, ratio)
			r.lossIn[k] = r.mendPlane(list, k, dt, after)
		}
	})
	for k := range p.nz {
		outside += r.lossOut[k]
		inside += r.lossIn[k]
	}
	r.t, r.u = r.u, r.t
	return outside, inside
}

// mendPlane repairs the listed cells of a plane after the plain kernel.
func (r *Run) mendPlane(list *patch, k int, dt, after float64) (lost float64) {
	kh := r.p.Rubber.K * r.h
	for _, c := range r.touch[r.touchPlane[k]:r.touchPlane[k+1]] {
		x := kh * dt / r.cell * float64(c.rho) * (float64(r.t[c.near]) - float64(r.t[c.id]))
		r.u[c.id] = float32(float64(r.u[c.id]) + x)
	}
	for c := list.plane[k]; c < list.plane[k+1]; c++ {
		m := &list.cells[c]
		t := float64(r.t[m.id])
		s := r.conduct(m, r.t, kh)
		g, gt := m.air, 0.0
		if r.full {
			for w := m.w0; w < m.w1; w++ {
				f := &r.walls[w]
				g += f.g
				gt += f.g * (f.tm + f.rate*after)
			}
		}
		n := float32((m.c*t + dt*(s+gt)) / (m.c + dt*g))
		r.u[m.id] = n
		// What is written is rounded: hand on the flux of the rounded value.
		x := float64(n)
		rest := 0.0
		if g > 0 {
			rest = ((m.c*(x-t)/dt - s) - (gt - g*x)) / g
		}
		lost += m.air * (x - rest) * dt
		if r.full {
			for w := m.w0; w < m.w1; w++ {
				f := &r.walls[w]
				f.heat += f.g * (f.tm + f.rate*after - x + rest) * dt
			}
		}
	}
	return lost
}

// resist sets the walls' conductances at time t since the pour.
//
//	G = A / (g L/(k_r b) + (1 - theta) h n/k_s + 1/h_c)
//
// A is the wall's part of the surface, L = 2 near n h the thickness of the layer
// that the cell stands for, b the wall's bend, and g = 1/2 in the end. Until alpha t
// = 6 h^2 the layer takes up heat like a half space whose face is held:
//
//	Fo = alpha t/L^2,  eta = 1/(2 sqrt Fo),  ierfc = exp(-eta^2)/sqrt(pi) - eta erfc(eta)
//	g = sqrt(pi Fo) (1 - (1/sqrt(pi) - ierfc)/eta)
//
// which makes k dT/(L g) the exact flux when T is the mean of the layer.
func (r *Run) resist(t float64) {
	k, alpha := r.p.Rubber.K, r.p.Rubber.Diffusivity()
	early := alpha*t < 6*r.h*r.h
	if !early && r.settled {
		return
	}
	r.settled = !early
	par.For(len(r.walls), 1024, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			w := &r.walls[i]
			th, n := float64(w.theta), float64(w.normal)
			d := float64(w.near) * r.h * n
			g := 0.5
			if fo := alpha * t / (4 * d * d); early && fo < 40 {
				eta := 1 / (2 * math.Sqrt(fo))
				ie := math.Exp(-eta*eta)/math.Sqrt(math.Pi) - eta*math.Erfc(eta)
				g = math.Sqrt(math.Pi*fo) * (1 - (1/math.Sqrt(math.Pi)-ie)/eta)
			}
			w.half = 2 * g
			w.g = w.area / (2*g*d/(k*float64(w.bend)) + (1-th)*r.h*n/r.p.Metal.KSolid + 1/r.p.Contact)
		}
	})
}
