package chill

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/heat"
)

// Problem is everything a State needs to know. Cells and Walls must not be changed
// while a State uses them.
type Problem struct {
	Cells  *cells.Cells
	Walls  *Walls // of FromMesh or FromShares; nil takes FromShares
	Metal  heat.Metal
	Rubber heat.Rubber

	Contact  float64   // W/(m2 K) between metal and rubber; 0 takes heat.DefaultContact
	Mould    float64   // degC, the rubber before it is touched
	Start    []float64 // degC, the same by cell, at least Cells.N; nil takes Mould everywhere
	Coherent float64   // solid share from which metal no longer moves; 0 takes Coherent of the metal
	Arms     float64   // m, spacing of the dendrites' arms; 0 takes 50 um (value from memory)
}

// Coherent returns the solid share from which a metal no longer moves. Where the
// last 0.9 of the liquid freezes within 5 K of the solidus the solid grows as a skin
// from the wall and the rest keeps running: 0.6. Alloys with a longer range stop as
// a slurry of grains: 0.3. Values from memory: tips of running metal of a long range
// are said to stop at 0.2 to 0.35 solid, loose grains to lock at 0.5 to 0.65.
func Coherent(m *heat.Metal) (float64, error) {
	a, err := newAlloy(m)
	if err != nil {
		return 0, err
	}
	if a.liquidAt(0.9)-m.Solidus() < 5 {
		return 0.6, nil
	}
	return 0.3, nil
}

// Balance is where the metal's heat went, J from solid metal at its solidus. Who
// moves the metal books In, Out and Dropped; Step books Rubber.
type Balance struct{ In, Out, Dropped, Rubber float64 }

// Planes bound the metal in mixed cells: metal is Normal . x <= Offset, x in cells
// from the cell's low corner, Normal of length 1. Cells that are not named have
// their walls wet by their share of metal.
type Planes struct {
	Cells  []int32
	Normal []vec.V3
	Offset []float64
}

// State is the heat of a filling in time. All slices over cells have Cells.Wall+1
// entries. It is not safe for use by several goroutines at once.
type State struct {
	Time    float64 // s
	Balance Balance

	T      []float64 // degC of the metal in each cell
	Liquid []float64 // its liquid share
	K      []float64 // 1/m2, drag of the mush: dp/ds = -mu K u
	Thick  []float64 // factor on the viscosity, 1 or more
	Shut   []bool    // the metal in this cell has stopped
	First  []float64 // s at which the cell was half full for the first time, -1 not yet
	Last   []float64 // s at which it was the last time

	p      Problem
	c      *cells.Cells
	w      *Walls
	a      *alloy
	mem    memory
	cold   float64 // degC under which a front does not weld
	stable float64 // s, explicit step of the metal
	owed   float64 // s of conduction not yet done

	y       []float64 // modes for each wall
	since   []float64 // s to which y is known
	touched []float64 // share of the wall that metal has touched
	taken   []float64 // J that the rubber behind the wall has got
	plane   []int32   // place of a cell in Planes, -1 none
	flow    []float64 // J/m3, of conduction
	part    []float64 // J to the rubber by chunk

	full   []bool    // counted as filled
	share  []float32 // F of the step before
	front  []vec.V3  // direction in which the front came into the cell, zero if unknown
	met    []meet
	shutAt []float64 // s, -1 not shut
}

// New makes a State of an empty cavity.
func New(p Problem) (*State, error) {
	if p.Cells == nil || p.Cells.N == 0 {
		return nil, fault.New(fault.Input, "chill", "use smaller cells", "there are no open cells")
	}
	if p.Contact == 0 {
		p.Contact = heat.DefaultContact
	}
	if p.Arms == 0 {
		p.Arms = 50e-6
	}
	if p.Walls == nil {
		p.Walls = FromShares(p.Cells)
	}
	for _, x := range []float64{p.Rubber.Density, p.Rubber.Cp, p.Rubber.K, p.Contact, p.Arms} {
		if !(x > 0) || math.IsInf(x, 0) {
			return nil, fault.New(fault.Input, "rubber", "give density, heat capacity and conductivity in SI units",
				"density %g, heat capacity %g, conductivity %g, contact %g, arms %g: each must be above zero", p.Rubber.Density, p.Rubber.Cp, p.Rubber.K, p.Contact, p.Arms)
		}
	}
	a, err := newAlloy(&p.Metal)
	if err != nil {
		return nil, err
	}
	if p.Coherent == 0 {
		if p.Coherent, err = Coherent(&p.Metal); err != nil {
			return nil, err
		}
	}
	if !(p.Coherent > 0 && p.Coherent <= 1) {
		return nil, fault.New(fault.Input, "alloy", "0.2 to 0.65 is usual", "metal stops at a solid share of %g", p.Coherent)
	}
	if p.Mould-p.Mould != 0 || p.Start != nil && len(p.Start) < p.Cells.N {
		return nil, fault.New(fault.Input, "mould", "give degrees C, one for each open cell", "mould at %g degC, %d temperatures for %d cells", p.Mould, len(p.Start), p.Cells.N)
	}
	for i := range min(len(p.Start), p.Cells.N) {
		if p.Start[i]-p.Start[i] != 0 {
			return nil, fault.New(fault.Input, "mould", "give degrees C", "the rubber at cell %d is at %g degC", i, p.Start[i])
		}
	}
	if len(p.Walls.Start) != p.Cells.N+1 {
		return nil, fault.New(fault.Internal, "chill", "", "walls of %d cells for %d", len(p.Walls.Start)-1, p.Cells.N)
	}
	s := &State{p: p, c: p.Cells, w: p.Walls, a: a}
	s.mem = newMemory(math.Sqrt(p.Rubber.K * p.Rubber.Density * p.Rubber.Cp))
	s.cold = a.liquidAt(weld) + weldAbove
	steep := max(a.slope[0], a.over)
	for _, x := range a.slope {
		steep = max(steep, x)
	}
	s.stable = 0.9 * s.c.H * s.c.H / (12 * max(p.Metal.KSolid, p.Metal.KLiquid) * steep)
	s.room()
	return s, nil
}

// room makes the arrays.
func (s *State) room() {
	n, walls := s.c.Wall+1, len(s.w.Patch)
	for _, x := range []*[]float64{&s.T, &s.Liquid, &s.K, &s.Thick, &s.First, &s.Last, &s.flow, &s.shutAt} {
		*x = make([]float64, n)
	}
	s.y = make([]float64, walls*modes)
	s.since, s.touched, s.taken = make([]float64, walls), make([]float64, walls), make([]float64, walls)
	s.part = make([]float64, (s.c.N+chunk-1)/chunk)
	s.Shut, s.full = make([]bool, n), make([]bool, n)
	s.share, s.front, s.met, s.plane = make([]float32, n), make([]vec.V3, n), make([]meet, n), make([]int32, n)
	for i := range n {
		s.First[i], s.Last[i], s.shutAt[i], s.met[i].time, s.plane[i] = -1, -1, -1, -1, -1
		s.T[i], s.Liquid[i], s.Thick[i] = s.p.Mould, 1, 1
	}
}

// Poured returns the heat of metal of T degC, J per m3 of metal.
func (s *State) Poured(T float64) float64 { return s.a.table.Of(T) }

// Cells returns the cells whose heat this is.
func (s *State) Cells() *cells.Cells { return s.c }

// Holds returns the heat that the open cells hold, J; q is J per m3 of open volume.
func (s *State) Holds(q []float64) float64 {
	sum, v := 0.0, s.c.H*s.c.H*s.c.H
	for i := range s.c.N {
		sum += q[i] * s.c.V[i]
	}
	return sum * v
}

// Left returns what does not add up, J.
func (s *State) Left(q []float64) float64 {
	b := s.Balance
	return b.In - b.Out - b.Dropped - b.Rubber - s.Holds(q)
}

// Taken returns the heat that the rubber behind each wall has got, J, in the order
// of Walls.Patch.
func (s *State) Taken() []float64 { return s.taken }

// Skin returns the temperature of the rubber's face behind a wall where metal has
// touched it, degC.
func (s *State) Skin(wall int) float64 {
	T := s.start(s.w.Patch[wall].Cell)
	y := s.y[wall*modes : wall*modes+modes]
	gap := s.Time - s.since[wall]
	for j, x := range y {
		T += x * math.Exp(-s.mem.rate[j]*gap)
	}
	return T
}

func (s *State) start(cell int32) float64 {
	if s.p.Start != nil {
		return s.p.Start[cell]
	}
	return s.p.Mould
}

// Memory returns about how many bytes a State and its Walls take.
func Memory(cells, walls int) int64 { return 130*int64(cells) + 176*int64(walls) }
