// Package judge answers whether a plan may be poured: it gathers the findings
// of all rooms, adds those that follow from use, alloy and master, puts them in
// a fixed order and gives the verdict.
//
// Main function: Judge.
//
// Units: mm, g, degC, shares 0..1. Places are in the master frame.
//
// The verdict:
//
//	no    a must of a bar: closed-void, linked, needs-piece (no two halves),
//	      gate (no way for the metal), alloy-use and too-hot (refused metal),
//	      mould-hot (it never freezes), size. No mould is drawn.
//	care  any other must, or a should that the piece or its metal may fail by
//	      (careful lists the codes). The maker has something to do first.
//	pour  everything else. A should about shopping, weighing or order is no
//	      reason to hold back.
//
// A verdict is computed, not cast. Only the logbook says cast.
//
// Rules of use come from published limits, each named at its place; they are a
// warning to look up the current text, not legal advice.
package judge

import (
	"cmp"
	"slices"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
)

// Facts is what is judged. Sections of the plan are read, not changed.
type Facts struct {
	Job         *job.Job
	Master      plan.Master
	Split       plan.Split
	Thinnest    float64 // by the calipers, mm; the mesh's own where 0
	CastingMass float64 // g; 0 where there is no layout
	Care        float64 // strain above which a release wants care; 0 where not known
	Fill        plan.Fill
	Frozen      bool // the freezing was computed
	Findings    []plan.Finding
}

// Verdict is the answer.
type Verdict struct {
	Verdict  string // plan.Pour, plan.Care or plan.No
	Findings []plan.Finding
}

// Bars are the codes whose must means that nothing can be poured.
var bars = []string{"closed-void", "linked", "needs-piece", "gate", "alloy-use", "too-hot", "mould-hot", "size"}

// careful are the codes whose should asks the maker for something before the
// piece can come out.
var careful = []string{
	"seam", "undercut", "thin", "head", "pocket", "dead-end", "misrun", "cold-shut", "gate", "feeder", "insert", "clamp",
	"alloy-use", "alloy-origin", "too-hot", "mould-hot", "inhibition", "calipers", "unit", "repair", "photo", "measured",
}

// Judge gathers, orders and decides. The same facts give the same verdict.
func Judge(f Facts) Verdict {
	all := slices.Clone(f.Findings)
	all = append(all, use(&f)...)
	all = append(all, origin(&f)...)
	all = append(all, surface(&f)...)
	all = append(all, sections(&f)...)
	all = append(all, undercuts(&f)...)
	all = append(all, pieces(&f)...)
	all = append(all, seam(&f)...)
	all = append(all, calipers(&f)...)
	if x, ok := uncomputed(&f); ok && (f.Frozen || !slices.ContainsFunc(all, func(x plan.Finding) bool { return x.Code == "not-computed" })) {
		all = append(all, x)
	}
	slices.SortStableFunc(all, order)
	return Verdict{Decide(all), all}
}

// uncomputed says which part of the pour is still an estimate.
func uncomputed(f *Facts) (plan.Finding, bool) {
	x := plan.Finding{Code: "not-computed", Severity: plan.Note, Say: "Filling and freezing were not computed.", Do: "Take the times as estimates and watch the first shot."}
	switch {
	case f.Fill.Computed && f.Frozen:
		return x, false
	case f.Frozen:
		x.Say, x.Do = "Filling was not computed: freezing starts from a full cavity.", "Watch the first shot for short places."
	case f.Fill.Computed:
		x.Say = "Freezing was not computed."
	}
	return x, true
}

// Decide gives the verdict for findings alone.
func Decide(findings []plan.Finding) string {
	verdict := plan.Pour
	for _, f := range findings {
		switch {
		case f.Severity == plan.Must && slices.Contains(bars, f.Code):
			return plan.No
		case f.Severity == plan.Must, f.Severity == plan.Should && slices.Contains(careful, f.Code):
			verdict = plan.Care
		}
	}
	return verdict
}

var severities = []string{plan.Must, plan.Should, plan.Note}

// order sorts by severity, code in the order of plan.Codes, cavity, half,
// place, words. What has no cavity, half or place comes first.
func order(a, b plan.Finding) int {
	whole := func(p *int) int {
		if p == nil {
			return -1
		}
		return *p
	}
	c := cmp.Or(
		cmp.Compare(slices.Index(severities, a.Severity), slices.Index(severities, b.Severity)),
		cmp.Compare(slices.Index(plan.Codes, a.Code), slices.Index(plan.Codes, b.Code)),
		cmp.Compare(whole(a.Cavity), whole(b.Cavity)),
		cmp.Compare(whole(a.Half), whole(b.Half)),
	)
	if c != 0 {
		return c
	}
	switch {
	case a.At == nil && b.At != nil:
		return -1
	case a.At != nil && b.At == nil:
		return 1
	case a.At != nil:
		for k := range 3 {
			if c := cmp.Compare(a.At[k], b.At[k]); c != 0 {
				return c
			}
		}
	}
	return cmp.Or(cmp.Compare(a.Say, b.Say), cmp.Compare(a.Do, b.Do))
}
