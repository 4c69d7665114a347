package drawing

import (
	"math"
	"regexp"
	"sort"
	"strings"

	"pourwright/internal/book/plan"
)

// inputUnits are the units of the inputs of figures by their names. Where a
// name means different things in different figures, unitsIn overrules by the
// figure's name. A name that stands in neither is a number without a unit.
var inputUnits = map[string]string{
	"gamma": "N/m", "rho": "kg/m³", "rho_liquid": "kg/m³", "rho_solid": "kg/m³", "density": "kg/m³",
	"t": "mm", "w": "mm", "x": "mm", "y": "mm", "z": "mm", "a": "mm", "b": "mm", "d": "mm", "r": "mm", "h1": "mm", "h2": "mm", "h": "mm",
	"at": "mm", "head": "mm", "size": "mm", "difference": "mm", "modulus": "mm", "depth": "mm", "deepest": "mm", "span": "mm", "thickness": "mm",
	"area": "mm²", "rubber": "mm²", "volume": "mm³", "all volumes": "mm³", "limit": "mm³",
	"Freeze": "s/mm²", "constant": "s/mm²", "ladle_rate": "cm³/s", "E": "Pa", "q": "Pa",
	"net": "g", "step": "g", "mix": "g", "part B": "g", "mass": "g", "charge": "g", "casting": "g", "castings": "", "ladle": "g", "hardener": "g/g",
	"time": "s", "fill_time": "s", "at 23 C": "s", "time constant": "s", "thinnest section solid": "s", "cycle": "s", "cure": "s", "dry": "s",
	"flows": "°C", "rating": "°C", "freezing": "°C", "mould": "°C", "room": "°C", "warm": "°C",
	"superheat": "K", "cooling": "K", "rise": "K",
	"c_l": "J/kgK", "c_s": "J/kgK", "heat capacity": "J/kgK", "latent": "J/kg", "enthalpy when opened": "J/kg", "enthalpy when poured": "J/kg",
	"heat": "J", "conductivity": "W/mK", "effusivity": "W√s/m²K",
	"contraction": "%", "expansion": "%", "shrink": "%", "reject": "%",
	"outside": "mbar", "pot": "mbar", "gauge": "mbar", "altitude": "m", "speed": "l/min", "shots an hour": "1/h",
}

var unitsIn = map[string]map[string]string{
	"cup volume":                           {"wanted": "mm³"},
	"ingate area":                          {"wanted": "mm²"},
	"pump down, at least":                  {"volume": "l"},
	"pot life in this room":                {"d": "K"},
	"cure of one half in this room":        {"d": "K"},
	"cooling, closed":                      {"h": "W/m²K"},
	"cooling, opened":                      {"h": "W/m²K"},
	"cooling, opened, with a fan":          {"h": "W/m²K"},
	"longest dimension against the master": {"net": "%"},
	"yield":                                {"castings": "g"},
}

// inputsWords lists the inputs of a figure by name with their units. A symbol
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
		unit, ok := unitsIn[g.Name][k]
		if !ok {
			unit = inputUnits[k]
		}
		name := clean(k)
		if !strings.Contains(g.Formula, k) {
			name = sayInput(k)
		}
		s += celsius(name) + nb + withUnit(g.Inputs[k], unit)
	}
	return s
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
