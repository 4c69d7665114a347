package sequence

import (
	"pourwright/internal/book/plan"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shop/batch"
	"pourwright/internal/working/judge"
)

// figure makes the sheet of figures and puts all that is known into the plan.
func (t *trace) figure() error {
	t.plan = &plan.Plan{
		Schema: plan.Schema, Verdict: plan.Care,
		Master: t.master.Said, Split: saidSplit(t.master, t.split), Stand: saidStand(t.master, t.stand),
		Order:   plan.Order{Castings: t.job.Order.Castings},
		Guessed: []plan.Guess{}, Figures: []plan.Figure{}, Findings: []plan.Finding{}, Tried: []plan.Trial{},
	}
	t.strains()
	t.deadEnds()
	t.tried()
	p := t.plan
	if t.layout == nil {
		p.Guessed = append(p.Guessed, batch.Early(t.asked())...)
		return nil
	}
	p.Block = t.layout.Plan()
	t.vents()
	p.Tried = append(p.Tried, t.layout.Tried...)
	var err error
	i := t.quantities()
	if t.lump != nil {
		t.lump.weigh(t)
		t.lump.put(&i, t.lump.said.Volume.Value, t.lump.share.Value, t.lump.said.Modulus.Value)
	}
	if t.sheet, err = batch.Make(i); err != nil {
		return err
	}
	s := t.sheet
	p.Rubber, p.Metal, p.Freeze, p.Cycle, p.Order = &s.Rubber, &s.Metal, s.Freeze, s.Cycle, s.Order
	p.Figures = append(append(p.Figures, t.layout.Figures...), s.Figures...)
	p.Guessed = append(p.Guessed, s.Guesses...)
	if t.lump != nil {
		return t.lump.bands(t, i)
	}
	return nil
}

// asked is what the sheet of figures knows without a layout.
func (t *trace) asked() batch.Input {
	i := batch.Input{
		Job: t.job, Rubber: t.job.RubberRow, Alloy: t.job.AlloyRow, Area: t.master.Said.Area,
		Thinnest: t.master.Wall.Length, Scanned: true, Verdict: t.verdict,
	}
	if t.thin > 0 || t.lump != nil {
		i.Thinnest, i.Scanned = t.thin, false
	}
	return i
}

// quantities integrates what the sheet of figures needs from the solids.
func (t *trace) quantities() batch.Input {
	i := t.asked()
	i.Block, i.Halves = t.layout.Size.Array(), [2]float64{t.solids.Half1.Volume(), t.solids.Half2.Volume()}
	i.Cavity, i.Modulus = t.solids.Cavity.Volume(), t.layout.Thick
	for _, e := range t.layout.Ends {
		i.Ends = append(i.Ends, batch.End{Thickness: e.Thickness, Width: e.Width, Head: e.Head})
	}
	if t.layout.ThickAt != nil {
		i.ModulusAt = plan.Ptr(t.layout.ThickAt.Array())
	}
	// The size of a casting is taken along the axes of the block.
	i.Size = t.master.Mesh.Into(t.layout.Frame).Box().Size().Array()
	for range t.layout.Placements {
		i.Castings = append(i.Castings, t.master.Said.Volume)
	}
	return i
}

// strains says of each undercut what the rubber must stretch and what to do.
func (t *trace) strains() {
	for k, u := range t.split.Undercuts {
		v := parting.Judge(u, t.rubber, t.master.Said.Volume, t.long)
		t.plan.Split.Undercuts[k].Strain = plan.Ptr(v.Strain)
		t.plan.Split.Undercuts[k].Action = plan.Ptr(v.Action)
	}
}

// deadEnds says which hanging ends the metal bridges.
func (t *trace) deadEnds() {
	a := &t.job.AlloyRow
	for k := range t.plan.Stand.DeadEnds {
		d := &t.plan.Stand.DeadEnds[k]
		d.Bridged = plan.Ptr(pockets.Bridged(d.Bore, a.SurfaceTension.X, a.DensityLiquid.X))
	}
}

// judge gathers the findings and gives the verdict.
func (t *trace) judge() error {
	p := t.plan
	for _, b := range t.split.Bars {
		p.Findings = append(p.Findings, barred(b))
	}
	if t.layout != nil {
		p.Findings = append(append(p.Findings, t.layout.Findings...), t.sheet.Findings...)
	}
	p.Findings = append(p.Findings, t.noted()...)
	p.Guessed = append(p.Guessed, t.caliperGuess(p.Findings)...)
	p.Findings = append(p.Findings, t.hanging(p.Findings)...)
	v := judge.Judge(t.facts(p.Findings, t.rubber))
	p.Verdict, p.Findings = v.Verdict, v.Findings
	if p.Verdict == plan.No {
		// no mould, so no shots of it
		p.Block, p.Rubber, p.Metal = nil, nil, nil
		p.Freeze, p.Cycle, p.Order = plan.Freeze{}, plan.Cycle{}, plan.Order{Castings: p.Order.Castings}
		p.Stand.TrappedShareUnvented = nil
		for k := range p.Stand.Pockets {
			p.Stand.Pockets[k].Vented = nil
		}
	}
	return nil
}
