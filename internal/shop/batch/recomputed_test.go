package batch

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
)

// by are the formulas of the figures, written anew from their own words; in
// hands out an input by its name with the unit. Names without their number of
// the half.
var by = map[string]func(in func(string) float64) float64{
	"rubber of half":      func(in func(string) float64) float64 { return in("volume, mm3") / 1e9 * in("density, kg/m3") * 1000 },
	"mix wanted for half": func(in func(string) float64) float64 { return 1.05*in("net, g") + 10 },
	"part B for half": func(in func(string) float64) float64 {
		h, s := in("hardener, g/g"), in("step, g")
		return max(s, math.Round(in("wanted, g")*h/(1+h)/s)*s)
	},
	"part A for half": func(in func(string) float64) float64 {
		s := in("step, g")
		return max(s, math.Ceil((in("wanted, g")-in("part B, g"))/s-1e-9)*s)
	},
	"mix for half":                      func(in func(string) float64) float64 { return in("part A, g") + in("part B, g") },
	"error of part B, half":             func(in func(string) float64) float64 { return in("step, g") / in("part B, g") },
	"smallest mix this scale can weigh": func(in func(string) float64) float64 { return in("step, g") / 0.05 * (1/in("hardener, g/g") + 1) },
	"clay for the bed":                  func(in func(string) float64) float64 { return in("volume, mm3") / 1000 * 1.7 },
	"clay to seal the walls": func(in func(string) float64) float64 {
		return (2*in("x, mm") + 2*in("y, mm") + 4*in("z, mm")) * 50 / 1000 * 1.7
	},
	"clay for walls of clay": func(in func(string) float64) float64 {
		return 2 * (in("x, mm") + in("y, mm") + 20) * (in("z, mm") + 10) * 10 / 1000 * 1.7
	},
	"vacuum pot and cup, at least": func(in func(string) float64) float64 { return 4 * in("mix, g") / in("density, kg/m3") },
	"first coat by brush":          func(in func(string) float64) float64 { return in("area, mm2") * 1e-9 * in("density, kg/m3") * 1000 },
	"smallest bubble that rises out without a pump": func(in func(string) float64) float64 {
		return 1000 * math.Sqrt(18*20*in("depth, mm")/1000/(in("density, kg/m3")*9.80665*in("time, s")))
	},
	"air pressure at this altitude": func(in func(string) float64) float64 {
		return 1013.25 * math.Pow(1-2.25577e-5*in("altitude, m"), 5.25588)
	},
	"pressure in the pot":            func(in func(string) float64) float64 { return in("outside, mbar") - in("gauge, mbar") },
	"growth of bubbles under vacuum": func(in func(string) float64) float64 { return in("outside, mbar") / in("pot, mbar") },
	"pump down, at least": func(in func(string) float64) float64 {
		return in("volume, l") / (in("speed, l/min") / 60) * math.Log(in("outside, mbar")/in("pot, mbar"))
	},
	"stress in the lid": func(in func(string) float64) float64 {
		r := in("span, mm") / 2 / in("t, mm")
		return 3. / 8 * (3 + in("nu")) * in("q, Pa") * r * r
	},
	"sag of the lid": func(in func(string) float64) float64 {
		a, h, nu := in("span, mm")/2, in("t, mm"), in("nu")
		return (5 + nu) * in("q, Pa") * math.Pow(a, 4) * 12 * (1 - nu*nu) / (64 * (1 + nu) * 3e9 * h * h * h)
	},
	"pot life in this room":         cured,
	"cure of one half in this room": cured,
	"dry before the first pour":     func(in func(string) float64) float64 { return in("hours, h") * 3600 },
	"dew point of this room": func(in func(string) float64) float64 {
		g := math.Log(in("humidity, share")) + 17.62*in("room, C")/(243.12+in("room, C"))
		return 243.12 * g / (17.62 - g)
	},
	"one casting": func(in func(string) float64) float64 { return in("volume, mm3") / 1e9 * in("density, kg/m3") * 1000 },
	"charge for one shot": func(in func(string) float64) float64 {
		return in("all volumes, mm3") / 1e9 * in("density, kg/m3") * 1000
	},
	"whole weight, uncut": func(in func(string) float64) float64 { return in("charge, g") },
	"yield":               func(in func(string) float64) float64 { return in("castings, g") / in("charge, g") },
	"ladles for one shot": func(in func(string) float64) float64 {
		return max(1, math.Ceil(in("charge, g")/0.8/in("ladle, g")-1e-9))
	},
	"metal when poured": func(in func(string) float64) float64 {
		f, r := in("flows, C"), in("rating, C")
		x := 5 * math.Ceil((f+50)/5-1e-9)
		if x > r {
			x = 5 * math.Floor(r/5)
		}
		if x < f+25 {
			x = 5 * math.Ceil((f+25)/5-1e-9)
		}
		return x
	},
	"freezing constant":      freezes,
	"opening constant":       freezes,
	"heaviest place solid":   squared,
	"open the mould":         squared,
	"thinnest section solid": squared,
	"fill within":            func(in func(string) float64) float64 { return in("thinnest section solid, s") / 3 },
	"heat of one shot": func(in func(string) float64) float64 {
		return in("charge, g") / 1000 * (in("enthalpy when poured, J/kg") - in("enthalpy when opened, J/kg"))
	},
	"rise of the rubber by one shot": func(in func(string) float64) float64 {
		return in("heat, J") / (in("mass, g") / 1000) / in("heat capacity, J/kgK")
	},
	"cooling, closed":             cools,
	"cooling, opened":             cools,
	"cooling, opened, with a fan": cools,
	"rest, closed":                rests,
	"rest, opened":                rests,
	"rest, opened, with a fan":    rests,
	"net shrinkage": func(in func(string) float64) float64 {
		return in("contraction, share") + in("shrink, share") - in("expansion, 1/K")*(in("mould, C")-in("room, C"))
	},
	"longest dimension against the master": func(in func(string) float64) float64 { return -in("size, mm") * in("net, share") },
	"dimensional grade DCTG, without an allowance on the master": func(in func(string) float64) float64 {
		for g := 1; g <= 16; g++ {
			if b := Band(in("size, mm"), g); b > 0 && 2*math.Abs(in("difference, mm")) <= b {
				return float64(g)
			}
		}
		return 17
	},
	"shots for the order": func(in func(string) float64) float64 {
		return math.Ceil(in("castings")/in("cavities")/(1-in("reject, share"))-1e-9) + 2*in("moulds")
	},
	"moulds by their life": func(in func(string) float64) float64 { return max(1, math.Ceil(in("shots")/in("life")-1e-9)) },
	"shots an hour":        func(in func(string) float64) float64 { return min(20, in("moulds")*3600/in("cycle, s")) },
	"time for the order": func(in func(string) float64) float64 {
		return 2*in("rounds")*in("cure, s") + in("dry, s") + in("shots")/in("shots an hour, 1/h")*3600
	},
	"alloy for the order": func(in func(string) float64) float64 {
		return in("castings")*in("casting, g") + 0.02*in("shots")*in("charge, g") + max(0, in("charge, g")-in("casting, g"))
	},
	"part A for all moulds": func(in func(string) float64) float64 { return (in("half 1, g") + in("half 2, g")) * in("moulds") },
	"part B for all moulds": func(in func(string) float64) float64 { return (in("half 1, g") + in("half 2, g")) * in("moulds") },
	"cost of one mould": func(in func(string) float64) float64 {
		return in("mix, g")/1000*in("rubber, EUR/kg") + in("extra, EUR") + 3*in("hour, EUR/h")
	},
	"cost of one casting, without the mould": func(in func(string) float64) float64 {
		return (in("alloy, g")/1000*in("price, EUR/kg")+in("shots")*3/60*in("hour, EUR/h"))/in("castings") + in("extra, EUR")
	},
	"cost of the order": func(in func(string) float64) float64 {
		return in("moulds")*in("mould, EUR") + in("castings")*in("casting, EUR")
	},
}

func cured(in func(string) float64) float64 {
	return in("at 23 C, s") * math.Pow(2, (23-min(max(in("room, C"), 18), 30))/in("d, K"))
}

func freezes(in func(string) float64) float64 {
	q := in("latent, J/kg") + in("c_l, J/kgK")*in("superheat, K") + in("c_s, J/kgK")*in("cooling, K")
	return math.Pi / 4 * math.Pow(in("density, kg/m3")*q/((in("freezing, C")-in("mould, C"))*in("effusivity, W s^0.5/m2K")), 2) / 1e6
}

func squared(in func(string) float64) float64 {
	return in("constant, s/mm2") * math.Pow(in("modulus, mm"), 2)
}

func cools(in func(string) float64) float64 {
	u := 1 / (1/in("h, W/m2K") + in("depth, mm")/1000/3/in("conductivity, W/mK"))
	return in("density, kg/m3") * in("heat capacity, J/kgK") * in("volume, mm3") * 1e-9 / (u * in("area, mm2") * 1e-6)
}

func rests(in func(string) float64) float64 {
	w := in("warm, C")
	return in("time constant, s") * math.Log((w+in("rise, K")-in("room, C"))/(w-in("room, C")))
}

// Every figure of the sheet is what its formula gives for the inputs it states,
// with the units in the inputs' names; every figure that the sheet promises is
// there.
func TestFiguresAreWhatTheirInputsGive(t *testing.T) {
	const full = "[bench]\nroom_c=21\nhumidity=70\npump_gauge_mbar=900\naltitude=300\nvacuum_pot_l=6\npump_l_min=50\nlid_span=250\nlid_thickness=25\nladle_g=90\nscale_step=0.5\nhardener_step=0.05\n[prices]\ncurrency=\"EUR\"\nrubber_kg=30\nalloy_kg=40\nhour=20\nmould_extra=4\ncasting_extra=0.5\n"
	seen := map[string]bool{}
	for _, c := range []struct {
		rubber, alloy, extra string
		forced               bool
	}{
		{"condensation-heat-30", "pewter-92-7-1", full, false}, {"addition-heat-40", "tin-bismuth-58-42", full, false}, {"addition-20", "pewter-92-7-1", "", false},
		{"condensation-heat-30", "tin", "[bench]\npour_c=300\nmould_c=60\nroom_c=35\n", true}, {"condensation-25", "tin-lead-63-37", "[bench]\nroom_c=10\nscale_step=1\n", false},
	} {
		for _, f := range made(t, pull(t, order(t, c.rubber, c.alloy, c.extra))).Figures {
			name := strings.TrimSuffix(strings.TrimSuffix(f.Name, " 1"), " 2")
			if c.forced && name == "metal when poured" {
				if f.Value != f.Inputs["job, C"] {
					t.Errorf("forced: %+v", f)
				}
				continue
			}
			formula := by[name]
			if formula == nil {
				t.Errorf("no formula for %q", f.Name)
				continue
			}
			seen[name] = true
			got := formula(func(k string) float64 { return input(t, f, k) })
			if math.Abs(got-f.Value) > 1e-9*math.Abs(f.Value)+1e-9 {
				t.Errorf("%s in %s: %s is %.12g, its inputs give %.12g", c.alloy, c.rubber, f.Name, f.Value, got)
			}
		}
	}
	for name := range by {
		if !seen[name] {
			t.Errorf("no sheet has the figure %q", name)
		}
	}
}

func input(t *testing.T, f plan.Figure, name string) float64 {
	t.Helper()
	x, ok := f.Inputs[name]
	if !ok {
		t.Errorf("%q has no input %q: %s", f.Name, name, fmt.Sprint(f.Inputs))
	}
	return x
}
