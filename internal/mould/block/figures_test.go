package block

import (
	"math"
	"strings"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/sculpt"
)

// by are the formulas of the figures, written anew from their own words; in
// hands out an input by its name with the unit.
var by = map[string]func(in func(string) float64) float64{
	"head over a thin end": func(in func(string) float64) float64 {
		return 2e6 * in("gamma, N/m") * (1/in("t, mm") + 1/in("w, mm")) / (in("rho, kg/m3") * 9.80665)
	},
	"rim over the casting's top for that end": func(in func(string) float64) float64 { return max(0, in("y, mm")+in("head, mm")+3) },
	"fill time wanted": func(in func(string) float64) float64 {
		half := in("t, mm") / 2
		return max(min(max(in("Freeze, s/mm2")*half*half/6, 0.4), 4), in("volume, mm3")/1000/in("ladle_rate, cm3/s"))
	},
	"cup volume": func(in func(string) float64) float64 {
		ab, r := in("a, mm")*in("b, mm"), in("r, mm")
		return math.Pi * in("d, mm") * (ab + math.Sqrt(ab)*r + r*r) / 3
	},
	"ingate area wanted": func(in func(string) float64) float64 {
		p, q := math.Sqrt(in("h1, mm")), math.Sqrt(in("h2, mm"))
		return (in("V_below, mm3")/p + 2*in("V_above, mm3")/(p+q)) / (in("C_d") * in("fill_time, s") * math.Sqrt(2*9806.65))
	},
	"ingate area":               func(in func(string) float64) float64 { return math.Pi * in("a, mm") * in("b, mm") * in("share") },
	"volume change on freezing": func(in func(string) float64) float64 { return in("rho_liquid, kg/m3")/in("rho_solid, kg/m3") - 1 },
	"charge of one cavity, before the block is built": func(in func(string) float64) float64 {
		return in("volume, mm3") * in("rho, kg/m3") * 1e-6
	},
	"opening force": func(in func(string) float64) float64 {
		return in("rho, kg/m3") * 9.80665 * in("mean depth, mm") * 1e-3 * in("area, mm2") * 1e-6
	},
	"clamp force": func(in func(string) float64) float64 { return in("times") * in("opening force, N") },
	"squeeze": func(in func(string) float64) float64 {
		return in("force, N") / (in("rubber, mm2") * 1e-6 * in("E, Pa")) * in("thickness, mm")
	},
	"gap that metal enters": func(in func(string) float64) float64 {
		return 2e6 * in("gamma, N/m") * in("cos") / (in("rho, kg/m3") * 9.80665 * in("h, mm"))
	},
	"vent slit that does not flood, at the lowest cut": func(in func(string) float64) float64 {
		return 2e6 * in("gamma, N/m") * in("cos") / (in("rho, kg/m3") * 9.80665 * in("h, mm"))
	},
	"hanging bore that metal bridges, under": func(in func(string) float64) float64 {
		return 2000 * math.Sqrt(0.842*in("gamma, N/m")/(in("rho, kg/m3")*9.80665))
	},
	"board deflexion": func(in func(string) float64) float64 {
		return 5 * in("q, Pa") * math.Pow(in("L, mm")*1e-3, 4) / (384 * in("E, Pa") * math.Pow(in("t, mm")*1e-3, 3) / 12) * 1000
	},
	"flow-off, metal shows below the rim by": func(in func(string) float64) float64 {
		return 4e6*in("gamma, N/m")/(in("rho, kg/m3")*9.80665*in("d, mm")) + 3
	},
	"feeder": func(in func(string) float64) float64 { return in("diameter, mm") / 4 },
}

// measured are the figures that are taken off the geometry, by the start of
// their names; no inputs give them.
var measured = []string{"block side, ", "keys in the way of half 2", "air left "}

// Every figure of a layout is what its formula gives for the inputs it states,
// with the units in the inputs' names.
func TestFiguresAreWhatTheirInputsGive(t *testing.T) {
	seen := map[string]bool{}
	hung := sculpt.Hanging(15, 12, 3, 20, 32).Mesh.Into(vec.Frame{X: vec.V3{X: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{Y: -1}})
	for name, l := range map[string]*Layout{
		"box": layOut(t, sculpt.Box(60, 40, 20).Mesh, Demand{}), "plate": layOut(t, sculpt.Box(60, 32, 1.5).Mesh, Demand{Shore: 20, LadleRate: 20}),
		"torus": layOut(t, sculpt.Torus(22, 5, 64, 24).Mesh, Demand{Cavities: 2, MastersInHand: 2}), "hanging": layOut(t, hung, Demand{Tension: 0.38, DensityLiquid: 8500}),
		"u": layOut(t, sculpt.U(8, 20, 30, 22, 8).Mesh.Into(vec.Frame{X: vec.V3{X: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{Y: -1}}), Demand{}),
	} {
		for _, f := range l.Figures {
			skip := false
			for _, s := range measured {
				skip = skip || strings.HasPrefix(f.Name, s)
			}
			if skip {
				continue
			}
			formula := by[f.Name]
			if formula == nil {
				t.Errorf("%s: no formula for %q", name, f.Name)
				continue
			}
			seen[f.Name] = true
			got := formula(func(k string) float64 {
				x, ok := f.Inputs[k]
				if !ok {
					t.Errorf("%s: %q has no input %q: %v", name, f.Name, k, f.Inputs)
				}
				return x
			})
			if math.Abs(got-f.Value) > 1e-9*math.Abs(f.Value)+1e-12 {
				t.Errorf("%s: %s is %.12g, its inputs give %.12g", name, f.Name, f.Value, got)
			}
		}
	}
	for name := range by {
		if !seen[name] && name != "feeder" {
			t.Errorf("no layout has the figure %q", name)
		}
	}
}
