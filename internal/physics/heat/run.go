package heat

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/shape/grid"
)

// Run is a mould in time. It is not safe for use by several goroutines at once.
type Run struct {
	Time   float64    // s since the Run was made
	Poured float64    // s since the last pour
	Shots  int        // pours so far
	Steps  int        // coupling steps so far
	Sweeps int        // sweeps over the metal so far
	Volume float64    // m3 of metal that the cells hold
	Lost   float64    // m3 of the cavity in parts too thin for the cells
	Watch  func(*Run) // called after each coupling step; nil is not called

	p                       Problem
	grid                    grid.Grid
	h                       float64 // m
	cell                    float64 // J/K of a whole rubber cell
	pad                     padded
	dist                    []float32 // mm, Body.Dist
	tab                     *table
	kernel                  *kernel
	chunk, blockChunk, deep int

	full, apart bool // metal in the cavity; halves apart
	openH       float64
	step1       float64 // s, explicit step of the rubber
	metalStep1  float64 // s, explicit step of the metal

	t, u             []float32 // K over the air, padded; u is the next
	edges            [6]edge
	metal            [6][]bool // faces of metal on the sides
	lossOut, lossIn  []float64 // J, by plane
	walls            []wall
	kind             []uint8
	touch            []touch
	touchPlane       []int32
	shut, both, open patch
	mouths           []mouth
	settled          bool // walls have their late conductance

	b                                                        *blocks
	e                                                        []float64 // enthalpy
	delta, work, temp, next, base, src, w, back, mean, l0, k []float32
	src64                                                    []float64
	legendre                                                 *legendre
	g                                                        [3][]float32
	st                                                       stage
	long                                                     rest
	last                                                     []float32 // temperature at the start of the step before, for the walls' rate
	lastDt                                                   float64

	solid, cold      []float32 // s since the pour at which each lane was solid, and 20 K colder; -1 not yet
	hottest          float64   // K over the solidus
	top, rest, grown float64
	peak             []float32 // K over the air, padded
	event            float64   // Time of the last pour or taking out
	aside            aside     // boards that are off
	peaked           float64   // Time when peaks were last looked at
	sum              Balance

	whole []float64 // m3, volumes of a full cavity, while those of a filling stand in their place; else nil

	feed    []bool  // lanes
	fed     bool    // there is a feed
	mark    []int32 // lanes: closed, nowhere, reached or the number of an island
	islands []Island
	queue   []int32
	looked  float64 // s since the pour
}

// New lays out a Run: mould at its starting temperature, closed and empty.
func New(ctx context.Context, p Problem) (*Run, error) {
	p.fill()
	if err := p.check(); err != nil {
		return nil, err
	}
	g := p.Body.Grid
	r := &Run{p: p, grid: g, h: g.H * 1e-3, pad: pad(g.NX, g.NY, g.NZ), tab: newTable(&p.Metal), kernel: fastest()}
	if p.Plain {
		r.kernel = &plain
	}
	r.cell = p.Rubber.Density * p.Rubber.Cp * r.h * r.h * r.h
	r.chunk, r.deep = max(1, min(8, g.NZ/16)), deepest
	r.dist = p.Body.Dist
	r.b = layBlocks(g, r.dist)
	r.metalFaces()
	for i, s := range p.Sides {
		cells := [3]int{g.NY * g.NZ, g.NX * g.NZ, g.NX * g.NY}[i/2]
		r.edges[i] = newEdge(s, r.h, p.Rubber.K, cells, r.metal[i])
	}
	r.volumes()
	r.step1 = r.build()
	r.metalStep1 = r.conductances()
	r.feeds()
	r.mark = make([]int32, len(r.b.cell))
	if err := ctx.Err(); err != nil {
		return nil, stopped(err)
	}
	n := (r.b.count + 2) * lanes
	for _, s := range []*[]float32{&r.delta, &r.work, &r.temp, &r.next, &r.base, &r.src, &r.w, &r.back, &r.mean, &r.l0, &r.k, &r.last,
		&r.solid, &r.cold, &r.g[0], &r.g[1], &r.g[2]} {
		*s = make([]float32, n)
	}
	r.e, r.src64 = make([]float64, n), make([]float64, n)
	r.blockChunk = max(32, (r.b.count+7)/8)
	r.st.pieces, r.st.tail = r.tab.pieces, piece{from: float32(r.tab.top()), slope: float32(r.tab.ratio)}
	r.t, r.u, r.peak = make([]float32, r.pad.n), make([]float32, r.pad.n), make([]float32, r.pad.n)
	r.lossOut, r.lossIn = make([]float64, g.NZ), make([]float64, g.NZ)
	r.set(func(q int) float32 {
		if p.Field != nil {
			return p.Field[q] - float32(p.Air)
		}
		return float32(p.Start - p.Air)
	})
	r.ForgetPeaks()
	r.sum.Start = r.rubberHeat() + r.boardHeat()
	return r, nil
}

// set fills the rubber's field.
func (r *Run) set(f func(q int) float32) {
	g := r.grid
	par.For(g.NY*g.NZ, 64, func(lo, hi int) {
		for row := lo; row < hi; row++ {
			at := r.pad.id(0, row%g.NY, row/g.NY)
			for i := range g.NX {
				r.t[at+i] = f(row*g.NX + i)
			}
		}
	})
	copy(r.u, r.t)
}

// Full reports whether there is metal in the cavity, Apart whether the halves
// are apart.
func (r *Run) Full() bool  { return r.full }
func (r *Run) Apart() bool { return r.apart }

// Pour fills the cavity with metal of T degC at once. It wants a closed, empty
// mould and metal that is wholly liquid.
func (r *Run) Pour(T float64) error {
	if math.IsNaN(T) || math.IsInf(T, 0) {
		return fault.New(fault.Input, "pour", "give the temperature in degrees C", "the metal's temperature is not a number")
	}
	if l := r.p.Metal.Liquidus(); T < l {
		return fault.New(fault.Input, "pour", "pour hotter, or take the alloy whose liquid fraction ends lower",
			"metal of %.1f degC is under its liquidus of %.1f degC and does not fill a mould", T, l)
	}
	e := r.tab.enthalpy(T)
	return r.pour(func(int) float64 { return e })
}

// PourField fills the cavity with metal whose temperature differs from place to
// place, as a filling leaves it: degC for each cell of the grid, read where there
// is metal. Cells may be partly or wholly solid. A cell at a jump of the liquid
// fraction is taken as liquid.
func (r *Run) PourField(T []float32) error {
	if len(T) != r.grid.Len() {
		return fault.New(fault.Input, "pour", "give one temperature per cell", "%d temperatures for %d cells", len(T), r.grid.Len())
	}
	for l, c := range r.b.cell {
		if c >= 0 && T[c]-T[c] != 0 {
			return fault.New(fault.Input, "pour", "give temperatures in degrees C", "the metal's temperature in lane %d is not a number", l)
		}
	}
	return r.pour(func(c int) float64 { return r.tab.enthalpy(float64(T[c])) })
}

// PourPartly is PourField with the liquid share of each cell, as a filling that
// froze in part leaves it: where it lies between 0 and 1 it decides, elsewhere the
// temperature does.
func (r *Run) PourPartly(T, F []float32) error {
	if len(T) != r.grid.Len() || len(F) != len(T) {
		return fault.New(fault.Input, "pour", "give one temperature and one liquid share per cell", "%d temperatures and %d liquid shares for %d cells",
			len(T), len(F), r.grid.Len())
	}
	for _, c := range r.b.cell {
		if c >= 0 && (T[c]-T[c] != 0 || !(F[c] >= 0 && F[c] <= 1)) {
			return fault.New(fault.Input, "pour", "give degrees C and shares from 0 to 1", "cell %d: %g degC, liquid share %g", c, T[c], F[c])
		}
	}
	return r.pour(func(c int) float64 {
		switch f := float64(F[c]); {
		case f <= 0:
			return min(r.tab.enthalpy(float64(T[c])), 0)
		case f >= 1:
			return max(r.tab.enthalpy(float64(T[c])), r.tab.top())
		default:
			return r.tab.open(f)
		}
	})
}

func (r *Run) pour(e func(cell int) float64) error {
	switch {
	case r.b.cells == 0:
		return fault.New(fault.Input, "pour", "use smaller cells", "no cell of %.3g mm has its centre in the cavity", r.grid.H)
	case r.full:
		return fault.New(fault.Input, "pour", "take the casting out first", "the cavity still holds metal")
	case r.apart:
		return fault.New(fault.Input, "pour", "close the mould first", "the halves are apart")
	}
	r.restore()
	r.full, r.settled, r.Poured, r.lastDt = true, false, 0, 0
	r.Shots++
	r.hottest, r.top, r.rest, r.grown = math.Inf(-1), math.Inf(-1), 0, 0
	for l, c := range r.b.cell {
		r.solid[l], r.cold[l] = -1, -1
		if c >= 0 {
			r.e[l] = e(int(c))
			r.hottest = max(r.hottest, r.tab.temperature(r.e[l]))
			r.top = max(r.top, r.e[l])
			if r.e[l] <= 0 {
				r.solid[l] = 0
			}
			r.temp[l] = r.st.temperature(float32(r.e[l]))
		}
	}
	clear(r.mark)
	r.islands, r.looked = nil, 0
	r.sum.Poured += r.metalHeat()
	r.event, r.peaked = r.Time, r.Time
	return nil
}

// TakeOut lifts the casting out: its heat is booked as carried out.
func (r *Run) TakeOut() error {
	if !r.full {
		return fault.New(fault.Input, "take out", "pour first", "there is no casting in the mould")
	}
	r.sum.CarriedOut += r.metalHeat()
	r.full = false
	r.event, r.peaked = r.Time, r.Time
	return nil
}

// Open takes the halves apart: faces of cavity and parting lose heat to the air
// with h W/(m2 K). A casting that is still in stays in contact with both halves.
func (r *Run) Open(h float64) error {
	if !(h >= 0) || math.IsInf(h, 0) {
		return fault.New(fault.Input, "open", "10 W/(m2 K) is still air, 30 and more a fan", "a coefficient of %g W/(m2 K)", h)
	}
	r.apart, r.openH = true, h
	r.event = r.Time
	r.expose()
	return nil
}

// Close puts the halves together. The faces of an empty closed cavity are
// insulated.
func (r *Run) Close() {
	r.apart = false
	r.event = r.Time
}

// expose lists the cells to mend of an open mould.
func (r *Run) expose() {
	r.open.plane = r.both.plane
	r.open.cells = append(r.open.cells[:0], r.both.cells...)
	face := func(d, area float64) float64 { // W/K through d of rubber and the air's film
		if r.openH == 0 {
			return 0
		}
		return area / (d/r.p.Rubber.K + 1/r.openH)
	}
	for c := range r.open.cells {
		m := &r.open.cells[c]
		for w := m.w0; w < m.w1 && !r.full; w++ {
			f := &r.walls[w]
			m.air += face(float64(f.near)*r.h*float64(f.normal), f.area)
		}
		for a := range 6 {
			if m.parts>>a&1 != 0 {
				m.rho[a] = 0
				m.air += face(r.h/2, r.h*r.h)
			}
		}
	}
}
