package fill

import (
	"context"
	"errors"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/plic"
	"pourwright/internal/physics/tension"
)

// Run is a flow at one moment. Fields are read only; arrays over cells have Wall+1
// entries, the side of a cell towards lower x, y or z belongs to it.
type Run struct {
	F    []float64    // share of the open volume that is metal
	U    [3][]float64 // m/s through the low sides
	P    []float64    // Pa over the air's, in cells that are metal
	Time float64      // s
	Sum  Summary

	p     Problem
	c     *cells.Cells
	ports []Beyond
	side  []side     // every side that may be open
	of    [3][]int32 // by cell: its low side in the list, -1 where shut
	state []state    // by cell
	surf  *plic.Surface
	adv   *plic.Advection
	ten   *tension.Field
	w     [3][]float64 // velocities before the pressure
	valid [3][]uint8   // layer in which a velocity is known, 0: not
	drag  [3][]float64 // 1/s on a side
	wall  []float64    // share of the resolved friction on walls, by cell
	dt    float64
	sys   system
}

// Summary says how a run went.
type Summary struct {
	Steps, Rejected    int
	Capillary, Viscous int     // steps that these bound
	Iterations         int     // of the pressure
	In, Out            float64 // m3 through openings
	Dropped            float64 // m3 of crumbs
	Over               float64 // m3 above full after the last step
}

type state uint8

const (
	gas state = iota
	metal
	shut
	given // beyond a port: metal at a speed
	held  // beyond a port: metal at a pressure
	open  // beyond a port: gas
)

// side is one open side: its axis, the cells at its low and high side.
type side struct {
	d      uint8
	lo, hi int32
}

// New starts a run with the shares f.
func New(p Problem, f []float64) (*Run, error) {
	if err := p.check(f); err != nil {
		return nil, err
	}
	c := p.Cells
	n := c.Wall + 1
	r := &Run{p: p, c: c, F: append([]float64{}, f...), P: make([]float64, n), state: make([]state, n),
		surf: plic.NewSurface(c), adv: plic.NewAdvection(c), ports: make([]Beyond, c.Ports), wall: make([]float64, n)}
	if r.p.Courant == 0 {
		r.p.Courant = 0.5
	}
	if r.p.Share == 0 {
		r.p.Share = 1e-3
	}
	copy(r.ports, p.Ports)
	thin := make([]tension.Thin, 0, n)
	for i := range n {
		r.wall[i] = 1
		if p.Slip {
			r.wall[i] = 0
		}
		if p.Sections != nil {
			s := p.Sections[i]
			r.wall[i] *= 1 - s.Blend
			thin = append(thin, tension.Thin{Wet: s.Wet, Blend: s.Blend})
		}
	}
	if p.Sections == nil {
		thin = nil
	}
	if p.Metal.Tension > 0 {
		var err error
		if r.ten, err = tension.New(c, p.Metal.Tension, p.Metal.Angle, thin); err != nil {
			return nil, err
		}
	}
	for d := range 3 {
		r.U[d], r.w[d], r.drag[d] = make([]float64, n), make([]float64, n), make([]float64, n)
		r.valid[d], r.of[d] = make([]uint8, n), make([]int32, n)
		if p.Given[d] != nil {
			copy(r.U[d], p.Given[d])
		}
		for i := range n {
			r.of[d][i] = -1
		}
		for i := range c.Wall {
			if a := c.Nb[2*d][i]; int(a) != c.Wall && c.A[d][i] > 0 {
				r.of[d][i] = int32(len(r.side))
				r.side = append(r.side, side{uint8(d), a, int32(i)})
				if p.Sections != nil && !p.Slip {
					x, y := p.Sections[a], p.Sections[i]
					r.drag[d][i] = p.Metal.Viscosity / p.Metal.Density * max(x.Drag*x.Blend, y.Drag*y.Blend)
				}
			}
		}
	}
	r.sys.make(r)
	r.classify()
	for _, s := range r.side { // what is given at the start is known
		if r.U[s.d][s.hi] != 0 {
			r.valid[s.d][s.hi] = 1
		}
	}
	return r, nil
}

// classify renews the surface and says which cells are metal.
func (r *Run) classify() {
	c := r.c
	for k := range r.ports {
		i := c.N + k
		switch r.ports[k].Kind {
		case Jet:
			r.state[i], r.F[i] = given, 1
		case Head:
			r.state[i], r.F[i] = held, 1
		case Air:
			r.state[i], r.F[i] = open, 0
		default:
			r.state[i], r.F[i] = shut, 0
		}
	}
	r.state[c.Wall], r.F[c.Wall] = shut, 0
	if r.ten != nil {
		r.ten.Update(r.F, nil)
	}
	r.surf.Update(r.F, nil)
	middle := vec.V3{X: 0.5, Y: 0.5, Z: 0.5}
	for i := range int32(c.N) {
		r.state[i] = gas
		if f := r.F[i]; f >= 1-plic.Empty {
			r.state[i] = metal
		} else if f > plic.Empty {
			if z, ok := r.surf.Height(i, middle); ok && z <= 0 {
				r.state[i] = metal
			}
		}
	}
}

// distance returns where between the centres of metal cell i and its neighbour n
// over side k the surface lies, in cells from i.
func (r *Run) distance(i, n int32, k int) float64 {
	d, sign := k/2, float64(2*(k%2)-1)
	p := vec.V3{X: 0.5, Y: 0.5, Z: 0.5}
	find := func(cell int32) (float64, bool) {
		j := r.surf.At(cell)
		if j < 0 {
			return 0, false
		}
		z, _ := r.surf.Height(cell, p)
		slope := sign * r.surf.Normal[j].Array()[d]
		if slope < 1e-9 {
			return 0, false
		}
		return -z / slope, true
	}
	a, okA := find(i)
	b, okB := 0.0, false
	if int(n) < r.c.N {
		b, okB = find(n)
		b++
	}
	inA, inB := okA && a >= 0 && a <= 1, okB && b >= 0 && b <= 1
	switch {
	case inA && inB:
		// Each by the share of the way on which it stands in its own cell.
		if a <= 0.5 && b < 0.5 {
			return a
		}
		if b > 0.5 && a > 0.5 {
			return b
		}
		return (a + b) / 2
	case inA:
		return a
	case inB:
		return b
	case int(n) >= r.c.N:
		return 0.5
	case okA && okB:
		return min(max((a+b)/2, 0), 1)
	case okA:
		return min(max(a, 0), 1)
	case okB:
		return min(max(b, 0), 1)
	}
	return min(max(r.F[i]+r.F[n]-0.5, 0), 1)
}

// Advance goes on until a time, s. An error of ctx leaves the run whole, as it stood
// after the last step.
func (r *Run) Advance(ctx context.Context, until float64) error {
	for r.Time < until*(1-1e-12) {
		if err := ctx.Err(); err != nil {
			return &fault.Error{Kind: fault.Interrupted, Place: "fill", Text: "stopped", Cause: err}
		}
		if err := r.step(until - r.Time); err != nil {
			return err
		}
	}
	return nil
}

// Volume returns the metal in the cavity, m3.
func (r *Run) Volume() float64 {
	v := 0.0
	for i := range r.c.N {
		v += r.F[i] * r.c.V[i]
	}
	return v * r.c.H * r.c.H * r.c.H
}

// Fastest returns the largest speed through an open side of a cell that is metal.
func (r *Run) Fastest() float64 {
	v := 0.0
	for _, s := range r.side {
		if r.state[s.lo] == metal || r.state[s.hi] == metal {
			v = math.Max(v, math.Abs(r.U[s.d][s.hi]))
		}
	}
	return v
}

func (r *Run) step(left float64) error {
	if r.p.Drive != nil {
		r.p.Drive(r.Time, r.ports)
	}
	r.classify()
	m, h := r.p.Metal, r.c.H
	dt, by := left, 0
	if m.Tension > 0 {
		if x := 0.7 * math.Sqrt(m.Density*h*h*h/(4*math.Pi*m.Tension)); x < dt {
			dt, by = x, 1
		}
	}
	if nu := m.Viscosity / m.Density; nu > 0 {
		if x := 0.15 * h * h / nu; x < dt {
			dt, by = x, 2
		}
	}
	if r.dt > 0 {
		dt = min(dt, 1.3*r.dt)
	} else {
		dt = min(dt, 0.02*math.Sqrt(h/math.Max(r.p.Gravity.Len(), 1e-3))) // a first small step
	}
	if x := r.adv.Courant(r.F, &r.U, dt); x > r.p.Courant {
		dt, by = dt*r.p.Courant/x, 0
	}
	for try := 0; ; try++ {
		if !(dt > 1e-12) {
			return r.lost("the step fell to nothing")
		}
		r.momentum(dt)
		n, err := r.project(dt)
		r.Sum.Iterations += n
		if err != nil {
			return err
		}
		x := r.adv.Courant(r.F, &r.w, dt)
		if !(x < math.MaxFloat64) {
			return r.lost("the velocity is not a number")
		}
		if x <= 1.1*r.p.Courant || try > 12 {
			break
		}
		r.Sum.Rejected++
		dt *= 0.8 * r.p.Courant / x
	}
	r.U, r.w = r.w, r.U
	r.extend(dt)
	rep, err := r.adv.Step(r.F, nil, &r.U, dt, 1)
	if err != nil {
		return errors.Join(r.lost("the metal could not be moved"), err)
	}
	for k := range rep.In {
		r.Sum.In += rep.In[k]
		r.Sum.Out += rep.Out[k]
	}
	r.Sum.Dropped += rep.Dropped
	r.Sum.Over = rep.Over
	switch by {
	case 1:
		r.Sum.Capillary++
	case 2:
		r.Sum.Viscous++
	}
	r.Sum.Steps++
	r.Time += dt
	r.dt = dt
	return nil
}

// lost says where a run went wrong: at its fastest place.
func (r *Run) lost(what string) error {
	at, v := int32(0), -1.0
	for _, s := range r.side {
		if u := math.Abs(r.w[s.d][s.hi]); u > v || u != u {
			at, v = s.hi, u
		}
	}
	q := r.c.Centre(at).Mul(1e3)
	return fault.New(fault.Internal, "fill", "compute on other cells; report the master if that fails too",
		"%s after %.4f s, fastest at %.1f, %.1f, %.1f mm (%.3g m/s)", what, r.Time, q.X, q.Y, q.Z, v)
}
