package voxel

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// TestBoxOnTheLines: a box whose corners, edges and cut faces all lie on
// lines. Its near sides take their lines, its far sides do not.
func TestBoxOnTheLines(t *testing.T) {
	m := box(vec.V3{X: 2, Y: 3, Z: 0.25}, vec.V3{X: 8, Y: 7, Z: 4}, 12)
	c := Cast(m, 11, 11, 0, 0, 1)
	if c.Bad != 0 {
		t.Errorf("%d bad lines", c.Bad)
	}
	for j := range 11 {
		for i := range 11 {
			want := []Span{}
			if i >= 2 && i < 8 && j >= 3 && j < 7 {
				want = []Span{{0.25, 4}}
			}
			if got := c.At(i, j); !slices.Equal(got, want) {
				t.Errorf("line (%d, %d): %v, want %v", i, j, got, want)
			}
		}
	}
	if c.Volume() != 6*4*3.75 {
		t.Errorf("volume %g", c.Volume())
	}
	if !c.Inside(4, 4, 0.25) || !c.Inside(4, 4, 2) || !c.Inside(4, 4, 4) || c.Inside(4, 4, 4.01) || c.Inside(4, 4, 0) || c.Inside(0, 0, 2) {
		t.Error("Inside")
	}
}

// TestVolumes: the spans add up to the volume of the mesh itself.
func TestVolumes(t *testing.T) {
	a := box(vec.V3{}, vec.V3{X: 4, Y: 4, Z: 4}, 3)
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want float64
	}{
		{"ball", outside.Ball(4, 5), outside.Ball(4, 5).Volume()},
		{"torus flat", torus(80, 48, 10, 3), torus(80, 48, 10, 3).Volume()},
		{"torus turned", turned(torus(80, 48, 10, 3)), torus(80, 48, 10, 3).Volume()},
		{"hollow", join(outside.Ball(4, 5), flipped(outside.Ball(3, 3))), outside.Ball(4, 5).Volume() - outside.Ball(3, 3).Volume()},
		{"inside out", flipped(outside.Ball(4, 5)), 0},
		{"overlap", join(a, moved(a, vec.V3{X: 2, Y: 1, Z: 1.5})), 64 + 64 - 2*3*2.5},
		{"twice in one place", join(a, a), 64},
		{"touching on top", join(a, moved(a, vec.V3{Z: 4})), 128},
		{"far away", moved(turned(a), vec.V3{X: 1e5, Y: -2e5, Z: 3e5}), 64},
	} {
		b := c.m.Box()
		const n = 400
		h := b.Longest() / n
		got := Cast(c.m, n+2, n+2, b.Min.X-0.37*h, b.Min.Y-0.41*h, h)
		if got.Bad != 0 {
			t.Errorf("%s: %d bad lines", c.name, got.Bad)
		}
		if v := got.Volume(); math.Abs(v-c.want) > 1e-3*b.Longest()*b.Longest()*b.Longest()/8 {
			t.Errorf("%s: volume %g, want %g", c.name, v, c.want)
		}
	}
}

// TestTouchingBodiesAreOneSpan also holds for bodies that share a face.
func TestTouchingBodiesAreOneSpan(t *testing.T) {
	a := box(vec.V3{}, vec.V3{X: 4, Y: 4, Z: 4}, 3)
	c := Cast(join(moved(a, vec.V3{Z: 4}), a, moved(a, vec.V3{Z: 9})), 4, 4, 0.5, 0.5, 1)
	for q := range c.Len() {
		if !slices.Equal(c.Of(q), []Span{{0, 8}, {9, 13}}) {
			t.Fatalf("line %d: %v", q, c.Of(q))
		}
	}
}

// TestAgainstEachTriangle compares with a plain search of all triangles.
func TestAgainstEachTriangle(t *testing.T) {
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 9))
		m := turned(torus(9+r.IntN(30), 5+r.IntN(12), 10, 1+6*r.Float64()))
		m.Append(moved(outside.Ball(2, 6), vec.V3{X: 5 * r.Float64(), Y: 3}))
		nx, ny := 5+r.IntN(60), 5+r.IntN(60)
		b := m.Box()
		h := b.Longest() / float64(20+r.IntN(60))
		x0, y0 := b.Min.X+r.Float64()*3, b.Min.Y+r.Float64()*3
		c := Cast(m, nx, ny, x0, y0, h)
		if c.Bad != 0 {
			t.Fatalf("seed %d: %d bad lines", seed, c.Bad)
		}
		for j := range ny {
			for i := range nx {
				want := plainLine(m, x0+float64(i)*h, y0+float64(j)*h)
				got := c.At(i, j)
				ok := len(got) == len(want)
				for k := 0; ok && k < len(got); k++ {
					ok = math.Abs(got[k].Lo-want[k].Lo) < 1e-9 && math.Abs(got[k].Hi-want[k].Hi) < 1e-9
				}
				if !ok {
					t.Fatalf("seed %d, line (%d, %d): %v, want %v", seed, i, j, got, want)
				}
			}
		}
	}
}

func plainLine(m *mesh.Mesh, x, y float64) (out []Span) {
	var all []crossing
	for i := range m.F {
		a, b, c := m.Tri(i)
		n := b.Sub(a).Cross(c.Sub(a))
		p := vec.V2{X: x, Y: y}
		e := func(p, q vec.V3, x vec.V2) float64 {
			return vec.V2{X: q.X - p.X, Y: q.Y - p.Y}.Cross(vec.V2{X: x.X - p.X, Y: x.Y - p.Y})
		}
		u, v, w := e(a, b, p), e(b, c, p), e(c, a, p)
		if u > 0 && v > 0 && w > 0 || u < 0 && v < 0 && w < 0 {
			d := int32(-1)
			if n.Z < 0 {
				d = 1
			}
			all = append(all, crossing{(u*c.Z + v*a.Z + w*b.Z) / (u + v + w), 0, d})
		}
	}
	slices.SortFunc(all, func(a, b crossing) int {
		if a.w < b.w {
			return -1
		}
		return 1
	})
	n := int32(0)
	for _, k := range all {
		if n == 0 && k.d > 0 {
			out = append(out, Span{k.w, k.w})
		}
		if n += k.d; n == 0 && k.d < 0 {
			out[len(out)-1].Hi = k.w
		}
	}
	return out
}

// TestOpenMeshCountsBadLines: a lid is missing over a quarter of the lines.
func TestOpenMeshCountsBadLines(t *testing.T) {
	m := box(vec.V3{}, vec.V3{X: 4, Y: 4, Z: 4}, 2)
	open := &mesh.Mesh{V: m.V}
	for i, f := range m.F {
		a, b, c := m.Tri(i)
		if g := a.Add(b).Add(c).Mul(1.0 / 3); g.Z == 4 && g.X < 2 && g.Y < 2 {
			continue
		}
		open.F = append(open.F, f)
	}
	c := Cast(open, 8, 8, 0.25, 0.25, 0.5)
	if c.Bad != 16 {
		t.Errorf("%d bad lines, want 16", c.Bad)
	}
	if v := c.Volume(); v != 48 {
		t.Errorf("volume %g, want the 48 that closed", v)
	}
}

func TestSenselessInput(t *testing.T) {
	m := outside.Ball(1, 1)
	for _, h := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if c := Cast(m, 3, 3, 0, 0, h); c.Len() != 9 || len(c.At(2, 2)) != 0 {
			t.Errorf("h %g", h)
		}
	}
	if c := Cast(m, 0, -4, 0, 0, 1); c.Len() != 0 {
		t.Error("no lines wanted")
	}
	if c := Cast(&mesh.Mesh{}, 3, 3, 0, 0, 1); c.Volume() != 0 || c.Bad != 0 {
		t.Error("empty mesh")
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), 1e300} {
		bad := outside.Ball(1, 1)
		bad.V[2].Y = x
		c := Cast(bad, 20, 20, -1, -1, 0.1)
		if v := c.Volume(); !(v >= 0) {
			t.Errorf("corner at %g: volume %g", x, v)
		}
	}
}

// TestSameOnOneCoreAndShuffled: bits do not depend on cores or order.
func TestSameOnOneCoreAndShuffled(t *testing.T) {
	m := turned(torus(200, 100, 10, 3))
	cast := func(m *mesh.Mesh) *Columns { return Cast(m, 150, 150, -13, -13, 0.18) }
	a := cast(m)
	old := runtime.GOMAXPROCS(1)
	b := cast(m)
	runtime.GOMAXPROCS(old)
	s := &mesh.Mesh{V: m.V, F: slices.Clone(m.F)}
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(s.F), func(i, j int) { s.F[i], s.F[j] = s.F[j], s.F[i] })
	for _, x := range []*Columns{b, cast(s)} {
		if !slices.Equal(a.spans, x.spans) || !slices.Equal(a.start, x.start) {
			t.Error("spans differ")
		}
	}
}

func gridOver(t testing.TB, m *mesh.Mesh, n int) grid.Grid {
	g, err := grid.Longest(m.Box(), n)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// TestCells compares with the ball's own equation, and with columns along z.
func TestCells(t *testing.T) {
	m := outside.Ball(6, 5)
	g := gridOver(t, m, 40)
	cells := Cells(m, g)
	for q, got := range cells {
		d := g.Centre(g.Cell(q)).Len()
		if want := uint8(1); math.Abs(d-5) > 0.01 && (got == want) != (d < 5) {
			t.Fatalf("cell %v at %g: %d", q, d, got)
		}
	}
	m = turned(join(torus(40, 24, 10, 3), moved(outside.Ball(3, 4), vec.V3{X: 8})))
	g = gridOver(t, m, 50)
	cells = Cells(m, g)
	c := Cast(m, g.NX, g.NY, g.Origin.X+g.H/2, g.Origin.Y+g.H/2, g.H)
	for q, got := range cells {
		i, j, k := g.Cell(q)
		if (got == 1) != c.Inside(i, j, g.Centre(i, j, k).Z) {
			t.Fatalf("cell %d %d %d: %d", i, j, k, got)
		}
	}
}

// TestFractions: a box with known shares, and a ball whose volume must come
// out better with more lines.
func TestFractions(t *testing.T) {
	m := box(vec.V3{X: 0.25, Y: 0.5, Z: 0.1}, vec.V3{X: 2.5, Y: 3, Z: 2.75}, 4)
	g := grid.Grid{H: 1, NX: 4, NY: 4, NZ: 3}
	f := Fractions(m, g, 4)
	share := func(lo, hi float64, i int) float64 {
		return max(0, min(hi, float64(i+1))-max(lo, float64(i)))
	}
	for q, got := range f {
		i, j, k := g.Cell(q)
		want := share(0.25, 2.5, i) * share(0.5, 3, j) * share(0.1, 2.75, k)
		if math.Abs(float64(got)-want) > 1e-6 {
			t.Errorf("cell %d %d %d: %g, want %g", i, j, k, got, want)
		}
	}
	b := turned(outside.Ball(5, 5))
	g = gridOver(t, b, 17)
	var err [3]float64
	for n, sub := range []int{1, 3, 9} {
		sum := 0.0
		for q, x := range Fractions(b, g, sub) {
			if !(x >= 0 && x <= 1) {
				t.Fatalf("share %g", x)
			}
			d, h := g.Centre(g.Cell(q)).Len(), g.H*math.Sqrt(3)/2
			if d+h < 4.99 && x != 1 || d-h > 5.01 && x != 0 {
				t.Fatalf("share %g at %g", x, d)
			}
			sum += float64(x)
		}
		err[n] = math.Abs(sum*g.H*g.H*g.H/b.Volume() - 1)
	}
	if err[0] > 1e-2 || err[1] > 1e-3 || err[2] > 1e-4 {
		t.Errorf("volume errors %g", err)
	}
	// A grid smaller than the body cuts it off.
	for _, x := range Fractions(b, grid.Grid{Origin: vec.V3{X: -1, Y: -1, Z: -1}, H: 0.5, NX: 4, NY: 4, NZ: 4}, 2) {
		if x != 1 {
			t.Fatalf("inner cell %g", x)
		}
	}
}
