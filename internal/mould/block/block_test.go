package block

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
	"pourwright/internal/shape/solid"
)

// given returns a split and a stand as the job could fix them, without search.
func given(pull, up vec.V3) (*parting.Split, *pockets.Stand) {
	return &parting.Split{Pull: pull}, &pockets.Stand{Up: up}
}

// bodies are masters of known form, mm, with the pull that suits them.
func bodies() map[string]*mesh.Mesh {
	return map[string]*mesh.Mesh{
		"ball":  sculpt.Ball(20, 32).Mesh,
		"box":   sculpt.Box(60, 40, 20).Mesh,
		"torus": sculpt.Torus(22, 5, 64, 24).Mesh,
		"plate": sculpt.Box(60, 32, 1.5).Mesh,
	}
}

func layOut(t testing.TB, m *mesh.Mesh, d Demand) *Layout {
	t.Helper()
	sp, st := given(vec.V3{Z: 1}, vec.V3{Y: 1})
	l, err := Lay(m, sp, st, d)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestChannelsAndSheetAreClosed(t *testing.T) {
	for _, lie := range []Lie{Both, InHalf1, InHalf2} {
		c := Channel{Lie: lie, Rings: []Ring{{vec.V3{}, 2, 1}, {vec.V3{Y: 3, Z: .2}, 2, 1}, {vec.V3{X: 1, Y: 9, Z: .5}, 3, 3}, {vec.V3{X: 1, Y: 20, Z: .5}, 9, 9}}}
		if err := sculpt.Check(c.Mesh()); err != nil {
			t.Errorf("channel lying %d: %v", lie, err)
		}
		if v, w := c.Mesh().Volume(), c.Volume(); math.Abs(v/w-1) > 0.03 {
			t.Errorf("channel lying %d: %g mm3, by its end areas %g", lie, v, w)
		}
	}
	s := &parting.Surface{NX: 41, NY: 30, X0: -10, Y0: -7, H: 0.5, Z: make([]float64, 41*30)}
	for q := range s.Z {
		x, y := float64(q%41)*.5, float64(q/41)*.5
		s.Z[q] = math.Sin(x/2) * math.Cos(y/3)
	}
	for _, tol := range []float64{0, 0.01, 0.3} {
		m := under(s, -5, func(i, j int) float64 { return tol })
		if err := sculpt.Check(m); err != nil {
			t.Errorf("sheet at %g: %v", tol, err)
		}
		t.Log("sheet", tol, len(m.F))
	}
}

func TestBuildFillsTheBlock(t *testing.T) {
	for name, m := range bodies() {
		l := layOut(t, m, Demand{})
		s, err := l.Build()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		b := l.Box().Size()
		v := b.X * b.Y * b.Z
		sum := s.Cavity.Volume() + s.Half1.Volume() + s.Half2.Volume()
		if math.Abs(sum/v-1) > 1e-6 {
			t.Errorf("%s: cavity and halves hold %g mm3 of %g", name, sum, v)
		}
		for _, x := range []*mesh.Mesh{s.Cavity, s.Half1, s.Half2} {
			if err := sculpt.Check(x); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
		t.Logf("%s: size %.1f keys %d cavity %.0f of master %.0f, halves %d %d triangles", name, l.Size, len(l.Keys), s.Cavity.Volume(), m.Volume(), len(s.Half1.F), len(s.Half2.F))
		_ = solid.Metal
	}
}
