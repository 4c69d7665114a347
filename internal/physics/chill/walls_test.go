package chill

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

func ball(r float64, at vec.V3) *mesh.Mesh {
	m := outside.Ball(4, r)
	for i, p := range m.V {
		m.V[i] = p.Add(at)
	}
	return m
}

func cavity(t testing.TB, m *mesh.Mesh, block vec.Box, h float64) (*cells.Cavity, grid.Grid) {
	t.Helper()
	g, err := cells.Lay(m, block, h)
	if err != nil {
		t.Fatal(err)
	}
	c, err := cells.FromMesh(context.Background(), m, g, block, cells.Extra{})
	if err != nil {
		t.Fatal(err)
	}
	return c, g
}

func area(m *mesh.Mesh) float64 {
	s := 0.0
	for _, f := range m.F {
		s += m.V[f[1]].Sub(m.V[f[0]]).Cross(m.V[f[2]].Sub(m.V[f[0]])).Len() / 2
	}
	return s
}

// Every bit of skin finds a cell: balls, plates of any thickness and slant, bodies
// that overlap; open sides are no wall.
func TestMeshHasItsArea(t *testing.T) {
	slant := vec.AlongZ(vec.V3{X: 0.3, Y: 0.5, Z: 0.7})
	for name, m := range map[string]*mesh.Mesh{
		"ball":             ball(8, vec.V3{X: 0.1, Y: 0.2, Z: 0.3}),
		"small ball":       ball(1.4, vec.V3{X: 0.1, Y: 0.2, Z: 0.3}),
		"plate 0.6":        outside.Brick(vec.V3{}, vec.V3{X: 20, Y: 15, Z: 0.6}),
		"plate 0.6 turned": outside.Brick(vec.V3{}, vec.V3{X: 20, Y: 15, Z: 0.6}).OutOf(slant),
		"plate 3":          outside.Brick(vec.V3{X: .2, Y: .3, Z: .4}, vec.V3{X: 20, Y: 15, Z: 3.4}).OutOf(slant),
		"pin":              outside.Brick(vec.V3{}, vec.V3{X: 0.8, Y: 0.8, Z: 20}).OutOf(slant),
	} {
		block := m.Box().Grow(5)
		c, _ := cavity(t, m, block, 1)
		w, lost := FromMesh(c.Cells, m, block)
		want := area(m) * 1e-6
		skin := 0.0
		for _, x := range c.Skin {
			skin += x
		}
		by := FromShares(c.Cells).Area()
		t.Logf("%-16s %8.2f mm2: from the mesh %+.3f %%, lost %.3f %%; from shares %+.1f %%; skin of the cells %+.1f %%", name, want*1e6,
			100*(w.Area()/want-1), 100*lost/want, 100*(by/want-1), 100*(skin/want-1))
		if math.Abs((w.Area()+lost)/want-1) > 1e-9 || lost > 0.01*want {
			t.Errorf("%s: %g of %g mm2, lost %g", name, w.Area()*1e6, want*1e6, lost*1e6)
		}
		for i := range w.Patch {
			if p := &w.Patch[i]; i > 0 && p.Cell < w.Patch[i-1].Cell || math.Abs(p.Normal.Len()-1) > 1e-9 || p.At.Sub(vec.V3{X: .5, Y: .5, Z: .5}).Len() > 2.6 {
				t.Fatalf("%s: patch %+v", name, p)
			}
		}
	}
	// Two boxes one in the other: the common skin counts once, what lies inside not at all.
	m := outside.Brick(vec.V3{}, vec.V3{X: 20, Y: 20, Z: 20})
	m.Append(outside.Brick(vec.V3{X: 5, Y: 5, Z: 15}, vec.V3{X: 12, Y: 12, Z: 30}))
	block := vec.Box{Min: vec.V3{X: -10, Y: -10, Z: -10}, Max: vec.V3{X: 30, Y: 30, Z: 30}}
	c, _ := cavity(t, m, block, 1)
	w, _ := FromMesh(c.Cells, m, block)
	if want := (2400. - 49 + 280) * 1e-6; math.Abs(w.Area()/want-1) > 0.02 {
		t.Errorf("overlapping boxes: %g of %g mm2", w.Area()*1e6, want*1e6)
	}
}

// A filled body goes to heat with its volume and its heat, on the same grid and on
// another.
func TestHandedToHeat(t *testing.T) {
	m := ball(7, vec.V3{X: 0.1, Y: 0.2, Z: 0.3})
	block := m.Box().Grow(6)
	c, _ := cavity(t, m, block, 1)
	w, _ := FromMesh(c.Cells, m, block)
	s := state(t, Problem{Cells: c.Cells, Walls: w, Metal: pewter(), Rubber: silicone(), Mould: 45})
	f, q := fill(s, 290)
	for i := range s.c.N { // a part is missing
		if s.c.Centre(int32(i)).Z > 5e-3 {
			f[i], q[i] = 0, 0
		}
	}
	for range 300 {
		s.Step(5e-3, f, q, Planes{})
	}
	volume := 0.0
	for i := range s.c.N {
		volume += f[i] * s.c.V[i] * 1e-9
	}
	for _, h := range []float64{1, 0.8} {
		g, err := grid.Over(block, h)
		if err != nil {
			t.Fatal(err)
		}
		if h == 1 { // cell on cell
			o := s.c.Origin.Mul(1e3)
			g.Origin = vec.V3{X: o.X - 6, Y: o.Y - 6, Z: o.Z - 6}
		}
		b, err := heat.FromMesh(context.Background(), m, block, g)
		if err != nil {
			t.Fatal(err)
		}
		r, err := heat.New(context.Background(), heat.Problem{Body: b, Metal: pewter(), Rubber: silicone(), Air: 20, Start: 45})
		if err != nil {
			t.Fatal(err)
		}
		before := r.Energy()
		given, err := s.Filled(g, f, q)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.PourFilled(given); err != nil {
			t.Fatal(err)
		}
		after := r.Energy()
		// heat counts from the air, this room from the solidus.
		held := after.Metal - r.Volume*7150*256*(235.6-20)
		t.Logf("%g mm: volume %.1e, heat %.1e, rubber %.1e off; left %.1e", h, r.Volume/volume-1, held/s.Holds(q)-1, (after.Rubber-before.Rubber)/s.Balance.Rubber-1, after.Share())
		if math.Abs(r.Volume/volume-1) > 1e-9 || math.Abs(held/s.Holds(q)-1) > 1e-9 || math.Abs((after.Rubber-before.Rubber)/s.Balance.Rubber-1) > 1e-4 || math.Abs(after.Share()) > 1e-9 {
			t.Errorf("%g mm: %+v, held %g of %g J, rubber %g", h, after, held, s.Holds(q), s.Balance.Rubber)
		}
		if err := r.Advance(context.Background(), 5); err != nil {
			t.Fatal(err)
		}
		if e := r.Energy().Share(); math.Abs(e) > 1e-5 {
			t.Errorf("%g of the heat left over", e)
		}
	}
}

// The rubber's warmth behind each wall, read from a field that rises along x.
func TestWarm(t *testing.T) {
	m := ball(7, vec.V3{X: 0.1, Y: 0.2, Z: 0.3})
	block := m.Box().Grow(6)
	c, _ := cavity(t, m, block, 1)
	w, _ := FromMesh(c.Cells, m, block)
	g, err := grid.Over(block, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	b, err := heat.FromMesh(context.Background(), m, block, g)
	if err != nil {
		t.Fatal(err)
	}
	T := make([]float32, g.Len())
	for q := range T {
		if T[q] = 1e6; b.Dist[q] >= 0 {
			T[q] = float32(60 + 2*g.Centre(g.Cell(q)).X)
		}
	}
	warm, err := Warm(c.Cells, w, g, b.Dist, T, 45)
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.N {
		want := 60 + 2*c.Centre(int32(i)).X*1e3
		if w.Start[i] == w.Start[i+1] {
			if warm[i] != 45 {
				t.Errorf("a cell without a wall at %g", warm[i])
			}
		} else if math.Abs(warm[i]-want) > 5 {
			t.Errorf("cell %v: %g, should be near %g", c.I[i], warm[i], want)
		}
	}
	s := state(t, Problem{Cells: c.Cells, Walls: w, Metal: pewter(), Rubber: silicone(), Mould: 45, Start: warm})
	f, q := fill(s, 290)
	s.Step(0.1, f, q, Planes{})
	if s.Skin(0) < warm[w.Patch[0].Cell] {
		t.Error("the rubber got colder")
	}
	if _, err := Warm(c.Cells, w, g, b.Dist, T[:5], 45); err == nil {
		t.Error("took a field of another grid")
	}
}
