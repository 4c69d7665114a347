package rig

import (
	"cmp"
	"context"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/physics/heat"
	"pourwright/internal/physics/shot"
	"pourwright/internal/shape/grid"
)

// Ratio is the step from one grid to the next coarser one.
const Ratio = 1.5

// levels is the number of grids that the first shot is computed on.
const levels = 3

// Options of a computation. The zero value keeps nothing and says nothing.
type Options struct {
	Store    *Store                           // nil keeps no results
	Progress func(stage string, done float64) // share of the stage that is done
	Room     int64                            // bytes that may be used; 0 does not ask
	Before   func(Size)                       // told what is to be computed, before it is; not for a kept result
	First    bool                             // only the first shot is computed; no result is kept
}

// Size is what a computation takes.
type Size struct {
	Part  string  // "filling" or "freezing"
	Runs  int     // of it
	Cell  float64 // mm, of the finest grid
	Cells int     // of that grid, about
	Bytes int64
}

// Result is a computed pour.
type Result struct {
	Doc     *pour.Doc
	Fields  *Fields     // nil where the freezing was not computed
	Filling *FillFields // nil where the filling was not computed
}

// Fields are values per cell of the finest grid, in the order of grid.Grid.
type Fields struct {
	Grid  grid.Grid
	Share []float32 // of the cell that the cavity takes
	Dist  []float32 // mm to the cavity's wall, negative in the metal
	Solid []float32 // s after the pour at which the metal froze; -1 elsewhere
	Peak  []float32 // degC, hottest that rubber gets in the first shot
	Half  []uint8   // of the rubber
}

// work is a computation on its way.
type work struct {
	ctx  context.Context
	key  string
	m    *Mould
	s    *pour.Setting
	o    Options
	doc  *pour.Doc
	f    *Fields
	cell float64
	made []*heat.Problem // by level, coarsest first
	one  shot.Shot       // the first shot on the finest grid
	off  *pour.Handover  // of the filling on the finest grid
	from *Filled         // from which the first shot starts; nil: a full cavity
	set  shot.Setting
}

// Pour computes the pour of a mould, as much of it as the setting asks for: the filling, and
// the freezing from what it leaves. A filling that breaks down is told in the document, and
// freezing then starts from a full cavity. Errors are those of Fill and Freeze.
func Pour(ctx context.Context, m *Mould, s pour.Setting, o Options) (*Result, error) {
	if !s.Fill {
		return Freeze(ctx, m, s, o)
	}
	if err := s.Check("pour"); err != nil {
		return nil, err
	}
	key := Key(m, &s)
	if r := o.Store.result(key); r != nil {
		return r, nil
	}
	if !s.FillOnly { // before minutes of filling
		if _, err := fits(m, &s, o); err != nil {
			return nil, err
		}
	}
	f, err := Fill(ctx, m, s, o)
	switch fault.KindOf(err) {
	case fault.Input, fault.Interrupted, fault.Usage:
		if err != nil {
			return nil, err
		}
	}
	if err != nil {
		f = &Filled{Doc: pour.NoFilling(s.Pouring)}
		f.Doc.Failed = err.Error()
	}
	if !s.FillOnly {
		return freeze(ctx, m, s, o, f)
	}
	r := &Result{Doc: pour.Empty(s), Filling: f.Fields}
	r.Doc.Key, r.Doc.Filling = key, f.Doc
	o.Store.keep(key, r)
	return r, nil
}

// Freeze computes the freezing of a full cavity and the series of shots. Errors: kind Input where nothing can be
// computed from the setting or the memory does not do, Interrupted when ctx is
// done, Unstable where the solver left its limits.
func Freeze(ctx context.Context, m *Mould, s pour.Setting, o Options) (*Result, error) {
	s.Fill, s.FillOnly = false, false
	return freeze(ctx, m, s, o, nil)
}

// freeze is Freeze from a filling, nil for none.
func freeze(ctx context.Context, m *Mould, s pour.Setting, o Options, from *Filled) (*Result, error) {
	if err := s.Check("pour"); err != nil {
		return nil, err
	}
	w := &work{ctx: ctx, m: m, s: &s, o: o}
	w.key = Key(m, &s)
	if !o.First {
		if r := o.Store.result(w.key); r != nil {
			return r, nil
		}
	}
	var err error
	if w.cell, err = fits(m, &s, o); err != nil {
		return nil, err
	}
	need := Memory(m, w.cell)
	if o.Before != nil {
		e := m.size()
		o.Before(Size{Part: "freezing", Runs: 1, Cell: w.cell, Cells: int(e.X * e.Y * e.Z / (w.cell * w.cell * w.cell)), Bytes: need})
	}
	w.doc = pour.Empty(s)
	w.doc.Key = w.key
	r := &Result{Doc: w.doc}
	if from != nil {
		w.doc.Filling, r.Filling = from.Doc, from.Fields
		if from.trace != nil {
			w.from = from
		}
	}
	w.set = shot.Setting{Pour: s.Metal, How: shot.Opened, Powder: s.Powder, Close: s.Close, Shots: 1}
	if err := w.grids(); err != nil {
		return nil, err
	}
	r.Fields = w.f
	if o.First {
		return r, nil
	}
	if err := w.series(); err != nil {
		return nil, err
	}
	o.Store.keep(w.key, r)
	return r, nil
}

// fits returns the cells of the freezing, mm, or the error that they do not fit into the memory.
func fits(m *Mould, s *pour.Setting, o Options) (float64, error) {
	cell := Cell(m, s.Thin)
	if s.Cell != nil {
		cell = *s.Cell
	}
	if o.Room > 0 && Memory(m, cell) > o.Room {
		return cell, tooLarge(m, cell, o.Room)
	}
	return cell, nil
}

// tooLarge says that cells of cell mm do not fit in room bytes, and which do.
func tooLarge(m *Mould, cell float64, room int64) error {
	h := cell
	for Memory(m, h) > room && h < 20 {
		h *= 1.05
	}
	return fault.New(fault.Input, "pour", sprint("take cells of %.2g mm or more (--cell), or close other programs", h),
		"cells of %.3g mm take %s, and %s are free", cell, bytesOf(Memory(m, cell)), bytesOf(room))
}

func (w *work) say(stage string, done float64) {
	if w.o.Progress != nil {
		w.o.Progress(stage, done)
	}
}

// watch makes progress of a stage.
func (w *work) watch(stage string, from, to float64) shot.Watch {
	return func(p shot.Progress) error {
		w.say(stage, from+(to-from)*p.Done)
		return w.ctx.Err()
	}
}

// search makes progress of a stage of which nobody knows how many shots it takes;
// about half of it is over after so many.
func (w *work) search(stage string, half float64) shot.Watch {
	return func(p shot.Progress) error {
		n := float64(p.Search)
		w.say(stage, n/(n+half))
		return w.ctx.Err()
	}
}

// grids computes the first shot on each grid.
func (w *work) grids() error {
	cost, all := make([]float64, levels), 0.0
	for k := range levels {
		cost[k] = math.Pow(Ratio, 4*float64(k))
		all += cost[k]
	}
	done := 0.0
	for k := range levels {
		h := w.cell * math.Pow(Ratio, float64(levels-1-k))
		p, err := Problem(w.ctx, w.m, w.s, h)
		if err != nil {
			return err
		}
		w.made = append(w.made, p)
		run, err := w.mould(k, nil)
		if err != nil {
			return err
		}
		if w.from != nil {
			if err := w.hand(run, p, k); err != nil {
				return err
			}
		}
		set := w.set
		set.Rest = soak
		res, err := w.play(sprint("grid %d", k), run, set, nil, w.watch("freeze", done/all, (done+cost[k])/all))
		if err != nil {
			return err
		}
		done += cost[k]
		one := res.Shots[0]
		w.doc.Grids = append(w.doc.Grids, said(run, p, one))
		if k == levels-1 {
			w.one = one
			w.fields(run, p)
			w.islands(run)
			if w.from != nil {
				w.doc.Filling.Handover = w.handover()
			}
		}
	}
	w.figures()
	return nil
}

// soak is how long the mould is followed after the first casting was lifted, so
// that heat on its way into the rubber shows in its peak, s.
const soak = 300

func said(run *shot.Run, p *heat.Problem, one shot.Shot) pour.Grid {
	n := 0
	for _, d := range p.Body.Dist {
		if d < 0 {
			n++
		}
	}
	return pour.Grid{
		Cell: p.Body.Grid.H, Cells: p.Body.Grid.Len(), MetalCells: n, Lost: run.Lost * 1e9,
		SolidAfter: reached(one.Solid), OpenAfter: reached(one.Ready), RubberPeak: plan.Ptr(one.Peak), Unfed: plan.Ptr(one.Unfed),
		Balance: plan.Ptr(run.Energy().Share()),
	}
}

// reached returns a time, nil where it was not reached.
func reached(t float64) *float64 {
	if !(t > 0) || math.IsInf(t, 0) {
		return nil
	}
	return &t
}

func (w *work) fields(run *shot.Run, p *heat.Problem) {
	b := p.Body
	w.f = &Fields{Grid: b.Grid, Share: b.Share, Dist: b.Dist, Half: b.Half, Solid: run.Solid(), Peak: run.Peak()}
}

// mostIslands is how many places that are cut off are named.
const mostIslands = 8

// islands names the largest places that are cut off from their feed.
func (w *work) islands(run *shot.Run) {
	list, _ := run.Islands()
	slices.SortStableFunc(list, func(a, b heat.Island) int { return cmp.Compare(b.Liquid, a.Liquid) })
	for _, i := range list[:min(len(list), mostIslands)] {
		w.doc.Islands = append(w.doc.Islands, pour.Island{At: i.At.Array(), After: i.Time, Liquid: i.Liquid, Unfed: w.unfed(i.Liquid)})
	}
}

// figures fills the plan's section and the rubber's from the grids.
func (w *work) figures() {
	d, g := w.doc, w.doc.Grids
	fine := g[len(g)-1]
	one := w.one
	d.Freeze = plan.Freeze{
		Computed: true, Cell: plan.Ptr(fine.Cell), SolidAfter: fine.SolidAfter, OpenAfter: fine.OpenAfter,
		OpenTemperature: plan.Ptr(one.OpenAt), LastPlace: plan.Ptr(one.Last.Array()),
		UnfedVolume: plan.Ptr(w.unfed(one.Unfed)), RubberPeak: plan.Ptr(one.Peak), Balance: fine.Balance,
	}
	var solid, open []*float64
	for _, x := range g {
		solid, open = append(solid, x.SolidAfter), append(open, x.OpenAfter)
	}
	a, okA := spread(solid)
	b, okB := spread(open)
	if okA && okB {
		d.Freeze.Error = &plan.FreezeError{SolidAfter: a, OpenAfter: b}
	}
	if one.OpenAt > 0 {
		w.touch(one)
	}
	d.Rubber = pour.Rubber{Peak: plan.Ptr(one.Peak), PeakAt: plan.Ptr(one.PeakAt.Array()), OverFor: plan.Ptr(one.Over)}
	n := 0
	for q, t := range w.f.Peak {
		if w.f.Dist[q] >= 0 && float64(t) > w.s.Rubber.Rating {
			n++
		}
	}
	h := w.f.Grid.H
	d.Rubber.OverMost = plan.Ptr(float64(n) * h * h * h)
}

// unfed returns the volume by which cut-off metal falls short, mm3: below zero
// where it grows.
func (w *work) unfed(island float64) float64 { return -w.s.Alloy.Change * island }

// Errors: a time on the finest grid is stated to be off by
//
//	max(1.25 |t1 - t2| / (r^p - 1), |t2 - t3| / r / 2, 2 % of t1),  p = 1
//
// with t1 the finest, t2 and t3 the coarser grids and r their ratio: the grid
// convergence index for three grids (Roache 1998; safety 1.25) at the lowest order,
// a half of what the coarser step leads to expect where two grids agree by chance,
// and what placement on the cells scatters: with 1 % two of six outside meshes went
// 1.1 and 1.3 % from 1 to 0.7 mm (docs/numerics/heat.md).
const (
	safety = 1.25
	floor  = 0.02
)

// spread returns the error of the last of three times, false where one is missing.
func spread(t []*float64) (float64, bool) {
	n := len(t)
	for _, x := range t {
		if x == nil {
			return 0, false
		}
	}
	a, b, c := *t[n-1], *t[n-2], *t[n-3]
	return math.Max(safety*math.Abs(a-b)/(Ratio-1), math.Max(math.Abs(b-c)/(2*Ratio), floor*a)), true
}

// touch fills when the casting of the first shot may be touched.
func (w *work) touch(one shot.Shot) {
	k := w.m.Casting
	if !(k.Volume > 0 && k.Area > 0) {
		return
	}
	a := &w.s.Alloy
	list, err := shot.Touch(shot.Casting{Volume: k.Volume, Area: k.Area, Density: a.Density, Cp: a.CpSolid, K: a.KSolid,
		Emissivity: shot.Tarnished, Air: w.s.Room, From: one.OpenMean}, shot.Contacts)
	if err != nil {
		return
	}
	for _, x := range list {
		w.doc.Touch = append(w.doc.Touch, pour.Touch{Contact: x.Seconds, Below: x.Below, After: plan.Known(x.After), Source: x.Source})
		if x.Seconds == 60 {
			if t := plan.Known(x.After); t != nil && w.doc.Freeze.OpenAfter != nil {
				w.doc.Freeze.TouchAfter = plan.Ptr(*w.doc.Freeze.OpenAfter + *t)
			}
		}
	}
}
