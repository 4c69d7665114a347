package batch

import (
	"math"
	"testing"

	"pourwright/internal/book/material"
)

func close(t *testing.T, name string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: %.10g, want %.10g", name, got, want)
	}
}

// Flemings' insulating mould with round inputs: silicone k 0.25, rho 1250, c
// 1250, mould at 25 degC; constants computed with 30 digits.
func TestChvorinovConstants(t *testing.T) {
	silicone, plaster := math.Sqrt(0.25*1250*1250), math.Sqrt(0.35*1100*1000)
	for _, c := range []struct {
		name              string
		Tf, rho, cl, L, b float64
		super, want       float64
	}{
		{"Sn63Pb37", 183, 8200, 208, 45e3, silicone, 0, 10.966509},
		{"Sn63Pb37", 183, 8200, 208, 45e3, silicone, 30, 14.218757},
		{"pewter", 240, 7150, 247, 66e3, silicone, 0, 9.68619},
		{"pewter", 240, 7150, 247, 66e3, silicone, 30, 11.9833},
		{"pewter", 240, 7150, 247, 66e3, silicone, 60, 14.5246},
		{"tin", 231.93, 7180, 247, 59.2e3, silicone, 30, 10.7402},
		{"Bi58Sn42", 138.5, 8550, 178, 48e3, silicone, 0, 26.2877},
		{"Bi58Sn42", 138.5, 8550, 178, 48e3, silicone, 60, 39.2872},
		{"Sn63Pb37 in plaster", 183, 8200, 208, 45e3, plaster, 0, 11.1267},
		{"tin in plaster", 231.93, 7180, 247, 59.2e3, plaster, 60, 13.4564},
	} {
		close(t, c.name, Chvorinov(c.rho, c.L+c.cl*c.super, c.Tf, 25, c.b), c.want, 5e-6)
	}
	if !math.IsInf(Chvorinov(7000, 6e4, 100, 100, 600), 1) {
		t.Error("a mould as hot as the metal freezes it")
	}
}

// Textbook problems on Chvorinov's rule (problem texts from memory, arithmetic
// exact): disk 500 x 20 mm at 2.0 s/mm2; a cube of 50 mm freezes in 155 s, then
// a cylinder of 30 x 50; unit volumes of sphere, cube and cylinder h = 2r.
func TestChvorinovTextbookProblems(t *testing.T) {
	cyl := func(d, h float64) float64 {
		return math.Pi / 4 * d * d * h / (math.Pi*d*h + math.Pi/2*d*d)
	}
	close(t, "disk", TimeOf("", 2, cyl(500, 20)).Value, 171.46776, 1e-7)
	c := 155 / math.Pow(50.0/6, 2)
	close(t, "constant of the cube", c, 2.232, 1e-12)
	close(t, "cylinder", TimeOf("", c, cyl(30, 50)).Value, 74.289941, 1e-7)
	r := math.Cbrt(3 / (4 * math.Pi))
	close(t, "sphere", TimeOf("", 1, r/3).Value, 0.042759415, 1e-7)
	close(t, "cube", TimeOf("", 1, 1.0/6).Value, 0.027777778, 1e-7)
	rc := math.Cbrt(1 / (2 * math.Pi))
	close(t, "cylinder h=2r", TimeOf("", 1, cyl(2*rc, 2*rc)).Value, 0.032631541, 1e-7)
}

// Sections in pewter, mould 45 degC, poured at 310: plates 1.5, 3, 6 and 10 mm
// in 7, 29, 115 s and 5 min, rods 6 and 15 mm in 29 s and 3 min, in a rubber
// filled for metal, k 0.35, rho 1300, c 1300 (workshop figures by the same
// formula, for a rubber whose values they leave out).
func TestFreezeOfSectionsInPewter(t *testing.T) {
	a, _ := material.FindAlloy("pewter-92-7-1")
	r, _ := material.FindRubber("condensation-heat-30")
	r.Conductivity.X, r.Density.X, r.HeatCapacity.X = 0.35, 1300, 1300
	c := FreezeConstant(&a, &r, 310, 45).Value
	for _, s := range [][2]float64{{1.5 / 2, 7}, {3.0 / 2, 29}, {6.0 / 2, 115}, {10.0 / 2, 300}, {6.0 / 4, 29}, {15.0 / 4, 180}} {
		close(t, "section", TimeOf("", c, s[0]).Value, s[1], 0.08) // they are rounded to seconds and minutes
	}
	if o := OpenConstant(&a, &r, 310, 45).Value; o <= c || o > 1.2*c {
		t.Errorf("opening constant %g, freezing %g", o, c)
	}
}

// Acrylic lid under a full vacuum of 101325 Pa, E 3 GPa, nu 0.37, simply
// supported (Timoshenko; Roark), computed with 30 digits.
func TestLidPlates(t *testing.T) {
	for _, c := range []struct{ span, t, sag, stress float64 }{
		{250, 20, 0.65382501, 5.0019324}, {300, 20, 1.3557715, 7.2027826}, {300, 25, 0.69415503, 4.6097809}, {400, 30, 1.2696022, 5.6910875},
	} {
		stress, sag := Lid(c.span, c.t, 101325)
		close(t, "stress", stress.Value/1e6, c.stress, 1e-7)
		close(t, "sag", sag.Value, c.sag, 1e-7)
	}
}

// Boyle by gauge vacuum at sea level, 1 inHg = 33.8639 mbar; pump down of 10 l
// at 1 l/s to 30 mbar.
func TestVacuumTable(t *testing.T) {
	close(t, "sea level", Outside(0).Value, 1013.25, 1e-12)
	out := 29.921 * 33.864 // the table's sea level
	for inHg, want := range map[float64][2]float64{20: {335.964, 3.01593}, 25: {166.644, 6.08027}, 27: {98.9165, 10.2434}, 28: {65.0526, 15.5757}, 29: {31.1887, 32.4875}, 29.5: {14.2567, 71.0713}} {
		p := PotPressure(out, inHg*33.864)
		close(t, "pressure", p.Value, want[0], 5e-5)
		close(t, "growth", Growth(out, p.Value).Value, want[1], 5e-5)
	}
	close(t, "pump down", PumpDown(10, 60, 1013.25, 30).Value, 35.197209, 1e-7)
	// 29 inHg is impossible above about 250 m
	if p := PotPressure(Outside(300).Value, 29*33.86389); p.Value > 0 {
		t.Errorf("29 inHg at 300 m leaves %g mbar", p.Value)
	}
	if p := PotPressure(Outside(200).Value, 29*33.86389); p.Value < 0 {
		t.Errorf("29 inHg at 200 m leaves %g mbar", p.Value)
	}
	close(t, "standard atmosphere at 1000 m", Outside(1000).Value, 898.75, 1e-4)
}

// ISO 8062-3:2007 table 2.
func TestGrades(t *testing.T) {
	for _, c := range []struct {
		size  float64
		grade int
		want  float64
	}{{10, 1, 0.09}, {10.1, 4, 0.28}, {90, 8, 1.6}, {100, 16, 18}, {160, 5, 0.62}, {250, 1, 0}, {250, 2, 0.24}, {630, 16, 28}, {631, 8, 0}, {5, 13, 0}} {
		if got := Band(c.size, c.grade); got != c.want {
			t.Errorf("%g mm DCTG %d: %g, want %g", c.size, c.grade, got, c.want)
		}
	}
	for i, row := range dctg {
		for g := 1; g < 16; g++ {
			if row[g] > 0 && row[g] <= row[g-1] {
				t.Errorf("row %d falls at grade %d", i, g+1)
			}
		}
	}
	// 0.46 % of 90 mm is 0.414: half of grade 6 (0.39) is less, half of 7 (0.55) holds it
	if g := Grade(90, -0.414).Value; g != 7 {
		t.Errorf("grade %g, want 7", g)
	}
	if g := Grade(90, 50).Value; g != 17 {
		t.Errorf("grade %g, want 17", g)
	}
	close(t, "net", NetShrink(0.00486, 0.006, 2.5e-4, 45, 21).Value, 0.00486, 1e-12)
}

// A scale of 1 g is 17 % off on 6 g of hardener (arithmetic).
func TestRubberWeights(t *testing.T) {
	close(t, "ratio error", RatioError(6, 1).Value, 0.16667, 1e-4)
	close(t, "net", MassNet(1, 300000, 1300).Value, 390, 1e-12)
	close(t, "wanted", Wanted(1, 390).Value, 419.5, 1e-12)
	close(t, "part B", PartB(1, 420, 0.05, 0.1).Value, 20, 1e-12)
	close(t, "part B, at least a step", PartB(1, 21, 0.02, 1).Value, 1, 1e-12)
	close(t, "part A", PartA(1, 419.5, 20, 0.1).Value, 399.5, 1e-12)
	close(t, "part A, coarse scale", PartA(1, 419.5, 20, 1).Value, 400, 1e-12)
	close(t, "mix", MassMix(1, 399.5, 20).Value, 419.5, 1e-12)
	close(t, "least mix", LeastMix(0.05, 1).Value, 420, 1e-12)
	close(t, "pot", PotVolume(475, 1250).Value, 1.52, 1e-12)
	close(t, "pot life", PotLife(2700, 33, 10, math.Exp2(-0.7)).Value, 1662, 1e-3)
}

func TestMetalWeights(t *testing.T) {
	close(t, "casting", CastingMass(9400, 7150).Value, 67.21, 1e-9)
	close(t, "charge", ChargeMass(30000, 6973).Value, 209.19, 1e-9)
	for charge, want := range map[float64]float64{100: 1, 239: 1, 240: 1, 241: 2, 481: 3} {
		if got := Ladles(charge, 300).Value; got != want {
			t.Errorf("%g g: %g ladles", charge, got)
		}
	}
	// practice: pewter 280-300, bismuth-tin 180-200, never above the rating
	p, _ := material.FindAlloy("pewter-92-7-1")
	b, _ := material.FindAlloy("tin-bismuth-58-42")
	heat, _ := material.FindRubber("condensation-heat-30")
	soft, _ := material.FindRubber("addition-20")
	lead, _ := material.FindAlloy("lead")
	for _, c := range []struct {
		a            material.Alloy
		r            material.Rubber
		forced, pour float64
		tooHot, held bool
	}{{p, heat, 0, 290, false, false}, {b, soft, 0, 190, false, false}, {p, soft, 0, 265, true, false}, {p, heat, 310, 310, true, false},
		{p, heat, 300, 300, false, false}, {lead, heat, 0, 355, true, false}} {
		h := Choose(&c.a, &c.r, c.forced, 45)
		if h.Pour != c.pour || h.TooHot != c.tooHot || h.HeldDown != c.held {
			t.Errorf("%s in %s: %+v", c.a.Name, c.r.Name, h)
		}
	}
	heat.Rating.X = 282
	if h := Choose(&p, &heat, 0, 45); h.Pour != 280 || h.TooHot || !h.HeldDown {
		t.Errorf("held down: %+v", h)
	}
}

// A block of 115 x 120 x 46 mm: practice says that it cools with a time
// constant of about 30 min, sooner opened and with a fan.
func TestCooling(t *testing.T) {
	r, _ := material.FindRubber("condensation-heat-30")
	size := [3]float64{115, 120, 46}
	v := 115.0 * 120 * 46
	shut := TimeConstant("", &r, v, size, stillAir, false).Value
	open := TimeConstant("", &r, v, size, stillAir, true).Value
	fan := TimeConstant("", &r, v, size, fanAir, true).Value
	if open < 20*60 || open > 40*60 || shut < open || fan > 0.6*open {
		t.Errorf("closed %g, opened %g, fan %g s", shut, open, fan)
	}
	close(t, "rest", Rest("", 1000, 30, 65, 20).Value, 1000*math.Log(75.0/45), 1e-12)
	if r := Rest("", 1000, 0, 65, 20).Value; r != 0 {
		t.Errorf("no rise, rest %g", r)
	}
	if r := Rest("", 1000, 30, 5, 20).Value; math.IsNaN(r) || math.IsInf(r, 0) {
		t.Error("a mould colder than the room has no rest")
	}
}
