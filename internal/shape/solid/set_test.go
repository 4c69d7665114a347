package solid

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
)

// TestMeshSet cuts every closed mesh of the outside set, at 60 mm, by a wavy
// sheet, by a level one through its middle and by one on its lowest point, and
// proves the cells: closed, filling the block, no two triangles crossing, the
// metal as large as the mesh (less what lies under the level sheet).
func TestMeshSet(t *testing.T) {
	set := outside.Meshes(t)
	if set == "" {
		return
	}
	dir := filepath.Join(set, "files")
	es, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, e := range es {
		if strings.HasPrefix(e.Name(), "derived_") { // damaged copies of the others
			continue
		}
		m, _, err := meshfile.Read(filepath.Join(dir, e.Name()), meshfile.Options{})
		if err != nil || m.Volume() <= 0 || !mesh.TopologyOf(m).Watertight {
			continue
		}
		if len(m.F) > 10000 && os.Getenv("POURWRIGHT_FULL") != "1" {
			continue
		}
		tried++
		cutMesh(t, e.Name(), at60(m))
	}
	if tried < 25 {
		t.Errorf("only %d closed meshes were tried", tried)
	}
}

func at60(m *mesh.Mesh) *mesh.Mesh {
	b := m.Box()
	q := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		q.V = append(q.V, p.Sub(b.Centre()).Mul(60/b.Longest()))
	}
	return q
}

func cutMesh(t *testing.T, name string, q *mesh.Mesh) {
	own := len(SelfCrossings(q)) // some bodies of the set cross themselves
	z := q.Box().Size().Mul(0.5)
	for mode, f := range map[string]func(x, y float64) float64{
		"wavy":  func(x, y float64) float64 { return 2 * math.Sin(x/7) * math.Cos(y/9) },
		"level": func(x, y float64) float64 { return 0 },
		"back":  func(x, y float64) float64 { return -z.Z + 0.002 },
	} {
		m := vec.V3{X: 12, Y: 12, Z: 12}
		c := Block(vec.Box{Min: z.Mul(-1).Sub(m), Max: z.Add(m)}, Half1)
		all := c.Volume(Half1)
		// Rounding moves a face by half a step at most, 3e-5 mm; the level sheet
		// on the lowest point takes 2 to 17 thousandths more.
		lost := 3.1e-5 * q.Area() / q.Volume()
		into := metal
		if mode == "back" {
			into, lost = onlyAbove, lost*300
		}
		if err := c.Insert(sheetMesh(50.37, 50, f), below); err != nil {
			t.Fatalf("%s %s: sheet: %v", name, mode, err)
		}
		if err := c.Insert(q, into); err != nil {
			t.Errorf("%s %s: %v", name, mode, err)
			continue
		}
		sum := 0.0
		for l := Metal; l <= Void; l++ {
			sum += c.Volume(l)
		}
		if math.Abs(sum/all-1) > 1e-12 {
			t.Errorf("%s %s: cells fill %.15g of the block", name, mode, sum/all)
		}
		if d := c.Volume(Metal)/q.Volume() - 1; own == 0 && math.Abs(d) > lost {
			t.Errorf("%s %s: metal differs from the mesh by %.2e", name, mode, d)
		}
		if n := len(c.Crossings()); n > own {
			t.Errorf("%s %s: %d pairs cross, %d in the mesh itself", name, mode, n, own)
		}
	}
}

func onlyAbove(l Label) Label {
	if l == Half1 {
		return Metal
	}
	return l
}

// TestTouching puts two boxes of metal edge to edge: one edge of four triangles.
func TestTouching(t *testing.T) {
	c := Block(vec.Box{Max: vec.V3{X: 4, Y: 4, Z: 4}}, Metal)
	for _, apart := range []float64{0, 1} {
		d := Block(vec.Box{Min: vec.V3{X: 4, Y: apart, Z: 4}, Max: vec.V3{X: 8, Y: 4 + apart, Z: 8}}, Metal)
		u := &Complex{V: append([]Point{}, c.V...), T: append([]Tri{}, c.T...)}
		for _, x := range d.T {
			for k := range x.V {
				x.V[k] += int32(len(c.V))
			}
			u.T = append(u.T, x)
		}
		u.V = append(u.V, d.V...)
		u.join()
		if err := u.closed(); err != nil {
			t.Fatal(err)
		}
		if want := int(1 - apart); u.touches != want {
			t.Errorf("%g mm beside each other: %d edges touch, want %d", apart, u.touches, want)
		}
	}
}
