package heat

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
)

// aside holds the boards that were taken off, K over the air, by side.
type aside struct {
	off   bool
	h     float64 // W/(m2 K) that the sides meet, 0 for that of the Problem
	since float64 // Time
	board [6][]float64
}

// Outside says what the sides of the block meet from now on: a coefficient h, 0
// for that of the Problem, and whether the boards are off. Boards that are off
// cool on both faces until they are put back. Sides with a coefficient of 0 stay
// insulated.
func (r *Run) Outside(h float64, bare bool) error {
	if !(h >= 0) || math.IsInf(h, 0) {
		return fault.New(fault.Input, "sides", "10 W/(m2 K) is still air, 25 and more a fan", "a coefficient of %g W/(m2 K)", h)
	}
	if a := &r.aside; a.off && !bare {
		for i, s := range r.p.Sides {
			if s.H > 0 {
				r.cool(i, r.boards(i))
			}
		}
	} else if bare && !a.off {
		a.since = r.Time
	}
	r.dress(h, bare)
	r.event = r.Time
	return nil
}

// dress sets the sides as Outside is told, boards as they are.
func (r *Run) dress(h float64, bare bool) {
	for i, s := range r.p.Sides {
		if s.H == 0 {
			continue
		}
		board := r.boards(i)
		if h > 0 {
			s.H = h
		}
		if bare {
			s.Board, s.Capacity = 0, 0
		}
		r.edges[i] = newEdge(s, r.h, r.p.Rubber.K, len(board), r.metal[i])
		r.aside.board[i] = nil
		if bare {
			r.aside.board[i] = board
		} else if board != nil {
			r.edges[i].board = board
		}
	}
	r.aside.off, r.aside.h = bare, h
}

// cool brings a side's boards to where they are after they have lain in the air.
//
//	c db/dt = -2 g (b - out),  1/g = boards/2 + 1/H
func (r *Run) cool(i int, board []float64) {
	s := r.p.Sides[i]
	f := math.Exp(-2 * (r.Time - r.aside.since) / (s.Capacity * (s.Board/2 + 1/s.H)))
	lost := 0.0
	for n, b := range board {
		x := s.T + (b-s.T)*f
		lost += b - x
		board[n] = x
	}
	r.sum.LostOutside += lost * s.Capacity * r.h * r.h
}

// boards returns a side's boards, wherever they are.
func (r *Run) boards(i int) []float64 {
	if r.aside.off && r.aside.board[i] != nil {
		return r.aside.board[i]
	}
	return r.edges[i].board
}

// Mould returns what one shot hands on to the next: K over the air in each rubber
// cell in the order of the grid, then in the boards.
func (r *Run) Mould() []float32 {
	starts, n := r.rubberRows()
	g := r.grid
	for i := range 6 {
		n += len(r.boards(i))
	}
	x := make([]float32, n)
	par.For(g.NY*g.NZ, 64, func(lo, hi int) {
		for row := lo; row < hi; row++ {
			t := r.t[r.pad.id(0, row%g.NY, row/g.NY):]
			q := starts[row]
			for i, d := range r.dist[row*g.NX : (row+1)*g.NX] {
				if d >= 0 {
					x[q] = t[i]
					q++
				}
			}
		}
	})
	q := starts[g.NY*g.NZ]
	for i := range 6 {
		for _, b := range r.boards(i) {
			x[q] = float32(b)
			q++
		}
	}
	return x
}

// SetMould puts a state as of Mould in the place of what the empty mould holds.
// Clock and balance begin anew, so that what follows hangs on nothing but that
// state and what is done to the mould.
func (r *Run) SetMould(x []float32) error {
	starts, n := r.rubberRows()
	for i := range 6 {
		n += len(r.boards(i))
	}
	if r.full || len(x) != n {
		return fault.New(fault.Input, "mould", "take the casting out, and give a state of the same body and boards",
			"a state of %d temperatures does not fit a mould of %d, metal in it: %v", len(x), n, r.full)
	}
	for _, t := range x {
		if t-t != 0 {
			return fault.New(fault.Input, "mould", "give temperatures in K over the air", "a temperature of the mould's state is not a number")
		}
	}
	g := r.grid
	par.For(g.NY*g.NZ, 64, func(lo, hi int) {
		for row := lo; row < hi; row++ {
			t := r.t[r.pad.id(0, row%g.NY, row/g.NY):]
			q := starts[row]
			for i, d := range r.dist[row*g.NX : (row+1)*g.NX] {
				if d >= 0 {
					t[i] = x[q]
					q++
				}
			}
		}
	})
	q := starts[g.NY*g.NZ]
	for i := range 6 {
		b := r.boards(i)
		for n := range b {
			b[n] = float64(x[q])
			q++
		}
	}
	r.Time, r.event, r.peaked, r.aside.since = 0, 0, 0, 0
	r.long.event = -1
	r.sum = Balance{Start: r.rubberHeat() + r.boardHeat()}
	return nil
}

// rubberRows returns where each row of the grid begins among the rubber cells, and
// how many there are; one past the last row is that number again.
func (r *Run) rubberRows() ([]int, int) {
	g := r.grid
	starts := make([]int, g.NY*g.NZ+1)
	par.For(g.NY*g.NZ, 64, func(lo, hi int) {
		for row := lo; row < hi; row++ {
			n := 0
			for _, d := range r.dist[row*g.NX : (row+1)*g.NX] {
				if d >= 0 {
					n++
				}
			}
			starts[row+1] = n
		}
	})
	for row := range g.NY * g.NZ {
		starts[row+1] += starts[row]
	}
	return starts, starts[g.NY*g.NZ]
}

// Means returns the mean temperature of the rubber and, by its heat, that of the
// metal in the mould (NaN while it is empty), degC.
func (r *Run) Means() (rubber, metal float64) {
	_, n := r.rubberRows()
	c := float64(n) * r.cell
	for _, m := range r.shut.cells {
		c += m.c - r.cell
	}
	rubber = r.p.Air + r.rubberHeat()/c
	if !r.full {
		return rubber, math.NaN()
	}
	e, v := 0.0, 0.0
	for l, q := range r.b.cell {
		if q >= 0 {
			e += r.b.vol[l] * r.e[l]
			v += r.b.vol[l]
		}
	}
	return rubber, r.tab.solidus + r.tab.temperature(e/v)
}
