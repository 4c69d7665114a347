package sequence

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mend"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// sectioned reads a body as a file in mm, checks it and measures its sections.
func sectioned(t *testing.T, m *mesh.Mesh) *Master {
	t.Helper()
	var buf bytes.Buffer
	if err := meshfile.WriteSTL(&buf, m); err != nil {
		t.Fatal(err)
	}
	r, err := Check(Source{Path: "a.stl", Data: buf.Bytes(), Unit: "mm", From: "flag"})
	if err != nil {
		t.Fatal(err)
	}
	r.prepare()
	return r
}

// says returns the notes that hold a text.
func says(m *Master, text string) (list []Note) {
	for _, n := range m.Notes {
		if strings.Contains(n.Say, text) {
			list = append(list, n)
		}
	}
	return list
}

// TestThroughItself: one closed shell that runs through itself is told, with the
// place, and what lies within counts neither for the volume nor for the area nor
// for the thinnest section. Where the bar crosses, 64 mm3 and 96 mm2 lie within;
// where two equal cylinders cross at right angles, 16/3 r^3 and 16 r^2
// (Archimedes, The Method).
func TestThroughItself(t *testing.T) {
	for _, c := range []struct {
		name        string
		m           *mesh.Mesh
		twice, area float64
	}{
		{"bar", outside.BarThrough(), 64, 96},
		{"tube", outside.EightTube(64), 16. / 3 * 8, 16 * 4},
	} {
		m := sectioned(t, c.m)
		n := says(m, "runs through itself at one place")
		if len(n) != 1 || n[0].At == nil || n[0].At.Dist(vec.V3{}) > 6 || n[0].Do == "" {
			t.Errorf("%s: notes %+v", c.name, m.Notes)
		}
		if m.Said.Shells != 1 || !m.Said.Watertight || len(m.Said.Repairs) != 1 || len(mend.Crossings(m.Mesh, m.Topology).Places) > 0 {
			t.Errorf("%s: %+v", c.name, m.Said)
		}
		if s := m.Said.Repairs[0]; math.Abs(m.Said.Read.Volume+s.VolumeChange-m.Said.Volume) > 1e-9*m.Said.Volume || s.Count != 1 || !strings.Contains(s.Step, "runs through itself") {
			t.Errorf("%s: repair %+v", c.name, s)
		}
		if want := c.m.Volume() - c.twice; math.Abs(m.Said.Volume-want) > 0.03*c.twice {
			t.Errorf("%s: volume %.6g, want %.6g (%.6g counted twice)", c.name, m.Said.Volume, want, c.twice)
		}
		// The share of the area is a sample's: four of its standard errors.
		plain := c.m.Area()
		p := c.area / plain
		if want := plain - c.area; math.Abs(m.Said.Area-want) > 4*plain*math.Sqrt(p*(1-p)/20000) {
			t.Errorf("%s: area %.6g, want %.6g of %.6g", c.name, m.Said.Area, want, plain)
		}
		// All of the bar and of the tube is 4 thick, but for edges and corners.
		if w := m.Wall.Length; w < 3.9 || w > 4.01 {
			t.Errorf("%s: thinnest wall %g at %v, want 4", c.name, w, m.Wall.At)
		}
	}
}

// TestThinnestLeavesOutWhatLiesWithin: a rod through a block is 2 thick within
// and sticks out by a little; the block is 20 thick. Without the union the
// sections within would be 1 to 2.
func TestThinnestLeavesOutWhatLiesWithin(t *testing.T) {
	m := outside.Brick(vec.V3{X: -10, Y: -10, Z: -10}, vec.V3{X: 10, Y: 10, Z: 10})
	m.Append(outside.Brick(vec.V3{X: -1, Y: -1, Z: -10.1}, vec.V3{X: 1, Y: 1, Z: 10.1}))
	r := sectioned(t, m)
	if len(says(r, "cut through each other at one place")) != 1 || len(says(r, "the shells overlap")) != 1 {
		t.Errorf("notes %+v", r.Notes)
	}
	if r.Said.Thinnest < 19.9 || r.Wall.Length < 19.9 {
		t.Errorf("thinnest %g, wall %g; want 20", r.Said.Thinnest, r.Wall.Length)
	}
	if want := 8000 + 2*4*0.1; math.Abs(r.Said.Volume-want) > 1 {
		t.Errorf("volume %g, want %g", r.Said.Volume, want)
	}
	if want := 2400 + 8*0.2; math.Abs(r.Said.Area-want) > 0.01*want {
		t.Errorf("area %g, want %g", r.Said.Area, want)
	}
}

// TestInsideOutLobe: of a prism on a figure of eight one half is inside out. It
// counts as empty, and that is said.
func TestInsideOutLobe(t *testing.T) {
	m := &mesh.Mesh{}
	for _, z := range []float64{0, 5} {
		m.V = append(m.V, vec.V3{X: -10, Y: -10, Z: z}, vec.V3{X: 6, Y: 6, Z: z}, vec.V3{X: 6, Y: -6, Z: z}, vec.V3{X: -10, Y: 10, Z: z})
	}
	m.F = [][3]int32{{0, 1, 2}, {0, 2, 3}, {4, 6, 5}, {4, 7, 6}}
	for i := range int32(4) {
		j := (i + 1) % 4
		m.F = append(m.F, [3]int32{i, i + 4, j}, [3]int32{j, i + 4, j + 4})
	}
	if m.Volume() < 0 {
		for i := range m.F {
			m.F[i][1], m.F[i][2] = m.F[i][2], m.F[i][1]
		}
	}
	r := sectioned(t, m)
	n := says(r, "inside out")
	if len(n) != 1 || n[0].Severity != plan.Should || len(says(r, "surface runs through itself at one place")) != 1 || len(r.Said.Repairs) != 1 {
		t.Errorf("notes %+v", r.Notes)
	}
	if want := 10 * 20 / 2 * 5.0; math.Abs(r.Said.Volume-want) > 0.01*want {
		t.Errorf("volume %g, want %g; the plain sum is %g", r.Said.Volume, want, m.Volume())
	}
}

// TestNoFalseRemark: bodies that come near themselves or touch are not told to
// run through themselves.
func TestNoFalseRemark(t *testing.T) {
	coil := make([]vec.V3, 200) // 0.02 mm between the turns
	ring := sculpt.Oval(1, 1, 24)
	var sections []sculpt.Ring
	for i := range coil {
		a := 2 * math.Pi * float64(i) / 40
		s, c := math.Sincos(a)
		coil[i] = vec.V3{X: 8 * c, Y: 8 * s, Z: 2.02 * a / (2 * math.Pi)}
		sections = append(sections, ring)
	}
	spring, err := sculpt.Swept(sculpt.Path(coil, vec.V3{X: 1}), sections, false)
	if err != nil {
		t.Fatal(err)
	}
	stack := outside.Brick(vec.V3{}, vec.V3{X: 10, Y: 10, Z: 3})
	stack.Append(outside.Brick(vec.V3{X: 2, Y: 2, Z: 3}, vec.V3{X: 7, Y: 6, Z: 8}))
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"spring", spring},
		{"boxes on each other", stack},
		{"chain", sculpt.Links(10, 2, 5, 48, 24).Mesh},
		{"hollow ball", sculpt.HollowBall(10, 6, 24).Mesh},
	} {
		m := sectioned(t, c.m)
		for _, text := range []string{"through", "overlap", "inside out"} {
			if n := says(m, text); len(n) > 0 {
				t.Errorf("%s: %+v", c.name, n)
			}
		}
	}
}
