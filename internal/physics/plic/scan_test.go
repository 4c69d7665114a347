package plic

import (
	"context"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// TestScans: in the cavities of scanned masters, 60 mm long, a flat level of any tilt is found
// again, and random flow keeps volume, what is carried, and the bounds of both.
func TestScans(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	for _, name := range []string{"cat.obj", "boot.obj", "fish.obj"} {
		m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
		if err != nil {
			t.Fatal(err)
		}
		m = outside.At60(m)
		block := m.Box().Grow(5)
		g, err := cells.Lay(m, block, 2)
		if err != nil {
			t.Fatal(err)
		}
		cavity, err := cells.FromMesh(context.Background(), m, g, block, cells.Extra{})
		if err != nil {
			t.Fatal(err)
		}
		c, r := cavity.Cells, rand.New(rand.NewPCG(3, 3))
		a := NewAdvection(c)
		s := a.Surface()
		planes, off := 0, 0
		for range 5 {
			n := vec.V3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit()
			f := cells.Level(c, n, m.Box().Centre().Add(n.Mul(3*r.NormFloat64())).Mul(1e-3))
			s.Up = n
			s.Update(f, nil)
			for k := range s.Cells {
				planes++
				if s.Area[k] > 1e-3 && s.Normal[k].Dist(n) > 1e-6 {
					off++
				}
			}
		}
		if off*300 > planes {
			t.Errorf("%s: %d of %d planes off the level", name, off, planes)
		}
		f := cells.Level(c, vec.V3{Z: 1}, m.Box().Centre().Mul(1e-3))
		q := append([]float64{}, f...)
		for i := range q {
			q[i] *= 1 + r.Float64()
		}
		v0, q0 := held(c, f), held(c, q)
		for range 20 {
			u := whirl(c, r)
			a.list(f)
			rep, err := a.Step(f, [][]float64{q}, u, 0.7/a.drain(u, 1), 1)
			if err != nil {
				t.Fatal(err)
			}
			if rep.Least < 0 || rep.Most > 1+1e-12 {
				t.Errorf("%s: shares %g .. 1 + %g", name, rep.Least, rep.Most-1)
			}
			for i, x := range f[:c.N] {
				if x > 1e-9 && (q[i] < x*(1-1e-6) || q[i] > x*(2+1e-6)) {
					t.Fatalf("%s: share %g carries %g of its own volume", name, x, q[i]/x)
				}
			}
		}
		if e, eq := held(c, f)/v0-1, held(c, q)/q0-1; math.Abs(e) > 1e-12 || math.Abs(eq) > 1e-12 {
			t.Errorf("%s: volume off by %g, what is carried by %g", name, e, eq)
		}
		t.Logf("%s: %d cells, %d planes, %d off", name, c.N, planes, off)
	}
}
