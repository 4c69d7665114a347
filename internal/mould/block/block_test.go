package block

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// given returns a split and a stand as the job could fix them, without search.
func given(pull, up vec.V3) (*parting.Split, *pockets.Stand) {
	return &parting.Split{Pull: pull}, &pockets.Stand{Up: up}
}

type named struct {
	name string
	m    *mesh.Mesh
}

// bodies are masters of known form, mm, parted along z.
func bodies() []named {
	return []named{
		{"ball", sculpt.Ball(20, 32).Mesh},
		{"box", sculpt.Box(60, 40, 20).Mesh},
		{"torus", sculpt.Torus(22, 5, 64, 24).Mesh},
		{"plate", sculpt.Box(60, 32, 1.5).Mesh},
		{"u", sculpt.U(8, 20, 30, 22, 8).Mesh.Into(vec.Frame{X: vec.V3{X: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{Y: -1}})},
		{"hanging", sculpt.Hanging(15, 12, 3, 20, 32).Mesh.Into(vec.Frame{X: vec.V3{X: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{Y: -1}})},
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
	last := 1 << 30
	for _, tol := range []float64{0, 0.01, 0.3} {
		m := under(s, -5, func(i, j int) float64 { return tol })
		if err := sculpt.Check(m); err != nil {
			t.Errorf("sheet at %g: %v", tol, err)
		}
		if len(m.F) >= last {
			t.Errorf("a tolerance of %g keeps %d triangles, a finer one %d", tol, len(m.F), last)
		}
		last = len(m.F)
	}
}
