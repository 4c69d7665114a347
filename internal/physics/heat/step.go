package heat

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
)

// Advance goes on by the given time.
func (r *Run) Advance(ctx context.Context, seconds float64) error {
	if !(seconds >= 0) || math.IsInf(seconds, 0) {
		return fault.New(fault.Input, "heat", "give a time in seconds", "a time of %g s", seconds)
	}
	if r.apart {
		r.expose() // the casting may have been taken out since
	}
	for left := seconds; left > 1e-9*seconds; {
		if err := ctx.Err(); err != nil {
			return stopped(err)
		}
		dt := r.coupling()
		switch { // never a sliver of a step at the end: the metal's rate would be rounding
		case left <= dt:
			dt = left
		case left < 2*dt:
			dt = left / 2
		}
		if err := r.couple(dt); err != nil {
			return err
		}
		left -= dt
		if r.Watch != nil {
			r.Watch(r)
		}
	}
	return nil
}

// coupling returns the next coupling step: Problem.Growth of the time since the pour, at
// least a fiftieth of the rubber's explicit step, at most Problem.Step. While the
// last liquid freezes it shrinks to a quarter of the time that is left, at least
// 0.4 % of the time since the pour: with long steps to the end the casting would
// be solid half a step late.
func (r *Run) coupling() float64 {
	if !r.full {
		return r.resting()
	}
	dt := min(max(r.p.Growth*r.Poured, 0.02*r.step1), r.p.Step)
	if r.rest > 0 { // the last liquid freezes soon: the step shrinks towards that time
		dt = min(dt, max(0.25*r.rest, 0.004*r.Poured))
	}
	if r.grown > 0 {
		dt = min(dt, max(1.5*r.grown, r.grown+1.01*r.step1))
	}
	if r.b.cells == r.grid.Len() { // no rubber at all
		dt = min(max(r.p.Growth*r.Poured, 4*r.metalStep1), r.p.Step)
	}
	if dt > r.step1 {
		dt = math.Floor(dt/r.step1+1e-6) * r.step1
	}
	return dt
}

// resting returns the next step of an empty mould: a fifth of the time since
// something last happened to it, at most Problem.Rest, or one explicit step.
func (r *Run) resting() float64 {
	if dt := min(0.2*(r.Time-r.event), r.p.Rest); dt > longer*r.step1 {
		return dt
	}
	return r.step1
}

// longer is from how many explicit steps on one long step is quicker.
const longer = 4

// couple takes one coupling step.
func (r *Run) couple(dt float64) error {
	list := &r.shut
	if r.apart {
		list = &r.open
	}
	if !r.full && dt > longer*r.step1 {
		out, in := r.restStep(dt, list)
		r.sum.LostOutside += out
		r.sum.LostOpen += in
		r.Time += dt
		r.Steps++
		r.raise()
		return r.finite()
	}
	sub := int(math.Ceil(dt/r.step1 - 1e-6))
	if r.full {
		r.resist(r.Poured + dt/2)
		r.face(dt)
	}
	out, in := r.rubberSteps(sub, dt/float64(sub), list)
	r.sum.LostOutside += out
	r.sum.LostOpen += in
	r.Time += dt
	r.Steps++
	if !r.full {
		r.raise()
		return r.finite()
	}
	r.surface(dt)
	copy(r.last, r.temp)
	r.sum.LostMouth += r.metalStep(dt)
	r.lastDt = dt
	r.settle(dt)
	r.Poured += dt
	r.watchIslands()
	r.raise()
	return r.finite()
}

// face tells the walls the metal's temperature and, from the step before, how
// fast it changes; a step before that was much shorter says nothing, its change is
// rounding.
func (r *Run) face(dt float64) {
	shift := r.tab.solidus - r.p.Air
	for i := range r.walls {
		w := &r.walls[i]
		t := float64(r.temp[w.lane])
		w.tm, w.heat, w.rate = t+shift, 0, 0
		if r.lastDt > 0.01*dt {
			w.rate = (t - float64(r.last[w.lane])) / r.lastDt
		}
	}
}

// surface raises the walls' peaks: the rubber's own face stands at
// T_r + q d h/k 2g, its part of the series of resistances.
func (r *Run) surface(dt float64) {
	par.For(len(r.shut.cells), 1024, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			m := &r.shut.cells[c]
			for i := m.w0; i < m.w1; i++ {
				w := &r.walls[i]
				t := float64(r.t[m.id]) + w.heat/dt*w.half*float64(w.near)*r.h*float64(w.normal)/(r.p.Rubber.K*w.area*float64(w.bend))
				w.face = float32(t)
				w.peak = max(w.peak, w.face)
				if r.p.Rating > 0 && t+r.p.Air > r.p.Rating {
					w.over += float32(dt)
				}
			}
		}
	})
}

// cooler is how far below its solidus a casting is when it may be handled, K.
const cooler = 20

// settle takes the increments over into the enthalpy and notes what became solid.
func (r *Run) settle(dt float64) {
	const chunk = 128
	part := make([]float64, (r.b.count+chunk-1)/chunk)
	most := make([]float64, len(part))
	par.For(r.b.count, chunk, func(lo, hi int) {
		hot, top := math.Inf(-1), math.Inf(-1)
		for l := (lo + 1) * lanes; l < (hi+1)*lanes; l++ {
			if r.b.cell[l] < 0 {
				continue
			}
			e, d := r.e[l], float64(r.delta[l])
			n := e + d
			r.e[l] = n
			if n <= 0 && e > 0 && r.solid[l] < 0 {
				r.solid[l] = float32(r.Poured + dt*e/(e-n))
			}
			if n <= -cooler && r.cold[l] < 0 {
				r.cold[l] = float32(r.Poured + dt*max(0, (e+cooler)/(e-n)))
			}
			if t := float64(r.temp[l]); t > hot {
				hot = t
			}
			if n > top {
				top = n
			}
		}
		part[lo/chunk], most[lo/chunk] = hot, top
	})
	r.hottest = math.Inf(-1)
	before := r.top
	r.top = math.Inf(-1)
	for i, x := range part {
		r.hottest = max(r.hottest, x)
		r.top = max(r.top, most[i])
	}
	r.rest, r.grown = 0, dt
	if r.top > 0 && before > r.top {
		r.rest = dt * r.top / (before - r.top)
	}
}

// raise looks at the peaks whenever 2 % of the time since the last event have
// passed: a peak is flat, so that its height is not missed by more than a part in
// ten thousand.
func (r *Run) raise() {
	if r.Time-r.peaked >= 0.02*(r.Time-r.event) {
		r.peaked = r.Time
		par.For(len(r.t), 1<<16, func(lo, hi int) { r.kernel.high(r.peak[lo:hi], r.t[lo:hi]) })
	}
}

// finite stops a run that has left its limits.
func (r *Run) finite() error {
	s := r.sum.LostOutside + r.sum.LostOpen + r.sum.LostMouth
	if r.full {
		s += r.hottest
	}
	if math.IsNaN(s) || math.IsInf(s, 0) {
		return fault.New(fault.Unstable, "heat", "this is a fault of the solver; keep the job and try other cells",
			"temperatures are no longer numbers %.3g s after the pour, step %d", r.Poured, r.Steps)
	}
	return nil
}
