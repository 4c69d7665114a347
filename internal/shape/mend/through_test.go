package mend

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// both puts two meshes into one.
func both(a, b *mesh.Mesh) *mesh.Mesh {
	m := &mesh.Mesh{}
	m.Append(a)
	m.Append(b)
	return m
}

// TestThroughBodies: bodies that run through themselves in one place or several,
// bodies that only touch, and bodies that come near.
func TestThroughBodies(t *testing.T) {
	centre := vec.V3{}
	torus := sculpt.Torus(10, 3, 48, 24).Mesh
	corner := box(vec.V3{X: -1, Y: -1, Z: 5}, vec.V3{X: 1, Y: 1, Z: 6})
	for i, p := range corner.V { // on one corner
		if p.Z == 5 {
			corner.V[i] = vec.V3{X: p.X / 1000, Y: p.Y / 1000, Z: 5 + 1e-3*(p.X+p.Y+2)}
		}
	}
	tests := []struct {
		name   string
		m      *mesh.Mesh
		places int
		touch  bool
		at     *vec.V3 // within this of the deepest
		near   float64
	}{
		{"bar through itself", outside.BarThrough(), 1, false, &centre, 6},
		{"tube through itself", outside.EightTube(48), 1, false, &centre, 6},
		{"torus", torus, 0, false, nil, 0},
		{"two tori, linked and apart", both(torus, turnedTorus(10)), 0, false, nil, 0},
		{"two tori through each other", both(torus, turnedTorus(0.5)), 2, false, nil, 0},
		{"box on box", both(box(vec.V3{X: -5, Y: -5}, vec.V3{X: 5, Y: 5, Z: 5}), box(vec.V3{X: -2, Y: -1, Z: 5}, vec.V3{X: 2, Y: 1, Z: 9})), 0, true, nil, 0},
		{"box on a corner", both(box(vec.V3{X: -5, Y: -5}, vec.V3{X: 5, Y: 5, Z: 5}), corner), 0, true, nil, 0},
		{"box 1 um over box", both(box(vec.V3{X: -5, Y: -5}, vec.V3{X: 5, Y: 5, Z: 5}), box(vec.V3{X: -2, Y: -1, Z: 5.001}, vec.V3{X: 2, Y: 1, Z: 9})), 0, false, nil, 0},
		{"box 1 um in box", both(box(vec.V3{X: -5, Y: -5}, vec.V3{X: 5, Y: 5, Z: 5}), box(vec.V3{X: -2, Y: -1, Z: 4.999}, vec.V3{X: 2, Y: 1, Z: 9})), 1, false, nil, 0},
		{"box in box", both(box(vec.V3{X: -5, Y: -5}, vec.V3{X: 5, Y: 5, Z: 5}), box(vec.V3{X: -2, Y: -1, Z: 1}, vec.V3{X: 2, Y: 1, Z: 2})), 0, false, nil, 0},
		{"bar through a wall, out and in", both(box(vec.V3{X: -1, Y: -5, Z: -5}, vec.V3{X: 1, Y: 5, Z: 5}), box(vec.V3{X: -9, Y: -2, Z: -2}, vec.V3{X: 9, Y: 2, Z: 2})), 1, false, nil, 0},
	}
	for _, c := range tests {
		for _, size := range []float64{1, 1e-3, 1e4} { // no length of its own
			m := &mesh.Mesh{F: c.m.F}
			for _, p := range c.m.V {
				m.V = append(m.V, p.Mul(size))
			}
			r := Crossings(m, mesh.TopologyOf(m))
			if len(r.Places) != c.places || c.places == 0 && c.touch != (r.Touches > 0) || !r.Whole {
				t.Errorf("%s at %g: %d places, %d touch, whole %t (%+v)", c.name, size, len(r.Places), r.Touches, r.Whole, r.Places)
				continue
			}
			if c.at != nil && r.Places[0].At.Mul(1/size).Dist(*c.at) > c.near {
				t.Errorf("%s at %g: deepest at %v, %d pairs, %g deep", c.name, size, r.Places[0].At.Mul(1/size), r.Places[0].Pairs, r.Places[0].Depth/size)
			}
		}
	}
}

// turnedTorus is a torus whose ring stands upright in the x-z plane with its
// middle at x.
func turnedTorus(x float64) *mesh.Mesh {
	m := sculpt.Torus(10, 3, 48, 24).Mesh
	r := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		r.V = append(r.V, vec.V3{X: p.X + x, Y: -p.Z, Z: p.Y})
	}
	return r
}

// TestThroughSet counts the pairs of triangles that meet but for shared corners
// and edges in every closed file of the mesh set: its values.json has them from
// CGAL (Polygon_mesh_processing, self_intersections). rabbit_overlap holds faces
// that lie on each other, which the two count differently.
func TestThroughSet(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names, set := outside.Values[struct {
		Kind string
		Read *struct {
			Watertight *bool
			Pairs      *int `json:"self_intersecting_pairs"`
		}
	}](t, dir)
	files := 0
	for _, name := range names {
		f := set[name]
		if f.Read == nil || f.Read.Watertight == nil || !*f.Read.Watertight || f.Read.Pairs == nil {
			continue
		}
		data, err := os.ReadFile(filepath.Join(dir, "files", name))
		if err != nil {
			t.Fatal(err)
		}
		m, _, err := meshfile.Parse(data, name, meshfile.Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		files++
		r := Crossings(m, mesh.TopologyOf(m))
		got := r.Touches
		for _, p := range r.Places {
			got += p.Pairs
		}
		slack := 0
		if name == "rabbit_overlap.obj" {
			slack = 8
		}
		if d := got - *f.Read.Pairs; d > slack || d < -slack {
			t.Errorf("%s: %d pairs (%d touch), want %d", name, got, r.Touches, *f.Read.Pairs)
		}
		if want := f.Kind == "near"; want != (len(r.Places) > 0) {
			t.Errorf("%s (%s): %d places", name, f.Kind, len(r.Places))
		}
		if got > 0 {
			t.Logf("%s: %d pairs in %d places, %d touch, deepest %.3g of the size", name, got, len(r.Places), r.Touches, r.Places[0].Depth/m.Box().Longest())
		}
	}
	t.Logf("%d files", files)
}

// TestThroughEnds: in a closed surface of 32 768 triangles whose corners lie
// anywhere, some hundred million pairs cross. The search ends early, with a
// list that fits into memory, and says so; and it ends at the same place again.
func TestThroughEnds(t *testing.T) {
	m := outside.Ball(6, 10)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range m.V {
		m.V[i] = vec.V3{X: r.Float64(), Y: r.Float64(), Z: r.Float64()}
	}
	top := mesh.TopologyOf(m)
	a, b := Crossings(m, top), Crossings(m, top)
	if a.Whole || len(a.Places) == 0 || a.Places[0].Pairs > 2_000_000 {
		t.Errorf("%d triangles: whole %t, %d places", len(m.F), a.Whole, len(a.Places))
	}
	if len(a.Places) != len(b.Places) || !reflect.DeepEqual(a.Places[0], b.Places[0]) || a.Touches != b.Touches {
		t.Errorf("%+v, then %+v", a.Places[0], b.Places[0])
	}
}

// BenchmarkCrossings asks a bust of 280 000 triangles (without the mesh set: an
// egg).
func BenchmarkCrossings(b *testing.B) {
	m := sculpt.Ball(30, 390).Mesh
	if dir := outside.Meshes(b); dir != "" {
		n, _, err := meshfile.Read(filepath.Join(dir, "files", "nefertiti.obj"), meshfile.Options{})
		if err != nil {
			b.Fatal(err)
		}
		m = outside.Quartered(n)
	}
	t := mesh.TopologyOf(m)
	b.Logf("%d triangles", len(m.F))
	for b.Loop() {
		if r := Crossings(m, t); len(r.Places) > 0 {
			b.Fatal(r)
		}
	}
}
