package chill

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// spreadFrom gives each cell the time at which a front of the given speed (m/s) that
// starts in one cell comes to it, by steps over sides, edges and corners.
func spreadFrom(s *State, from int32, speed float64) []float64 {
	at := make([]float64, s.c.N)
	for i := range at {
		at[i] = math.Inf(1)
	}
	at[from] = 0
	next := []int32{from}
	var list [26]int32
	var steps [26]vec.V3
	for len(next) > 0 {
		var more []int32
		for _, c := range next {
			p := s.c.Centre(c)
			for _, o := range list[:s.near(c, &list, &steps)] {
				if t := at[c] + s.c.Centre(o).Sub(p).Len()/speed; t < at[o]-1e-12 {
					at[o] = t
					more = append(more, o)
				}
			}
		}
		next = more
	}
	return at
}

// Scans of 60 mm: every bit of skin finds a cell, a filling from the top ends with
// finite numbers, meeting places that lie in the metal, and goes on to heat whole.
func TestScans(t *testing.T) {
	names, sizes := []string{"bob_small.ply", "cat.obj", "ring_gasket.obj"}, []float64{2}
	if os.Getenv("POURWRIGHT_FULL") == "1" {
		names, sizes = []string{"ball_bumpy.off", "bob_small.ply", "boot.obj", "bracket_top.ply", "cat.obj", "featuretype_inch.stl", "fish.obj", "goathead.obj",
			"knot_quads.obj", "koala_low.obj", "nefertiti.obj", "plate_holes.stl", "ring_gasket.obj", "spot_low.obj", "torus_stl.stl", "tray_bottom.stl", "wingnut.obj"}, []float64{2, 1}
	}
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	for _, name := range names {
		m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
		if err != nil {
			t.Fatal(err)
		}
		m = outside.At60(m)
		for _, h := range sizes {
			fillScan(t, name, m, h)
		}
	}
}

func fillScan(t *testing.T, name string, m *mesh.Mesh, h float64) {
	block := m.Box().Grow(8)
	c, _ := cavity(t, m, block, h)
	began := time.Now()
	w, lost := FromMesh(c.Cells, m, block)
	took := time.Since(began)
	w.Curve(c.Section)
	if lost > 1e-3*w.Area() || math.Abs((w.Area()+lost)*1e6/area(m)-1) > 0.02 {
		t.Errorf("%s at %g mm: %g of %g mm2, lost %g", name, h, w.Area()*1e6, area(m), lost*1e6)
	}
	s := state(t, Problem{Cells: c.Cells, Walls: w, Metal: pewter(), Rubber: silicone(), Mould: 45})
	top := int32(0)
	for i := range int32(c.N) {
		if c.I[i][1] > c.I[top][1] {
			top = i
		}
	}
	f, q := run(s, spreadFrom(s, top, 0.3), h*1e-3/0.3, 1e-3, 0.6, func(int) float64 { return 280 })
	T, cell := s.Coldest(f)
	full := 0
	for i := range c.N {
		if f[i] > 0.5 {
			full++
		}
	}
	if !(T > 45 && T <= 280) || cell < 0 {
		t.Errorf("%s at %g mm: coldest %g degC", name, h, T)
	}
	meetings := s.Meetings()
	long := 0.0
	for _, x := range meetings {
		long = math.Max(long, x.Length)
		if !(x.Coldest <= 280 && x.Time <= 0.61 && x.Time >= 0) {
			t.Errorf("%s: %+v", name, x)
		}
	}
	g, err := grid.Over(block, h)
	if err != nil {
		t.Fatal(err)
	}
	b, err := heat.FromMesh(context.Background(), m, block, g)
	if err != nil {
		t.Fatal(err)
	}
	r, err := heat.New(context.Background(), heat.Problem{Body: b, Metal: pewter(), Rubber: silicone(), Air: 20, Start: 45})
	if err != nil {
		t.Fatal(err)
	}
	given, err := s.Filled(g, f, q)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.PourFilled(given); err != nil {
		t.Fatal(err)
	}
	held := r.Energy().Metal - r.Volume*7150*256*(235.6-20)
	t.Logf("%-20s %g mm: %6d cells, %6d walls in %3d ms, lost %.0e; %3.0f %% filled, coldest %.0f degC, rubber took %.1f %%; %d meetings, longest %.0f mm; heat off by %.0e",
		name, h, c.N, len(w.Patch), took.Milliseconds(), lost/w.Area(), 100*float64(full)/float64(c.N), T, 100*s.Balance.Rubber/(s.Balance.Rubber+s.Holds(q)), len(meetings), long, held/s.Holds(q)-1)
	if math.Abs(held/s.Holds(q)-1) > 1e-9 {
		t.Errorf("%s: heat %g, handed over %g J", name, s.Holds(q), held)
	}
}
