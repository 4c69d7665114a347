package plic

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// Empty is the share up to which a cell counts as empty, and from 1 less which as full.
const Empty = 1e-12

// Normals is the way in which the planes of a sweep are turned.
type Normals int

const (
	Fitted Normals = iota // mixed, then through the centroids of neighbouring polygons
	Mixed                 // Youngs-centred (Aulisa et al. 2007)
	Youngs                // Youngs 1982
)

// Advection carries the metal of a list of cells. It keeps room for the work and
// whose turn it is; everything else is given to Step.
type Advection struct {
	// Flux is the metal that went through the low side of each cell along +x, +y, +z
	// in the last Step, m3.
	Flux [3][]float64
	// Turn counts substeps; it sets the order of directions. A run that goes on from a
	// checkpoint sets it again.
	Turn    int
	Normals Normals
	// Given, nil or one for each cell, holds normals that stand as they are in the first substep, say with a
	// contact angle at walls; zero where the shares shall tell.
	Given []vec.V3
	// Planes, nil or a surface of the same cells updated for the shares that Step is given, holds the planes of the
	// first sweep.
	Planes *Surface
	Keep   int  // substeps of a step for which fitted normals stand; 0: one
	Porous bool // take cut cells for porous cubes: some microseconds less for each, and much less true
	web
	given  []vec.V3
	known  *Surface
	ports  []gate
	flux   []float64 // of this sweep, in volumes of a cell's cube
	metal  []float64 // metal without the dilation terms, in the same
	room   []float64 // volume, and what was swept in since the start, in the same
	stamp  []int32
	turn   int32
	wet    []int32
	mixed  []int32
	slot   []int32
	planes []plane // of the mixed cells
	older  []plane // of the sweep before
	better []plane
	before []int32 // mixed cells of the sweep before
	from   []int32 // place in before
	facets []facet
	used   []int32 // cells with an entry in Flux
	marked []bool  // those
	thin   []bool  // by listed cell: it is mixed and not deep
	worst  []float64
	scalar carrier
}

// gate is an opening: its port, and where its flux stands.
type gate struct {
	port, inside, face int32
	d                  int
	in                 float64 // sign of a flux inwards
}

// NewAdvection makes room for a list of cells.
func NewAdvection(c *cells.Cells) *Advection {
	n := c.Wall + 1
	a := &Advection{web: newWeb(c), flux: make([]float64, n), metal: make([]float64, n), room: make([]float64, n),
		stamp: make([]int32, n), slot: make([]int32, n), marked: make([]bool, n)}
	for i := range a.slot {
		a.slot[i] = -1
	}
	for d := range a.Flux {
		a.Flux[d] = make([]float64, n)
	}
	for i := range int32(c.N) {
		for d := range 3 {
			if p := c.Nb[2*d][i]; a.port(p) {
				a.ports = append(a.ports, gate{p, i, i, d, 1})
			}
			if p := c.Nb[2*d+1][i]; a.port(p) {
				a.ports = append(a.ports, gate{p, i, p, d, -1})
			}
		}
	}
	return a
}

func (w *web) port(i int32) bool { return int(i) >= w.c.N && int(i) < w.c.Wall }

// fullest is the share of its volume that a cell may give away in a substep, longest how many times
// its volume in a step.
const (
	fullest = 0.95
	longest = 1e4
)

// Step moves the metal for dt seconds. f holds the share of each open cell, and at
// ports what would flow in; it has Wall+1 entries, as has each of q: what the metal
// carries, per open volume (share times value per volume of metal). u is the velocity
// through the low sides, m/s. The step is cut into substeps, more than asked where a
// cell would give away more than it can hold.
//
// One substep, for the directions d in turn, with w = u A dt/h the volume swept through
// a side, G(w) the metal in it, M the metal and R the volume that is in the cell so far:
//
//	M' = M + G_lo - G_hi     R' = R + w_lo - w_hi     F' = M'/R'     (R = V at the start)
//
// and F = M/V at the end, so the volume is exact whatever the divergence. G is what the
// planes of F leave in a slab of the cell that the metal comes from: in a whole cell, |w|/R thick, so
// that no cell gives away more metal, or more void, than it has: with R > 0 all F' stay
// within 0 .. 1, and the last F within 0 .. R/V, which a velocity free of divergence
// makes 1. (Weymouth & Yue take F' = F + (G_lo - G_hi + c (w_hi - w_lo))/V, c = 1 where F > 1/2 at the
// start; their bounds need a Courant number under 1/2.)
func (a *Advection) Step(f []float64, q [][]float64, u *[3][]float64, dt float64, substeps int) (Report, error) {
	c := a.c
	r := Report{In: make([]float64, c.Ports), Out: make([]float64, c.Ports), Least: math.Inf(1), Most: math.Inf(-1)}
	if err := a.fits3(f, q, u, dt); err != nil {
		return r, err
	}
	a.clear()
	a.scalar.start(a, q, &r)
	for left, want := dt, max(substeps, 1); ; want = max(want-1, 1) {
		a.list(f)
		out := a.drain(u, left)
		if math.IsNaN(out) || out > longest {
			return r, fault.New(fault.Unstable, "moving the metal", "shorten the step, or look for what drives it", "the metal would cross %.3g cells in %.3g s", out, left)
		}
		a.given, a.known = nil, nil
		if r.Substeps == 0 {
			a.given, a.known = a.Given, a.Planes
		}
		parts := max(want, int(math.Ceil(out/fullest)))
		a.substep(f, q, u, left/float64(parts)/c.H, &r)
		r.Substeps++
		if parts == 1 {
			break
		}
		left -= left / float64(parts)
	}
	a.close(f, &r)
	if !(r.Least-r.Most <= 0) {
		return r, fault.New(fault.Unstable, "moving the metal", "look for what made the shares or the velocity", "a share of metal is no number any more")
	}
	return r, nil
}

// fits3 checks the lengths.
func (a *Advection) fits3(f []float64, q [][]float64, u *[3][]float64, dt float64) error {
	n := a.c.Wall + 1
	ok := len(f) == n && len(u[0]) == n && len(u[1]) == n && len(u[2]) == n
	ok = ok && (a.Given == nil || len(a.Given) == n)
	for _, x := range q {
		ok = ok && len(x) == n
	}
	if !ok || !(dt >= 0) || math.IsInf(dt, 0) {
		return fault.New(fault.Internal, "plic", "", "the fields do not fit %d cells, or the step %g s is none", n, dt)
	}
	return nil
}

// clear takes out what the last step left in Flux.
func (a *Advection) clear() {
	for _, i := range a.used {
		a.marked[i] = false
		for d := range 3 {
			a.Flux[d][i] = 0
			a.Flux[d][a.c.Nb[2*d+1][i]] = 0
		}
	}
	a.used = a.used[:0]
}

// list finds the cells with metal, and those beside them or beside a port with metal.
func (a *Advection) list(f []float64) {
	a.turn++
	a.wet = a.wet[:0]
	for i, x := range f[:a.c.N] {
		if x != 0 {
			a.wet = append(a.wet, int32(i))
			a.stamp[i] = a.turn
		}
	}
	for _, g := range a.ports {
		if f[g.port] > Empty {
			a.take(g.inside, f)
		}
	}
	for _, i := range a.wet[:len(a.wet):len(a.wet)] {
		a.begin(i, f)
		for d := range 6 {
			a.take(a.c.Nb[d][i], f)
		}
	}
}

// take adds an open cell to the list.
func (a *Advection) take(i int32, f []float64) {
	if int(i) < a.c.N && a.stamp[i] != a.turn {
		a.stamp[i] = a.turn
		a.wet = append(a.wet, i)
		a.begin(i, f)
	}
}

func (a *Advection) begin(i int32, f []float64) {
	a.metal[i] = f[i] * a.c.V[i]
	a.room[i] = a.c.V[i]
}

// drain returns the largest share of its volume that a listed cell gives away.
func (a *Advection) drain(u *[3][]float64, dt float64) float64 {
	c, k := a.c, dt/a.c.H
	const chunk = 512
	n := (len(a.wet) + chunk - 1) / chunk
	a.worst = sized(a.worst, n)
	par.For(len(a.wet), chunk, func(lo, hi int) {
		most := 0.0
		for _, i := range a.wet[lo:hi] {
			s := 0.0
			for d := range 3 {
				if x := u[d][i] * c.A[d][i]; x < 0 {
					s -= x
				} else if x != x {
					s = x
				}
				hi := c.Nb[2*d+1][i]
				if x := u[d][hi] * c.A[d][hi]; int(hi) < c.Wall && (x > 0 || x != x) {
					s += x
				}
			}
			most = max(most, s*k/c.V[i]) // what is no number stays
		}
		a.worst[lo/chunk] = most
	})
	worst := 0.0
	for _, x := range a.worst {
		worst = max(worst, x)
	}
	return worst
}

// Courant returns the largest sum over the directions of the volume swept through
// a cell's wider swept side, over its volume, of cells with metal.
func (a *Advection) Courant(f []float64, u *[3][]float64, dt float64) float64 {
	c, worst := a.c, 0.0
	for i, x := range f[:c.N] {
		if x <= Empty {
			continue
		}
		s := 0.0
		for d := range 3 {
			w := math.Abs(u[d][i]) * c.A[d][i]
			if hi := c.Nb[2*d+1][i]; int(hi) < c.Wall {
				w = max(w, math.Abs(u[d][hi])*c.A[d][hi])
			}
			s += w
		}
		if s /= c.V[i]; s > worst || s != s { // what is no number stays
			worst = s
		}
	}
	return worst * dt / c.H
}

// substep carries the metal for a time of k h.
func (a *Advection) substep(f []float64, q [][]float64, u *[3][]float64, k float64, r *Report) {
	for s := range 3 {
		d := (a.Turn + s) % 3
		a.sweep(d, s == 0 && r.Substeps%max(a.Keep, 1) == 0, f, u[d], k)
		r.Mixed += len(a.mixed)
		a.scalar.sweep(a, d, f, q)
		a.update(d, f, u[d], k)
		a.gates(d, q, r)
	}
	a.Turn++
	r.Wet = max(r.Wet, len(a.wet))
	for _, i := range a.wet {
		if !a.marked[i] {
			a.marked[i] = true
			a.used = append(a.used, i)
		}
	}
	par.For(len(a.wet), 256, func(lo, hi int) {
		for _, i := range a.wet[lo:hi] {
			f[i] = a.metal[i] / a.c.V[i]
		}
	})
	a.crumbs(f, q, r)
}

// sweep finds the metal that goes through the sides along d.
func (a *Advection) sweep(d int, first bool, f, u []float64, k float64) {
	c := a.c
	for _, i := range a.wet[:len(a.wet):len(a.wet)] {
		if f[i] > Empty {
			a.take(c.Nb[2*d][i], f)
			a.take(c.Nb[2*d+1][i], f)
		}
	}
	a.collect(f)
	a.turned(d, f, u, first)
	par.For(len(a.wet), 256, func(lo, hi int) {
		for _, i := range a.wet[lo:hi] {
			a.flux[i] = a.through(d, i, c.Nb[2*d][i], i, f, u, k)
			if hi := c.Nb[2*d+1][i]; int(hi) < c.N {
				if a.stamp[hi] != a.turn {
					a.flux[hi] = 0
				}
			} else if int(hi) < c.Wall {
				a.flux[hi] = a.through(d, hi, i, hi, f, u, k)
			}
		}
	})
}

// collect lists the mixed cells that are not deep, with their places in the list before.
func (a *Advection) collect(f []float64) {
	a.before, a.mixed = a.mixed, a.before[:0]
	a.older, a.planes = a.planes, a.older
	a.from = a.from[:0]
	n := len(a.wet)
	a.thin = sized(a.thin, n)
	par.For(n, 512, func(lo, hi int) {
		for k, i := range a.wet[lo:hi] {
			x := f[i]
			a.thin[lo+k] = x > Empty && x < 1-Empty && !a.deep(i, f)
		}
	})
	for k, i := range a.wet {
		if a.thin[k] {
			a.mixed = append(a.mixed, i)
			a.from = append(a.from, a.slot[i])
		}
	}
	for _, i := range a.before {
		a.slot[i] = -1
	}
	for k, i := range a.mixed {
		a.slot[i] = int32(k)
	}
}

// through returns the metal that goes from lo to hi through the side that stands
// at face.
func (a *Advection) through(d int, face, lo, hi int32, f, u []float64, k float64) float64 {
	w := u[face] * a.c.A[d][face] * k
	if w == 0 {
		return 0
	}
	from, high := lo, true
	if w < 0 {
		from, high = hi, false
	}
	switch x := f[from]; {
	case !(x > Empty):
		return 0
	case int(from) >= a.c.N:
		return w * min(x, 1)
	case a.slot[from] < 0: // full
		return w
	}
	if part := a.cut(from); part != nil {
		return math.Copysign(a.out(part, from, d, high, u, k), w)
	}
	g := math.Abs(w) * a.planes[a.slot[from]].slab(d, high, min(math.Abs(w)/a.room[from], 1))
	return math.Copysign(min(g, a.metal[from]), w)
}

// update adds the fluxes along d.
func (a *Advection) update(d int, f, u []float64, k float64) {
	c := a.c
	h3 := c.H * c.H * c.H
	total := a.Flux[d]
	next, area := c.Nb[2*d+1], c.A[d]
	par.For(len(a.wet), 256, func(lo, hi int) {
		for _, i := range a.wet[lo:hi] {
			g := a.flux[i]
			total[i] += g * h3
			grow := -u[i] * area[i]
			if o := next[i]; int(o) < c.Wall {
				g -= a.flux[o]
				grow += u[o] * area[o]
				if int(o) >= c.N {
					total[o] += a.flux[o] * h3
				}
			}
			a.metal[i] += g
			// Bounded for cells that metal reaches on a diagonal, whose outflow no one has looked at.
			a.room[i] = max(a.room[i]-grow*k, (1-fullest)/2*c.V[i])
			f[i] = a.metal[i] / a.room[i]
		}
	})
}
