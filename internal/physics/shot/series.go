package shot

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// Phase is a stretch of a shot.
type Phase int

const (
	Waiting   Phase = iota // metal in, closed
	Resting                // empty
	Powdering              // open in still air
	Shut                   // closed and empty
)

func (p Phase) String() string {
	return [...]string{"waiting", "resting", "powdering", "closed"}[min(max(p, 0), Shut)]
}

// Shot holds the figures of one shot. Times are seconds after its pour; a time
// that was not reached before the mould was opened is 0.
type Shot struct {
	Mould    float64 // degC, mean of the rubber just before the pour
	Held     float64 // J over the air, heat in rubber and boards then
	Solid    float64 // no liquid anywhere
	Cold     float64 // and every point 20 K under the solidus
	Ready    float64 // may be lifted: every point under Result.Below
	Opened   float64 // when it was opened
	OpenAt   float64 // degC, hottest point of the casting then
	OpenMean float64 // degC, its mean then, by its heat
	Liquid   float64 // share of its volume that was still liquid then
	Last     vec.V3  // mm, the place that froze last
	Unfed    float64 // mm3 of metal cut off from its feeder while still liquid
	Peak     float64 // degC, hottest rubber from this pour to the next
	PeakAt   vec.V3  // mm
	Over     float64 // s, longest time that a place of the rubber was over the rating
	Left     float64 // degC, mean of the rubber at the end of the shot
	Spent    Heat    // J, of this shot: Stored is the change
}

// Result is a series that was played.
type Result struct {
	Shots   []Shot
	Below   float64 // degC under which a casting was lifted
	Balance Heat    // J, of the whole series: Stored is the change
}

// Share returns what does not add up as a part of the heat poured.
func (h Heat) Share() float64 {
	if h.Poured == 0 {
		return 0
	}
	return h.Left / h.Poured
}

func (h Heat) minus(o Heat) Heat {
	return Heat{h.Poured - o.Poured, h.Carried - o.Carried, h.Lost - o.Lost, h.Stored - o.Stored, h.Left - o.Left}
}

// Progress tells a Watch how far a series is.
type Progress struct {
	Shot  int // from 1
	Shots int
	Phase Phase
	Time  float64 // s since this shot's pour
	Done  float64 // share of the series' simulated time, 0..1
	// Search counts the shots that a search (Settle, FindRest, Prove, RestOf) has
	// computed before this one; 0 in a series. Shot and Done are then of one shot.
	Search int
	// Save returns the state of the series as it is now, for Resume; nil in a search.
	Save func() ([]byte, error)
}

// Watch is called after each stretch of at most two minutes. An error stops the
// series and is returned by Play.
type Watch func(Progress) error

// Series is a series of shots in one mould. Make one with New or Resume.
type Series struct {
	m     Mould
	set   Setting
	below float64
	at    position
	res   Result
}

// position is all that a series knows besides its mould and its results.
type position struct {
	Shot    int     // shots that are done
	Poured  bool    // the shot has begun
	Phase   Phase   // of the shot that has begun
	Spent   float64 // s in this phase
	Time    float64 // s since this shot's pour
	First   Heat    // balance at the start of the series
	Before  Heat    // balance at the start of the shot
	Now     Shot    // the shot that has begun
	Fall    float64 // K/s, of the hottest point over the last stretch
	Hottest float64 // degC, now
}

// New begins a series in an empty, closed mould.
func New(m Mould, s Setting) (*Series, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	r := &Series{m: m, set: s, below: s.Open.Below(m.Solidus())}
	if !(r.below > -kelvin) {
		return nil, fault.New(fault.Input, "series", "lift hotter, or ask for less margin under the solidus",
			"a casting cannot be lifted below %.3g degC", r.below)
	}
	r.res.Below = r.below
	r.at.First = m.Look().Heat
	return r, nil
}

// Play plays a whole series in an empty, closed mould.
func Play(ctx context.Context, m Mould, s Setting, watch Watch) (*Result, error) {
	r, err := New(m, s)
	if err != nil {
		return nil, err
	}
	return r.Play(ctx, watch)
}

// OpenAfter plays one shot until the casting is ready, and leaves the mould closed
// with the casting in it. The figures are those of a Shot whose rest has not
// begun.
func OpenAfter(ctx context.Context, m Mould, pour float64, o Opening) (Shot, error) {
	o.Wait = 0
	r, err := New(m, Setting{Pour: pour, Open: o, Shots: 1})
	if err != nil {
		return Shot{}, err
	}
	for r.at.Shot == 0 && (!r.at.Poured || r.at.Phase == Waiting) {
		if err := ctx.Err(); err != nil {
			return Shot{}, stopped(err)
		}
		if !r.at.Poured {
			if err := r.pour(); err != nil {
				return Shot{}, err
			}
			continue
		}
		done, err := r.wait(ctx)
		if err != nil {
			return Shot{}, err
		}
		if done {
			break
		}
	}
	r.look()
	return r.at.Now, nil
}

func stopped(err error) error {
	return &fault.Error{Kind: fault.Interrupted, Place: "series", Text: "stopped", Cause: err}
}

// Result returns what has been played so far: whole shots only.
func (r *Series) Result() *Result {
	res := r.res
	res.Shots = append([]Shot(nil), r.res.Shots...)
	return &res
}

// Play goes on to the end of the series. When ctx is done it stops between two
// stretches, so that Save then holds a state with which to go on.
func (r *Series) Play(ctx context.Context, watch Watch) (*Result, error) {
	for r.at.Shot < r.set.Shots {
		if err := ctx.Err(); err != nil {
			return nil, stopped(err)
		}
		// A stretch is played to its end, so that a state is never saved in the middle of one.
		if err := r.stretch(context.WithoutCancel(ctx)); err != nil {
			return nil, err
		}
		if watch != nil {
			if err := watch(r.progress()); err != nil {
				return nil, err
			}
		}
	}
	return r.Result(), nil
}

func (r *Series) progress() Progress {
	p := Progress{Shot: min(r.at.Shot+1, r.set.Shots), Shots: r.set.Shots, Phase: r.at.Phase, Time: r.at.Time, Save: r.Save}
	wait := r.set.Open.Wait
	if wait == 0 { // until it is known take what the last shot took
		wait = max(300, r.at.Time)
		if n := len(r.res.Shots); n > 0 {
			wait = r.res.Shots[n-1].Opened
		}
	}
	in := r.at.Time / max(r.set.Cycle(wait), 1e-9)
	if !r.at.Poured {
		in = 0
	}
	p.Done = (float64(r.at.Shot) + min(in, 1)) / float64(max(1, r.set.Shots))
	return p
}

// longest is the longest stretch without metal, s.
const longest = 120

// stretch does the next piece of the series.
func (r *Series) stretch(ctx context.Context) error {
	if !r.at.Poured {
		return r.pour()
	}
	switch r.at.Phase {
	case Waiting:
		done, err := r.wait(ctx)
		if err != nil || !done {
			return err
		}
		return r.lift()
	case Resting:
		return r.idle(ctx, r.set.Rest)
	case Powdering:
		return r.idle(ctx, r.set.Powder)
	}
	return r.idle(ctx, r.set.Close)
}

func (r *Series) pour() error {
	before := r.m.Look()
	r.m.Mark(r.below)
	if err := r.m.Pour(r.set.Pour); err != nil {
		return err
	}
	a := &r.at
	*a = position{Shot: a.Shot, First: a.First, Poured: true, Before: before.Heat, Hottest: r.m.Hottest()}
	a.Now.Mould, a.Now.Held = before.Rubber, before.Heat.Stored
	return nil
}

// wait goes on a little with metal in the mould and reports whether it is to be
// opened. Stretches grow with the time since the pour; where it is opened when
// the casting is ready they are cut to where the fall of the hottest point leads.
func (r *Series) wait(ctx context.Context) (bool, error) {
	a, o := &r.at, r.set.Open
	end := o.longest()
	if a.Time < o.Wait {
		end = o.Wait
	}
	dt := min(max(0.25*a.Time, 5), 30)
	if end != o.Wait && a.Hottest < r.below+60 { // freezing, and soon it falls fast
		dt = min(dt, max(0.04*a.Time, 1))
		if a.Fall > 0 {
			dt = min(dt, max((a.Hottest-r.below)/a.Fall*1.02, 0.005*a.Time))
		}
	}
	dt = min(dt, end-a.Time)
	if err := r.m.Advance(ctx, dt); err != nil {
		return false, err
	}
	a.Time += dt
	if end-a.Time < 1e-9*end {
		a.Time = end
	}
	t := r.m.Hottest()
	a.Spent, a.Fall, a.Hottest = a.Time, (a.Hottest-t)/dt, t
	return a.Time >= o.longest() || a.Time >= o.Wait && r.m.Fell() > 0, nil
}

// look reads the casting before it is lifted.
func (r *Series) look() {
	a, s := &r.at, r.m.Look()
	n := &a.Now
	n.Opened, n.OpenAt, n.OpenMean, n.Liquid = a.Time, a.Hottest, s.Casting, s.Liquid
	n.Solid, n.Cold, n.Last, n.Unfed = s.Solid, s.Cold, s.Last, s.Unfed
	n.Peak, n.PeakAt, n.Over = s.Peak, s.PeakAt, s.Over
	if t := r.m.Fell(); n.Solid > 0 && t > 0 {
		n.Ready = max(t, n.Solid)
	}
}

// lift opens the mould and takes the casting out.
func (r *Series) lift() error {
	r.look()
	if err := r.m.Open(StillAir); err != nil {
		return err
	}
	if err := r.m.TakeOut(); err != nil {
		return err
	}
	r.at.Phase, r.at.Spent = Resting, 0
	return r.enter()
}

// enter sets the mould as the phase wants it and passes over phases of no length.
func (r *Series) enter() error {
	a, s := &r.at, &r.set
	switch a.Phase {
	case Resting:
		if s.Rest == 0 {
			return r.next()
		}
		if err := r.m.Outside(s.How.Outer, s.How.Open); err != nil {
			return err
		}
		if s.How.Open {
			return r.m.Open(s.How.Inner)
		}
		r.m.Close()
	case Powdering:
		if s.Powder == 0 {
			return r.next()
		}
		if err := r.m.Outside(StillAir, true); err != nil {
			return err
		}
		return r.m.Open(StillAir)
	case Shut:
		r.m.Close()
		if err := r.m.Outside(0, false); err != nil {
			return err
		}
		if s.Close == 0 {
			return r.next()
		}
	}
	return nil
}

func (r *Series) next() error {
	if r.at.Phase == Shut {
		r.finish()
		return nil
	}
	r.at.Phase++
	r.at.Spent = 0
	return r.enter()
}

// idle goes on a little in an empty mould.
func (r *Series) idle(ctx context.Context, whole float64) error {
	a := &r.at
	n := math.Ceil(whole/longest - 1e-9)
	dt := whole / n
	if err := r.m.Advance(ctx, dt); err != nil {
		return err
	}
	a.Spent += dt
	a.Time += dt
	if a.Spent >= whole*(1-1e-9) {
		return r.next()
	}
	return nil
}

// finish closes the books of a shot.
func (r *Series) finish() {
	a, s := &r.at, r.m.Look()
	n := a.Now
	n.Peak, n.PeakAt, n.Over, n.Left = s.Peak, s.PeakAt, s.Over, s.Rubber
	n.Spent = s.Heat.minus(a.Before)
	r.res.Shots = append(r.res.Shots, n)
	r.res.Balance = s.Heat.minus(a.First)
	*a = position{Shot: a.Shot + 1, First: a.First}
}
