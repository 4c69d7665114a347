package measured

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
)

func is(x float64) *float64 { return &x }

// Values from memory of the CRC Handbook's table (newer scale, so a few 1e-3
// kg/m3 beside Kell's).
func TestWaterDensity(t *testing.T) {
	for _, c := range [][2]float64{{4, 999.975}, {10, 999.703}, {20, 998.207}, {25, 997.048}, {30, 995.650}} {
		if d := WaterDensity(c[0]) - c[1]; math.Abs(d) > 0.01 {
			t.Errorf("water at %g C: off by %.4f kg/m3", c[0], d)
		}
	}
}

// Readings with errors anywhere within the stated ones hold the true volume, for
// cylinders, cones, boxes and rhombic bars; 2 in 3 readings are at an end.
func TestBandHoldsTheVolume(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 7))
	e := Usual
	off := func(d float64) float64 {
		switch rng.IntN(3) {
		case 0:
			return d
		case 1:
			return -d
		}
		return d * (2*rng.Float64() - 1)
	}
	widest := map[string]float64{}
	for n := range 400 {
		a, b, h := 15+60*rng.Float64(), 15+60*rng.Float64(), 4+10*rng.Float64()
		class := []string{"disc", "cone", "bar", "plate"}[n%4]
		v, top := a*b*h, 0.5+2*rng.Float64()
		switch n % 4 {
		case 0:
			v, b = math.Pi/4*a*a*h, a
		case 1:
			v, b = math.Pi/12*(a*a+a*top+top*top)*h, a
		case 2:
			v *= 0.5
		}
		rho, warm := 1+10*rng.Float64(), 15+10*rng.Float64()
		base := Readings{Length: a + off(e.Caliper), Width: b + off(e.Caliper), Height: h + off(e.Caliper), Class: class, Thinnest: is(h)}
		*base.Thinnest = base.Height
		if class == "cone" {
			*base.Thinnest = top + off(e.Caliper)
		}
		hung, mass, rise := base, base, base
		hung.Water = warm + off(e.Water)
		hung.Gain = is(v*(1+off(e.Hung))*WaterDensity(warm)/1e6 + off(2*e.Scale))
		mass.Mass, mass.Density = is(v*rho/1000+off(e.Scale)), is(rho/(1+off(e.Density)))
		rise.Volume = is(v * (1 + off(e.Rise)))
		all := hung
		all.Mass, all.Density, all.Volume = mass.Mass, mass.Density, rise.Volume
		for name, r := range map[string]Readings{"class": base, "hung": hung, "mass": mass, "rise": rise, "all": all} {
			s, err := Measure(r, e)
			if err != nil {
				t.Fatalf("%s %d: %v", name, n, err)
			}
			if k := 1e-12; v < s.Volume.Low*(1-k) || v > s.Volume.High*(1+k) {
				t.Errorf("%s %d %s: %.5g mm3 not in [%.5g, %.5g] by %s", name, n, class, v, s.Volume.Low, s.Volume.High, s.How)
			}
			// Half the band is the sum of the errors as shares, with 5 % for products of them.
			sum := map[string]float64{"hung": 2*e.Scale / *hung.Gain + e.Hung + 1e-3, "mass": e.Scale / *mass.Mass + e.Density, "rise": e.Rise, "all": e.Rise}[name]
			if sum > 0 && s.Volume.Wide() > 1.05*sum {
				t.Errorf("%s %d: half band %.4f, errors %.4f", name, n, s.Volume.Wide(), sum)
			}
			widest[name] = math.Max(widest[name], s.Volume.Wide())
		}
	}
	t.Logf("widest half band: %v", widest)
}

func TestContradictions(t *testing.T) {
	plate := Readings{Length: 60, Width: 40, Height: 5, Class: "plate", Water: 20}
	for name, c := range map[string]struct {
		change func(*Readings)
		want   string
	}{
		"no length":          {func(r *Readings) { r.Width = 0 }, "width"},
		"not a number":       {func(r *Readings) { r.Height = math.NaN() }, "height"},
		"too thick":          {func(r *Readings) { r.Thickest = is(9) }, "least way"},
		"thin over thick":    {func(r *Readings) { r.Thinnest, r.Thickest = is(4), is(2) }, "thickest only"},
		"more than the box":  {func(r *Readings) { r.Volume = is(20000) }, "holds only"},
		"two volumes":        {func(r *Readings) { r.Gain, r.Mass, r.Density = is(8), is(30), is(7.29) }, "more apart"},
		"a class unknown":    {func(r *Readings) { r.Class = "plat" }, "no class"},
		"a figure unweighed": {func(r *Readings) { r.Class = "figure" }, "do not tell"},
		"boiling water":      {func(r *Readings) { r.Gain, r.Water = is(8), 95 }, "water is at"},
		"a gain of nothing":  {func(r *Readings) { r.Gain = is(0.1) }, "not more than"},
		"negative mass":      {func(r *Readings) { r.Mass, r.Density = is(-1), is(7) }, "mass"},
	} {
		r := plate
		c.change(&r)
		_, err := Measure(r, Usual)
		if err == nil || fault.KindOf(err) != fault.Input || !strings.Contains(err.Error(), c.want) || fault.HintOf(err) == "" {
			t.Errorf("%s: %v, want an input error with %q and a hint", name, err, c.want)
		}
	}
	if _, err := Measure(plate, Usual); err != nil {
		t.Errorf("the plate itself: %v", err)
	}
}

// V/A of bodies whose volume and surface are elementary lies in the band, and the
// band is told from the readings that a person would take.
func TestModulusHoldsElementaryBodies(t *testing.T) {
	for _, c := range []struct {
		name  string
		r     Readings
		whole float64
	}{
		{"ball of 20", Readings{Length: 20, Width: 20, Height: 20, Class: "figure", Mass: is(30), Density: is(7.3), Thickest: is(20)}, 20. / 6},
		{"rod of 8 by 80", Readings{Length: 80, Width: 8, Height: 8, Class: "bar", Section: "round", Thickest: is(8)}, 8 * 80 / (2. * (2*80 + 8))},
		{"box 60 x 30 x 6", Readings{Length: 60, Width: 30, Height: 6, Class: "plate", Section: "square", Thinnest: is(6)}, 60 * 30 * 6 / (2. * (60*30 + 60*6 + 30*6))},
		{"cylinder of 40 by 5", Readings{Length: 40, Width: 40, Height: 5, Class: "disc", Thinnest: is(5), Thickest: is(5)}, 40 * 5 / (2. * (40 + 2*5))},
		{"torus of 50 outside, tube 8", Readings{Length: 50, Width: 50, Height: 8, Class: "ring", Bore: is(34), Section: "round"}, 2},
		{"cone of 30 by 40", Readings{Length: 30, Width: 30, Height: 40, Class: "cone", Thinnest: is(1), Thickest: is(18)}, 30 / 6. * 40 / (15 + math.Hypot(15, 40))},
	} {
		s, err := Measure(c.r, Usual)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if m := s.Modulus; c.whole < m.Low || c.whole > m.High || m.Value < m.Low || m.Value > m.High {
			t.Errorf("%s: V/A %.3f mm, band %.3f, %.3f, %.3f", c.name, c.whole, m.Low, m.Value, m.High)
		}
	}
}
