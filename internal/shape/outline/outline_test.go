package outline

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// torus turns about the axis z.
func torus(nu, nv int, big, small float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range nu {
		for j := range nv {
			a, b := 2*math.Pi*float64(i)/float64(nu), 2*math.Pi*float64(j)/float64(nv)
			r := big + small*math.Cos(b)
			m.V = append(m.V, vec.V3{X: r * math.Cos(a), Y: r * math.Sin(a), Z: small * math.Sin(b)})
		}
	}
	at := func(i, j int) int32 { return int32(i%nu*nv + j%nv) }
	for i := range nu {
		for j := range nv {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

func square(lo, hi float64) Loop {
	return Loop{{X: lo, Y: lo}, {X: hi, Y: lo}, {X: hi, Y: hi}, {X: lo, Y: hi}}
}

func circle(n int, r float64) Loop {
	l := make(Loop, n)
	for i := range l {
		a := 2 * math.Pi * float64(i) / float64(n)
		l[i] = vec.V2{X: r * math.Cos(a), Y: r * math.Sin(a)}
	}
	return l
}

func close(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %g, want %g within %g", what, got, want, tol)
	}
}

func TestLoop(t *testing.T) {
	s := Shape{square(0, 10), square(3, 6).Reversed()}
	close(t, "area", s.Area(), 91, 1e-12)
	close(t, "length", s.Length(), 52, 1e-12)
	close(t, "turns", s[0].Turns(), 1, 1e-12)
	for _, c := range []struct {
		x, y float64
		in   bool
	}{{1, 1, true}, {4, 4, false}, {6.5, 4, true}, {-1, 4, false}, {11, 4, false}, {0, 0, true}, {10, 5, false}, {5, 10, false}, {5, 0, true}, {3, 4, false}, {6, 4, true}} {
		if s.Inside(vec.V2{X: c.x, Y: c.y}) != c.in {
			t.Errorf("(%g, %g): inside %v", c.x, c.y, !c.in)
		}
	}
	close(t, "distance inside", s.Distance(vec.V2{X: 1, Y: 5}), 1, 1e-12)
	close(t, "distance to a corner", s.Distance(vec.V2{X: 13, Y: 14}), 5, 1e-12)
	lo, hi := s.Moved(vec.V2{X: 2, Y: -1}).Box()
	if lo != (vec.V2{X: 2, Y: -1}) || hi != (vec.V2{X: 12, Y: 9}) {
		t.Error(lo, hi)
	}
	if (Shape{}).Inside(vec.V2{}) || !math.IsInf((Shape{}).Distance(vec.V2{}), 1) || Loop(nil).Area() != 0 {
		t.Error("empty shape")
	}
}

// TestInsideIsOneSided: squares that share sides part the plane, each random
// point on the whole-number lines belongs to exactly one.
func TestInsideIsOneSided(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 2000 {
		p := vec.V2{X: float64(r.IntN(4)), Y: float64(r.IntN(13)) / 4}
		if r.IntN(2) == 0 {
			p.X, p.Y = p.Y, p.X
		}
		n := 0
		for i := -1; i < 5; i++ {
			for j := -1; j < 5; j++ {
				s := Shape{square(0, 1)}.Moved(vec.V2{X: float64(i), Y: float64(j)})
				tri := Shape{{s[0][0], s[0][1], s[0][2]}, {s[0][0], s[0][2], s[0][3]}}
				for _, l := range tri {
					n += l.Winding(p)
				}
			}
		}
		if n != 1 {
			t.Fatalf("%v belongs to %d triangles", p, n)
		}
	}
}

// TestSectionOfTorus: two circles across the axis, two across the tube, and
// everything between, against closed forms and against integrals of area.
func TestSectionOfTorus(t *testing.T) {
	m := torus(240, 120, 10, 3)
	flat, open := Section(m, vec.World())
	if len(flat) != 2 || len(open) != 0 {
		t.Fatalf("%d loops, %d open", len(flat), len(open))
	}
	close(t, "flat cut", flat.Area(), math.Pi*(13*13-7*7), 0.15)
	side, _ := Section(m, vec.Frame{X: vec.V3{Y: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{X: 1}})
	if len(side) != 2 {
		t.Fatalf("%d loops", len(side))
	}
	close(t, "cut through the axis", side.Area(), 2*math.Pi*9, 0.05)
	for _, l := range side {
		if l.Area() < 0 {
			t.Error("both are outer loops")
		}
	}
	// Volume = integral of the section's area, for any direction.
	f := vec.AlongZ(vec.V3{X: 0.3, Y: 0.2, Z: 0.9})
	sum := 0.0
	const n = 400
	for k := range n {
		f.Origin = f.Z.Mul(-14 + 28*(float64(k)+0.5)/n)
		s, open := Section(m, f)
		if len(open) > 0 {
			t.Fatalf("plane %d: %d open chains", k, len(open))
		}
		sum += s.Area() * 28 / n
	}
	close(t, "volume of slices", sum, m.Volume(), 1e-3*m.Volume())
}

// TestSectionThroughCorners: planes exactly through faces, edges and corners.
func TestSectionThroughCorners(t *testing.T) {
	m := outside.Brick(vec.V3{}, vec.V3{X: 4, Y: 3, Z: 2})
	for _, c := range []struct {
		z, area float64
		loops   int
	}{{0, 0, 0}, {2, 12, 1}, {1, 12, 1}, {-1, 0, 0}, {2.1, 0, 0}} {
		s, open := Section(m, vec.Frame{Origin: vec.V3{Z: c.z}, X: vec.V3{X: 1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: 1}})
		if len(s) != c.loops || len(open) != 0 || math.Abs(s.Area()-c.area) > 1e-12 {
			t.Errorf("z %g: %d loops, %d open, area %g", c.z, len(s), len(open), s.Area())
		}
	}
	f := vec.AlongZ(vec.V3{X: 1, Y: 0, Z: 1}) // through two edges
	f.Origin = vec.V3{X: 2, Y: 0, Z: 0}
	s, open := Section(m, f)
	if len(s) != 1 || len(open) != 0 {
		t.Fatalf("%d loops, %d open", len(s), len(open))
	}
	close(t, "slanted cut", s.Area(), 3*2*math.Sqrt2, 1e-12)
	// Planes through every corner of a torus on whole numbers, in many directions.
	tor := torus(16, 12, 10, 3)
	for i, p := range tor.V {
		tor.V[i] = vec.V3{X: math.Round(p.X), Y: math.Round(p.Y), Z: math.Round(p.Z)}
	}
	for k, p := range tor.V {
		for _, d := range []vec.V3{{Z: 1}, {X: 1}, {X: 1, Y: 1}, {X: 1, Y: -1, Z: 1}} {
			f := vec.AlongZ(d)
			f.Origin = p
			if _, open := Section(tor, f); len(open) != 0 {
				t.Fatalf("corner %d along %v: %d open chains", k, d, len(open))
			}
		}
	}
}

// TestSectionOfOpenMesh: one side of the box is missing.
func TestSectionOfOpenMesh(t *testing.T) {
	m := outside.Brick(vec.V3{}, vec.V3{X: 4, Y: 3, Z: 2})
	m.F = m.F[:10]
	f := vec.World()
	f.Origin.Z = 1
	s, open := Section(m, f)
	if len(s) != 0 || len(open) != 1 {
		t.Fatalf("%d loops, %d open", len(s), len(open))
	}
	l := open[0]
	a, b := l[0], l[len(l)-1]
	if a.X != 4 || b.X != 4 || math.Abs(a.Y-b.Y) != 3 {
		t.Errorf("the chain runs from %v to %v", a, b)
	}
}

// TestSectionOfTwoBodiesOnOneEdge: four triangles share an edge; loops close.
func TestSectionOfTwoBodiesOnOneEdge(t *testing.T) {
	m := outside.Brick(vec.V3{}, vec.V3{X: 1, Y: 1, Z: 1})
	o := outside.Brick(vec.V3{X: 1, Y: 1}, vec.V3{X: 2, Y: 2, Z: 1})
	m.Append(o)
	for i, f := range m.F { // join equal corners
		for k, v := range f {
			m.F[i][k] = int32(slices.Index(m.V, m.V[v]))
		}
	}
	f := vec.World()
	f.Origin.Z = 0.5
	s, open := Section(m, f)
	if len(open) != 0 || math.Abs(s.Area()-2) > 1e-12 {
		t.Errorf("%d open, area %g: %v", len(open), s.Area(), s)
	}
}

func TestContour(t *testing.T) {
	// A cone's level lines are circles; the error falls with the square of the
	// step.
	var err [2]float64
	for k, n := range []int{40, 80} {
		h := 20.0 / float64(n)
		v := make([]float64, n*n)
		for q := range v {
			x, y := float64(q%n)*h-9.7, float64(q/n)*h-9.9
			v[q] = 10 - math.Hypot(x, y)
		}
		s := Contour(v, n, n, 4)
		if len(s) != 1 {
			t.Fatalf("%d loops", len(s))
		}
		err[k] = math.Abs(s.Area()*h*h - math.Pi*36)
	}
	if err[0] > 0.5 || err[1] > err[0]/3 {
		t.Errorf("errors %g", err)
	}
	// Points above the level at the border: the loop closes along it.
	s := Contour([]float64{1, 1, 1, 1, 1, 1}, 3, 2, 0)
	if len(s) != 1 || s.Area() != 2 {
		t.Errorf("%v", s)
	}
	// A saddle goes by its mean: joined above, parted below.
	if s := Contour([]float64{3, 0, 0, 3}, 2, 2, 1); len(s) != 1 {
		t.Errorf("joined saddle: %v", s)
	}
	if s := Contour([]float64{3, 0, 0, 3}, 2, 2, 2); len(s) != 0 && len(s) != 2 {
		t.Errorf("parted saddle: %v", s)
	}
	if s := Contour([]float64{math.NaN(), 1, 1, math.NaN(), 1, 1, 1, 1, 1}, 3, 3, 0); len(s) != 1 || !(s.Area() > 0) {
		t.Errorf("NaN: %v", s)
	}
	// Random fields: every loop closes, inside is to the left.
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 2))
		nx, ny := 2+r.IntN(30), 2+r.IntN(30)
		v := make([]float64, nx*ny)
		for q := range v {
			v[q] = r.Float64()
		}
		s := Contour(v, nx, ny, 0.5)
		for q, x := range v {
			if p := (vec.V2{X: float64(q % nx), Y: float64(q / nx)}); s.Distance(p) > 1e-9 && s.Inside(p) != (x > 0.5) {
				t.Fatalf("seed %d: point %v with %g: inside %v", seed, p, x, s.Inside(p))
			}
		}
	}
}

func TestShadow(t *testing.T) {
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		h     float64
		area  float64
		loops int
		tol   float64
	}{
		{"torus", torus(480, 120, 10, 3), 0.25, math.Pi * (13*13 - 7*7), 2, 0.12},
		{"torus fine", torus(480, 120, 10, 3), 0.1, math.Pi * (13*13 - 7*7), 2, 0.05},
		{"box", outside.Brick(vec.V3{X: 1, Y: 2, Z: 3}, vec.V3{X: 9, Y: 7, Z: 4}), 0.25, 40, 1, 0.1},
		{"far", outside.Brick(vec.V3{X: 10001, Y: -20002, Z: 3}, vec.V3{X: 10009, Y: -19997, Z: 4}), 0.25, 40, 1, 0.1},
		{"small", outside.Brick(vec.V3{}, vec.V3{X: 8e-5, Y: 5e-5, Z: 4e-5}), 2.5e-6, 40e-10, 1, 0.1e-10},
	} {
		s, err := Shadow(c.m, c.h)
		if err != nil || len(s) != c.loops {
			t.Errorf("%s: %d loops, %v", c.name, len(s), err)
		}
		close(t, c.name, s.Area(), c.area, c.tol)
	}
	// Points lie on the outline itself, except at the box's corners.
	s, _ := Shadow(torus(480, 120, 10, 3), 0.4)
	for _, l := range s {
		for _, p := range l {
			if d := math.Min(math.Abs(p.Len()-13), math.Abs(p.Len()-7)); d > 2e-3 {
				t.Fatalf("point %v is %g off", p, d)
			}
		}
	}
	for _, h := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-9} {
		if _, err := Shadow(outside.Brick(vec.V3{}, vec.V3{X: 1, Y: 1, Z: 1}), h); err == nil {
			t.Errorf("step %g was taken", h)
		}
	}
	if _, err := Shadow(&mesh.Mesh{}, 1); err == nil {
		t.Error("an empty mesh was taken")
	}
}

func TestOffset(t *testing.T) {
	ring := Shape{circle(400, 10), circle(200, 4).Reversed()}
	for _, c := range []struct {
		name  string
		s     Shape
		d     float64
		area  float64
		loops int
	}{
		{"square out", Shape{square(0, 10)}, 2, 100 + 80 + 4*math.Pi, 1},
		{"square in", Shape{square(0, 10)}, -2, 36, 1},
		{"square away", Shape{square(0, 10)}, -6, 0, 0},
		{"ring out", ring, 1, math.Pi * (121 - 9), 2},
		{"ring in", ring, -1, math.Pi * (81 - 25), 2},
		{"hole closes", ring, 5, math.Pi * 225, 1},
		{"overlap", Shape{square(0, 10), square(5, 15)}, 1, 175 + 60 + 6*math.Pi/4 - 2, 1},
	} {
		s, err := c.s.Offset(c.d, 0.1)
		if err != nil || len(s) != c.loops {
			t.Errorf("%s: %d loops, %v", c.name, len(s), err)
		}
		close(t, c.name, s.Area(), c.area, 0.1)
	}
	if s, err := (Shape{}).Offset(1, 0.1); s != nil || err != nil {
		t.Error(s, err)
	}
	for _, step := range []float64{0, -1, math.NaN(), 1e-7} {
		if _, err := ring.Offset(1, step); err == nil {
			t.Errorf("step %g was taken", step)
		}
	}
}

// TestSimplify: every point left out lies within the bound of what stays.
func TestSimplify(t *testing.T) {
	c := circle(2000, 10)
	for _, tol := range []float64{1, 0.1, 0.01, 1e-4} {
		s := c.Simplify(tol)
		for _, p := range c {
			if d := (Shape{s}).Distance(p); d > tol*(1+1e-9) {
				t.Fatalf("tol %g: a point is %g away", tol, d)
			}
		}
		// n chords of a circle leave r (1 - cos(pi/n)).
		if n := math.Pi / math.Acos(1-tol/10); float64(len(s)) > 3*n {
			t.Errorf("tol %g: %d points stay, %g would do", tol, len(s), n)
		}
	}
	l := Loop{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 1}, {X: 2, Y: 2}, {X: 1, Y: 2}, {X: 0, Y: 2}, {X: 0, Y: 1}}
	for k := range l { // whatever the first point
		if s := append(slices.Clone(l[k:]), l[:k]...).Simplify(0); len(s) != 4 || s.Area() != 4 {
			t.Errorf("from %d: %v", k, s)
		}
	}
	if s := (Shape{square(0, 0), square(0, 1)}).Simplify(0.01); len(s) != 1 {
		t.Errorf("%v", s)
	}
}

// BenchmarkSection and BenchmarkShadow: a body of 300 000 triangles.
func BenchmarkSection(b *testing.B) {
	m := torus(600, 250, 25, 8)
	f := vec.AlongZ(vec.V3{X: 0.3, Y: 0.2, Z: 0.9})
	for b.Loop() {
		Section(m, f)
	}
}

func BenchmarkShadow(b *testing.B) {
	m := torus(600, 250, 25, 8)
	for b.Loop() {
		if _, err := Shadow(m, 0.2); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOffset(b *testing.B) {
	s := Shape{circle(1000, 40), circle(400, 20).Reversed()}
	for b.Loop() {
		if _, err := s.Offset(3, 0.2); err != nil {
			b.Fatal(err)
		}
	}
}
