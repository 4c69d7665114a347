package fill

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/gas"
	"pourwright/internal/physics/heat"
	"pourwright/internal/physics/tension"
)

// A pour that is saved on its way and loaded into a new run goes on to the same bits, with heat,
// tension and metal that stops; a checkpoint that is damaged or of another problem is refused.
func TestSaveAndGoOn(t *testing.T) {
	t.Run("careful", func(t *testing.T) { saveAndGoOn(t, false) })
	t.Run("quick", func(t *testing.T) { saveAndGoOn(t, true) })
}

func saveAndGoOn(t *testing.T, quick bool) {
	t.Helper()
	dim := [3]int{6, 10, 4}
	const h = 2e-3
	build := func(speed float64) *Run {
		c, err := cells.Box(dim, h, cells.Side(dim, 1, true)...)
		if err != nil {
			t.Fatal(err)
		}
		s, err := chill.New(chill.Problem{Cells: c, Walls: chill.FromShares(c), Mould: 45, Rubber: heat.Rubber{Density: 1250, Cp: 1250, K: 0.25},
			Metal: heat.Metal{Density: 7150, KSolid: 50, KLiquid: 30, CpSolid: 256, CpLiquid: 264, Latent: 62e3, Fraction: []heat.Melt{{T: 236, F: 0}, {T: 246, F: 1}}}})
		if err != nil {
			t.Fatal(err)
		}
		drive := func(_ float64, ports []Beyond) {
			for k := range ports {
				if ports[k] = (Beyond{Kind: Air}); k > 12 {
					ports[k].Kind = Shut
				}
				if k%7 == 3 {
					ports[k] = Beyond{Kind: Jet, Speed: speed}
				}
			}
		}
		m := Metal{Density: 7000, Viscosity: 2e-3, Tension: 0.5, Angle: tension.Powdered}
		vents := []Vent{{Cell: 0, Outlet: gas.Outlet{Form: gas.Slit, Area: 1e-8, Gap: 1e-5, Length: 0.01}}}
		r, err := New(Problem{Vents: vents, Cells: c, Metal: m, Gravity: vec.V3{Y: -9.81}, Ports: make([]Beyond, c.Ports), Drive: drive, Heat: s, Pour: 250, Quick: quick, Rise: 0.25}, make([]float64, c.Wall+1))
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	one := build(0.8)
	for _, at := range []float64{0.011, 0.043, 0.12, 0.25} {
		if err := one.Advance(context.Background(), at); err != nil {
			t.Fatal(err)
		}
		kept := one.Save()
		two := build(0.8)
		if err := two.Load(kept); err != nil {
			t.Fatal(err)
		}
		if string(two.Save()) != string(kept) {
			t.Fatal("what was loaded is not what was saved")
		}
		for _, r := range []*Run{one, two} {
			if err := r.Advance(context.Background(), at+0.02); err != nil {
				t.Fatal(err)
			}
		}
		if string(one.Save()) != string(two.Save()) {
			for i := range one.F {
				if math.Float64bits(one.F[i]) != math.Float64bits(two.F[i]) {
					t.Errorf("after %g s: cell %d holds %.17g, not %.17g", one.Time, i, two.F[i], one.F[i])
					break
				}
			}
			t.Fatalf("after %g s the loaded run goes another way, %+v and %+v", at, one.Sum, two.Sum)
		}
		kept[len(kept)/2] ^= 1
		if build(0.8).Load(kept) == nil {
			t.Error("took a damaged checkpoint")
		}
	}
	other := build(0.8)
	other.p.Metal.Density = 7001
	if other.Load(one.Save()) == nil {
		t.Error("took a checkpoint of another metal")
	}
}
