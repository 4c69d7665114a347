package sequence

import (
	"pourwright/internal/book/plan"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shop/batch"
	"pourwright/internal/working/judge"
)

// verdict judges the plan anew for a changed input, with the mould as it is
// laid out: what hangs on the rubber's stretch, on the surface tension, on the
// contact angle and on the thinnest section is asked again, the sheet brings
// its own findings, and the rest stands.
func (t *trace) verdict(i *batch.Input, sheet []plan.Finding) string {
	rubber := t.rubber
	rubber.Shore, rubber.Elongation = i.Rubber.Shore.X, i.Rubber.Elongation.X
	split := t.plan.Split
	split.Undercuts = append([]plan.Undercut{}, split.Undercuts...)
	list := t.rebarred(rubber, split.Undercuts)
	if t.layout != nil {
		list = append(list, t.relaid(i)...)
	}
	list = append(append(list, sheet...), t.noted()...)
	f := t.facts(list, rubber)
	f.Split = split
	if i.Scanned && i.Thinnest > 0 {
		f.Master.Thinnest = i.Thinnest
	}
	return judge.Judge(f).Verdict
}

// rebarred returns the bars of the split for a rubber, and puts strain and
// action of the undercuts in place.
func (t *trace) rebarred(r parting.Rubber, said []plan.Undercut) []plan.Finding {
	asked := func(b parting.Bar) bool { // by the stretch of the rubber at a place
		for _, u := range t.split.Undercuts {
			if b.Code == "needs-piece" && b.At == u.At && !u.Enclosed {
				return true
			}
		}
		return false
	}
	var list []plan.Finding
	for _, b := range t.split.Bars {
		if !asked(b) {
			list = append(list, barred(b))
		}
	}
	for k, u := range t.split.Undercuts {
		v := parting.Judge(u, r, t.master.Said.Volume, t.long)
		said[k].Strain, said[k].Action = plan.Ptr(v.Strain), plan.Ptr(v.Action)
		if v.Action == parting.Piece && !u.Enclosed {
			list = append(list, plan.Finding{Code: "needs-piece", Severity: plan.Must})
		}
	}
	return list
}

func barred(b parting.Bar) plan.Finding {
	at := b.At.Array()
	return plan.Finding{Code: b.Code, Severity: plan.Must, At: &at, Computed: &b.Computed, Limit: &b.Limit, Say: b.Say, Do: b.Do}
}

// relaid returns the findings of the layout with those about ends, hanging
// bores and boards asked again.
func (t *trace) relaid(i *batch.Input) []plan.Finding {
	a, was := &i.Alloy, &t.job.AlloyRow
	bore := pockets.CriticalBore(a.SurfaceTension.X, a.DensityLiquid.X)
	c := t.layout.Clamps
	gap := c.Gap * a.SurfaceTension.X / was.SurfaceTension.X * batch.Cos(i.Gap) / batch.Cos(batch.ContactGap)
	bends := false
	var list []plan.Finding
	for _, f := range t.layout.Findings {
		switch {
		case f.Code == "head":
			continue
		case f.Code == "dead-end" && f.Computed != nil && *f.Computed >= bore:
			continue
		case f.Code == "clamp" && f.Limit != nil && *f.Limit == c.Gap:
			bends = true
			if c.Deflexion <= gap {
				continue
			}
		}
		list = append(list, f)
	}
	for _, e := range i.Ends {
		if !i.Fills(e) {
			list = append(list, plan.Finding{Code: "head", Severity: plan.Must})
		}
	}
	before := pockets.CriticalBore(was.SurfaceTension.X, was.DensityLiquid.X)
	for _, d := range t.plan.Stand.DeadEnds {
		if d.Bore >= before && d.Bore < bore { // no cut was led to it
			list = append(list, plan.Finding{Code: "dead-end", Severity: plan.Should})
		}
	}
	if !bends && c.Deflexion > gap {
		list = append(list, plan.Finding{Code: "clamp", Severity: plan.Should})
	}
	return list
}

// noted are the notes on the master as findings.
func (t *trace) noted() []plan.Finding {
	var list []plan.Finding
	for _, n := range t.master.Notes {
		f := plan.Finding{Code: n.Code, Severity: plan.Note, Say: n.Say, Do: n.Do}
		if n.Severity != "" {
			f.Severity = n.Severity
		}
		if n.At != nil {
			f.At = plan.Ptr(n.At.Array())
		}
		list = append(list, f)
	}
	return list
}

// facts is what the judge is told.
func (t *trace) facts(list []plan.Finding, r parting.Rubber) judge.Facts {
	p := t.plan
	f := judge.Facts{Job: t.job, Master: p.Master, Split: p.Split, Thinnest: t.thin, Findings: list, Fill: p.Fill, Frozen: p.Freeze.Computed}
	f.Master.Thinnest, f.Master.ThinnestAt = t.master.Wall.Length, t.master.Wall.At.Array() // the rules ask for walls, not for edges
	f.Care, _ = r.Limits()
	if p.Metal != nil {
		f.CastingMass = p.Metal.CastingMass
	}
	return f
}
