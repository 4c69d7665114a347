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

func find(t *testing.T, m *mesh.Mesh, pull vec.V3, o Options) *Stand {
	t.Helper()
	s, err := Find(m, pull, o)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(s.Up.Dot(pull.Unit())) > 1e-9 || math.Abs(s.Up.Len()-1) > 1e-9 {
		t.Errorf("up %v is not a unit vector square to the pull %v", s.Up, pull)
	}
	return s
}

func TestStandLetsAirOut(t *testing.T) {
	u := cells(vec.V3{X: 8, Y: 6, Z: 8}, []string{"#####"}, []string{"#...#"}, []string{"#...#"}, []string{"....#"})
	s := find(t, u, vec.V3{Y: 1}, Options{})
	if s.Trapped != 0 {
		t.Errorf("U stands with up %v and traps %g", s.Up, s.Trapped)
	}
	// The same, given a bad direction: it is kept, judged and compared.
	bad := vec.V3{Z: 1, Y: 0.2}
	g := find(t, u, vec.V3{Y: 1}, Options{Up: &bad})
	near(t, "given up", g.Up.Z, 1, 1e-12)
	near(t, "its trapped", g.Trapped, 2*8*6*8, 1e-6)
	if !(g.Score > g.Best.Score) || g.Best.Up.Sub(s.Up).Len() > 1e-12 {
		t.Errorf("score %g against best %+v, alone %v", g.Score, g.Best, s.Up)
	}
	// With the halves meeting on the pocket's top a knife can vent it.
	label := make([]uint8, len(u.F))
	for i := range label {
		p, q, r := u.Tri(i)
		label[i] = 2
		if p.Add(q).Add(r).Y > 9 || u.Normal(i).Z > 0.5 && i%2 == 0 {
			label[i] = 1
		}
	}
	l := find(t, u, vec.V3{Y: 1}, Options{Up: &bad, Label: label})
	near(t, "left by the knife", l.Left, 0, 0)
	if !(l.Score < g.Score-0.05) {
		t.Errorf("a pocket on the line costs %g, off it %g", l.Score, g.Score)
	}
}

func TestStandHidesTheScar(t *testing.T) {
	m := cells(vec.V3{X: 20, Y: 5, Z: 20}, []string{"##"}, []string{"##"})
	for _, d := range []vec.V3{{X: 1}, {X: -1}, {Z: 1}, {Z: -1}} {
		p := vec.V3{X: 20, Y: 2.5, Z: 20}.Add(d.Mul(20))
		hide := find(t, m, vec.V3{Y: 1}, Options{Hide: []vec.V3{p}})
		if hide.Outlet.Dist(p) > 25 {
			t.Errorf("hide %v: scar at %v", p, hide.Outlet)
		}
		show := find(t, m, vec.V3{Y: 1}, Options{Show: []vec.V3{p}})
		if show.Up.Dot(d) > 0.8 {
			t.Errorf("show %v: up %v", p, show.Up)
		}
	}
}

// A heavy block with a thin tongue: the tongue hangs low, the block is on top.
func TestStandPutsTheHeavyPartUp(t *testing.T) {
	m := turn([][2]float64{{0, 0}, {1, 0}, {1, 30}, {12, 30}, {12, 50}, {0, 50}}, 32)
	s := find(t, m, vec.V3{X: 1}, Options{Bore: 0.1})
	if s.Up.Z < 0.95 {
		t.Errorf("up %v", s.Up)
	}
	// The price of it is named.
	s = find(t, m, vec.V3{X: 1}, Options{})
	up := vec.V3{Z: 1}
	if g := find(t, m, vec.V3{X: 1}, Options{Up: &up}); len(g.DeadEnds) != 1 || g.DeadEnds[0].Bore > 2.1 {
		t.Errorf("tongue down: %+v", g.DeadEnds)
	}
	near(t, "a tongue that metal bridges", s.Score, 0.03, 0.03)
}

func TestStandIsSquareToTheShadow(t *testing.T) {
	plate := cells(vec.V3{X: 60, Y: 20, Z: 5}, []string{"#"})
	for _, a := range []float64{0.1, 0.7, 1.3, 2.2} {
		s, c := math.Sincos(a)
		f := vec.Frame{X: vec.V3{X: c, Y: s}, Y: vec.V3{X: -s, Y: c}, Z: vec.V3{Z: 1}}
		up := f.ToDir(find(t, moved(plate, f, 1), vec.V3{Z: 1}, Options{}).Up)
		if d := max(math.Abs(up.X), math.Abs(up.Y)); d < 1-1e-9 {
			t.Errorf("turned by %g: up %v in the plate's axes", a, up)
		}
	}
}

func TestFindRefuses(t *testing.T) {
	along, none := vec.V3{Y: 2}, vec.V3{}
	for _, o := range []Options{{Up: &along}, {Up: &none}} {
		if _, err := Find(cup(), vec.V3{Y: 1}, o); err == nil {
			t.Errorf("up %v was accepted", *o.Up)
		}
	}
	if _, err := Find(cup(), vec.V3{}, Options{}); err == nil {
		t.Error("no pull was accepted")
	}
	if _, err := Find(&mesh.Mesh{}, vec.V3{Y: 1}, Options{}); err == nil {
		t.Error("an empty mesh was accepted")
	}
	if _, err := Find(flip(cup()), vec.V3{Y: 1}, Options{}); err == nil {
		t.Error("a mesh inside out was accepted")
	}
}

func TestFindIsTheSameOnOneCore(t *testing.T) {
	m := torus(20, 5, 40)
	a := find(t, m, vec.V3{X: 0.3, Y: 1}, Options{})
	old := runtime.GOMAXPROCS(1)
	b := find(t, m, vec.V3{X: 0.3, Y: 1}, Options{})
	runtime.GOMAXPROCS(old)
	if diff := cmp.Diff(a, b); diff != "" {
		t.Error(diff)
	}
}

// The chosen stand is hardly worse in trapped air than the best of 72 exact
// sweeps, unless it buys something with it.
func TestStandOfOutsideMeshes(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	for name, pull := range map[string]vec.V3{"cat.obj": {Z: 1}, "goathead.obj": {Z: 1}, "koala_low.obj": {Z: 1}, "spot_low.obj": {X: 1}, "fish.obj": {X: 1}, "boot.obj": {Z: 1}} {
		m := load(t, filepath.Join(dir, "files", name))
		m = moved(m, vec.World(), 60/m.Box().Longest())
		b := Prepare(m)
		s, err := b.Find(pull, Options{})
		if err != nil {
			t.Fatal(err)
		}
		least := math.Inf(1)
		for k := range 72 {
			q, p := math.Sincos(float64(k) * math.Pi / 36)
			f := vec.AlongZ(pull)
			e, err := b.Evaluate(f.X.Mul(p).Add(f.Y.Mul(q)), Outlets{}, 0)
			if err != nil {
				t.Fatal(err)
			}
			least = min(least, e.Trapped/e.Volume)
		}
		a := s.Best
		t.Logf("%s: up %.2f traps %.4f (least %.4f), %d dead ends, score %.4f %+v", name, s.Up, s.Trapped/s.Volume, least, len(s.DeadEnds), s.Score, a.Terms)
		if s.Trapped/s.Volume > least+0.03 {
			t.Errorf("%s: up %v traps %g of the volume, %g is possible", name, s.Up, s.Trapped/s.Volume, least)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	m := torus(20, 5, 224)
	for _, step := range []string{"view", "judge", "find", "hanging"} {
		b.Run(step, func(b *testing.B) {
			body := Prepare(m)
			v, err := newView(body, vec.V3{X: 0.2, Z: 1}, Options{Margin: 12})
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				switch step {
				case "view":
					_, err = newView(body, vec.V3{X: 0.2, Z: 1}, Options{Margin: 12})
				case "judge":
					v.judge([]vec.V3{v.at(1)})
				case "find":
					_, err = body.Find(vec.V3{X: 0.2, Z: 1}, Options{})
				case "hanging":
					body.Hanging(v.at(1), Widest)
				}
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(m.F)), "triangles")
		})
	}
}
