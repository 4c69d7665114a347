package mould

import (
	"math"
	"testing"

	"pourwright/internal/shape/mesh"
)

// checkMasses works out every mass from the volumes of the files and the
// densities of the material table, by the definitions alone:
//
//	mass_net    = volume of the half x density of the cured rubber
//	mass_mix    = part A + part B: mass_net x 1.05 + 10 g, up to the step of the
//	              scale; each part in steps of its own scale, B by the ratio
//	casting     = volume of one master x density of the metal at its solidus
//	charge      = volume of cavity.stl x density of the liquid
//	whole, uncut: what was poured, so the charge
//	yield       = castings / charge
func (f *finished) checkMasses(t *testing.T) {
	near := func(what string, got, want, rel float64) {
		if math.Abs(got-want) > rel*math.Abs(want) {
			t.Errorf("%s: the plan says %.9g, the files give %.9g", what, got, want)
		}
	}
	p := f.plan
	rubber, alloy := f.job.RubberRow.Density.X, &f.job.AlloyRow
	step := 0.1
	if s := f.job.Bench.ScaleStep; s != nil {
		step = *s
	}
	for k, half := range []*mesh.Mesh{f.half1, f.half2} {
		w := p.Rubber.Halves[k]
		net := half.Volume() * rubber * 1e-6
		near("volume of a half", w.Volume, half.Volume(), 1e-6)
		near("mass_net", w.MassNet, net, 2e-3)
		near("mass_net from the plan's own volume", w.MassNet, w.Volume*rubber*1e-6, 1e-9)
		fine := step // of the scale for part B
		if s := f.job.Bench.HardenerStep; s != nil {
			fine = *s
		}
		mix := w.MassNet*1.05 + 10
		if w.MassMix < mix-1e-6 || w.MassMix >= mix+step+1e-6 {
			t.Errorf("mass_mix %.9g is not %.9g up to the next %g g", w.MassMix, mix, step)
		}
		near("A + B", w.Parts.A+w.Parts.B, w.MassMix, 1e-9)
		for part, x := range map[string][2]float64{"A": {w.Parts.A, step}, "B": {w.Parts.B, fine}} {
			if n := x[0] / x[1]; math.Abs(n-math.Round(n)) > 1e-6 {
				t.Errorf("part %s, %.9g g, is not in steps of %g g", part, x[0], x[1])
			}
		}
		b := mix * f.job.RubberRow.Hardener.X / (1 + f.job.RubberRow.Hardener.X)
		if math.Abs(w.Parts.B-b) > max(fine/2+1e-9, fine-b) {
			t.Errorf("part B %.9g g, by the ratio %.9g", w.Parts.B, b)
		}
	}
	one := f.master.Volume() * alloy.DensityHot.X * 1e-6
	if m := p.Master; m.Bodies > 1 || math.Abs(m.Volume-m.Read.Volume) > 1e-6*m.Volume {
		one = m.Volume * alloy.DensityHot.X * 1e-6 // overlaps count once: not in the plain sum
	}
	charge := f.cavity.Volume() * alloy.DensityLiquid.X * 1e-6
	near("casting_mass", p.Metal.CastingMass, one, 2e-3)
	near("charge_mass", p.Metal.ChargeMass, charge, 2e-3)
	near("whole_mass", p.Metal.WholeMass, charge, 2e-3)
	n := float64(p.Block.Cavities)
	if charge < n*f.master.Volume()*0.995*alloy.DensityLiquid.X*1e-6 {
		t.Errorf("a charge of %.6g g does not hold %g castings", charge, n)
	}
	near("yield", p.Metal.Yield, min(1, n*one/charge), 4e-3)
}
