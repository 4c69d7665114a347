package sequence

import (
	"slices"

	"pourwright/internal/book/plan"
)

// figure puts what is known so far into the plan.
func (t *trace) figure() error {
	t.plan = &plan.Plan{
		Schema: plan.Schema, Verdict: plan.Care,
		Master: t.master.Said, Split: saidSplit(t.master, t.split), Stand: saidStand(t.master, t.stand),
		Fill: plan.Fill{Meeting: [][]plan.P3{}}, Order: plan.Order{Castings: t.job.Order.Castings},
		Guessed: []plan.Guess{}, Figures: []plan.Figure{}, Findings: []plan.Finding{}, Tried: []plan.Trial{},
	}
	if t.layout != nil {
		t.plan.Block = t.layout.Plan()
		t.plan.Figures = append(t.plan.Figures, t.layout.Figures...)
		t.plan.Tried = append(t.plan.Tried, t.layout.Tried...)
	}
	return nil
}

// judge gathers the findings and gives the verdict.
func (t *trace) judge() error {
	p := t.plan
	for _, b := range t.split.Bars {
		at := b.At.Array()
		p.Findings = append(p.Findings, plan.Finding{Code: b.Code, Severity: plan.Must, At: &at, Computed: &b.Computed, Limit: &b.Limit, Say: b.Say, Do: b.Do})
	}
	if t.layout != nil {
		p.Findings = append(p.Findings, t.layout.Findings...)
	}
	for _, n := range t.master.Notes {
		f := plan.Finding{Code: n.Code, Severity: plan.Note, Say: n.Say, Do: n.Do}
		if n.At != nil {
			f.At = plan.Ptr(n.At.Array())
		}
		p.Findings = append(p.Findings, f)
	}
	p.Findings = append(p.Findings, plan.Finding{Code: "not-computed", Severity: plan.Note,
		Say: "Filling and freezing were not computed.", Do: "Take the times as estimates and watch the first shot."})
	if slices.ContainsFunc(p.Findings, func(f plan.Finding) bool { return f.Severity == plan.Must }) || len(t.split.Bars) > 0 {
		p.Verdict = plan.No
		p.Block, p.Rubber, p.Metal = nil, nil, nil
	}
	return nil
}
