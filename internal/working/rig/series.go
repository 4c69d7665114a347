package rig

import (
	"math"
	"time"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/physics/heat"
	"pourwright/internal/physics/shot"
)

// Choices of our own: a casting is not waited for more than three times as long as
// the first; castings are alike within 3 %; a rest with the mould open has to save a
// tenth to be worth it; no more than eight moulds and twelve shots are looked at. A
// mould is not poured warmer than 93 degC: common practice, no source.
const (
	patience   = 3
	warmest    = 93
	alike      = 0.03
	worth      = 0.9
	mostMoulds = 8
	mostShots  = 12
)

// Grids of the series: rests are looked for and shots followed on the coarsest,
// the rest that is taken is proved on the middle one. The first shot says how far
// they are off (pour.Grid).
const (
	rough = 0
	proof = 1
)

// every is the time between two saved states of a run.
const every = 10 * time.Second

// mould makes the mould of a level, at its starting temperature. l follows it, if
// not nil.
func (w *work) mould(level int, l *log) (*shot.Run, error) {
	run, err := heat.New(w.ctx, *w.made[level])
	if err != nil {
		return nil, err
	}
	if l != nil {
		run.Watch = l.see
	}
	return shot.Of(run, *w.made[level]), nil
}

// play plays a series on a run, or goes on with the state that was kept of it and
// of its probes.
func (w *work) play(stage string, m *shot.Run, set shot.Setting, l *log, watch shot.Watch) (*shot.Result, error) {
	var r *shot.Series
	if state := w.o.Store.state(w.key, stage); state != nil {
		if r, _ = shot.Resume(m, state); r != nil && l != nil {
			l.resume(w, m.Time)
		}
	}
	if r == nil {
		var err error
		if r, err = shot.New(m, set); err != nil {
			return nil, err
		}
	}
	keep := func() {
		if w.o.Store == nil {
			return
		}
		if l != nil {
			l.keep(w)
		}
		if state, err := r.Save(); err == nil {
			w.o.Store.setState(w.key, stage, state)
		}
	}
	last := time.Now() // decides only how often a state is kept
	res, err := r.Play(w.ctx, func(p shot.Progress) error {
		if time.Since(last) > every {
			keep()
			last = time.Now()
		}
		return watch(p)
	})
	if err == nil || fault.KindOf(err) == fault.Interrupted || w.ctx.Err() != nil {
		keep()
	}
	return res, w.ended(err)
}

// ended returns the error of a solver, as that of a person where he stopped it.
func (w *work) ended(err error) error {
	if err == nil || w.ctx.Err() == nil || fault.KindOf(err) == fault.Interrupted {
		return err
	}
	return &fault.Error{Kind: fault.Interrupted, Place: "pour", Text: "stopped; the next run goes on from here", Cause: err}
}

// series finds rest, moulds and warm-up.
func (w *work) series() error {
	if w.one.Ready == 0 && w.s.Wait == nil {
		w.doc.Rests = append(w.doc.Rests, pour.Rest{How: shot.Closed.Name, Why: "the first casting is not ready within an hour"})
		return nil
	}
	lim := shot.Limits{Rating: w.s.Rubber.Rating, Mould: math.Max(warmest, w.s.Mould), Ready: shot.Quickest, Within: settled}
	w.set.Open.Longest = math.Max(patience*w.one.Ready, w.one.Ready+60)
	if w.s.Wait != nil {
		w.set.Open = shot.Opening{Wait: *w.s.Wait}
		lim.Ready = 0
	}
	c, err := w.rest(lim)
	if err != nil || c == nil {
		return err
	}
	if err := w.prove(c, lim); err != nil {
		return err
	}
	w.cycle(c)
	return w.shots(c)
}

// ways returns the ways to rest that the setting allows.
func (w *work) ways() []shot.How {
	var r []shot.How
	for _, h := range []shot.How{shot.Closed, shot.Opened, shot.Fanned} {
		if h.Open {
			h.Inner = w.s.Still
		}
		if h.Outer > 0 {
			h.Inner, h.Outer = w.s.Fan, w.s.Fan
		}
		if w.s.How == nil && (h.Outer == 0 || w.s.FanAtHand) || w.s.How != nil && *w.s.How == h.Name {
			r = append(r, h)
		}
	}
	return r
}

// rest finds the way to rest on the coarsest grid; nil where there is none. A
// given rest is taken as it is.
func (w *work) rest(lim shot.Limits) (*shot.Choice, error) {
	hows := w.ways()
	if w.s.Rest != nil {
		how := hows[0]
		if w.s.How == nil {
			how = hows[1]
		}
		return &shot.Choice{How: how, Why: shot.Found, Rest: *w.s.Rest}, nil
	}
	var list []shot.Choice
	if !w.o.Store.value(w.key, "rest", &list) {
		m, err := w.mould(rough, nil)
		if err != nil {
			return nil, err
		}
		list, err = shot.FindRest(w.ctx, m, w.set, hows, lim, w.search("rest", 10))
		if err != nil {
			return nil, w.ended(err)
		}
		w.o.Store.setValue(w.key, "rest", list)
	}
	var best *shot.Choice
	for i := range list {
		c := &list[i]
		x := pour.Rest{How: c.How.Name, Why: c.Why.String(), Held: c.Bound.String()}
		if c.Why == shot.Found {
			x.Rest, x.OpenAfter = plan.Ptr(c.Rest), reached(c.Steady.Shot.Ready)
			if best == nil || c.Rest < worth*best.Rest {
				best = c
			}
		}
		w.doc.Rests = append(w.doc.Rests, x)
	}
	return best, nil
}

// prove tries the rest on the middle grid.
func (w *work) prove(c *shot.Choice, lim shot.Limits) error {
	if w.o.Store.value(w.key, "prove", c) {
		return nil
	}
	m, err := w.mould(proof, nil)
	if err != nil {
		return err
	}
	watch := w.search("prove", 3)
	if w.s.Rest != nil { // taken as it is
		set := w.set
		set.How, set.Rest = c.How, c.Rest
		c.Steady, err = shot.Settle(w.ctx, m, set, settled, watch)
	} else {
		var start []float32
		var from *shot.Run
		if from, err = w.mould(rough, nil); err != nil {
			return err
		}
		if start, err = shot.Carry(c.Steady.Field, from, m); err != nil {
			return err
		}
		*c, err = shot.Prove(w.ctx, m, start, *c, w.set, lim, watch)
	}
	if err != nil {
		return w.ended(err)
	}
	w.o.Store.setValue(w.key, "prove", c)
	return nil
}

// settled is how near a steady state is followed, K.
const settled = 0.5

// cycle fills the plan's section from the proved rest.
func (w *work) cycle(c *shot.Choice) {
	d := w.doc
	if c.Why != shot.Found || c.Steady == nil {
		d.Rests = append(d.Rests, pour.Rest{How: c.How.Name, Why: "on the finer cells: " + c.Why.String(), Held: c.Bound.String()})
		return
	}
	st := c.Steady.Shot
	d.Steady = plan.Ptr(told(st))
	wait := st.Opened
	h := shot.Hands{Pour: w.s.Hands[0], Open: w.s.Hands[1], Powder: w.s.Hands[2]}
	rest := math.Max(0, c.Rest)
	n := 1
	if w.s.Moulds != nil {
		n = *w.s.Moulds
	}
	list := shot.Worth(mostMoulds, wait, rest, h)
	for k := len(list); k < n; k++ {
		list = append(list, shot.Rotate(k+1, wait, rest, h))
	}
	for _, r := range list {
		d.Moulds = append(d.Moulds, pour.Moulds{Moulds: r.Moulds, PerHour: r.PerHour, Period: r.Period, Rest: r.Rest, Idle: r.Idle})
	}
	d.Cycle = plan.Cycle{Computed: true, Rest: plan.Ptr(rest), How: plan.Ptr(c.How.Name), ShotsPerHour: plan.Ptr(list[n-1].PerHour),
		Moulds: plan.Ptr(n), SteadyMouldTemperature: plan.Ptr(st.Mould)}
}

// told is a shot for the document.
func told(s shot.Shot) pour.Shot {
	return pour.Shot{Mould: s.Mould, SolidAfter: reached(s.Solid), OpenAfter: reached(s.Ready), Opened: s.Opened, OpenTemperature: s.OpenAt,
		RubberPeak: s.Peak, OverFor: s.Over, Unfed: s.Unfed, Balance: s.Spent.Share()}
}

// shots plays the first shots on the coarsest grid, with the probes, and on to the
// steady one to see when castings are alike.
func (w *work) shots(c *shot.Choice) error {
	d := w.doc
	log := w.probes()
	m, err := w.mould(rough, log)
	if err != nil {
		return err
	}
	set := w.set
	set.How, set.Rest, set.Shots = c.How, c.Rest, max(3, min(w.s.Shots, mostShots))
	res, err := w.play("series", m, set, log, w.watch("series", 0, 0.8))
	if err != nil {
		return err
	}
	d.Probes = log.curves(w)
	for _, s := range res.Shots {
		d.Shots = append(d.Shots, told(s))
	}
	b := res.Balance
	d.Balance = pour.Balance{Poured: b.Poured, Carried: b.Carried, Lost: b.Lost, Stored: b.Stored, Left: b.Left, Share: b.Share()}
	log.done = true
	state := m.Slow()
	st, err := shot.Settle(w.ctx, m, set, settled, w.watch("series", 0.8, 1))
	if err != nil {
		return w.ended(err)
	}
	n, ok := shot.WarmUp(res.Shots, st.Shot, alike)
	if !ok && st.Shot.Solid > 0 {
		more := 0
		more, ok, err = shot.Warm(w.ctx, m, state, shot.Choice{How: c.How, Rest: c.Rest, Steady: st}, set, alike, mostWarm-n, w.watch("series", 1, 1))
		if err != nil {
			return w.ended(err)
		}
		n += more
	}
	if ok {
		d.Cycle.WarmUpShots = plan.Ptr(n)
	}
	return nil
}

// mostWarm is how many shots are played to see castings alike.
const mostWarm = 60
