package shot

import (
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
)

// A casting is ready only when it is solid, colder than its solidus by the margin,
// and colder than it must be to be lifted; for sharp alloys, low-melting ones and
// one whose last liquid freezes far under the knee.
func TestReadyForAlloysOfAllKinds(t *testing.T) {
	melt := func(m ...heat.Melt) []heat.Melt { return m }
	for name, metal := range map[string]heat.Metal{
		"eutectic 63/37":  {Density: 8200, KSolid: 50, KLiquid: 25, CpSolid: 190, CpLiquid: 208, Latent: 45e3, Fraction: melt(heat.Melt{T: 183, F: 0}, heat.Melt{T: 183, F: 1})},
		"bismuth 58":      {Density: 8550, KSolid: 19, KLiquid: 12, CpSolid: 167, CpLiquid: 178, Latent: 48e3, Fraction: melt(heat.Melt{T: 138.5, F: 0}, heat.Melt{T: 138.5, F: 1})},
		"melting at 70":   {Density: 9600, KSolid: 18, KLiquid: 12, CpSolid: 150, CpLiquid: 170, Latent: 33e3, Fraction: melt(heat.Melt{T: 70, F: 0}, heat.Melt{T: 73, F: 1})},
		"pewter, tail up": {Density: 7150, KSolid: 50, KLiquid: 27, CpSolid: 256, CpLiquid: 247, Latent: 64e3, Fraction: melt(heat.Melt{T: 235.6, F: 0}, heat.Melt{T: 236, F: .12}, heat.Melt{T: 238, F: .705}, heat.Melt{T: 239, F: .954}, heat.Melt{T: 294, F: 1})},
		"tail down":       {Density: 8500, KSolid: 40, KLiquid: 20, CpSolid: 200, CpLiquid: 210, Latent: 50e3, Fraction: melt(heat.Melt{T: 183, F: 0}, heat.Melt{T: 215, F: .05}, heat.Melt{T: 216, F: 1})},
	} {
		m := mouldOf(t, ball(5, vec.V3{X: 12.3, Y: 12.2, Z: 12.1}), vec.V3{X: 24, Y: 24, Z: 24}, 1, inAir, func(p *heat.Problem) { p.Metal = metal })
		s, err := OpenAfter(bg, m, metal.Liquidus()+30, Opening{})
		if err != nil || s.Solid == 0 || s.Cold < s.Solid || s.Ready < s.Cold-0.05 && (Opening{}).Below(metal.Solidus()) < metal.Solidus()-20 || s.Ready < s.Solid || s.Opened < s.Ready {
			t.Errorf("%s: %+v %v", name, s, err)
		}
		if below := (Opening{}).Below(metal.Solidus()); s.OpenAt > below || s.OpenAt < below-2 || below > metal.Solidus()-17 {
			t.Errorf("%s: opened at %g degC, to be lifted below %g", name, s.OpenAt, below)
		}
		t.Logf("%-16s solid %5.1f s, 20 K colder %5.1f, ready %5.1f at %.1f degC", name, s.Solid, s.Cold, s.Ready, s.OpenAt)
	}
	// A casting that is colder than it must be, but not solid, is not ready.
	m := mouldOf(t, ball(5, vec.V3{X: 12.3, Y: 12.2, Z: 12.1}), vec.V3{X: 24, Y: 24, Z: 24}, 1, inAir)
	s, err := OpenAfter(bg, m, 275, Opening{Margin: 1e-9, LiftBelow: 235.999})
	if err != nil || s.Ready < s.Solid {
		t.Errorf("%+v %v", s, err)
	}
}

// A mould that a filling left at one temperature freezes like one that is poured at
// it; one whose metal came in cooler is ready sooner.
func TestFilledMould(t *testing.T) {
	after := func(f func(i int) float32) float64 {
		m := mouldOf(t, ball(5, vec.V3{X: 12.3, Y: 12.2, Z: 12.1}), vec.V3{X: 24, Y: 24, Z: 24}, 1, inAir)
		if f != nil {
			m.Filled = make([]float32, m.p.Body.Grid.Len())
			for i := range m.Filled {
				m.Filled[i] = f(i)
			}
		}
		s, err := OpenAfter(bg, m, 275, Opening{})
		if err != nil {
			t.Fatal(err)
		}
		return s.Ready
	}
	poured, even, cooler := after(nil), after(func(int) float32 { return 275 }), after(func(i int) float32 { return float32(245 + i%30) })
	if poured != even || cooler >= poured || cooler < 0.5*poured {
		t.Errorf("poured %g, filled evenly %g, cooler %g s", poured, even, cooler)
	}
	m := mouldOf(t, ball(5, vec.V3{X: 12.3, Y: 12.2, Z: 12.1}), vec.V3{X: 24, Y: 24, Z: 24}, 1, inAir)
	m.Filled = []float32{275}
	if _, err := OpenAfter(bg, m, 275, Opening{}); err == nil {
		t.Error("a filling of another grid was taken")
	}
}
