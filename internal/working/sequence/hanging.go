package sequence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/shop/batch"
	"pourwright/internal/working/judge"
)

// What a caliper on the bench is right to: a tenth of a millimetre on a curved wall
// that gives a little, or 0.2 % of a long one; own figures, no source.
const (
	jawError   = 0.1
	jawShare   = 0.002
	massError  = 0.01 // share, of the mass over the density as it is written
	thinShadow = 0.05 // mm, the least thickness that is judged
)

// caliperError returns what a reading of x mm is right to.
func caliperError(x float64) float64 { return math.Max(jawError, jawShare*x) }

// sectioned judges the plan anew with x for the thinnest section, by the calipers
// or by the mesh, and the mould as it is laid out: list are the findings of all
// rooms but the judge's. What the layout asked of the calipers' section is asked of
// x.
func (t *trace) sectioned(list []plan.Finding, x float64, typed bool) judge.Verdict {
	i := batch.Input{Alloy: t.job.AlloyRow, Contact: batch.ContactEnd}
	var all []plan.Finding
	heads := map[bool]bool{}
	if t.layout != nil {
		for _, e := range t.layout.Ends {
			was := batch.End{Thickness: e.Thickness, Width: e.Width, Head: e.Head}
			now := was
			if math.Abs(e.Thickness-t.thin) < 1e-9 {
				now.Thickness = math.Max(x, thinShadow)
			}
			heads[false] = heads[false] || !i.Fills(was)
			heads[true] = heads[true] || !i.Fills(now)
		}
	}
	for _, f := range list {
		if f.Code == "head" && heads[false] && !heads[true] {
			continue
		}
		all = append(all, f)
	}
	if heads[true] && !heads[false] {
		all = append(all, plan.Finding{Code: "head", Severity: plan.Must})
	}
	f := t.facts(all, t.rubber)
	f.Thinnest = 0
	if typed {
		f.Thinnest = x
	} else {
		f.Master.Thinnest = x
	}
	return judge.Judge(f)
}

// hanging says what hangs on a thinnest section by the calipers: which findings and
// which verdict the mesh's own section would give. list are the findings of all
// rooms but the judge's; the answer is one more, none where the calipers do not say
// anything else than the mesh.
func (t *trace) hanging(list []plan.Finding) []plan.Finding {
	scan := t.master.Wall.Length
	if t.thin <= 0 || t.lump != nil || math.Abs(t.thin-scan) <= caliperError(t.thin) {
		return nil
	}
	ours, theirs := t.sectioned(list, t.thin, true), t.sectioned(list, scan, false)
	only := func(a, b judge.Verdict) string {
		has := map[string]bool{}
		for _, f := range b.Findings {
			has[f.Code+" ("+f.Severity+")"] = true
		}
		var r []string
		for _, f := range a.Findings {
			if k := f.Code + " (" + f.Severity + ")"; !has[k] && !slices.Contains(r, k) {
				r = append(r, k)
			}
		}
		return strings.Join(r, ", ")
	}
	say := fmt.Sprintf("The thinnest section counts as %.2f mm by the calipers, %.2f mm by the mesh.", t.thin, scan)
	gone, come := only(theirs, ours), only(ours, theirs)
	switch {
	case ours.Verdict != theirs.Verdict:
		say += fmt.Sprintf(" The verdict hangs on it: by the mesh it would be %s, not %s", theirs.Verdict, ours.Verdict)
	case gone != "" || come != "":
		say += " The verdict does not hang on it"
	default:
		say += " Neither the verdict nor a finding hangs on it"
	}
	if come != "" {
		say += "; only by the calipers: " + come
	}
	if gone != "" {
		say += "; only by the mesh: " + gone
	}
	x := plan.Finding{Code: "calipers", Severity: plan.Note, Computed: plan.Ptr(t.thin), Limit: plan.Ptr(scan), Say: say + ".",
		Do: fmt.Sprintf("Measure it once more: a reading counts as right to %.2g mm.", caliperError(t.thin))}
	if n, ok := t.master.nextWall(); ok && n.Length < t.thin {
		x.Do += fmt.Sprintf(" Then measure the wall near %.1f, %.1f, %.1f: the mesh has %.2f mm there.", n.At.X+0, n.At.Y+0, n.At.Z+0, n.Length)
	}
	return []plan.Finding{x}
}

// caliperGuess tells whether the verdict flips within the error of the calipers.
func (t *trace) caliperGuess(list []plan.Finding) []plan.Guess {
	if t.thin <= 0 {
		return nil
	}
	e := caliperError(t.thin)
	lo, hi := math.Max(t.thin-e, thinShadow), t.thin+e
	v := t.sectioned(list, t.thin, true).Verdict
	flips := t.sectioned(list, lo, true).Verdict != v || t.sectioned(list, hi, true).Verdict != v
	return []plan.Guess{{Input: "thinnest section by the calipers, mm", Used: t.thin, Range: [2]float64{lo, hi}, Flips: &flips}}
}
