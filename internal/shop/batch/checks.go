package batch

import (
	"fmt"
	"math"
	"strconv"

	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
)

func say(format string, args ...any) string { return fmt.Sprintf(format, args...) }

// whole and one write numbers for a sentence.
func whole(x float64) string { return strconv.FormatFloat(math.Round(x), 'f', 0, 64) }
func one(x float64) string   { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }

func (m *maker) find(code, severity string, computed, limit *float64, text, do string) {
	m.out.Findings = append(m.out.Findings, plan.Finding{Code: code, Severity: severity, Computed: computed, Limit: limit, Say: text, Do: do})
}

// checks compares the figures with what bench and materials stand.
func (m *maker) checks() {
	m.heat()
	m.mixing()
	m.damp()
	m.melting()
	m.tolerance()
}

// heat: never hotter than the rubber stands, never a mould that does not
// freeze the metal.
func (m *maker) heat() {
	r, h := m.r.Rating.X, m.heats
	switch {
	case h.TooHot && h.PourForced:
		m.find("too-hot", plan.Must, plan.Ptr(h.Pour), plan.Ptr(r),
			say("Metal of %s °C burns this rubber: it stands %s.", whole(h.Pour), whole(r)),
			"Pour cooler, or take a rubber filled for heat.")
	case h.TooHot:
		m.find("too-hot", plan.Must, plan.Ptr(h.Least), plan.Ptr(r),
			say("%s pours from %s °C; this rubber stands %s.", m.a.Name, whole(h.Least), whole(r)),
			"Take a rubber filled for heat, or an alloy that melts lower. The rating on the rubber's own sheet overrules the table.")
	case h.HeldDown:
		m.find("too-hot", plan.Should, plan.Ptr(h.Pour), plan.Ptr(r),
			say("The rubber holds the metal down to %s °C; thin ends may stay short.", whole(h.Pour)),
			"Warm the mould first. Read the rating from the rubber's own sheet and put it under [rubber] rating.")
	case h.PourForced && h.Pour < h.Least:
		m.find("thin", plan.Should, plan.Ptr(h.Pour), plan.Ptr(h.Least),
			say("Metal of %s °C is barely liquid.", whole(h.Pour)), say("Pour at %s °C or above.", whole(up(h.Least, 5))))
	}
	tf := freezing(m.a)
	if m.s.mould > tf-15 {
		m.find("mould-hot", plan.Must, plan.Ptr(m.s.mould), plan.Ptr(tf-15),
			say("A mould of %s °C does not freeze %s, which is solid at %s.", whole(m.s.mould), m.a.Name, whole(m.a.Solidus.X)),
			"Start with a cooler mould: [bench] mould_c.")
	} else if m.s.mould > 93 {
		m.find("mould-hot", plan.Should, plan.Ptr(m.s.mould), plan.Ptr(93.0),
			say("The mould starts at %s °C; practice stays under 93.", whole(m.s.mould)), "Let it rest. Expect frost, sinks and a long wait.")
	}
	if c := m.out.Cycle.Rest; c != nil && *c > 1800 {
		m.find("mould-hot", plan.Note, plan.Ptr(*c), plan.Ptr(1800.0),
			say("The mould rests about %s min after each shot.", whole(math.Ceil(*c/60))),
			"Turn two or three moulds, open them and use a fan.")
	}
}

// mixing: scale, pot life, vacuum pot.
func (m *maker) mixing() {
	least := LeastMix(m.r.Hardener.X, m.s.stepB).Value
	for k, h := range m.out.Rubber.Halves {
		if h.MassMix < least-1e-9 {
			f := plan.Finding{Code: "scale", Severity: plan.Should, Half: plan.Ptr(k + 1), Computed: plan.Ptr(m.s.stepB / h.Parts.B), Limit: plan.Ptr(RatioTolerance),
				Say: say("A scale of %s g is %s %% off on %s g of part B.", trim(m.s.stepB), whole(100*m.s.stepB/h.Parts.B), trim(h.Parts.B)),
				Do:  "Weigh part B in its own small cup on a finer scale, or by syringe with the density of its sheet."}
			m.out.Findings = append(m.out.Findings, f)
		}
	}
	work := Stir + 300.0 // stir, then scrape, tip over and pour
	if m.s.pump {
		work += 600
	}
	if p := m.out.Rubber.PotLife; p < work {
		m.find("pot-life", plan.Must, plan.Ptr(p), plan.Ptr(work),
			say("The mix sets in %s min; stirring, airing and pouring take %s.", whole(p/60), whole(work/60)),
			"Cool the room or the parts, take a slower hardener, or mix a half in two lots.")
	}
	if m.s.room < material.CureCold || m.s.room > material.CureWarm {
		m.find("pot-life", plan.Should, plan.Ptr(m.s.room), plan.Ptr(math.Min(math.Max(m.s.room, material.CureCold), material.CureWarm)),
			say("The room has %s °C; times of cure are known between 18 and 30.", whole(m.s.room)),
			"Bring the room between 18 and 30 °C. The witness cup overrules any clock.")
	}
	if m.s.room > 30 && m.out.Bench.Condensation {
		m.find("rubber-batch", plan.Note, plan.Ptr(m.s.room), nil, "Condensation rubber needs moisture and no forcing.", "Do not cure it above 60 °C.")
	}
	if m.s.hasPot {
		if have, need := *m.in.Job.Bench.VacuumPot, m.out.Rubber.VacuumPot; have < need {
			lots := math.Ceil(need/have - 1e-9)
			m.find("vacuum", plan.Should, plan.Ptr(have), plan.Ptr(need),
				say("The pot holds %s l; the mix needs %s l to rise.", one(have), one(need)),
				say("Air the larger half in %s lots, one soon after the other.", whole(lots)))
		}
	}
	if g := m.out.Bench.Growth; g > 0 && g < GrowthWanted {
		m.find("vacuum", plan.Should, plan.Ptr(g), plan.Ptr(GrowthWanted),
			say("The pump makes bubbles %s times larger: they grow but do not break.", one(g)),
			"Pump lower, or leave the pump off: brush a first coat, pour thin from high up, let it stand.")
	}
	if !m.s.pump {
		m.find("vacuum", plan.Note, nil, nil, "No pump on the bench.",
			"Stir slowly, tip into a clean cup, brush a first coat on the master, pour a thin stream from high up into the lowest corner, tap for 3 to 5 min.")
	}
}

func trim(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }

// melting: ladle and pot.
func (m *maker) melting() {
	o := &m.out.Metal
	if l := m.in.Job.Bench.Ladle; l != nil && o.ChargeMass > LadleShare**l {
		m.find("ladle", plan.Should, plan.Ptr(o.ChargeMass), plan.Ptr(LadleShare**l),
			say("One shot takes %s g, a ladle of %s g carries %s safely.", whole(math.Ceil(o.ChargeMass)), whole(*l), whole(LadleShare**l)),
			"Take a larger ladle or a smaller block. Two pours one after the other do not weld.")
	}
	if p := m.in.Job.Bench.MeltingPot; p != nil && o.ChargeMass > LadleShare**p*1000 {
		m.find("ladle", plan.Must, plan.Ptr(o.ChargeMass), plan.Ptr(LadleShare**p*1000),
			say("One shot takes %s g, a pot of %s kg melts %s.", whole(math.Ceil(o.ChargeMass)), one(*p), whole(LadleShare**p*1000)),
			"Melt in a larger pot, or lay out fewer cavities.")
	}
	if m.a.FreezingChange.X > 0.002 {
		m.find("release", plan.Note, plan.Ptr(m.a.FreezingChange.X), plan.Ptr(0.0),
			say("This alloy grows %s %% on freezing.", one(100*m.a.FreezingChange.X)), "Expect tight undercuts; open while it is warm.")
	}
}

// tolerance: net size against ISO 8062-3. Grades 4 to 6 are what hand casting
// is asked for at most; a difference beyond grade 9 wants an allowance.
func (m *maker) tolerance() {
	var net, off, grade float64
	for _, f := range m.out.Figures {
		switch f.Name {
		case "net shrinkage":
			net = f.Value
		case "longest dimension against the master":
			off = f.Value
		case "dimensional grade DCTG, without an allowance on the master":
			grade = f.Value
		}
	}
	if grade > 6 {
		word := "smaller"
		if off > 0 {
			word = "larger"
		}
		m.find("tolerance", plan.Note, plan.Ptr(grade), plan.Ptr(6.0),
			say("Castings come out about %s %% %s than the master, %s mm over the longest side: DCTG %s.", one(100*math.Abs(net)), word, one(math.Abs(off)), whole(grade)),
			"Where size counts, scale the master by that much, or agree on the grade.")
	}
}
