package thin

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// A box of many triangles comes down to a few without a change of shape.
func TestBoxComesBack(t *testing.T) {
	m := sculpt.Box(30, 20, 10).Mesh
	fine := m
	for range 4 {
		fine = outside.Quartered(fine)
	}
	r := Reduce(fine, 12, 1e-3)
	d := Apart(fine, r, 0.3)
	if len(r.F) > 30 || math.Abs(r.Volume()-6000) > 1e-6*6000 || d.Found > 1e-3 || d.Most > 0.31 || !mesh.TopologyOf(r).Watertight {
		t.Errorf("%d triangles, volume %.9g, apart %+v", len(r.F), r.Volume(), d)
	}
}

// TestApart holds the bound against distances known by construction: a ball of
// another radius, a ball moved, and a flat ball whose facets sag.
func TestApart(t *testing.T) {
	ball := sculpt.Ball(10, 64).Mesh
	moved := &mesh.Mesh{F: ball.F}
	large := &mesh.Mesh{F: ball.F}
	for _, p := range ball.V {
		moved.V = append(moved.V, p.Add(vec.V3{X: 0.25}))
		large.V = append(large.V, p.Mul(1.02))
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want float64
		tol  float64
	}{
		{"the same", ball, 0, 1e-9},
		{"moved", moved, 0.25, 0.01},
		{"larger", large, 0.2, 0.01},
	} {
		d := Apart(ball, c.m, 1e-3)
		if d.Found > c.want+c.tol || d.Found < c.want-c.tol || d.Most < d.Found-1e-9 || d.Most > 1.1*d.Found+1e-3 {
			t.Errorf("%s: %+v, want %g", c.name, d, c.want)
		}
	}
	coarse := sculpt.Ball(10, 12).Mesh
	d := Apart(ball, coarse, 1e-3)
	// The deepest point of a facet lies at its plane's distance from the centre.
	sag := 0.0
	for i := range coarse.F {
		a, _, _ := coarse.Tri(i)
		if n := coarse.Normal(i); n != (vec.V3{}) {
			sag = math.Max(sag, 10-n.Dot(a))
		}
	}
	if d.Most < 0.9*sag || d.Most > 1.25*sag {
		t.Errorf("apart %+v, sag %g", d, sag)
	}
}

// TestScansAreThinned thins outside scans: closed as before, no fold, the same
// holes through, and no sampled point of either surface beyond the bound.
func TestScansAreThinned(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	for _, name := range []string{"fish.obj", "cat.obj", "boot.obj", "bracket_top.ply"} {
		m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
		if err != nil {
			t.Fatal(err)
		}
		m = outside.At60(m)
		want := len(m.F) / 5
		r := Reduce(m, want, 0.08)
		d := Apart(m, r, 0.01)
		a, b := mesh.TopologyOf(m), mesh.TopologyOf(r)
		v := r.Volume()/m.Volume() - 1
		t.Logf("%s: %d to %d triangles, apart %.4f to %.4f mm, volume %+.2e", name, len(m.F), len(r.F), d.Found, d.Most, v)
		if len(r.F) > want*2 || !b.Watertight || *a.Genus != *b.Genus || a.Shells != b.Shells || math.Abs(v) > 1e-2 || d.Most > 0.6 {
			t.Errorf("%s: %d triangles of %d wanted, %+v, volume %+g", name, len(r.F), want, *b, v)
		}
		rnd := rand.New(rand.NewPCG(3, 4))
		for _, pair := range [][2]*mesh.Mesh{{m, r}, {r, m}} {
			tree := bvh.Build(pair[1])
			for range 20000 {
				p, q, s := pair[0].Tri(rnd.IntN(len(pair[0].F)))
				u, w := rnd.Float64(), rnd.Float64()
				if u+w > 1 {
					u, w = 1-u, 1-w
				}
				x := p.Add(q.Sub(p).Mul(u)).Add(s.Sub(p).Mul(w))
				if _, _, e := tree.Closest(x, math.Inf(1)); e > d.Most*(1+1e-9) {
					t.Fatalf("%s: a point is %g from the other surface, beyond %g", name, e, d.Most)
				}
			}
		}
	}
}

func BenchmarkReduce(b *testing.B) {
	dir := outside.Meshes(b)
	if dir == "" {
		return
	}
	m, _, err := meshfile.Read(filepath.Join(dir, "files", "torus_stl.stl"), meshfile.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for range 4 {
		m = outside.Quartered(m)
	}
	var r *mesh.Mesh
	b.Run("reduce", func(b *testing.B) {
		for b.Loop() {
			r = Reduce(m, 300000, 0.02)
		}
	})
	b.Run("apart", func(b *testing.B) {
		for b.Loop() {
			Apart(m, r, 2e-3*m.Box().Longest())
		}
	})
}
