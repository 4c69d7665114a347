package drawing

import (
	"math"
	"regexp"
	"sort"
	"strings"

	"pourwright/internal/book/plan"
)

// inputsWords lists the inputs of a figure with their units, which stand behind
// the last comma of their names; one without is a number. A symbol
// that stands in the formula is written as it stands there.
func inputsWords(g plan.Figure) string {
	keys := make([]string, 0, len(g.Inputs))
	for k := range g.Inputs {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	s := ""
	for i, k := range keys {
		if i > 0 {
			s += ", "
		}
		key, unit := k, ""
		if j := strings.LastIndex(k, ", "); j > 0 {
			key, unit = k[:j], inputUnit(k[j+2:])
		}
		name := clean(key)
		if !strings.Contains(g.Formula, key) {
			name = sayInput(key)
		}
		s += celsius(name) + nb + withUnit(g.Inputs[k], unit)
	}
	return s
}

// inputUnit writes the unit behind an input's name as it is read; shares are
// said in per cent.
func inputUnit(s string) string {
	switch s {
	case "C":
		return "°C"
	case "share":
		return "%"
	case "W s^0.5/m2K":
		return "W√s/m²K"
	}
	return strings.ReplaceAll(raised(s), "m2K", "m²K")
}

// withUnit says a value of any kind to three figures that count with its unit;
// pascals from a thousand on in kPa or MPa, shares in per cent.
func withUnit(x float64, unit string) string {
	switch a := math.Abs(x); {
	case unit == "":
		return plain(x)
	case unit == "%":
		x *= 100
	case unit == "Pa" && a >= 1e6:
		x, unit = x/1e6, "MPa"
	case unit == "Pa" && a >= 1e3:
		x, unit = x/1e3, "kPa"
	}
	return plain(x) + nb + unit
}

// figureValue says the value of a figure as its reader needs it: seconds in
// the unit that fits, volumes from a cm3 on in cm3, masses from 10 kg on in kg.
func figureValue(g plan.Figure) string {
	switch u := raised(clean(g.Unit)); {
	case u == "" || u == "1":
		return plain(g.Value)
	case u == "C":
		return plain(g.Value) + nb + "°C"
	case u == "s":
		return seconds(g.Value)
	case u == "share":
		if p := 100 * g.Value; math.Abs(p) < 9.95 {
			return trimmed(p) + nb + "%"
		}
		return Share(g.Value)
	case u == "mm³" && math.Abs(g.Value) >= 1000:
		return plain(g.Value/1000) + nb + "cm³"
	case u == "g" && math.Abs(g.Value) >= 10000:
		return plain(g.Value/1000) + nb + "kg"
	case u == "Pa":
		return withUnit(g.Value, u)
	default:
		return plain(g.Value) + nb + u
	}
}

// sideOf splits the figure of a side of the block into the side and the rule
// that sets it; ok is false for all other figures.
func sideOf(g plan.Figure) (side, rule string, ok bool) {
	side, ok = strings.CutPrefix(g.Name, "block side, ")
	if !ok {
		return "", "", false
	}
	_, rule, ok = strings.Cut(g.Formula, "the farthest that the rules ask: ")
	if !ok {
		return "", "", false
	}
	rule, _, _ = strings.Cut(rule, ";")
	side, _, _ = strings.Cut(side, " (")
	return clean(side), clean(rule), true
}

// sideRows lists the sides of the block, the rubber there and the rule.
func (in *Input) sideRows() [][]string {
	var rows [][]string
	for _, g := range in.Plan.Figures {
		if side, rule, ok := sideOf(g); ok {
			rows = append(rows, []string{side, strong(Built(g.Value) + nb + "mm"), rule})
		}
	}
	return rows
}

// sideTable sets the sides of the block with the rule that sets each.
func (c *card) sideTable(f *flow) {
	rows := c.in.sideRows()
	if len(rows) == 0 {
		return
	}
	f.heading("What sets the block", "seen from above; one mm less on any side breaks its rule")
	w := f.x1 - f.x0
	f.tableIn(size{9.6, 4.2}, []column{{head: "Side", wide: 36}, {head: "Wide", wide: 20, right: true}, {head: "Rule", wide: w - 56}}, rows)
}

// celsius writes the degree before a C behind a figure.
func celsius(s string) string { return degrees.ReplaceAllString(s, "$1"+nb+"°C") }

var (
	degrees = regexp.MustCompile(`(\d) C\b`)
	spans   = regexp.MustCompile(`(\d(?:\.\d+)?)-(\d+(?:\.\d+)?) (mm|g|g/cm|times|shots|%|°C)`)
)

// sourced writes a source as one reads it: degrees and spans of figures.
func sourced(s string) string {
	return raised(spans.ReplaceAllString(celsius(s), "$1–$2 $3"))
}
