package freezing

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// pourMesh freezes a body of 60 mm in 15 mm of rubber.
func pourMesh(t *testing.T, name string, m *mesh.Mesh, h float64) {
	m = outside.At60(m)
	box := m.Box().Grow(15)
	g, err := grid.Over(box, h)
	if err != nil {
		t.Fatal(err)
	}
	body, err := heat.FromMesh(context.Background(), m, box, g)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	p := heat.Problem{Body: body, Metal: alloys["pewter"], Rubber: rubber, Air: 20, Start: 20}
	for i := range p.Sides {
		p.Sides[i] = heat.Side{H: 10}
	}
	r := start(t, p)
	v := 1e-9 * m.Volume()
	if err := r.Pour(280); err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	advance(t, r, 120)
	first := r.Times().Solid
	for q, x := range r.Temperature() {
		if !(x > 19.9 && x < 280.1) {
			t.Errorf("%s: %g degC in cell %d", name, x, q)
			break
		}
	}
	for i := 0; first < 0 && i < 20; i++ {
		advance(t, r, 120)
		first = r.Times().Solid
	}
	x := r.Times()
	if !(first > 0) || !(x.Surface > 100 && x.Surface < 280) {
		t.Errorf("%s: %+v", name, x)
	}
	e := r.Energy()
	t.Logf("%-20s %3.1f mm %6d triangles, %5.1f cm3, kept %+.2f %%, solid after %.1f s, face %.0f degC, left %.1g", name, h, len(m.F), 1e6*v, 100*(r.Volume/v-1), first, x.Surface, e.Share())
	if math.Abs(e.Share()) > 1e-5 {
		t.Errorf("%s: %g of the heat is left over", name, e.Share())
	}
	if math.Abs(r.Volume/v-1) > 0.03 {
		t.Errorf("%s: cells hold %.3g of %.3g m3", name, r.Volume, v)
	}
}

func TestOutsideMeshes(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names := outside.Castable(t, dir)
	if len(names) == 0 {
		t.Fatal("values.json names no castable body")
	}
	cells := []float64{2}
	if full() {
		cells = append(cells, 1.4, 1)
	}
	for i, name := range names {
		if !full() && i%6 != 0 {
			continue
		}
		m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
		if err != nil {
			t.Logf("%s: not read: %v", name, err) // formats the reader does not know
			continue
		}
		for _, h := range cells {
			pourMesh(t, name, m, h)
		}
	}
}
