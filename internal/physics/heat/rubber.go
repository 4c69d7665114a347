package heat

import (
	"math"

	"pourwright/internal/ground/par"
)

// rubberSteps takes the rubber forward by n explicit steps of dt, from the start of
// a coupling step. It returns the heat that leaves the block and, in an open mould,
// the heat that leaves its inner faces.
//
//	T'[i] = T[i] + r (sum of six neighbours - 6 T[i]),  r = k dt/(rho c h^2)
//
// and in cells at walls, with the metal's temperature foreseen,
//
//	T' = (C T + dt (kh sum (T_n - T) + sum G T_m)) / (C + dt (sum G + G_air))
//
// Several steps are taken in one pass over memory: step l of plane k follows step
// l-1 of plane k+1 at once, while both are in the cache. The planes are cut into
// slabs that are worked side by side; a slab leaves out one more plane at each of
// its inner ends with every step, and what is left open between two slabs is filled
// in afterwards. Two fields are enough, since a plane is written over by step l
// only when step l-1 no longer wants what step l-2 left there.
func (r *Run) rubberSteps(n int, dt float64, list *patch) (outside, inside float64) {
	clear(r.lossOut)
	clear(r.lossIn)
	nz := r.pad.nz
	slabs := nz / slabPlanes &^ 1 // an even number, for two cores
	end := func(s int) int { return nz * s / slabs }
	for done := 0; done < n; {
		m := min(r.deep, n-done)
		if slabs == 0 {
			m = 1
		}
		t := [2][]float32{r.t, r.u}
		step := func(l, k int) { // l counts from 1
			r.rubberPlane(t[(l+1)%2], t[l%2], k, dt, (float64(done+l)-0.5)*dt, list)
		}
		if m == 1 {
			par.For(nz, r.chunk, func(lo, hi int) {
				for k := lo; k < hi; k++ {
					step(1, k)
				}
			})
			r.t, r.u = r.u, r.t
			done++
			continue
		}
		par.For(slabs, 1, func(s, _ int) {
			k0, k1 := end(s), end(s+1)
			for p := k0; p < k1+m-1; p++ {
				for l := 1; l <= m; l++ {
					lo, hi := k0+l-1, k1-l+1
					if s == 0 {
						lo = 0
					}
					if s == slabs-1 {
						hi = nz
					}
					if k := p - l + 1; k >= lo && k < hi {
						step(l, k)
					}
				}
			}
		})
		par.For(slabs-1, 1, func(s, _ int) {
			for l := 2; l <= m; l++ {
				for k := end(s+1) - l + 1; k < end(s+1)+l-1; k++ {
					step(l, k)
				}
			}
		})
		if m%2 == 1 {
			r.t, r.u = r.u, r.t
		}
		done += m
	}
	for k := range nz {
		outside += r.lossOut[k]
		inside += r.lossIn[k]
	}
	return outside, inside
}

// Slabs are about slabPlanes high and take deep steps in one pass: at least twice
// as many planes as steps.
const (
	slabPlanes = 12
	deepest    = 4
)

// rubberPlane takes one plane forward by one step, from t to u. after is the time
// from the start of the coupling step to the middle of this one.
func (r *Run) rubberPlane(t, u []float32, k int, dt, after float64, list *patch) {
	p := &r.pad
	ratio := float32(r.p.Rubber.K / (r.p.Rubber.Density * r.p.Rubber.Cp) * dt / (r.h * r.h))
	r.lossOut[k] += r.ghosts(t, k, dt)
	at := p.id(0, 0, k)
	r.kernel.plane(u[at:], t, at, p, ratio)
	r.lossIn[k] += r.mendPlane(t, u, list, k, dt, after)
}

// mendPlane repairs the listed cells of a plane after the plain kernel.
func (r *Run) mendPlane(t, u []float32, list *patch, k int, dt, after float64) (lost float64) {
	kh := r.p.Rubber.K * r.h
	for _, c := range r.touch[r.touchPlane[k]:r.touchPlane[k+1]] {
		x := kh * dt / r.cell * float64(c.rho) * (float64(t[c.near]) - float64(t[c.id]))
		u[c.id] = float32(float64(u[c.id]) + x)
	}
	for c := list.plane[k]; c < list.plane[k+1]; c++ {
		m := &list.cells[c]
		v := float64(t[m.id])
		s := r.conduct(m, t, kh)
		g, gt := m.air, 0.0
		if r.full {
			for w := m.w0; w < m.w1; w++ {
				f := &r.walls[w]
				g += f.g
				gt += f.g * (f.tm + f.rate*after)
			}
		}
		n := float32((m.c*v + dt*(s+gt)) / (m.c + dt*g))
		u[m.id] = n
		// What is written is rounded: hand on the flux of the rounded value.
		x := float64(n)
		rest := 0.0
		if g > 0 {
			rest = ((m.c*(x-v)/dt - s) - (gt - g*x)) / g
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
