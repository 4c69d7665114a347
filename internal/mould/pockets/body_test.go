package pockets

import (
	"math"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

var up = vec.V3{Z: 1}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %g, want %g within %g", what, got, want, tol)
	}
}

func evaluate(t *testing.T, m *mesh.Mesh, up vec.V3, o Outlets) *Stand {
	t.Helper()
	s, err := Evaluate(m, up, o, 0)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// cup is an upright cup: wall from radius 8 to 10, floor 2, height 20.
func cup() *mesh.Mesh {
	return turn([][2]float64{{0, 0}, {10, 0}, {10, 20}, {8, 20}, {8, 2}, {0, 2}}, 64)
}

func TestClosedForms(t *testing.T) {
	disc := 32 * math.Sin(2*math.Pi/64) // area of the 64-gon of radius 1
	u := cells(vec.V3{X: 10, Y: 10, Z: 10}, []string{"#####"}, []string{"#...#"}, []string{"#...#"}, []string{"....#"})
	towers := cells(vec.V3{X: 10, Y: 10, Z: 10}, []string{"#####"}, []string{".#.#."}, []string{"...#."})
	hollow := ball(10, 24)
	hollow.Append(flip(ball(6, 24)))
	upright, flat := torus(20, 5, 32), torus(20, 5, 32)
	cases := []struct {
		name    string
		m       *mesh.Mesh
		up      vec.V3
		volumes []float64
		saddle  float64
	}{
		{"ball", ball(10, 24), up, nil, 0},
		{"ball aside", ball(10, 24), vec.V3{X: 0.3, Y: -0.5, Z: 0.7}, nil, 0},
		{"torus flat", flat, up, nil, 0},
		{"torus on its edge", upright, vec.V3{X: 1}, nil, 0},
		{"cone point up", turn([][2]float64{{0, 0}, {10, 0}, {0, 30}}, 64), up, nil, 0},
		{"cone point down", turn([][2]float64{{0, 0}, {10, 30}, {0, 30}}, 64), up, nil, 0},
		{"U", u, up, []float64{2000}, 10},
		{"U upside down", u, vec.V3{Z: -1}, nil, 0},
		{"two towers", towers, up, []float64{1000}, 10},
		{"two towers upside down", towers, vec.V3{Z: -1}, nil, 0},
		{"cup mouth up", cup(), up, nil, 0},
		{"cup mouth down", cup(), vec.V3{Z: -1}, nil, 0},
		{"hollow ball", hollow, up, nil, 0},
	}
	for _, c := range cases {
		s := evaluate(t, c.m, c.up, Outlets{})
		if !s.Exact {
			t.Errorf("%s: not exact", c.name)
		}
		if len(s.Pockets) != len(c.volumes) {
			t.Errorf("%s: pockets %v, want %v", c.name, s.Pockets, c.volumes)
			continue
		}
		for i, v := range c.volumes {
			near(t, c.name, s.Pockets[i].Volume, v, 1e-9*v)
			near(t, c.name+" saddle", s.Pockets[i].Saddle, c.saddle, 1e-9)
		}
		near(t, c.name+" volume", s.Volume, c.m.Volume(), 1e-9*s.Volume)
	}
	// A cup with a handleless side tower: the lower of two tops keeps what
	// stands above the floor they share; a tilted cup keeps a wedge of rim.
	s := evaluate(t, cup(), up, Outlets{})
	near(t, "cup", s.Volume, disc*(100*20-64*18), 1e-6)
	if s.Parts != 1 {
		t.Errorf("hollow parts: %d", s.Parts)
	}
	if h := evaluate(t, hollow, up, Outlets{}); h.Parts != 1 {
		t.Errorf("a void in metal is no part of its own: %d parts", h.Parts)
	}
}

func TestBranchesThatMeetAtOneHeightCountSingly(t *testing.T) {
	s := evaluate(t, cells(vec.V3{X: 10, Y: 10, Z: 7}, []string{"#######"}, []string{"#.#.#.#"}, []string{"......#"}), up, Outlets{})
	if len(s.Pockets) != 3 {
		t.Fatalf("%d pockets, want 3", len(s.Pockets))
	}
	near(t, "trapped", s.Trapped, 2100, 1e-9)
}

func TestEqualTopsKeepTheSmallerBranch(t *testing.T) {
	m := cells(vec.V3{X: 10, Y: 10, Z: 10}, []string{"#####"}, []string{"#..##"})
	for _, turned := range []vec.Frame{vec.World(), vec.AlongZ(vec.V3{X: 1, Y: 2, Z: 3}), vec.AlongZ(vec.V3{X: -3, Y: 1, Z: 0.2})} {
		s := evaluate(t, moved(m, turned, 1), turned.Z, Outlets{})
		near(t, "the single tower stays full", s.Trapped, 1000, 1e-6)
	}
}

func TestOutlets(t *testing.T) {
	u := cells(vec.V3{X: 10, Y: 10, Z: 10}, []string{"#####"}, []string{"#...#"}, []string{"#...#"}, []string{"....#"})
	top := Ball{vec.V3{X: 5, Y: 5, Z: 30}, 1}
	if s := evaluate(t, u, up, Outlets{Balls: []Ball{top}}); s.Trapped != 0 {
		t.Errorf("vented at the top: %g", s.Trapped)
	}
	flank := Ball{vec.V3{X: 0, Y: 5, Z: 20}, 2}
	s := evaluate(t, u, up, Outlets{Balls: []Ball{flank}})
	near(t, "vented at the flank", s.Trapped, 800, 1e-9)
	near(t, "its saddle", s.Pockets[0].Saddle, 22, 1e-9)
	far := Ball{vec.V3{X: 40, Y: 5, Z: 5}, 2}
	near(t, "vented elsewhere", evaluate(t, u, up, Outlets{Balls: []Ball{far}}).Trapped, 2000, 1e-9)
	rim := Slab{At: vec.V3{Z: 30}, Normal: up, Half: 0.1}
	s = evaluate(t, u, up, Outlets{Slabs: []Slab{rim}, Only: true})
	near(t, "rim below the top", s.Trapped, 10*100-10, 1e-6)
	if s := evaluate(t, u, up, Outlets{Only: true}); math.Abs(s.Trapped-s.Volume) > 1e-9*s.Volume {
		t.Errorf("without any outlet all is air: %g of %g", s.Trapped, s.Volume)
	}
	two := cells(vec.V3{X: 10, Y: 10, Z: 10}, []string{"#.#"}, []string{"#.."})
	if s := evaluate(t, two, up, Outlets{}); s.Trapped != 0 || s.Parts != 2 {
		t.Errorf("two bodies: trapped %g in %d parts", s.Trapped, s.Parts)
	}
}

// The pocket's branch is found through metal, not only along the surface: the
// roof of the bubble opens inside the tower.
func TestBubbleInATower(t *testing.T) {
	full := []string{"###.###", "###.###", "###.###"}
	void := []string{"###.###", "#.#.###", "###.###"}
	base := []string{"#######", "#######", "#######"}
	m := cells(vec.V3{X: 2, Y: 2, Z: 2}, base, full, void, full, []string{"....###", "....###", "....###"})
	s := evaluate(t, m, up, Outlets{})
	if len(s.Pockets) != 1 || !s.Exact || s.Parts != 1 {
		t.Fatalf("%+v", s)
	}
	near(t, "volume", s.Trapped, (27-1)*8, 1e-9)
	near(t, "area", s.Pockets[0].Area, 36, 1e-9)
}

// Two rings linked like a chain have boxes that meet and yet do not overlap;
// turned rods side by side likewise.
func TestBodiesThatAreApartAreExact(t *testing.T) {
	m := torus(20, 4, 24)
	m.Append(moved(torus(20, 4, 24), vec.Frame{Origin: vec.V3{X: 20}, X: vec.V3{X: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{Y: -1}}, 1))
	s := evaluate(t, m, up, Outlets{})
	if !s.Exact || s.Parts != 2 || s.Trapped != 0 {
		t.Errorf("linked rings: %+v", s)
	}
	m.Append(moved(torus(20, 4, 24), vec.Frame{Origin: vec.V3{X: 40}, X: vec.V3{X: 1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: 1}}, 1))
	if s := evaluate(t, m, up, Outlets{}); s.Exact {
		t.Error("rings that overlap were taken as apart")
	}
}

// Whatever the triangles are, there is an answer or an error.
func TestNoPanicOnSoup(t *testing.T) {
	seed := uint64(7)
	next := func(n int) int {
		seed = seed*6364136223846793005 + 1442695040888963407
		return int(seed>>33) % n
	}
	for round := range 200 {
		m := &mesh.Mesh{}
		nv := 3 + next(12)
		for range nv {
			m.V = append(m.V, vec.V3{X: float64(next(5)), Y: float64(next(5)), Z: float64(next(5))})
		}
		for range 1 + next(30) {
			m.F = append(m.F, [3]int32{int32(next(nv)), int32(next(nv)), int32(next(nv))})
		}
		if next(2) == 0 { // closed and folded onto itself
			for _, f := range m.F {
				m.F = append(m.F, [3]int32{f[1], f[0], f[2]})
			}
		}
		if next(2) == 0 {
			m.Append(moved(cells(vec.V3{X: 1, Y: 1, Z: 1}, []string{"###"}, []string{"#.#"}), vec.World(), 1))
		}
		b := Prepare(m)
		for _, d := range []vec.V3{{Z: 1}, {X: 1, Y: 2, Z: 3}} {
			if s, err := b.Evaluate(d, Outlets{Balls: []Ball{{vec.V3{X: 1}, 1}}, Slabs: []Slab{{vec.V3{Z: 2}, vec.V3{Z: 1}, 0.5}}, Only: next(2) == 0}, 40); err == nil && !(s.Trapped >= 0 && s.Volume > 0) {
				t.Fatalf("%+v", s)
			}
			b.Hanging(d, Widest)
			if round%20 > 0 {
				continue
			}
			if s, err := b.Find(d, Options{}); err == nil && math.IsNaN(s.Score) {
				t.Fatalf("%+v", s)
			}
		}
	}
}

// An overlapping pair and an open mesh go by columns.
func TestColumnsWhereTheSurfaceFails(t *testing.T) {
	m := moved(cells(vec.V3{X: 10, Y: 10, Z: 10}, []string{"#####"}, []string{"#...."}), vec.World(), 1)
	m.Append(moved(cells(vec.V3{X: 8, Y: 8, Z: 38}, []string{"#"}), vec.Frame{Origin: vec.V3{X: 41, Y: 1, Z: 1}, X: vec.V3{X: 1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: 1}}, 1))
	s := evaluate(t, m, up, Outlets{})
	if s.Exact {
		t.Error("overlapping shells were taken as one surface")
	}
	near(t, "trapped", s.Trapped, 1000, 10)
	near(t, "volume", s.Volume, 6000+64*29, 50)
	u := cells(vec.V3{X: 10, Y: 10, Z: 10}, []string{"#####"}, []string{"#...#"}, []string{"....#"})
	u.F = u.F[1:]
	s = evaluate(t, u, up, Outlets{})
	if s.Exact {
		t.Error("an open mesh was taken as closed")
	}
	near(t, "trapped", s.Trapped, 1000, 30)
}

func TestRefusals(t *testing.T) {
	for _, d := range []vec.V3{{}, {X: math.NaN()}, {Y: math.Inf(1)}} {
		if _, err := Evaluate(cup(), d, Outlets{}, 0); err == nil {
			t.Errorf("up %v was accepted", d)
		}
	}
	for _, m := range []*mesh.Mesh{{}, {V: []vec.V3{{}, {X: 1}, {Y: 1}}, F: [][3]int32{{0, 1, 2}}}, flip(cup())} {
		if s, err := Evaluate(m, up, Outlets{}, 0); err == nil {
			t.Errorf("a mesh that encloses nothing was accepted: %+v", s)
		}
	}
}

func TestInvariance(t *testing.T) {
	u := cells(vec.V3{X: 7, Y: 10, Z: 11}, []string{"#####"}, []string{"#.#.#"}, []string{"..#.#"}, []string{"....#"})
	bodies := map[string]*mesh.Mesh{"U": u, "cup": cup()}
	if dir := outside.Meshes(t); dir != "" {
		for _, n := range []string{"cat.obj", "goathead.obj", "cube_notched.stl"} {
			bodies[n] = load(t, filepath.Join(dir, "files", n))
		}
	}
	for name, m := range bodies {
		for _, d := range []vec.V3{{Z: 1}, {X: -1}, {X: 1, Y: 1, Z: 1}} {
			a := evaluate(t, m, d, Outlets{})
			f := vec.AlongZ(vec.V3{X: 0.3, Y: -0.7, Z: 0.4})
			box := m.Box()
			f.Origin = vec.V3{X: 6000, Y: -5000, Z: 6000}.Mul(box.Longest())
			b := evaluate(t, moved(m, f, 1), f.FromDir(d), Outlets{})
			near(t, name+" moved", b.Trapped, a.Trapped, 2e-8*a.Volume)
			if len(a.Pockets) != len(b.Pockets) {
				t.Errorf("%s: %d pockets, %d when moved", name, len(a.Pockets), len(b.Pockets))
			}
			c := evaluate(t, moved(m, vec.World(), 2), d, Outlets{})
			near(t, name+" doubled", c.Trapped, 8*a.Trapped, 1e-9*c.Volume)
			if !a.Exact || !b.Exact || !c.Exact {
				t.Errorf("%s: not exact", name)
			}
		}
	}
}

func TestSameOnOneCore(t *testing.T) {
	m := torus(20, 5, 64)
	m.Append(flip(moved(ball(2, 40), vec.Frame{Origin: vec.V3{X: 20}, X: vec.V3{X: 1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: 1}}, 1)))
	d := vec.V3{X: 0.2, Y: 0.9, Z: 0.1}
	a := evaluate(t, m, d, Outlets{})
	old := runtime.GOMAXPROCS(1)
	b := evaluate(t, m, d, Outlets{})
	runtime.GOMAXPROCS(old)
	if diff := cmp.Diff(a, b); diff != "" {
		t.Error(diff)
	}
}

func BenchmarkEvaluate(b *testing.B) {
	m := torus(20, 5, 316) // 300 k corners' worth: 2 x 316 x 948 triangles
	m.F = m.F[:len(m.F):len(m.F)]
	b.Run("prepare", func(b *testing.B) {
		for b.Loop() {
			Prepare(m)
		}
		b.ReportMetric(float64(len(m.F)), "triangles")
	})
	body := Prepare(m)
	b.Run("torus", func(b *testing.B) {
		for b.Loop() {
			if _, err := body.Evaluate(vec.V3{X: 1, Y: 0.2, Z: 0.1}, Outlets{}, 0); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("columns", func(b *testing.B) {
		for b.Loop() {
			if _, err := body.byColumns(vec.V3{X: 1}, Outlets{}, 400); err != nil {
				b.Fatal(err)
			}
		}
	})
}
