package fill

import (
	"context"
	"errors"
	"fmt"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/plic"
	"pourwright/internal/physics/tension"
)

// Run is a flow at one moment. Fields are read only; arrays over cells have Wall+1
// entries, the side of a cell towards lower x, y or z belongs to it.
type Run struct {
	F    []float64    // share of the open volume that is metal
	Heat []float64    // J/m3 of open volume, from solid metal at its solidus; zero without Problem.Heat
	U    [3][]float64 // m/s through the low sides
	P    []float64    // Pa over the air's, in cells that are metal
	Time float64      // s
	In   []float64    // m3 that came in through each port
	Out  []float64    // m3 that left by it
	Sum  Summary

	p          Problem
	c          *cells.Cells
	ports      []Beyond
	side       []side        // every side that may be open
	of         [3][]int32    // by cell: its low side in the list, -1 where shut
	next       [][6]int32    // by side: the cell to which the next side of the same axis belongs, low and high along x, y, z; -1: none
	across     [][2][4]int32 // by side: the cells whose low sides, of the next axis and the one after, lie round it
	state      []state       // by cell
	surf       *plic.Surface
	adv        *plic.Advection
	ten        *tension.Field
	w          [3][]float64 // velocities before the pressure
	was        []float64    // shares before the last step
	soon       []float64
	height     []float64    // by cell: of its centre above the surface, in cells; NaN away from it
	cut        []int32      // cells that a wall cuts
	valid      [3][]uint8   // layer in which a velocity is known, 0: not
	drag       [3][]float64 // 1/s on a side
	base       [3][]float64 // of it, by thin sections
	thick      []float64    // factor on the viscosity, by cell; nil: one
	wall       []float64    // share of the resolved friction on walls, by cell
	skip       []bool       // by cell: tension hardly counts
	moving     bool         // the metal flows: the step is bound by its speed
	dt         float64
	pace       pace
	swift      [][2]float64
	spread     spread
	top, entry float64 // of fallen
	sys        system
	air        pockets
	airs       []uint8 // by cell: bits of airy
}

// Summary says how a run went.
type Summary struct {
	Steps, Rejected    int
	Capillary, Viscous int     // steps that these bound
	Grown              int     // steps that the one before bound
	Substeps, Planes   int     // of the transport, over all steps
	Iterations         int     // of the pressure
	Unsolved           int     // pressures that did not come to their end
	In, Out            float64 // m3 through openings
	Dropped            float64 // m3 of crumbs
	Over               float64 // m3 above full after the last step
	Enclosed           Enclosed
}

// A step is tried so often again before a run ends with an error, and is never shorter than in which metal crosses
// a millionth of a cell at 1 m/s.
const (
	tries    = 12
	shortest = 1e-6 // s/m
)

type state uint8

const (
	hollow state = iota
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
		adv: plic.NewAdvection(c), ports: make([]Beyond, c.Ports), In: make([]float64, c.Ports), Out: make([]float64, c.Ports), wall: make([]float64, n)}
	r.surf = r.adv.Surface()
	r.pace = careful
	if p.Quick {
		r.pace, r.adv.Keep = quick, int(quick.pieces)
		r.surf.Rounds = roughly
	}
	if r.p.Courant == 0 {
		r.p.Courant = 0.5
		if p.Quick {
			r.p.Courant = 1.5
		}
	}
	if r.p.Share == 0 {
		r.p.Share = 1e-4
	}
	copy(r.ports, p.Ports)
	if !p.Slip {
		for i := range r.wall {
			r.wall[i] = 1
		}
	}
	var thin []tension.Thin
	for i, s := range p.Sections {
		r.wall[i] *= 1 - s.Blend
		k := p.narrow(s)
		thin = append(thin, tension.Thin{Wet: s.Wet, Blend: max(s.Blend, k), Both: k > s.Blend && s.Width > shown*c.H})
	}
	for i := c.N; i < c.Wall; i++ { // the mouth's section is that within
		for k := range c.Nb {
			if n := c.Nb[k][i]; int(n) < c.N {
				r.wall[i] = r.wall[n]
			}
		}
	}
	if p.Metal.Tension > 0 {
		var err error
		if r.ten, err = tension.New(c, p.Metal.Tension, p.Metal.Angle, thin); err != nil {
			return nil, err
		}
	}
	for d := range 3 {
		r.base[d] = make([]float64, n)
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
					r.base[d][i] = p.Metal.Viscosity / p.Metal.Density * max(x.Drag*x.Blend, y.Drag*y.Blend)
				}
			}
		}
		copy(r.drag[d], r.base[d])
	}
	r.beside()
	r.top = highest(p.Cells, p.Gravity)
	r.height, r.soon, r.was = make([]float64, n), make([]float64, n), append([]float64{}, r.F...)
	for i := range int32(c.N) {
		if c.Own[i] < 1 {
			r.cut = append(r.cut, i)
		}
	}
	r.sys.make(r)
	r.Heat = make([]float64, n)
	if h := p.Heat; h != nil {
		for i := range c.N {
			r.Heat[i] = r.F[i] * h.Poured(p.Pour)
		}
		h.Balance.In += h.Holds(r.Heat)
	}
	r.look()
	r.newAir()
	r.classify()
	r.regions(true)
	r.curve()
	for _, s := range r.side { // what is given at the start is known
		if r.U[s.d][s.hi] != 0 {
			r.valid[s.d][s.hi] = 1
		}
	}
	return r, nil
}

// look takes up what lies beyond the ports.
func (r *Run) look() {
	c := r.c
	for k := range r.ports {
		i := c.N + k
		switch r.ports[k].Kind {
		case Jet:
			r.state[i], r.F[i] = given, 1
			r.entry = max(r.entry, r.ports[k].Speed*r.ports[k].Speed)
		case Head:
			r.state[i], r.F[i] = held, 1
			r.entry = max(r.entry, 2*r.ports[k].Pressure/r.p.Metal.Density)
		case Air:
			r.state[i], r.F[i] = open, 0
		case Gauze:
			r.F[i] = 0
			r.gauze(int32(i))
		default:
			r.state[i], r.F[i] = shut, 0
		}
	}
	r.state[c.Wall], r.F[c.Wall] = shut, 0
	if h := r.p.Heat; h != nil {
		for i := c.N; i < c.Wall; i++ {
			r.Heat[i] = r.F[i] * h.Poured(r.p.Pour)
		}
	}
}

// gauze makes a port a wall to metal. Metal that stands against it and pulls is let go: the port then
// is open to it until it comes back.
func (r *Run) gauze(i int32) {
	c := r.c
	was := r.state[i]
	r.state[i] = shut
	for k := range 6 {
		n := c.Nb[k][i]
		if int(n) >= c.N || r.state[n] != metal {
			continue
		}
		// the velocity out of the cavity
		d, f, out := k/2, i, 1.0
		if k%2 == 1 {
			f, out = n, -1
		}
		if was == open && out*r.U[d][f] <= 0 || was != open && r.P[n] < 0 {
			r.state[i] = open
		}
	}
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

// mush takes up how the metal's solid share hinders it: a drag between its arms
// (Carman and Kozeny), and a thicker slurry before.
func (r *Run) mush() {
	h := r.p.Heat
	nu := r.p.Metal.Viscosity / r.p.Metal.Density
	r.thick = h.Thick
	par.For(len(r.side), 1024, func(lo, hi int) {
		for _, s := range r.side[lo:hi] {
			d, c := s.d, s.hi
			k := h.Drag(int(d), c, r.F)
			if math.IsInf(k, 1) {
				k = 0 // the cell is a wall by its state
			}
			r.drag[d][c] = r.base[d][c] + nu*k
		}
	})
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
			v = max(v, math.Abs(r.U[s.d][s.hi]))
		}
	}
	return v
}

// unsolved is how often a step is halved whose pressure does not come to its end.
const unsolved = 3

func (r *Run) step(left float64) error {
	if r.p.Drive != nil {
		r.p.Drive(r.Time, r.ports)
		if err := sensible(r.c, r.ports); err != nil {
			return err
		}
	}
	r.look()
	m, h := r.p.Metal, r.c.H
	dt, by := left, 0
	bound := func(x float64, what int) {
		if x < dt {
			dt, by = x, what
		}
	}
	if m.Tension > 0 {
		bound(r.pace.tension*math.Sqrt(m.Density*h*h*h/(4*math.Pi*m.Tension)), 1)
	}
	if nu := m.Viscosity / m.Density; nu > 0 {
		bound(0.15*h*h/nu, 2)
	}
	g := r.p.Gravity.Len()
	if g > 0 {
		bound(0.3*math.Sqrt(h/g), 0) // waves
	}
	if r.dt > 0 {
		bound(r.pace.growth*r.dt, 3)
	} else {
		bound(0.02*math.Sqrt(h/max(g, 1e-3)), 3) // a first small step
	}
	most := r.p.Courant
	x, _, _ := r.crosses(&r.U, dt)
	if x > most {
		dt, by = dt*most/x, 4
	}
	r.ended(Choice)
	first, speed, cuts := dt, 0.0, 1
	for try := 0; ; try++ {
		if least := shortest * h; dt < least && dt < left {
			return r.lost("the step fell to %.2g s", dt)
		}
		r.momentum(dt)
		r.ended(Momentum)
		solved, err := r.project(dt, first)
		r.ended(Pressure)
		if err != nil {
			return errors.Join(r.lost("the pressure could not be found"), err)
		}
		if !solved {
			if r.Sum.Unsolved++; try < unsolved {
				r.Sum.Rejected++
				dt *= 0.5
				continue
			}
		}
		x, speed, cuts = r.crosses(&r.w, dt)
		air := most * r.squeezed(dt) / change
		r.ended(Choice)
		if x <= r.pace.slack*most && air <= 1.1*most {
			break
		}
		all := max(x, air)
		if !(all < math.MaxFloat64) {
			return r.lost("the velocity is not a number")
		}
		if try == tries {
			return r.lost("a step of %.2g s, the shortest of %d, would move %.2g of a cell", dt, tries+1, all)
		}
		r.Sum.Rejected++
		if r.p.Quick && x <= r.pace.slack*most {
			dt *= 0.9 * most / air
		} else {
			dt *= 0.8 * most / all
		}
	}
	r.U, r.w = r.w, r.U
	r.leave(dt)
	r.extend()
	if r.p.Quick {
		r.slow(dt)
	}
	r.ended(Extension)
	var carried [][]float64
	if r.p.Heat != nil {
		carried = [][]float64{r.Heat}
	}
	copy(r.was, r.F)
	rep, err := r.adv.Step(r.F, carried, &r.U, dt, cuts)
	if err != nil {
		return errors.Join(r.lost("the metal could not be moved"), err)
	}
	for k := range rep.In {
		r.In[k] += rep.In[k]
		r.Out[k] += rep.Out[k]
		r.Sum.In += rep.In[k]
		r.Sum.Out += rep.Out[k]
	}
	r.Sum.Dropped += rep.Dropped
	r.Sum.Over = rep.Over
	r.moving = r.p.Quick && speed > swift*math.Sqrt(g*h+m.Tension/(m.Density*h))
	r.rise(dt)
	r.ended(Transport)
	r.classify()
	r.regions(false)
	r.ended(Labels)
	r.curve()
	r.ended(Tension)
	if h := r.p.Heat; h != nil {
		for k := range rep.In {
			h.Balance.In += rep.QIn[0][k]
			h.Balance.Out += rep.QOut[0][k]
		}
		h.Balance.Dropped += rep.QDropped[0]
		h.Step(dt, r.F, r.Heat, chill.Planes{Cells: r.surf.Cells, Normal: r.surf.Normal, Offset: r.surf.Offset})
		r.mush()
		r.ended(Heat)
	}
	switch by {
	case 1:
		r.Sum.Capillary++
	case 2:
		r.Sum.Viscous++
	case 3:
		r.Sum.Grown++
	}
	r.Sum.Substeps += rep.Substeps
	r.Sum.Planes += rep.Mixed
	r.Sum.Steps++
	r.Time += dt
	if dt < left {
		r.dt = dt
	} else { // cut short by the time that was asked for: no measure of the next
		r.dt = max(r.dt, dt)
	}
	return nil
}

// lost says where a run went wrong: at its fastest place.
func (r *Run) lost(what string, args ...any) error {
	at, v := int32(-1), -1.0
	for _, s := range r.side {
		if u := math.Abs(r.w[s.d][s.hi]); u > v || u != u {
			if at = s.hi; int(at) >= r.c.N {
				at = s.lo
			}
			if v = u; u != u {
				break
			}
		}
	}
	where := "the wall"
	if at >= 0 {
		where = place(r.c, at)
	}
	return fault.New(fault.Unstable, "fill", "compute on cells a tenth smaller or larger; report the master if that fails too",
		"%s after %.4f s and %d steps, fastest at %s (%.3g m/s)", fmt.Sprintf(what, args...), r.Time, r.Sum.Steps, where, v)
}
