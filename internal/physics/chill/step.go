package chill

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// chunk is how many cells one core takes at a time.
const chunk = 2048

// least is the share of metal under which a cell is let alone.
const least = 1e-9

// Step takes the heat forward by dt: through the walls, between cells, and into
// what is known of fronts. f is the share of each cell's open volume that is metal,
// q the heat in J per m3 of open volume, f times that of the metal; q is changed in
// place. It may be called once for several steps of the flow.
func (s *State) Step(dt float64, f, q []float64, planes Planes) {
	if !(dt > 0) {
		return
	}
	s.mem.set(dt)
	for i, c := range planes.Cells {
		s.plane[c] = int32(i)
	}
	par.For(s.c.N, chunk, func(lo, hi int) {
		lost := 0.0
		for c := lo; c < hi; c++ {
			if f[c] > least {
				lost += s.cool(int32(c), dt, f[c], q, &planes)
			}
		}
		s.part[lo/chunk] = lost
	})
	for _, x := range s.part {
		s.Balance.Rubber += x
	}
	for _, c := range planes.Cells {
		s.plane[c] = -1
	}
	s.Time += dt
	if s.owed += dt; s.owed >= s.stable/4 {
		s.conduct(s.owed, f, q)
		s.owed = 0
	}
	s.fronts(dt, f)
}

// cool takes what the walls of a cell take in dt and sets what its metal is like
// then. It returns the heat taken, J.
//
// Each wall takes, for an area wet w of which t was ever touched (their ratio r),
//
//	q = m + g theta,   theta = theta_0 + face r m   the rubber's own and, for its bend, g = k bend/2
//	q = (T - T_0 - theta)/(1/h + d/k)
//
// so q = G (T - T_0) - S, and T follows from h(T) V = h V - dt sum(A q), which is
// solved exactly (implicit: a sliver of metal ends at the rubber's face, not beyond).
// For a ball g is exact, for a rod good while sqrt(alpha t) < R (Carslaw & Jaeger
// 1959, 9.10 and 13.5).
func (s *State) cool(c int32, dt, share float64, q []float64, planes *Planes) float64 {
	h := s.c.H
	volume := share * s.c.V[c] * h * h * h
	e := q[c] / share
	lost := 0.0
	if from, to := s.w.Start[c], s.w.Start[c+1]; from < to {
		var wet, g, less, ratio, see, mem [6]float64
		area := 0.0
		for i := from; i < to; i++ {
			wet[i-from] = s.wetted(&s.w.Patch[i], share, planes) * s.w.Patch[i].Area
			area += wet[i-from]
		}
		if area > 1e-3*h*h {
			k := s.a.solid + (s.a.melt-s.a.solid)*s.Liquid[c]
			film := 1 / (1/s.p.Contact + min(volume/area, h)/(2*k))
			sum, right, T0 := 0.0, e, s.start(c)
			for i := from; i < to; i++ {
				n := i - from
				if wet[n] == 0 {
					continue
				}
				w := &s.w.Patch[i]
				ratio[n] = s.touch(int(i), wet[n]/w.Area, dt)
				see[n] = s.mem.seen((*[modes]float64)(s.y[int(i)*modes:]))
				bend := max(0.5*w.Bend*s.p.Rubber.K, 0)
				face := s.mem.face * ratio[n]
				mem[n] = 1 / (1 + bend*face)
				up := 1 / (mem[n] * (1 + (bend+film)*face))
				g[n] = film * up
				less[n] = (film+bend)*see[n]*up - bend*see[n]
				x := wet[n] * dt / volume
				sum += x * g[n]
				right += x * (g[n]*T0 + less[n])
			}
			rise := s.a.meets(sum, right) - T0
			for i := from; i < to; i++ {
				n := i - from
				if wet[n] == 0 {
					continue
				}
				x := g[n]*rise - less[n]
				took := x * wet[n] * dt
				s.taken[i] += took
				lost += took
				own := (x - max(0.5*s.w.Patch[i].Bend*s.p.Rubber.K, 0)*see[n]) * mem[n] * ratio[n]
				s.mem.next((*[modes]float64)(s.y[int(i)*modes:]), own)
			}
			q[c] -= lost / (s.c.V[c] * h * h * h)
			e = q[c] / share
		}
	}
	T, f := s.a.at(e)
	s.T[c], s.Liquid[c] = T, f
	s.mush(c, share, f)
	return lost
}

// touch brings a wall's memory to the start of this step and, where metal reaches
// fresh rubber, spreads it over the larger share: the half space is linear, so the
// mean over what was touched obeys the same law as each point of it. It returns the
// wet part of what was ever touched.
func (s *State) touch(i int, wet, dt float64) float64 {
	y := s.y[i*modes : i*modes+modes]
	if s.touched[i] > 0 {
		if gap := s.Time - s.since[i]; gap > 1e-3*dt {
			s.mem.fade(y, gap)
		}
	}
	s.since[i] = s.Time + dt
	if wet > s.touched[i] {
		x := s.touched[i] / wet
		for j := range y {
			y[j] *= x
		}
		s.touched[i] = wet
	}
	return wet / s.touched[i]
}

// wetted returns the share of a wall that metal touches: all of it in full cells,
// else what lies under the plane of the cell's metal, the wall taken as a square
// round its middle.
func (s *State) wetted(w *Wall, share float64, planes *Planes) float64 {
	if share >= 1-least {
		return 1
	}
	at := s.plane[w.Cell]
	if at < 0 {
		return share
	}
	n := planes.Normal[at]
	over := planes.Offset[at] - n.Dot(w.At)
	t := n.Sub(w.Normal.Mul(n.Dot(w.Normal)))
	reach := 0.5 * (math.Abs(t.X) + math.Abs(t.Y) + math.Abs(t.Z)) * min(1, math.Sqrt(w.Area)/s.c.H)
	x := 0.5 + over/(2*max(reach, 0.02))
	if x < 1e-3 {
		return 0
	}
	return min(x, 1)
}

// packed is the solid share at which loose grains are packed, for the thickening
// (Krieger & Dougherty 1959; value from memory).
const packed = 0.64

// A cell stops from stops of it full on; under crumb what is in it hinders no metal that comes. Its drag once stood
// for the whole side, and a trace of 1e-9 ahead of the front shut a gate for good.
const (
	stops = 0.5
	crumb = 0.3
)

// mush sets drag, thickening and stop of a cell from its liquid share f. Up to half
// of the coherent share the solid moves with the liquid, from there on it drags as
// a fixed skeleton (Carman & Kozeny), the two joined by a smooth step.
func (s *State) mush(c int32, share, f float64) {
	solid := 1 - f
	if solid <= 0 {
		s.K[c], s.Thick[c] = 0, 1
	} else {
		half := s.p.Coherent / 2
		x := min(max((solid-half)/half, 0), 1)
		f = max(f, 0.01)
		s.K[c] = x * x * (3 - 2*x) * 180 * solid * solid / (s.p.Arms * s.p.Arms * f * f * f)
		s.Thick[c] = 1 + spans(share)*(math.Pow(1-min(solid, 0.95*packed)/packed, -2.5*packed)-1)
	}
	switch shut := s.Shut[c]; {
	case !shut && solid > s.p.Coherent && share >= stops:
		s.Shut[c], s.shutAt[c] = true, s.Time
	case shut && (solid < s.p.Coherent-0.05 || share < crumb):
		s.Shut[c], s.shutAt[c] = false, -1
	}
}

// Drag returns the drag of the low side of cell c along d, 1/m2, for the shares f: the larger of both
// cells, infinite where the metal of one has stopped. Crumbs have none beside metal that could span its
// cell; between crumbs alone they have, so that a frozen splash sticks until metal comes over it.
func (s *State) Drag(d int, c int32, f []float64) float64 {
	o := s.c.Nb[2*d][c]
	if s.Shut[c] || s.Shut[o] {
		return math.Inf(1)
	}
	if s.K[c] == 0 && s.K[o] == 0 { // all melt, as nearly everywhere
		return 0
	}
	if a, b := spans(f[c]), spans(f[o]); a > 0 || b > 0 {
		return max(a*s.K[c], b*s.K[o])
	}
	k := 0.0
	for _, i := range [2]int32{c, o} {
		if f[i] > least {
			k = max(k, s.K[i])
		}
	}
	return k
}

// spans is how much of a skeleton the solid of a cell with that share of metal makes, 0 .. 1.
func spans(share float64) float64 { return min(max((share-crumb)/(stops-crumb), 0), 1) }

// conduct spreads heat between cells for a time dt, in as many pieces as the
// explicit step asks.
//
//	V dh/dt = sum over sides of k A H 2 a b/(a + b) (T_n - T) / H,   a, b the metal shares of the two cells
//
// The harmonic mean keeps the step of a sliver beside a whole cell within twice that
// of the whole cell.
func (s *State) conduct(dt float64, f, q []float64) {
	c := s.c
	pieces := int(math.Ceil(dt/s.stable - 1e-9))
	dt /= float64(pieces)
	over := dt / (c.H * c.H)
	for range pieces {
		par.For(c.N, chunk, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				s.flow[i] = 0
				if f[i] <= least {
					continue
				}
				a := f[i] * c.V[i]
				k, T, sum := s.a.solid+(s.a.melt-s.a.solid)*s.Liquid[i], s.T[i], 0.0
				for d := range 3 {
					for n, o := range [2]int32{c.Nb[2*d][i], c.Nb[2*d+1][i]} {
						if int(o) >= c.N || f[o] <= least {
							continue
						}
						side := c.A[d][i]
						if n == 1 {
							side = c.A[d][o]
						}
						b := f[o] * c.V[o]
						kn := s.a.solid + (s.a.melt-s.a.solid)*s.Liquid[o]
						sum += side * (k + kn) * (a * b / (a + b)) * (s.T[o] - T)
					}
				}
				s.flow[i] = sum * over / c.V[i]
			}
		})
		par.For(c.N, chunk, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				if s.flow[i] != 0 {
					q[i] += s.flow[i]
					s.T[i], s.Liquid[i] = s.a.at(q[i] / f[i])
				}
			}
		})
	}
}

// Coldest returns the temperature and cell of the coldest metal among cells that
// are at least half full and hold at least a quarter of a cell, so that no crumb in
// the tip of a fin speaks for the casting; the cell is -1 where there is none.
func (s *State) Coldest(f []float64) (T float64, cell int32) {
	T, cell = math.Inf(1), -1
	for c := range int32(s.c.N) {
		if f[c] >= 0.5 && f[c]*s.c.V[c] >= 0.25 && s.T[c] < T {
			T, cell = s.T[c], c
		}
	}
	return T, cell
}

// place returns the middle of a cell, mm.
func (s *State) place(c int32) vec.V3 { return s.c.Centre(c).Mul(1e3) }
