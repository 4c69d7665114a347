package judge

import (
	"fmt"
	"strconv"

	"pourwright/internal/book/plan"
)

// Limits by weight share, with where they stand (figures as seen in sources
// dated up to 2024; the current text counts).
const (
	leadToy       = 0.0001 // 100 mg/kg in what a child can reach, US CPSIA
	leadFood      = 0.0005 // lead-free in the sense of the US Food Code 4-101.13(B)
	leadJewellery = 0.0005 // EU REACH annex XVII entry 63
	leadFishing   = 0.001  // UK since 1986/87 for weights of 0.06-28.35 g; wider bans are planned
	leadTell      = 0.001  // EU REACH article 33, duty to inform
	cadmiumMost   = 0.0001 // EU REACH annex XVII entry 23, for jewellery metal
)

func find(code, severity string, computed, limit *float64, say, do string) plan.Finding {
	return plan.Finding{Code: code, Severity: severity, Computed: computed, Limit: limit, Say: say, Do: do}
}

// percent writes a share for a sentence.
func percent(x float64) string { return strconv.FormatFloat(100*x, 'g', 3, 64) + " %" }

// use refuses or warns by what the castings are for.
func use(f *Facts) []plan.Finding {
	a, to := &f.Job.AlloyRow, f.Job.Order.Use
	lead, cadmium := a.Share("Pb"), a.Share("Cd")
	var out []plan.Finding
	if cadmium > cadmiumMost {
		out = append(out, find("alloy-use", plan.Must, plan.Ptr(cadmium), plan.Ptr(cadmiumMost),
			fmt.Sprintf("%s holds %s of cadmium, a carcinogen: its fume and dust harm.", a.Name, percent(cadmium)),
			"Take an alloy without cadmium. For bench metal that never leaves the shop, look up the local rules first."))
	}
	refuse := func(limit float64, why string) {
		if lead > limit {
			out = append(out, find("alloy-use", plan.Must, plan.Ptr(lead), plan.Ptr(limit),
				fmt.Sprintf("%s holds %s of lead; %s", a.Name, percent(lead), why), "Take a lead-free alloy: certified pewter, tin or bismuth-tin."))
		}
	}
	switch to {
	case "toy":
		refuse(leadToy, "a toy may hold 0.01 % (US CPSIA; EN 71-3 by migration).")
		out = append(out, find("alloy-use", plan.Should, nil, nil, toySay(a.Share("Sb")),
			"Have it tested (EN 71-3, ASTM F963 or CPSIA) and keep certificate and batch, or mark it: not a toy."))
	case "food":
		refuse(leadFood, "metal that touches food may hold 0.05 % (US Food Code).")
		if sb := a.Share("Sb"); sb > 0 {
			out = append(out, find("alloy-use", plan.Should, plan.Ptr(sb), nil,
				fmt.Sprintf("%s of antimony: the Council of Europe's guide allows 0.04 mg of it in 1 kg of food.", percent(sb)),
				"Have a migration test made, or take pure tin. Mark it not for food until then."))
		}
	case "jewellery":
		refuse(leadJewellery, "jewellery may hold 0.05 % (EU REACH XVII, entry 63).")
	case "fishing":
		refuse(leadFishing, fishingSay(f.CastingMass))
	case "decor":
		if lead > leadTell {
			out = append(out, find("alloy-use", plan.Should, plan.Ptr(lead), plan.Ptr(leadTell),
				fmt.Sprintf("%s holds %s of lead: what a child may mouth must not be of it, and the buyer must be told.", a.Name, percent(lead)),
				"Keep it off the table and out of children's hands, write it on the label, air the shop and wash hands."))
		}
	}
	return out
}

func toySay(antimony float64) string {
	if antimony > 0 {
		return fmt.Sprintf("A toy wants testing: small parts, edges, and %s of antimony by migration (EN 71-3: 560 mg/kg).", percent(antimony))
	}
	return "A toy wants testing: small parts, edges and what the metal gives off (EN 71-3)."
}

func fishingSay(mass float64) string {
	const rule = "lead weights of 0.06 to 28.35 g for lines are forbidden in the UK, wider bans are planned in the EU"
	if mass > 28.35 {
		return rule + fmt.Sprintf("; these weigh %.0f g.", mass)
	}
	return rule + "."
}

// origin asks for a certificate where lead would matter.
func origin(f *Facts) []plan.Finding {
	to := f.Job.Order.Use
	strict := to == "toy" || to == "food" || to == "jewellery"
	const scrap = "Old pewter and scrap count as leaded until certified."
	switch f.Job.Alloy.Origin {
	case "certified":
		if strict && f.Job.Alloy.Lead == nil {
			return []plan.Finding{find("alloy-origin", plan.Note, nil, nil, "The certificate is not quoted.",
				"Write its lead under [alloy] lead, in percent, and keep it with the batch.")}
		}
		return nil
	case "returns":
		if strict {
			return []plan.Finding{find("alloy-origin", plan.Should, nil, nil, "Returns drift and may have met other metal.",
				"Melt them only with certified metal of the same bin, at least a third of it new.")}
		}
		return []plan.Finding{find("alloy-origin", plan.Note, nil, nil, "Returns lose tin with every skim.",
			"Keep a third to a half of new metal in each melt, one bin for each alloy.")}
	case "unknown":
		return []plan.Finding{find("alloy-origin", plan.Should, nil, nil, "Nobody knows this metal. "+scrap,
			"Weigh it in water: lead-free pewter has about 7.25 g/cm3, leaded more. A pass is no certificate.")}
	}
	if strict {
		return []plan.Finding{find("alloy-origin", plan.Should, nil, nil, "The job does not say where the metal comes from. "+scrap,
			"Get a certificate and write [alloy] origin = \"certified\".")}
	}
	return []plan.Finding{find("alloy-origin", plan.Note, nil, nil, "The job does not say where the metal comes from.",
		"Write [alloy] origin: certified, returns or unknown.")}
}
