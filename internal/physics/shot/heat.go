package shot

import (
	"encoding/binary"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/physics/heat"
)

// Run is a heat.Run as a Mould.
type Run struct {
	*heat.Run
	// Filled is the metal's temperature as a filling leaves it, degC per cell, for
	// every pour; nil fills the mould at one temperature.
	Filled []float32
	// Begin fills the empty mould in place of Filled and of one temperature, as a filling
	// that was computed leaves it; nil does not.
	Begin func(*heat.Run) error

	p     heat.Problem
	watch func(*heat.Run)

	mark       float64 // degC to look out for
	fell       float64 // s after the pour at which it was passed; 0 not yet
	last, when float64 // hottest point at the last step, and s after the pour then
}

// Of makes a Mould of a run of that problem. Of takes the run's Watch over; one
// that was set before is still called.
func Of(run *heat.Run, p heat.Problem) *Run {
	r := &Run{Run: run, p: p, watch: run.Watch, mark: math.Inf(-1)}
	run.Watch = r.step
	return r
}

// step notes when the hottest point passes the mark, within a coupling step taken
// as straight.
func (r *Run) step(run *heat.Run) {
	if r.watch != nil {
		r.watch(run)
	}
	if !run.Full() {
		return
	}
	t := run.Hottest()
	if r.fell == 0 && t < r.mark {
		f := 1.0
		if r.last > t {
			f = min(1, max(0, (r.last-r.mark)/(r.last-t)))
		}
		r.fell = max(r.when+(run.Poured-r.when)*f, 1e-9)
	}
	r.last, r.when = t, run.Poured
}

// Solidus returns that of the metal, degC.
func (r *Run) Solidus() float64 { return r.p.Metal.Solidus() }

// Mark sets the temperature to look out for, Fell says when it was passed.
func (r *Run) Mark(degC float64) { r.mark = degC }
func (r *Run) Fell() float64     { return r.fell }

// Pour fills the mould; peaks begin anew.
func (r *Run) Pour(degC float64) error {
	r.ForgetPeaks()
	pour := func() error { return r.Run.Pour(degC) }
	if r.Filled != nil {
		pour = func() error { return r.PourField(r.Filled) }
	}
	if r.Begin != nil {
		pour = func() error { return r.Begin(r.Run) }
	}
	if err := pour(); err != nil {
		return err
	}
	r.fell, r.last, r.when = 0, r.Hottest(), 0
	return nil
}

// Look reads the mould.
func (r *Run) Look() State {
	t := r.Times()
	e := r.Energy()
	s := State{Solid: max(0, t.Solid), Cold: max(0, t.Cold), Last: t.Last, Peak: t.Surface, PeakAt: t.SurfaceAt, Over: t.Over,
		Heat: Heat{Poured: e.Poured, Carried: e.CarriedOut, Lost: e.LostOutside + e.LostOpen + e.LostMouth, Stored: e.Rubber + e.Boards + e.Metal, Left: e.Left}}
	s.Rubber, s.Casting = r.Means()
	s.Liquid = r.Liquid()
	list, _ := r.Islands()
	for _, i := range list {
		s.Unfed += i.Liquid
	}
	if !r.Full() {
		s.Casting = 0
	}
	if math.IsInf(s.Peak, 0) { // before the first step
		s.Peak = s.Rubber
	}
	return s
}

// Slow returns the state that one shot hands on; SetSlow puts one in its place.
func (r *Run) Slow() []float32           { return r.Mould() }
func (r *Run) SetSlow(x []float32) error { return r.SetMould(x) }

// Rested returns the state of a mould that has rested for ever: the air's
// temperature all through.
func (r *Run) Rested() []float32 { return make([]float32, len(r.Mould())) }

// Save returns the run's state and the mark's; Load takes them over.
func (r *Run) Save() ([]byte, error) {
	var b []byte
	for _, x := range []float64{r.mark, r.fell, r.last, r.when} {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	return append(b, r.Run.Save()...), nil
}

func (r *Run) Load(state []byte) error {
	const head = 32
	if len(state) < head {
		return fault.New(fault.Input, "saved series", "begin anew", "the saved mould is cut short")
	}
	for i, x := range []*float64{&r.mark, &r.fell, &r.last, &r.when} {
		*x = math.Float64frombits(binary.LittleEndian.Uint64(state[8*i:]))
	}
	return r.Run.Load(state[head:])
}

var _ Mould = (*Run)(nil)
