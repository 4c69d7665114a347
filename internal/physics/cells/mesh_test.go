package cells

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
	"pourwright/validation/outside"
)

var slant = vec.V3{X: 0.3, Y: 0.5, Z: 0.7}

// cavity returns the cells of 1 mm of a body in rubber all round.
func cavity(t testing.TB, m *mesh.Mesh, h float64) (*Cavity, grid.Grid) {
	t.Helper()
	block := m.Box().Grow(5)
	g, err := Lay(m, block, h)
	if err != nil {
		t.Fatal(err)
	}
	c, err := FromMesh(context.Background(), m, g, block, Extra{})
	if err != nil {
		t.Fatal(err)
	}
	return c, g
}

func TestBodies(t *testing.T) {
	plate := func(w float64) *mesh.Mesh { return outside.Brick(vec.V3{}, vec.V3{X: 20, Y: 15, Z: w}) }
	halves := joined(outside.Brick(vec.V3{}, vec.V3{X: 5.4, Y: 15, Z: 10}), outside.Brick(vec.V3{X: 5.7}, vec.V3{X: 12, Y: 15, Z: 10}))
	u := joined(outside.Brick(vec.V3{}, vec.V3{X: 3.3, Y: 4.2, Z: 20}), outside.Brick(vec.V3{X: 3.3}, vec.V3{X: 9.1, Y: 4.2, Z: 3.7}), outside.Brick(vec.V3{X: 9.1}, vec.V3{X: 12, Y: 4.2, Z: 17}))
	little := vec.V3{X: 0.03, Y: 0.05, Z: 0.7}
	for _, x := range []struct {
		name    string
		m       *mesh.Mesh
		islands int
	}{
		{"ball", moved(outside.Ball(5, 10), vec.V3{X: 0.1, Y: 0.23, Z: 0.41}), 1},
		{"box", outside.Brick(vec.V3{}, vec.V3{X: 20.3, Y: 15.2, Z: 10.7}), 1},
		{"box at an angle", leant(outside.Brick(vec.V3{}, vec.V3{X: 20, Y: 15, Z: 10}), slant), 1},
		{"box nearly upright", leant(outside.Brick(vec.V3{}, vec.V3{X: 20, Y: 15, Z: 10}), vec.V3{X: 0.03, Y: 0.02, Z: 0.7}), 1},
		{"U", u, 1},
		{"U at an angle", leant(u, slant), 1},
		{"plate 0.25", moved(plate(0.25), vec.V3{Z: 0.3}), 1},
		{"plate 0.25 at an angle", leant(plate(0.25), slant), 1},
		{"plate 0.25 at a small angle", leant(plate(0.25), little), 1},
		{"plate 0.5 at an angle", leant(plate(0.5), slant), 1},
		{"pin 0.25", outside.Prism(32, 0.125, 20), 1},
		{"pin 0.25 at an angle", leant(outside.Prism(32, 0.125, 20), slant), 1},
		{"pin 0.5 at an angle", leant(outside.Prism(32, 0.25, 20), vec.V3{X: 1, Y: 1, Z: 1}), 1},
		{"rubber of 0.3 between", halves, 2},
		{"rubber of 0.3 at an angle", leant(halves, slant), 2},
		{"two plates 0.3 apart", leant(joined(plate(0.3), moved(plate(0.3), vec.V3{Z: 0.6})), little), 2},
	} {
		c, g := cavity(t, x.m, 1)
		if v := c.Volume() * 1e9; math.Abs(v/x.m.Volume()-1) > 1e-9 || c.Dropped != 0 {
			t.Errorf("%s: volume %.9f of the mesh, %g dropped", x.name, v/x.m.Volume(), c.Dropped)
		}
		if n := len(islands(c.Cells)); n != x.islands {
			t.Errorf("%s: %d parts, want %d", x.name, n, x.islands)
		}
		if s := amiss(c.Cells); s != "" {
			t.Errorf("%s: %s", x.name, s)
		}
		area, want := 0.0, 0.0
		for _, a := range c.Skin {
			area += a * 1e6
		}
		if want = x.m.Area(); x.name[0] == 'U' {
			want -= 2 * 2 * 4.2 * 3.7 // the parts touch
			area -= 2 * 2 * 4.2 * 3.7
		}
		if math.Abs(area/want-1) > 1e-5 {
			t.Errorf("%s: wall %g mm2, want %g", x.name, area, want)
		}
		// Shares of single cells against other lines than those of FromMesh.
		lines := voxel.Fractions(x.m, g, 24)
		block := lids{vec.V3{X: -9, Y: -9, Z: -9}, vec.V3{X: 999, Y: 999, Z: 999}}
		s := sample(local(x.m, g.Origin, 1), [3]int{g.NX, g.NY, g.NZ}, block)
		sum, n := 0.0, 0
		for q, l := range lines {
			if l > 0 && l < 1 {
				sum, n = sum+math.Abs(float64(l)-s.v[q]), n+1
			}
		}
		if n > 0 && sum/float64(n) > 0.02 {
			t.Errorf("%s: shares differ from those of lines by %g in the mean", x.name, sum/float64(n))
		}
	}
}

// TestPlaneShares: the cells along one face of a body at an angle are cut by one plane;
// volume, sides and normal are those of its half space.
func TestPlaneShares(t *testing.T) {
	n := slant.Unit()
	m := moved(leant(outside.Brick(vec.V3{X: -20, Y: -20, Z: -20}, vec.V3{X: 20, Y: 20}), n), vec.V3{X: 10, Y: 10, Z: 10})
	c, err := FromMesh(context.Background(), m, grid.Grid{H: 1, NX: 1, NY: 1, NZ: 1}, m.Box().Grow(5), Extra{})
	if err != nil {
		t.Fatal(err)
	}
	count, bent := 0, 0
	mid := vec.V3{X: 10, Y: 10, Z: 10}
	for i := range int32(c.N) {
		p := c.Centre(i).Mul(1e3)
		d := p.Sub(mid)
		if math.Abs(d.Dot(n)) > 0.86 || d.Len() > 12 || c.Own[i] == 1 {
			continue
		}
		at := n.Dot(mid.Sub(p.Sub(vec.V3{X: 0.5, Y: 0.5, Z: 0.5})))
		if v := CubeUnder(n, at); math.Abs(c.Own[i]-v) > 1e-9 {
			t.Fatalf("share %g, want %g", c.Own[i], v)
		}
		if count++; c.Normal[i].Dist(n) > 1e-6 || math.Abs(c.Offset[i]-at) > 1e-6 {
			bent++
		}
	}
	if count < 300 || bent > 0 {
		t.Errorf("%d cells, %d with another wall", count, bent)
	}
}

// TestChain: along a pin and a plate of a quarter cell every cut has an open way of
// nearly the true section.
func TestChain(t *testing.T) {
	for k := range 4 {
		off := vec.V3{Y: 0.13 + 0.22*float64(k), Z: 0.31 + 0.19*float64(k)}
		pin := tube(t, moved(leant(outside.Prism(32, 0.125, 16), vec.V3{X: 1}), off))
		plate := tube(t, moved(outside.Brick(vec.V3{}, vec.V3{X: 16, Y: 9, Z: 0.25}), off))
		for _, x := range []struct {
			c    *Cavity
			want float64
		}{{pin, math.Pi / 64}, {plate, 9 * 0.25}} {
			open := make([]float64, 17)
			for i := range x.c.N {
				open[x.c.I[i][0]] += x.c.A[0][i]
			}
			for at := 1; at < 16; at++ {
				if open[at] < 0.6*x.want || open[at] > 1.01*x.want {
					t.Errorf("placement %d: %.4f is open, want %.4f", k, open[at], x.want)
				}
			}
		}
	}
}

// TestRandomThin: plates, pins and pairs of parts with thin rubber between them, all a
// quarter of a cell and more, at random places and angles.
func TestRandomThin(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	along := func() vec.V3 {
		n := vec.V3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}
		switch r.IntN(4) {
		case 0:
			n.X *= 0.03
		case 1:
			n.X = 0
		case 2:
			n.X *= 0.05
			n.Y *= 0.05
		}
		return n.Unit()
	}
	cases := 80
	if os.Getenv("POURWRIGHT_FULL") == "1" {
		cases = 3000
	}
	most := 0.0
	for k := range cases {
		w, gap := 0.25+1.2*r.Float64()*r.Float64(), 0.26+0.6*r.Float64()
		var m *mesh.Mesh
		want, kind := 1, k%4
		switch kind {
		case 0:
			m = outside.Brick(vec.V3{}, vec.V3{X: 12, Y: 9, Z: w})
		case 1:
			m = outside.Prism(24, w/2, 15)
		case 2:
			a, b := 3+3*r.Float64(), w+2*r.Float64()
			m, want = joined(outside.Brick(vec.V3{}, vec.V3{X: a, Y: 8, Z: 7}), outside.Brick(vec.V3{X: a + gap}, vec.V3{X: a + gap + b, Y: 8, Z: 7})), 2
		case 3:
			m, want = joined(outside.Brick(vec.V3{}, vec.V3{X: 10, Y: 8, Z: w}), outside.Brick(vec.V3{Z: w + gap}, vec.V3{X: 10, Y: 8, Z: 2*w + gap})), 2
		}
		m = moved(leant(m, along()), vec.V3{X: r.Float64(), Y: r.Float64(), Z: r.Float64()})
		c, err := FromMesh(context.Background(), m, grid.Grid{H: 1, NX: 1, NY: 1, NZ: 1}, m.Box().Grow(5), Extra{})
		if err != nil {
			t.Fatal(err)
		}
		most = max(most, c.Dropped)
		if n, v := len(islands(c.Cells)), c.Volume()*1e9/m.Volume()+c.Dropped; n != want || c.Dropped > 1e-6 || math.Abs(v-1) > 1e-7 || amiss(c.Cells) != "" {
			t.Errorf("case %d, %.3f wide: %d parts, want %d; volume %.6f with %.1e dropped; %s", k, w, n, want, v, c.Dropped, amiss(c.Cells))
		}
	}
	t.Logf("at most %.1e dropped", most)
}

func TestOverlapCountsOnce(t *testing.T) {
	m := leant(joined(outside.Brick(vec.V3{}, vec.V3{X: 10, Y: 10, Z: 10}), outside.Brick(vec.V3{X: 6, Y: 6, Z: 6}, vec.V3{X: 16, Y: 16, Z: 16})), slant)
	c, _ := cavity(t, m, 1)
	if v := c.Volume() * 1e9; math.Abs(v/1936-1) > 2e-3 || len(islands(c.Cells)) != 1 || amiss(c.Cells) != "" {
		t.Errorf("volume %g, want 1936; %s", v, amiss(c.Cells))
	}
}

// TestMouth: a cup and a channel reach the block's top, a flow-off its side.
func TestMouth(t *testing.T) {
	m := joined(outside.Brick(vec.V3{X: 3.2, Y: 10, Z: 4.1}, vec.V3{X: 9.7, Y: 30, Z: 8.9}), outside.Brick(vec.V3{X: -20, Y: 12.4, Z: 4.6}, vec.V3{X: 3.2, Y: 14, Z: 6.6}))
	block := vec.Box{Min: vec.V3{X: -20, Y: -10, Z: -10}, Max: vec.V3{X: 20, Y: 30, Z: 20}}
	for _, off := range []float64{0, 0.37} { // planes of cells in the block's sides, and not
		g, err := Lay(m, block, 1)
		if err != nil {
			t.Fatal(err)
		}
		g.Origin = g.Origin.Add(vec.V3{X: off, Y: off, Z: off})
		c, err := FromMesh(context.Background(), m, g, block, Extra{
			Vents:   []Vent{{At: vec.V3{X: 9.8, Y: 11, Z: 6}, Area: 0.5}, {At: vec.V3{X: 90}, Area: 1}},
			Parting: [][]vec.V3{{{X: 3.2, Y: 12, Z: 6.5}, {X: 9.7, Y: 12, Z: 6.5}, {X: 9.7, Y: 28, Z: 6.5}, {X: 3.2, Y: 28, Z: 6.5}}},
		})
		if err != nil {
			t.Fatal(err)
		}
		var area [3]float64
		for _, p := range c.Mouth {
			high, low := false, 0
			for d := range 3 {
				if o := c.Nb[2*d][p]; int(o) != c.Wall {
					area[d] += c.A[d][p]
					high = true
				}
				if o := c.Nb[2*d+1][p]; int(o) != c.Wall {
					area[d] += c.A[d][o]
					low++
				}
			}
			if !high && low == 0 {
				t.Error("a port leads nowhere")
			}
		}
		if math.Abs(area[1]-6.5*4.8) > 0.2 || math.Abs(area[0]-1.6*2) > 0.1 || area[2] != 0 {
			t.Errorf("mouths of %v sides, want %g and %g", area, 1.6*2, 6.5*4.8)
		}
		if v := c.Volume() * 1e9; math.Abs(v/m.Volume()-1) > 1e-9 || amiss(c.Cells) != "" {
			t.Errorf("volume %g of %g; %s", v, m.Volume(), amiss(c.Cells))
		}
		skin := 0.0
		for _, a := range c.Skin {
			skin += a * 1e6
		}
		if want := m.Area() - 6.5*4.8 - 1.6*2; math.Abs(skin-want) > 1e-3 {
			t.Errorf("wall %g, want %g", skin, want)
		}
		v := c.Vents[0]
		if v.Cell < 0 || c.Centre(v.Cell).Mul(1e3).Dist(vec.V3{X: 9.4, Y: 11, Z: 6}) > 1.2 || v.Size != 0.5e-6 || c.Vents[1].Cell != -1 {
			t.Errorf("vents %v", c.Vents)
		}
		length := 0.0
		for _, p := range c.Parting {
			length += p.Size
		}
		if math.Abs(length-0.045) > 1e-9 || len(c.Parting) < 36 {
			t.Errorf("%g m of line in %d cells, want 0.045", length, len(c.Parting))
		}
	}
}

func TestLevelInBall(t *testing.T) {
	c, _ := cavity(t, moved(outside.Ball(5, 10), vec.V3{X: 0.1, Y: 0.23, Z: 0.41}), 1)
	volume := c.Volume() * 1e9
	for _, x := range []float64{-7.3, -2, 0, 3.1, 8.4} {
		for _, up := range []vec.V3{{Z: 1}, slant.Unit()} {
			f := Level(c.Cells, up, vec.V3{X: 0.1, Y: 0.23, Z: 0.41}.Add(up.Mul(x)).Mul(1e-3))
			v := 0.0
			for i := range c.N {
				v += f[i] * c.V[i]
			}
			h := 10 + x
			want := math.Pi * h * h * (30 - h) / 3 * volume / (4e3 * math.Pi / 3)
			if math.Abs(v-want) > 8e-4*volume {
				t.Errorf("level %g: %g under it, want %g", x, v, want)
			}
		}
	}
}

// TestLevelInTilted: the same in a box at an angle and in a thin plate.
func TestLevelInTilted(t *testing.T) {
	for _, size := range []vec.V3{{X: 20, Y: 15, Z: 10}, {X: 20, Y: 15, Z: 1.5}, {X: 20, Y: 15, Z: 0.4}} {
		f := vec.AlongZ(slant)
		c, _ := cavity(t, outside.Brick(vec.V3{}, size).OutOf(f), 1)
		whole, worst := size.X*size.Y*size.Z, 0.0
		up := vec.V3{Y: 1}
		in := f.ToDir(up)
		part := PartIn(vec.V3{}, size, vec.V3{}, 0)
		lo, hi := part.Plane(in, 0), part.Plane(in, 1)
		for k := 1; k < 20; k++ {
			a := lo + (hi-lo)*float64(k)/20
			m := 0.0
			for i, x := range Level(c.Cells, up, up.Mul(a*1e-3)) {
				if i < c.N {
					m += x * c.V[i]
				}
			}
			worst = max(worst, math.Abs(m/whole-part.Under(in, a)))
		}
		t.Logf("%v: level off by %.1e of the volume at most", size, worst)
		if worst > 2e-3 {
			t.Errorf("%v: a level holds %.2e of the volume more or less than it should", size, worst)
		}
	}
}

// TestScans: closed scans at 60 mm keep their volume and stay in one piece.
func TestScans(t *testing.T) {
	names, sizes := []string{"nefertiti.obj", "boot.obj", "cat.obj"}, []float64{2}
	if os.Getenv("POURWRIGHT_FULL") == "1" {
		names, sizes = []string{"ball_bumpy.off", "bob_small.ply", "boot.obj", "bracket_top.ply", "cat.obj", "featuretype_inch.stl", "fish.obj", "goathead.obj",
			"knot_quads.obj", "koala_low.obj", "nefertiti.obj", "plate_holes.stl", "ring_gasket.obj", "spot_low.obj", "torus_stl.stl", "tray_bottom.stl", "wingnut.obj"}, []float64{2, 1}
	}
	if outside.Meshes(t) == "" {
		return
	}
	for _, name := range names {
		m := scan(t, name)
		for _, h := range sizes {
			c, _ := cavity(t, m, h)
			t.Logf("%s at %g mm: %d cells, %.1e dropped", name, h, c.N, c.Dropped)
			if v := c.Volume() * 1e9 / m.Volume(); math.Abs(v-1) > 1e-7 || c.Dropped > 1e-6 {
				t.Errorf("%s at %g mm: volume %.6f of the mesh, %.1e dropped", filepath.Base(name), h, v, c.Dropped)
			}
			if n := len(islands(c.Cells)); n != 1 {
				t.Errorf("%s at %g mm: in %d parts", name, h, n)
			}
			if s := amiss(c.Cells); s != "" {
				t.Errorf("%s at %g mm: %s", name, h, s)
			}
		}
	}
}

func TestSameOnOneCore(t *testing.T) {
	m := leant(joined(outside.Ball(4, 8), moved(outside.Brick(vec.V3{}, vec.V3{X: 0.4, Y: 9, Z: 20}), vec.V3{X: 3})), slant)
	a, _ := cavity(t, m, 0.9)
	was := runtime.GOMAXPROCS(1)
	b, _ := cavity(t, m, 0.9)
	runtime.GOMAXPROCS(was)
	if !reflect.DeepEqual(a, b) {
		t.Error("the list depends on the number of cores")
	}
}

func TestFaults(t *testing.T) {
	g := grid.Grid{H: 1, NX: 1, NY: 1, NZ: 1}
	good := outside.Ball(2, 5)
	bad := moved(good, vec.V3{})
	bad.V[3].X = math.NaN()
	out := &mesh.Mesh{V: good.V}
	for _, f := range good.F {
		out.F = append(out.F, [3]int32{f[0], f[2], f[1]})
	}
	for _, x := range []struct {
		m *mesh.Mesh
		g grid.Grid
	}{{bad, g}, {out, g}, {&mesh.Mesh{}, g}, {good, grid.Grid{}}, {good, grid.Grid{H: 1e-6}}, {good, grid.Grid{H: 5e-3}}} {
		var f *fault.Error
		if _, err := FromMesh(context.Background(), x.m, x.g, x.m.Box().Grow(3), Extra{}); !errors.As(err, &f) || f.Kind != fault.Input {
			t.Errorf("grid %v: %v", x.g, err)
		}
	}
	if a, b := Memory(good, g), Memory(good, grid.Grid{H: 0.1}); !(a > 0 && b > 100*a/2) || Memory(good, grid.Grid{}) != 0 {
		t.Errorf("memory %d and %d bytes", a, b)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	var f *fault.Error
	if _, err := FromMesh(ctx, good, g, good.Box().Grow(3), Extra{}); !errors.As(err, &f) || f.Kind != fault.Interrupted {
		t.Errorf("stopped: %v", err)
	}
	open := &mesh.Mesh{V: good.V, F: good.F[3:]}
	if c, err := FromMesh(context.Background(), open, g, good.Box().Grow(3), Extra{}); err != nil || c.Bad == 0 || amiss(c.Cells) != "" {
		t.Errorf("an open mesh: %v", err)
	}
}
