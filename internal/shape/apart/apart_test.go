package apart

import (
	"math"
	"reflect"
	"runtime"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

func moved(m *mesh.Mesh, d vec.V3) *mesh.Mesh {
	f := vec.World()
	f.Origin = d
	return m.OutOf(f)
}

// askew turns a body so that none of its faces lies along an axis.
func askew(m *mesh.Mesh) *mesh.Mesh {
	return m.OutOf(vec.AlongZ(vec.V3{X: 0.31, Y: -0.57, Z: 0.77}))
}

func raised(t *testing.T, z0, z1 float64, r ...sculpt.Ring) *mesh.Mesh {
	t.Helper()
	m, err := sculpt.Raised(z0, z1, r[0], r[1:]...)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// chain returns the shells of a body as parts.
func shells(m *mesh.Mesh) []*mesh.Mesh {
	t := mesh.TopologyOf(m)
	var r []*mesh.Mesh
	for s := range t.Shells {
		r = append(r, mesh.Pick(m, t, []int32{int32(s)}))
	}
	return r
}

// dumbbell is a rod with two discs, ring a disc with a bore round the rod: free
// of holes that would link, yet the ring cannot leave.
func dumbbell() *mesh.Mesh {
	return sculpt.Turned([]vec.V2{{}, {X: 8}, {X: 8, Y: 2}, {X: 2, Y: 2}, {X: 2, Y: 20}, {X: 8, Y: 20}, {X: 8, Y: 22}, {Y: 22}}, false, 48)
}

func washer(bore float64) *mesh.Mesh {
	return moved(sculpt.Turned([]vec.V2{{X: bore}, {X: 7}, {X: 7, Y: 3}, {X: bore, Y: 3}}, true, 48), vec.V3{Z: 9})
}

// dovetail is a bar of a profile that widens upward, to lie in a groove of the same.
func dovetail(t *testing.T, gap float64) (bar, groove *mesh.Mesh) {
	bar = raised(t, 0, 30, sculpt.Ring{{X: -4 + gap, Y: 0.01}, {X: 4 - gap, Y: 0.01}, {X: 7 - gap, Y: 5}, {X: -7 + gap, Y: 5}})
	groove = raised(t, 0, 30, sculpt.Ring{{X: -12, Y: -4}, {X: 12, Y: -4}, {X: 12, Y: 5}, {X: 7, Y: 5}, {X: 4, Y: 0}, {X: -4, Y: 0}, {X: -7, Y: 5}, {X: -12, Y: 5}})
	return bar, groove
}

func TestStuck(t *testing.T) {
	ball := sculpt.Ball(5, 32).Mesh
	bar, groove := dovetail(t, 0)
	peg := moved(sculpt.Cylinder(3, 30, 48).Mesh, vec.V3{X: 10, Y: 10, Z: -5})
	plate := raised(t, 0, 8, sculpt.Rect(0, 0, 20, 20), sculpt.Oval(3, 3, 40).Move(vec.V2{X: 10, Y: 10}))
	cage := func() *mesh.Mesh { // a box shell with round windows: genus, no link with a ball
		m := &mesh.Mesh{}
		for _, d := range []vec.V3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}} {
			b := moved(sculpt.Torus(5, 0.8, 48, 16).Mesh, vec.V3{Z: 6})
			m.Append(b.OutOf(vec.AlongZ(d)))
		}
		return m
	}()
	// Borromean rings as three ellipses: no two are linked.
	oval := func(x, y, z vec.V3) *mesh.Mesh {
		f := vec.Frame{X: x, Y: y, Z: z}
		m := sculpt.Torus(1, 0.06, 96, 12).Mesh
		r := &mesh.Mesh{F: m.F}
		for _, p := range m.V {
			h := math.Hypot(p.X, p.Y)
			c, s := p.X/h, p.Y/h
			r.V = append(r.V, vec.V3{X: 20*c + 10*(h-1)*c, Y: 10*s + 10*(h-1)*s, Z: 10 * p.Z})
		}
		return r.OutOf(f)
	}
	ex, ey, ez := vec.V3{X: 1}, vec.V3{Y: 1}, vec.V3{Z: 1}
	for _, c := range []struct {
		name  string
		parts []*mesh.Mesh
		want  Result
	}{
		{"nothing", nil, Result{}},
		{"one", []*mesh.Mesh{ball}, Result{}},
		{"side by side", []*mesh.Mesh{ball, moved(ball, vec.V3{X: 11})}, Result{}},
		{"boxes that touch", []*mesh.Mesh{sculpt.Box(10, 10, 10).Mesh, moved(sculpt.Box(10, 10, 10).Mesh, vec.V3{X: 10})}, Result{}},
		{"two links", shells(sculpt.Links(10, 2, 2, 48, 24).Mesh), Result{[]int{0, 1}, [][2]int{{0, 1}}}},
		{"four links", shells(sculpt.Links(10, 2, 4, 48, 24).Mesh), Result{[]int{0, 1, 2, 3}, [][2]int{{0, 1}, {1, 2}, {2, 3}}}},
		{"rings that lie in each other", []*mesh.Mesh{sculpt.Torus(20, 2, 48, 24).Mesh, sculpt.Torus(10, 2, 48, 24).Mesh}, Result{}},
		{"a ball in a cup", []*mesh.Mesh{sculpt.Cup(10, 8, 20, 2, 48).Mesh, moved(sculpt.Ball(5, 32).Mesh, vec.V3{Z: 8})}, Result{}},
		{"washer on a dumbbell", []*mesh.Mesh{dumbbell(), washer(3)}, Result{[]int{0, 1}, [][2]int{{0, 1}}}},
		{"dovetail without a gap", []*mesh.Mesh{bar, groove}, Result{}},
		{"dovetail askew", []*mesh.Mesh{askew(bar), askew(groove)}, Result{}},
		{"peg of other facets in its hole", []*mesh.Mesh{askew(peg), askew(plate)}, Result{}},
		{"ball in a cage", []*mesh.Mesh{cage, moved(sculpt.Ball(4.8, 48).Mesh, vec.V3{})}, Result{[]int{0, 1}, [][2]int{{0, 1}}}},
		{"ball that falls through the cage's rings", []*mesh.Mesh{cage, moved(sculpt.Ball(4, 48).Mesh, vec.V3{})}, Result{}},
		{"Borromean rings", []*mesh.Mesh{oval(ex, ey, ez), oval(ey, ez, ex), oval(ez, ex, ey)}, Result{[]int{0, 1, 2}, nil}},
	} {
		got := Stuck(c.parts, nil)
		if len(got.Held) != len(c.want.Held) || len(got.Pairs) != len(c.want.Pairs) || len(got.Held) > 0 && !reflect.DeepEqual(got.Held, c.want.Held) || len(got.Pairs) > 0 && !reflect.DeepEqual(got.Pairs, c.want.Pairs) {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

// A crowd of 27 balls in a grid: only from outside inward can they be taken away.
func TestCrowd(t *testing.T) {
	var parts []*mesh.Mesh
	for i := range 27 {
		parts = append(parts, moved(sculpt.Ball(5, 16).Mesh, vec.V3{X: 10.2 * float64(i%3), Y: 10.2 * float64(i/3%3), Z: 10.2 * float64(i/9)}))
	}
	if got := Stuck(parts, nil); len(got.Held) > 0 {
		t.Errorf("%+v", got)
	}
}

func TestSameOnOneCore(t *testing.T) {
	p := shells(sculpt.Links(10, 2, 3, 48, 24).Mesh)
	a := Stuck(p, nil)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if b := Stuck(p, nil); !reflect.DeepEqual(a, b) {
		t.Errorf("%+v, on one core %+v", a, b)
	}
}

func BenchmarkLinks(b *testing.B) {
	p := shells(sculpt.Links(10, 2, 8, 96, 48).Mesh)
	for b.Loop() {
		Stuck(p, nil)
	}
}
