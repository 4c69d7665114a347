package rig

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

const method = "3D conduction with phase change (enthalpy method, Voller & Cross 1981, from memory); docs/numerics/heat.md"

// Figures returns the computed figures for the plan, each with what it was
// computed from.
func Figures(d *pour.Doc) []plan.Figure {
	s, f := &d.Setting, &d.Freeze
	if !f.Computed {
		return nil
	}
	in := func() map[string]float64 {
		return map[string]float64{"cell, mm": *f.Cell, "metal, °C": s.Metal, "mould, °C": s.Mould, "room, °C": s.Room,
			"rubber conductivity, W/(m K)": s.Rubber.Conductivity, "contact, W/(m2 K)": s.Contact}
	}
	var r []plan.Figure
	add := func(name string, x *float64, unit, formula string) {
		if x != nil {
			r = append(r, plan.Figure{Name: name, Value: *x, Unit: unit, Formula: formula, Inputs: in(), Source: method})
		}
	}
	add("solid after, computed", f.SolidAfter, "s", "first moment without liquid anywhere")
	add("open after, computed", f.OpenAfter, "s", "first moment with every point 20 K and a twentieth of its absolute temperature under the solidus")
	add("temperature when opened, computed", f.OpenTemperature, "°C", "hottest point of the casting when opened")
	add("touch after, computed", f.TouchAfter, "s", "cooled in still air to 51 °C, ISO 13732-1 for a contact of 1 min")
	add("hottest rubber, computed", f.RubberPeak, "°C", "hottest face of the rubber in the first shot")
	add("unfed volume, computed", f.UnfedVolume, "mm3", "liquid cut off from cup and feeders x change of volume in freezing")
	if d.Cycle.Computed {
		add("rest, computed", d.Cycle.Rest, "s", "rest with the shortest cycle, no mould poured above 93 °C and no rubber above its rating")
		add("shots an hour, computed", d.Cycle.ShotsPerHour, "1/h", "moulds served in turn by one caster")
	}
	return r
}

const fillMethod = "3D free-surface flow by an ensemble of hands, medians; docs/numerics/fill.md and pouring.md"

// FillFigures returns the figures of a computed filling for the plan.
func FillFigures(s *pour.Setting, f *pour.Filling) []plan.Figure {
	var r []plan.Figure
	m := &f.Middle
	add := func(name string, x pour.Spread, unit, formula string) {
		in := map[string]float64{"cell, mm": f.Runs[0].Cell, "metal, °C": s.Metal, "mould, °C": s.Mould, "rate, cm3/s": f.Rate / 1e3, "height, mm": s.Pouring.Height,
			"pours": float64(len(f.Runs)), "least": x.Low, "most": x.High}
		r = append(r, plan.Figure{Name: name, Value: x.Median, Unit: unit, Formula: formula, Inputs: in, Source: fillMethod})
	}
	add("filled after, computed", m.Time, "s", "until the cavity holds all but a two hundredth of what it holds in the end")
	add("filled share, computed", m.Filled, "", "metal over the volume that metal can fill")
	add("filled share of the castings, computed", m.Castings, "", "the same of what lies below the cups")
	add("trapped share, computed", m.Trapped, "", "air that stays over the volume that metal can fill")
	add("fastest front, computed", m.Fastest, "mm/s", "95 % quantile over the volume that it passed")
	if c := m.Coldest; c != nil {
		add("coldest metal, computed", *c, "°C", "coldest cell at least half full when the pour has ended")
	}
	return r
}

// Findings returns what the computed pour has to say. frame is the block's.
func Findings(d *pour.Doc, frame vec.Frame) []plan.Finding {
	var r []plan.Finding
	f := &d.Freeze
	if !f.Computed {
		return nil
	}
	at := func(p *plan.P3) *plan.P3 {
		if p == nil {
			return nil
		}
		return plan.Ptr(frame.From(vec.FromArray(*p)).Array())
	}
	if f.OpenAfter == nil {
		r = append(r, plan.Finding{Code: "mould-hot", Severity: plan.Must, At: at(f.LastPlace),
			Say: "Computed, the first casting cannot be lifted within an hour.", Do: "Start with a cooler mould, or take a smaller casting in more rubber."})
		return r
	}
	if n := len(d.Grids); n > 0 {
		g := d.Grids[n-1]
		if v := float64(g.MetalCells) * g.Cell * g.Cell * g.Cell; g.Lost > lostMost*v {
			r = append(r, plan.Finding{Code: "not-computed", Severity: plan.Note, Computed: plan.Ptr(g.Lost / v), Limit: plan.Ptr(lostMost),
				Say: sprint("Parts thinner than the cells of %.2g mm were left out of the computed freezing.", g.Cell), Do: "Compute the pour again with smaller cells: pourwright pour DIR --cell."})
		}
	}
	rating := d.Setting.Rubber.Rating
	if p := f.RubberPeak; p != nil && *p > rating {
		say := sprint("Computed, the rubber reaches %.0f °C; it stands %.0f.", *p, rating)
		if t := d.Rubber.OverFor; t != nil && *t > 0 {
			say = sprint("Computed, the rubber reaches %.0f °C and stays over its rating of %.0f for up to %.0f s.", *p, rating, *t)
		}
		r = append(r, plan.Finding{Code: "too-hot", Severity: plan.Should, At: at(d.Rubber.PeakAt), Computed: p, Limit: &rating,
			Say: say, Do: "Pour cooler, or take a rubber filled for heat; the mould's life is short as it is."})
	}
	for _, i := range d.Islands {
		if math.Abs(i.Unfed) < unfedLeast {
			continue
		}
		q := plan.P3(i.At)
		x := plan.Finding{Code: "feeder", Severity: plan.Note, At: at(&q), Computed: plan.Ptr(i.Unfed)}
		if i.Unfed > 0 {
			x.Say = sprint("Computed, %.2g cm3 of metal is cut off here %.0f s after the pour and comes out short by %.0f mm3: a sink or pores.", i.Liquid/1000, i.After, i.Unfed)
			x.Do = "Where that shows, feed this place: a wider gate, a feeder on it, or the piece the other way up."
		} else {
			x.Say = sprint("Computed, %.2g cm3 of metal is cut off here %.0f s after the pour; this alloy grows by %.0f mm3 in it.", i.Liquid/1000, i.After, -i.Unfed)
			x.Do = "Clamp firmly: the halves are pressed apart here."
		}
		r = append(r, x)
	}
	if !d.Cycle.Computed && len(d.Rests) > 0 {
		x := d.Rests[len(d.Rests)-1]
		r = append(r, plan.Finding{Code: "mould-hot", Severity: plan.Should,
			Say: "Computed, no rest keeps this mould going: " + x.How + ", " + x.Why + ".", Do: "Let it cool wholly between shots, or use several moulds in turn."})
	}
	return r
}

// lostMost is the share of the metal that may be lost in thin parts without a word.
const lostMost = 0.01

// unfedLeast is the least volume that is worth a word, mm3: a pore of 2 mm.
const unfedLeast = 5
