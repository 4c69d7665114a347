package rig

import (
	"context"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/heat"
	"pourwright/internal/physics/tension"
)

// Of a pour: how often it is looked at, and when nothing more is waited for after the
// last metal, s; what counts as
// movement, share by which the metal below the cup grows in a look; frames.
const (
	look       = 0.02
	restLeast  = 0.2
	restMost   = 1.5
	still      = 2e-4
	looks      = 5    // over which it is a mean
	frameEvery = 0.02 // s
	framesMost = 150
	overRim    = 2.0 // mm that metal stands over a full cup's rim, by its skin; own figure
)

// pouring is one pour on its way.
type pouring struct {
	b      *bed
	hand   Hand
	rate   float64
	spouts []spout
	state  *chill.State
	run    *fill.Run
	rec    *Recorder
	frames *pour.Frames

	last   float64      // s, when the cups were settled
	volume [][2]float64 // s and m3 in the cavity, at each look
	done   float64      // s since the last metal came in; the pour ends some time after
	moved  float64      // share by which what lies below the cup grows in a look, a running mean
	next   float64      // s of the next look
	was    []float64    // shares at the last one
}

// chilled is the heat of a pour that has not begun.
func (b *bed) chilled() chill.Problem {
	s := b.s
	return chill.Problem{Cells: b.cav.Cells, Walls: b.walls, Metal: metal(&s.Alloy), Contact: s.Contact, Mould: s.Mould,
		Rubber: heat.Rubber{Density: s.Rubber.Density, Cp: s.Rubber.Capacity, K: s.Rubber.Conductivity}}
}

// spout is a ladle over one mouth.
type spout struct {
	m       *mouth
	stream  *Stream
	cup     *Cup
	in, out float64 // m3, settled
	ladles  int
}

// start makes a pour that has not begun.
func (b *bed) start(h Hand) (*pouring, error) {
	c, s := b.cav.Cells, b.s
	w := &pouring{b: b, hand: h, rate: b.rate * h.Share}
	for i := range b.cups {
		m := &b.cups[i]
		own := h
		own.Seed += uint64(i) << 16 // no two ladles sway alike
		w.spouts = append(w.spouts, spout{m: m, stream: NewStream(&s.Pouring, b.rate, m.charge, own), cup: &Cup{Height: s.Pouring.Height, Over: overRim}, ladles: 1})
	}
	var err error
	if w.state, err = chill.New(b.chilled()); err != nil {
		return nil, err
	}
	a := tension.Angle{Rest: s.Flow.Rest, Advance: s.Flow.Advance, Recede: s.Flow.Recede}
	if s.Pouring.Tap {
		a = tension.Angle{Rest: s.Flow.Rest}
	}
	p := fill.Problem{
		Cells: c, Metal: fill.Metal{Density: s.Alloy.LiquidDensity, Viscosity: s.Flow.Viscosity, Tension: s.Flow.Tension, Angle: a},
		Gravity: Gravity(s.Pouring.Tilt).Mul(fall / 1e3), Sections: b.cav.Section, Ports: make([]fill.Beyond, c.Ports),
		Vents: b.vents, Drive: w.drive, Quick: true, Heat: w.state, Pour: s.Metal,
	}
	p.Rise = p.Metal.Bubbles(p.Gravity.Len())
	if w.run, err = fill.New(p, make([]float64, c.Wall+1)); err != nil {
		return nil, err
	}
	g := b.grid
	w.frames = &pour.Frames{Cells: [3]int{g.NX, g.NY, g.NZ}, Origin: g.Origin.Array(), H: g.H}
	for i := range c.N {
		if q := b.place(i); q >= 0 {
			w.frames.Open = append(w.frames.Open, int32(q))
		}
	}
	w.rec = NewRecorder(w.frames, frameEvery, framesMost)
	w.next, w.was = look, make([]float64, c.N)
	return w, nil
}

// drive says what lies beyond the ports during the next step.
func (w *pouring) drive(t float64, ports []fill.Beyond) {
	if w.run == nil { // asked once while it is made
		return
	}
	w.settle()
	w.rec.Step(t, w.run.F)
	for k := range ports {
		ports[k] = fill.Beyond{Kind: fill.Gauze}
		if w.brimful(k) {
			ports[k].Kind = fill.Air
		}
	}
	for i := range w.spouts {
		w.pourInto(&w.spouts[i], ports)
	}
}

// pourInto says what lies beyond the ports of one mouth.
func (w *pouring) pourInto(x *spout, ports []fill.Beyond) {
	b := w.b
	covered := 0.0
	for _, k := range x.m.ports {
		covered += b.portArea(k) * math.Min(1, w.run.F[b.beneath(k)])
	}
	e := x.cup.Step(covered/x.m.area, x.stream.Now(), x.stream.Held)
	if e.Full {
		for _, k := range x.m.ports {
			ports[k] = fill.Beyond{Kind: fill.Head, Pressure: b.s.Alloy.LiquidDensity * fall * 1e-3 * e.Head * 1e-3}
		}
		return
	}
	if !(e.Rate > 0) {
		return
	}
	// As many ports as the falling stream is wide, over metal that still runs.
	area, jets := 0.0, []int(nil)
	for _, k := range x.m.ports {
		if len(jets) > 0 && area >= e.Rate/e.Speed {
			break
		}
		if !w.state.Shut[b.beneath(k)] {
			area += b.portArea(k)
			jets = append(jets, k)
		}
	}
	for _, k := range jets {
		ports[k] = fill.Beyond{Kind: fill.Jet, Speed: e.Rate / area * 1e-3}
	}
}

// Of a column under the rim: cells that must be full, and how full, for metal to run over there. A splash
// is thinner, and falls back.
const (
	brimCells = 3
	brimShare = 0.9
)

// brimful tells whether metal stands up to the rim under a port.
func (w *pouring) brimful(k int) bool {
	c := w.b.cav.Cells
	i := w.b.beneath(k)
	for n := 0; n < brimCells && int(i) < c.N; n++ {
		if w.run.F[i] < brimShare {
			return false
		}
		i = c.Nb[2][i]
	}
	return true
}

// settle books what was since the last step.
func (w *pouring) settle() {
	r := w.run
	dt := r.Time - w.last
	w.last = r.Time
	for i := range w.spouts {
		x := &w.spouts[i]
		in, out := 0.0, 0.0
		for _, k := range x.m.ports {
			in, out = in+r.In[k], out+r.Out[k]
		}
		x.cup.Settle(x.stream.Take(dt), (in-x.in)*1e9, (out-x.out)*1e9)
		x.in, x.out = in, out
		if x.stream.Ladles > x.ladles && !x.stream.Paused() {
			x.ladles = x.stream.Ladles
			w.state.Again(r.F)
		}
	}
}

// longest is when a pour is given up, s.
func (w *pouring) longest() float64 {
	t := 0.0
	for i := range w.spouts {
		s := w.spouts[i].stream
		n := math.Ceil(s.Charge/s.Ladle - 1e-9)
		t = math.Max(t, s.Charge/s.Rate/(1-s.Hand.Sway)+n*(s.Hand.Start+s.Pause)+restMost+0.5)
	}
	return t
}

// sum adds up over the ladles: what they gave, what ran over, flow-offs included, and what is under way, mm3.
func (w *pouring) sum() (poured, over, falling float64) {
	over = (w.run.Sum.Out) * 1e9
	for i := range w.spouts {
		x := &w.spouts[i]
		poured += x.stream.Poured
		over += x.cup.Overflow - x.out*1e9
		falling += x.cup.Falling
	}
	return poured, over, falling
}

// poured tells whether all metal has come in.
func (w *pouring) poured() bool {
	for i := range w.spouts {
		if x := &w.spouts[i]; !x.stream.Done() || x.cup.Falling > 1e-3*x.stream.Charge {
			return false
		}
	}
	return true
}

// advance goes on to the end. after is called after each look.
func (w *pouring) advance(ctx context.Context, after func()) error {
	r, c := w.run, w.b.cav.Cells
	for !w.over() {
		if err := r.Advance(ctx, w.next); err != nil {
			return err
		}
		w.settle()
		w.volume = append(w.volume, [2]float64{r.Time, r.Volume()})
		gain, all := 0.0, 0.0
		for i := range w.was {
			if w.b.below[i] {
				gain += (r.F[i] - w.was[i]) * c.V[i]
				all += c.V[i]
			}
		}
		copy(w.was, r.F)
		w.next += look
		w.moved += (gain/math.Max(all, 1e-300) - w.moved) / looks
		if w.poured() || r.Time >= w.longest()-restMost {
			w.done += look
		}
		after()
	}
	w.rec.Step(r.Time, r.F)
	w.rec.End()
	return nil
}

// over tells whether nothing more is waited for.
func (w *pouring) over() bool {
	return w.done >= restMost || w.done >= restLeast && math.Abs(w.moved) < still || w.run.Time >= w.longest()
}

// far is how much of the pour is behind, 0 .. 1.
func (w *pouring) far() float64 {
	poured, _, _ := w.sum()
	return 0.9*poured/w.b.charge + 0.1*w.done/restMost
}

// taken is the time from which on the cavity held all but a two hundredth of what it
// holds in the end.
func (w *pouring) taken() float64 {
	n := len(w.volume)
	if n == 0 {
		return 0
	}
	end, t := w.volume[n-1][1], w.volume[n-1][0]
	for i := n - 1; i >= 0 && math.Abs(w.volume[i][1]-end) <= end/200; i-- {
		t = w.volume[i][0]
	}
	return t
}

// end reads what a pour left.
func (w *pouring) end() outcome {
	b, r, c := w.b, w.run, w.b.cav.Cells
	mm3 := b.h * b.h * b.h
	poured, over, falling := w.sum()
	e := &Poured{Cell: b.h, Poured: poured, Overflow: over + math.Max(0, falling), Steps: r.Sum.Steps, Taken: w.taken()} // what falls still finds no way in
	e.Volume = (poured - r.Volume()*1e9 - over - falling - r.Sum.Dropped*1e9) / poured
	e.Energy = w.state.Left(r.Heat) / math.Max(w.state.Balance.In, 1e-300)
	e.Share, e.Time, e.Warm, e.Stopped = r.F[:c.N], w.rec.Time, w.state.T[:c.N], w.state.Shut[:c.N]
	e.Pocket, e.Mouth, e.Below = w.pockets(), b.mouth[:c.N], b.below[:c.N]
	for i := range c.N {
		e.At = append(e.At, c.Centre(int32(i)).Mul(1e3))
		e.Open = append(e.Open, c.V[i]*mm3)
		e.Speed = append(e.Speed, w.state.Speed(int32(i))*1e3)
	}
	e.Beside = func(i int, visit func(o int)) {
		for side := range 6 {
			if o := c.Nb[side][i]; int(o) < c.N {
				visit(int(o))
			}
		}
	}
	for _, m := range w.state.Meetings() {
		if !slices.ContainsFunc(m.Cells, func(i int32) bool { return b.below[i] }) {
			continue // in a cup or a gate, which are cut off
		}
		e.Meetings = append(e.Meetings, pour.Meeting{At: m.At.Array(), Line: w.line(m.Cells), Length: m.Length, Coldest: m.Coldest, Cold: m.Cold, Ladle: m.Ladle})
	}
	run := e.Run(w.hand.Name, w.rate)
	Hang(&run, b.bores)
	t := &trace{F: append([]float64{}, r.F...), Heat: append([]float64{}, r.Heat...), State: w.state.Save(), Frames: w.frames.Encode()}
	for i := range c.N {
		t.Time = append(t.Time, float32(w.rec.Time[i]))
		t.Closed = append(t.Closed, e.Pocket[i] >= 0)
	}
	return outcome{Run: run, trace: t}
}

// pockets labels the air that stays: of closed air, what no mouth opens into. -1 elsewhere.
func (w *pouring) pockets() []int32 {
	c := w.b.cav.Cells
	label := make([]int32, c.N)
	away := make([]bool, len(w.run.Pockets()))
	for i := range label {
		if label[i] = int32(w.run.Closed(int32(i))); label[i] >= 0 && w.b.mouth[i] {
			away[label[i]] = true
		}
	}
	for i, k := range label {
		if k >= 0 && away[k] {
			label[i] = -1
		}
	}
	return label
}

// line is the longest of the shortest ways through a group of cells, mm: from the cell that is
// furthest from the first to the one that is furthest from that.
func (w *pouring) line(group []int32) []plan.P3 {
	c := w.b.cav.Cells
	at := map[int32]int{} // looked up only
	for k, q := range group {
		at[q] = k
	}
	walk := func(from int) (last int, came []int) {
		came = make([]int, len(group))
		for i := range came {
			came[i] = -1
		}
		came[from] = from
		list := []int{from}
		for k := 0; k < len(list); k++ {
			p := c.I[group[list[k]]]
			for d := range 27 {
				o := c.At(int(p[0])+d%3-1, int(p[1])+d/3%3-1, int(p[2])+d/9-1)
				if j, ok := at[o]; ok && came[j] < 0 {
					came[j] = list[k]
					list = append(list, j)
				}
			}
		}
		return list[len(list)-1], came
	}
	a, _ := walk(0)
	z, came := walk(a)
	var r []plan.P3
	for k := z; ; k = came[k] {
		r = append(r, c.Centre(group[k]).Mul(1e3).Array())
		if k == a {
			return r
		}
	}
}
