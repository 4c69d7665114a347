package judge

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"pourwright/internal/book/job"
	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
)

// ThinLimit is the section under which gravity pouring into rubber gets hard,
// ThinRisk the one under which it mostly fails, mm (common practice, no
// source: 60 thou; 1 mm was reached in heated moulds that are not rubber).
const (
	ThinLimit = 1.5
	ThinRisk  = 1.0
)

// measured is the error a section is measured with, as a share.
const measured = 0.03

// sections judges the thinnest section.
func sections(f *Facts) []plan.Finding {
	t, how := f.Master.Thinnest, "by the mesh"
	if f.Thinnest > 0 {
		t, how = f.Thinnest, "by the calipers"
	}
	if !(t > 0) || t > ThinLimit*(1+measured) {
		return nil
	}
	x := find("thin", plan.Should, plan.Ptr(t), plan.Ptr(ThinLimit),
		fmt.Sprintf("The thinnest section has %.2g mm %s: the least that rubber takes is about 1.5.", t, how),
		"Warm mould and metal, pour in one quick go; the first two to four shots warm the mould. Measure it with calipers: scans thicken thin parts.")
	if t <= ThinRisk*(1+measured) {
		x.Severity = plan.Must
		x.Say = fmt.Sprintf("The thinnest section has %.2g mm %s: high risk, it freezes before it fills.", t, how)
		x.Do = "Thicken the master to 1.5 mm or more there, lay in a wire, or cast that part apart."
		// What was poured is the mesh: it speaks for the section where it is as thin.
		if c := f.Fill.CastShare; f.Fill.Computed && c != nil && f.Master.Thinnest <= t*(1+measured) {
			x.Say = fmt.Sprintf("The thinnest section has %.2g mm %s: high risk, by experience it freezes before it fills. Computed, the castings fill to %s.", t, how, percent(*c))
			if *c >= castLeast {
				x.Do += " The computed pour gets in: try one shot in a warm mould before you give up the section."
			}
		}
	}
	if f.Thinnest > 0 {
		x.Do = strings.TrimSuffix(x.Do, " Measure it with calipers: scans thicken thin parts.")
	}
	switch at, ok := calipered(f.Job); {
	case f.Thinnest > 0 && ok:
		x.At = &at
	case f.Thinnest == 0 && f.Master.ThinnestAt != (plan.P3{}):
		x.At = plan.Ptr(f.Master.ThinnestAt)
	}
	return []plan.Finding{x}
}

// calipered is the point at which the job's calipers read the least.
func calipered(j *job.Job) (at plan.P3, ok bool) {
	least := math.Inf(1)
	for _, t := range j.Master.Thickness {
		if t.T < least {
			least, at, ok = t.T, t.At, true
		}
	}
	return at, ok
}

// inhibitors are words in a master's material that stop an addition rubber
// from curing (technical guides to cure inhibition).
var inhibitors = []struct{ word, why string }{
	{"resin", "uncured resin"}, {"print", "uncured resin"}, {"sla", "uncured resin"}, {"epoxy", "amines of the epoxy"},
	{"clay", "sulphur in clay"}, {"plasticine", "sulphur in clay"}, {"sulphur", "sulphur"}, {"sulfur", "sulphur"},
	{"latex", "latex"}, {"rubber", "rubber"}, {"neoprene", "rubber"}, {"nitrile", "rubber"}, {"pvc", "PVC"}, {"vinyl", "PVC"},
	{"solder", "tin residues"}, {"silicone", "tin residues of condensation rubber"}, {"tape", "masking tape"}, {"wood", "resin in wood"},
}

// porous are words of masters that drink rubber or release.
var porous = []string{"wood", "plaster", "gypsum", "stone", "paper", "card", "clay", "bisque", "terracotta", "concrete", "leather"}

// sealed are words of a closed surface.
var sealed = []string{"sealed", "lacquer", "varnish", "painted", "waxed"}

// surface says what the master's material does to the rubber.
func surface(f *Facts) []plan.Finding {
	m := strings.ToLower(f.Job.Master.Material)
	closed := slices.ContainsFunc(sealed, func(w string) bool { return strings.Contains(m, w) }) && !strings.Contains(m, "unsealed")
	var out []plan.Finding
	if f.Job.RubberRow.Chemistry == material.Addition {
		switch i := slices.IndexFunc(inhibitors, func(x struct{ word, why string }) bool { return strings.Contains(m, x.word) }); {
		case m == "":
			out = append(out, find("inhibition", plan.Note, nil, nil, "The job does not say what the master is made of; addition rubber is easily stopped from curing.",
				"Brush a dab of mix on a hidden spot first. Gummy after its time: seal the master."))
		case i >= 0:
			severity := plan.Should
			if closed {
				severity = plan.Note
			}
			out = append(out, find("inhibition", severity, nil, nil,
				fmt.Sprintf("A master of %s can stop this rubber from curing: %s.", f.Job.Master.Material, inhibitors[i].why),
				"Cure it out, wash and seal it, use sulphur-free clay and vinyl gloves, and test a dab on a hidden spot first."))
		}
	}
	if i := slices.IndexFunc(porous, func(w string) bool { return strings.Contains(m, w) }); i >= 0 && !closed {
		out = append(out, find("release", plan.Note, nil, nil, fmt.Sprintf("A master of %s drinks rubber.", f.Job.Master.Material),
			"Seal it with spray lacquer and let it dry a full day."))
	}
	return out
}

// Undercuts under this share of the master's volume are not told one by one.
const smallUndercut = 2e-4

// most is how many undercuts are told one by one.
const most = 12

// undercuts says what to do about each place of locked rubber; those that need
// a piece are bars of the split already.
func undercuts(f *Facts) []plan.Finding {
	type numbered struct {
		no int
		u  plan.Undercut
	}
	var told []numbered
	for i, u := range f.Split.Undercuts {
		if u.Action == nil || u.Volume < smallUndercut*f.Master.Volume || *u.Action == "piece" || *u.Action == "refuse" {
			continue
		}
		if *u.Action == "release" && (u.Strain == nil || f.Care <= 0 || *u.Strain <= f.Care) {
			continue // the rubber passes it without care
		}
		told = append(told, numbered{i + 1, u})
	}
	slices.SortStableFunc(told, func(a, b numbered) int { return cmp.Compare(b.u.Volume, a.u.Volume) })
	rest := 0
	if len(told) > most {
		rest, told = len(told)-most, told[:most]
	}
	var out []plan.Finding
	for _, t := range told {
		u := t.u
		x := find("undercut", plan.Should, u.Strain, nil, "", "")
		if f.Care > 0 {
			x.Limit = plan.Ptr(f.Care)
		}
		x.At = plan.Ptr(u.At)
		x.Say = fmt.Sprintf("This undercut holds %s of rubber, %.1f mm deep.", cubic(u.Volume), u.Depth)
		if u.Strain != nil {
			x.Say = fmt.Sprintf("This undercut, %.1f mm deep, stretches the rubber by %.0f %%.", u.Depth, 100**u.Strain)
		}
		switch *u.Action {
		case "clay":
			x.Do = "Fill it with clay before the bed is made, or leave it out of the master."
		case "trim":
			x.Do = "Trim the thin lip of rubber away once the half is cured."
		default:
			x.Do = "Peel the rubber off, do not pull it straight; let the casting cool first, hot rubber tears at half the stretch."
		}
		out = append(out, x)
	}
	if rest > 0 {
		out = append(out, find("undercut", plan.Should, plan.Ptr(float64(rest)), nil, fmt.Sprintf("%d smaller undercuts want care too.", rest), "They are listed with the split."))
	}
	return out
}

// oblique is the cosine to the nearest axis of the file under which a pull
// counts as oblique, 15 degrees; own figure.
const oblique = 0.966

// pieces says how such a piece is moulded in the trade where no two halves free
// it and the least bad pull runs askew: that split is nothing to build from.
func pieces(f *Facts) []plan.Finding {
	p := f.Split.Pull
	near := max(math.Abs(p[0]), math.Abs(p[1]), math.Abs(p[2]))
	barred := slices.ContainsFunc(f.Findings, func(x plan.Finding) bool { return x.Code == "needs-piece" && x.Severity == plan.Must })
	if !barred || near >= oblique || f.Job.Split.Pull != nil {
		return nil
	}
	return []plan.Finding{find("needs-piece", plan.Note, nil, nil,
		fmt.Sprintf("The best pull of two halves runs askew (%.2f, %.2f, %.2f) and still does not free the piece: do not build that split.", p[0]+0, p[1]+0, p[2]+0),
		"Part it in three, a cap for the face and two sides along its axis, or pour one piece of softer rubber round it and slit it down one hidden side.")}
}

// cubic writes a volume for a sentence.
func cubic(v float64) string {
	if v < 100 {
		return fmt.Sprintf("%.2g mm³", v)
	}
	return fmt.Sprintf("%.2g cm³", v/1000)
}

// seamFree is how near the line may come to a point that must not carry it, as
// a share of the master's longest side.
const seamFree = 0.02

// seam looks for a parting line that runs over a face the job wants to show.
func seam(f *Facts) []plan.Finding {
	if slices.ContainsFunc(f.Findings, func(x plan.Finding) bool { return x.Code == "seam" }) {
		return nil
	}
	limit := seamFree * max(f.Master.Size[0], f.Master.Size[1], f.Master.Size[2])
	var out []plan.Finding
	for _, p := range f.Job.Master.Show {
		d := math.Inf(1)
		for _, loop := range f.Split.Line {
			for k := range loop {
				d = min(d, toSegment(p, loop[k], loop[(k+1)%len(loop)]))
			}
		}
		if d < limit {
			x := find("seam", plan.Must, plan.Ptr(d), plan.Ptr(limit),
				fmt.Sprintf("The parting line passes %.1f mm from a face that is to show.", d),
				"Give another [split] pull, part this piece in three, or move the point under [master] show.")
			x.At = plan.Ptr(p)
			out = append(out, x)
		}
	}
	return out
}

// toSegment returns the distance of p from the segment a b.
func toSegment(p, a, b plan.P3) float64 {
	var ab, ap, q plan.P3
	dot, sq := 0.0, 0.0
	for k := range 3 {
		ab[k], ap[k] = b[k]-a[k], p[k]-a[k]
		dot += ab[k] * ap[k]
		sq += ab[k] * ab[k]
	}
	t := 0.0
	if sq > 0 {
		t = min(max(dot/sq, 0), 1)
	}
	s := 0.0
	for k := range 3 {
		q[k] = ap[k] - t*ab[k]
		s += q[k] * q[k]
	}
	return math.Sqrt(s)
}

// calipers asks for what a scan cannot know.
func calipers(f *Facts) []plan.Finding {
	m := &f.Job.Master
	if len(m.Control) > 0 || len(m.Thickness) > 0 || m.Mass != nil || slices.ContainsFunc(f.Findings, func(x plan.Finding) bool { return x.Code == "calipers" }) {
		return nil
	}
	return []plan.Finding{find("calipers", plan.Note, nil, nil, "No caliper length, mass or thickness: a scan misses the scale by 1 to 3 % and thickens thin parts.",
		"Measure one length, the mass and the thinnest places; write them under [master] control, mass, thickness.")}
}
