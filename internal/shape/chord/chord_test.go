package chord

import (
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// box returns a closed box of edges x, y, z.
func box(x, y, z float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.V = append(m.V, vec.V3{X: x * float64(i&1), Y: y * float64(i>>1&1), Z: z * float64(i>>2&1)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// A box has three chord lengths, each on the area of two of its faces.
func TestBox(t *testing.T) {
	m := box(40, 20, 2)
	s := Measure(m, bvh.Build(m))
	if len(s) < Samples-4 { // a line along an edge may be given to the outside
		t.Fatalf("%d of %d chords met nothing", Samples-len(s), Samples)
	}
	area := 2 * (40*20 + 40*2 + 20*2.)
	if c := s.Thinnest(); math.Abs(c.Length-2) > 1e-9 {
		t.Errorf("thinnest %g at %v", c.Length, c.At)
	}
	for _, c := range []struct{ q, want float64 }{{(1600 - 3) / area, 2}, {(1600 + 3) / area, 20}, {(1760 - 3) / area, 20}, {(1760 + 3) / area, 40}} {
		if got := s.Quantile(c.q).Length; math.Abs(got-c.want) > 1e-9 {
			t.Errorf("quantile %g: %g, want %g", c.q, got, c.want)
		}
	}
}

// prism is a convex polygon in x and z, drawn out to d along y.
func prism(d float64, p ...vec.V2) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := int32(len(p))
	for _, y := range [2]float64{0, d} {
		for _, q := range p {
			m.V = append(m.V, vec.V3{X: q.X, Y: y, Z: q.Y})
		}
	}
	for i := range n {
		j := (i + 1) % n
		m.F = append(m.F, [3]int32{i, i + n, j + n}, [3]int32{i, j + n, j})
		if i > 0 && j > 0 {
			m.F = append(m.F, [3]int32{0, i, j}, [3]int32{n, n + j, n + i})
		}
	}
	if m.Volume() < 0 {
		for i, t := range m.F {
			m.F[i] = [3]int32{t[0], t[2], t[1]}
		}
	}
	return m
}

// TestWall: a plate of 3 mm ground to edges of 45 degrees all its length has a
// wall of 3 mm, whatever its chords at the edge; one that tapers by 2 degrees is
// thin.
func TestWall(t *testing.T) {
	plate := prism(40, vec.V2{}, vec.V2{X: 30}, vec.V2{X: 27, Y: 3}, vec.V2{X: 3, Y: 3})
	s := Measure(plate, bvh.Build(plate))
	if w := s.Wall(); math.Abs(w.Length-3) > 1e-9 || s.Thinnest().Length > 1.5 {
		t.Errorf("wall %g, thinnest %g: want 3 and less than half of it", w.Length, s.Thinnest().Length)
	}
	taper := prism(40, vec.V2{}, vec.V2{X: 30}, vec.V2{X: 30, Y: 1 + 30*math.Tan(2*math.Pi/180)}, vec.V2{Y: 1})
	s = Measure(taper, bvh.Build(taper))
	if w := s.Wall(); w.Length > 1.05 || w.Length < 1 || w.Facing < math.Cos(2.1*math.Pi/180) {
		t.Errorf("tapered plate: wall %+v, want the end of 1 mm", w)
	}
	b := box(40, 20, 2)
	s = Measure(b, bvh.Build(b))
	if s.Wall().Length != s.Thinnest().Length {
		t.Errorf("box: wall %g, thinnest %g", s.Wall().Length, s.Thinnest().Length)
	}
	if w := (Sections{}).Wall(); w.Length != 0 {
		t.Errorf("nothing has a wall of %g", w.Length)
	}
}

func TestNoChords(t *testing.T) {
	m := &mesh.Mesh{V: []vec.V3{{}, {X: 1}, {Y: 1}}, F: [][3]int32{{0, 1, 2}}}
	if s := Measure(m, bvh.Build(m)); len(s) != 0 || s.Thinnest().Length != 0 {
		t.Errorf("a lone triangle has %d chords", len(s))
	}
	if s := Measure(&mesh.Mesh{}, bvh.Build(&mesh.Mesh{})); len(s) != 0 {
		t.Errorf("nothing has %d chords", len(s))
	}
}

func TestSameOnOneCore(t *testing.T) {
	m := box(3, 4, 5)
	a := Measure(m, bvh.Build(m))
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if !slices.Equal(a, Measure(m, bvh.Build(m))) {
		t.Error("other chords on one core")
	}
}

// TestMeshSet compares quantiles with those measured by other code from
// 20 000 random points on bodies scaled to 60 mm.
func TestMeshSet(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	_, files := outside.Values[struct {
		Kind, Format string
		At           struct {
			P01 float64 `json:"section_p01_mm"`
			P05 float64 `json:"section_p05_mm"`
			P50 float64 `json:"section_p50_mm"`
		} `json:"at_60_mm"`
	}](t, dir)
	seen := 0
	for name, f := range files {
		if f.Kind != "sound" || f.At.P50 == 0 {
			continue
		}
		m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
		if err != nil {
			t.Fatal(err)
		}
		seen++
		s := Measure(m, bvh.Build(m))
		scale := 60 / m.Box().Longest()
		// The share of the area below their quantile must be theirs within four
		// standard errors of both samples.
		for _, c := range []struct{ q, want float64 }{{0.01, f.At.P01}, {0.05, f.At.P05}, {0.5, f.At.P50}} {
			se := 4 * math.Sqrt(2*c.q*(1-c.q)/Samples)
			lo, hi := s.Quantile(c.q-se).Length*scale, s.Quantile(c.q+se).Length*scale
			if slack := 1e-3 * c.want; c.want < lo-slack || c.want > hi+slack {
				t.Errorf("%s: quantile %g is %.4g, between %.4g and %.4g here", name, c.q, c.want, lo, hi)
			}
		}
	}
	if seen < 15 {
		t.Errorf("%d meshes compared", seen)
	}
}

func BenchmarkMeasure(b *testing.B) {
	dir := outside.Meshes(b)
	if dir == "" {
		return
	}
	m, _, err := meshfile.Read(filepath.Join(dir, "files", "nefertiti.obj"), meshfile.Options{})
	if err != nil {
		b.Fatal(err)
	}
	tree := bvh.Build(m)
	for b.Loop() {
		Measure(m, tree)
	}
}
