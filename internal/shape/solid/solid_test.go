package solid

import (
	"math"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// ballMesh is an octahedron divided n times and blown up to radius r.
func ballMesh(o vec.V3, r float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{V: []vec.V3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}},
		F: [][3]int32{{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}}}
	for range n {
		mid := map[[2]int32]int32{}
		half := func(a, b int32) int32 {
			if a > b {
				a, b = b, a
			}
			if i, ok := mid[[2]int32{a, b}]; ok {
				return i
			}
			m.V = append(m.V, m.V[a].Add(m.V[b]).Unit())
			mid[[2]int32{a, b}] = int32(len(m.V) - 1)
			return int32(len(m.V) - 1)
		}
		var f [][3]int32
		for _, t := range m.F {
			a, b, c := half(t[0], t[1]), half(t[1], t[2]), half(t[2], t[0])
			f = append(f, [3]int32{t[0], a, c}, [3]int32{a, t[1], b}, [3]int32{c, b, t[2]}, [3]int32{a, b, c})
		}
		m.F = f
	}
	for i := range m.V {
		m.V[i] = o.Add(m.V[i].Mul(r))
	}
	return m
}

// sheetMesh is the body below a wavy sheet over the square of half side s.
func sheetMesh(s float64, n int, f func(x, y float64) float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := func(i, j, k int) int32 { return int32((k*(n+1)+j)*(n+1) + i) }
	for k := range 2 {
		for j := range n + 1 {
			for i := range n + 1 {
				x, y := -s+2*s*float64(i)/float64(n), -s+2*s*float64(j)/float64(n)
				z := -s
				if k == 1 {
					z = f(x, y)
				}
				m.V = append(m.V, vec.V3{X: x, Y: y, Z: z})
			}
		}
	}
	for j := range n {
		for i := range n {
			m.F = append(m.F, [3]int32{at(i, j, 1), at(i+1, j, 1), at(i+1, j+1, 1)}, [3]int32{at(i, j, 1), at(i+1, j+1, 1), at(i, j+1, 1)},
				[3]int32{at(i, j, 0), at(i+1, j+1, 0), at(i+1, j, 0)}, [3]int32{at(i, j, 0), at(i, j+1, 0), at(i+1, j+1, 0)})
		}
	}
	wall := func(a, b, c, d int32) { m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d}) }
	for i := range n {
		wall(at(i, 0, 0), at(i+1, 0, 0), at(i+1, 0, 1), at(i, 0, 1))
		wall(at(i+1, n, 0), at(i, n, 0), at(i, n, 1), at(i+1, n, 1))
		wall(at(0, i+1, 0), at(0, i, 0), at(0, i, 1), at(0, i+1, 1))
		wall(at(n, i, 0), at(n, i+1, 0), at(n, i+1, 1), at(n, i, 1))
	}
	return m
}

func metal(l Label) Label {
	if l == Outside {
		return l
	}
	return Metal
}

func below(l Label) Label {
	if l == Half1 {
		return Half2
	}
	return l
}

// prove checks what every mould complex must fulfil.
func prove(t *testing.T, c *Complex, block float64) {
	t.Helper()
	if err := c.closed(); err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for l := Metal; l <= Void; l++ {
		sum += c.Volume(l)
	}
	if math.Abs(sum-block) > 1e-9*block {
		t.Errorf("cells fill %.9g of %.9g mm3", sum, block)
	}
	if x := c.Crossings(); len(x) > 0 {
		t.Errorf("%d pairs of triangles cross of %d", len(x), len(c.T))
	}
}

func TestBallInWavyBlock(t *testing.T) {
	c := Block(vec.Box{Min: vec.V3{X: -30, Y: -30, Z: -30}, Max: vec.V3{X: 30, Y: 30, Z: 30}}, Half1)
	if err := c.Insert(sheetMesh(31, 60, func(x, y float64) float64 { return 2 * math.Sin(x/7) * math.Cos(y/9) }), below); err != nil {
		t.Fatal(err)
	}
	prove(t, c, 60*60*60)
	b := ballMesh(vec.V3{X: 0.3, Y: 0.1, Z: 0.2}, 20, 5)
	if err := c.Insert(b, metal); err != nil {
		t.Fatal(err)
	}
	prove(t, c, 60*60*60)
	if v, w := c.Volume(Metal), b.Volume(); math.Abs(v/w-1) > 1e-6 {
		t.Errorf("metal %.6f, ball %.6f", v, w)
	}
	t.Logf("%d corners, %d triangles", len(c.V), len(c.T))
}

func TestRandomBodies(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := range 40 {
		c := Block(vec.Box{Min: vec.V3{X: -30, Y: -30, Z: -30}, Max: vec.V3{X: 30, Y: 30, Z: 30}}, Half1)
		h := rng.Float64() * 5
		if err := c.Insert(sheetMesh(31, 20+n, func(x, y float64) float64 { return h * math.Sin(x/7+h) * math.Cos(y/9) }), below); err != nil {
			t.Fatal(err)
		}
		for k := range 3 {
			o := vec.V3{X: rng.Float64()*40 - 20, Y: rng.Float64()*40 - 20, Z: rng.Float64()*20 - 10}
			if err := c.Insert(ballMesh(o, 5+10*rng.Float64(), 3+k), metal); err != nil {
				t.Fatalf("round %d body %d: %v", n, k, err)
			}
		}
		prove(t, c, 60*60*60)
	}
}

// TestCrumbs shuts a ball of half 2 in half 1 and one in metal: both are given
// away, the block stays full.
func TestCrumbs(t *testing.T) {
	c := Block(vec.Box{Min: vec.V3{X: -30, Y: -30, Z: -30}, Max: vec.V3{X: 30, Y: 30, Z: 30}}, Half1)
	to := func(x Label) func(Label) Label { return func(Label) Label { return x } }
	for _, s := range []struct {
		m *mesh.Mesh
		f func(Label) Label
	}{
		{sheetMesh(31, 40, func(x, y float64) float64 { return -5 }), below},
		{ballMesh(vec.V3{X: 12, Z: 8}, 9, 3), metal},
		{ballMesh(vec.V3{X: -12, Z: 8}, 2, 2), to(Half2)},
		{ballMesh(vec.V3{X: 12, Z: 8}, 3, 2), to(Half2)},
	} {
		if err := c.Insert(s.m, s.f); err != nil {
			t.Fatal(err)
		}
	}
	lost := c.Crumbs(Half1, Half2)
	small := ballMesh(vec.V3{}, 2, 2).Volume() + ballMesh(vec.V3{}, 3, 2).Volume()
	if math.Abs(lost[Half2]/small-1) > 1e-3 || lost[Half1] != 0 {
		t.Errorf("crumbs of %v mm3, want %.4f of half 2", lost, small)
	}
	if v, w := c.Volume(Metal), ballMesh(vec.V3{}, 9, 3).Volume(); math.Abs(v/w-1) > 1e-4 {
		t.Errorf("metal %.4f, want %.4f", v, w)
	}
	prove(t, c, 60*60*60)
}

// TestUnfold pushes a corner of a ball through its neighbours and a little
// below the surface, as a slip of a modelling program does, and cuts the ball
// into a block.
func TestUnfold(t *testing.T) {
	for _, push := range []float64{2.5, 3, 4} {
		m := ballMesh(vec.V3{}, 20, 4)
		// A corner near the equator, moved along the ball.
		at := 0
		for i, p := range m.V {
			if math.Abs(p.Z-3) < math.Abs(m.V[at].Z-3) {
				at = i
			}
		}
		d := m.V[at].Cross(vec.V3{X: 0.2, Y: 0.1, Z: 1}).Unit()
		m.V[at] = m.V[at].Add(d.Mul(push * 3)).Mul(0.97)
		b := Prepare(m)
		f := b.Unfold()
		if f.Pairs == 0 || f.Left != 0 || f.Moved > 12 {
			t.Errorf("push %g: %+v", push, f)
		}
		if g := b.Unfold(); g.Pairs != 0 {
			t.Errorf("push %g: %d pairs after", push, g.Pairs)
		}
		c := Block(vec.Box{Min: vec.V3{X: -30, Y: -30, Z: -30}, Max: vec.V3{X: 30, Y: 30, Z: 30}}, Half1)
		if err := c.InsertBody(b, func(Label) Label { return Metal }); err != nil {
			t.Errorf("push %g: %v", push, err)
		}
		if x := c.Crossings(); len(x) != 0 {
			t.Errorf("push %g: %d crossings", push, len(x))
		}
		if v, w := c.Volume(Metal), m.Volume(); math.Abs(v-w) > 0.02*w {
			t.Errorf("push %g: volume %.1f, was %.1f", push, v, w)
		}
	}
}

// TestUnfoldLeavesTwoInOne: a bar that runs through its own beginning is no fold,
// few as its triangles are: taken apart it would be another body.
func TestUnfoldLeavesTwoInOne(t *testing.T) {
	m := outside.BarThrough()
	b := Prepare(m)
	if f := b.Unfold(); f.Pairs == 0 || f.Left != f.Pairs || f.Moved != 0 {
		t.Errorf("%+v", f)
	}
	if v := b.shells[0].volume(); math.Abs(v-m.Volume()) > 1e-6*v {
		t.Errorf("volume %g, was %g", v, m.Volume())
	}
}
