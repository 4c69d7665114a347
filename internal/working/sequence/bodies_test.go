package sequence

import (
	"context"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// together puts meshes into one.
func together(list ...*mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{}
	for _, m := range list {
		r.Append(m)
	}
	return r
}

func shifted(m *mesh.Mesh, d vec.V3) *mesh.Mesh {
	f := vec.World()
	f.Origin = d
	return m.OutOf(f)
}

// caught is a rod with two discs and a washer round it: nothing is linked by
// its loops, as the rod has none, and no straight motion parts them.
func caught() *mesh.Mesh {
	rod := sculpt.Turned([]vec.V2{{}, {X: 8}, {X: 8, Y: 2}, {X: 2, Y: 2}, {X: 2, Y: 20}, {X: 8, Y: 20}, {X: 8, Y: 22}, {Y: 22}}, false, 48)
	washer := sculpt.Turned([]vec.V2{{X: 3, Y: 9}, {X: 7, Y: 9}, {X: 7, Y: 12}, {X: 3, Y: 12}}, true, 48)
	return together(rod, washer)
}

func linkedWith(i *plan.Inspection) [][]int {
	var r [][]int
	for _, b := range i.Bodies {
		r = append(r, b.Linked)
	}
	return r
}

func TestBodiesAreToldAndLinked(t *testing.T) {
	for _, c := range []struct {
		name string
		mesh *mesh.Mesh
		want [][]int
	}{
		{"one", sculpt.Box(20, 10, 10).Mesh, [][]int{{}}},
		{"apart", together(sculpt.Box(10, 10, 10).Mesh, shifted(sculpt.Box(20, 10, 10).Mesh, vec.V3{X: 30})), [][]int{{}, {}}},
		{"overlapping", together(sculpt.Box(20, 10, 10).Mesh, shifted(sculpt.Box(20, 10, 10).Mesh, vec.V3{X: 15, Y: 5, Z: 5})), [][]int{{}, {}}},
		{"hollow", sculpt.HollowBall(10, 5, 24).Mesh, [][]int{{}}},
		{"chain", sculpt.Links(15, 3, 3, 48, 24).Mesh, [][]int{{2}, {1, 3}, {2}}},
		{"caught", caught(), [][]int{{2}, {1}}},
	} {
		up, pull := vec.V3{X: 1}, vec.V3{Z: 1}
		i, notes, err := Inspect(context.Background(), Look{Source: Source{Path: "a.stl", Data: stl(t, c.mesh), Unit: "mm", From: "flag"}, Up: &up, Pull: &pull}, nil)
		if err != nil {
			t.Fatal(c.name, err)
		}
		if got := linkedWith(i); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: linked %v, want %v", c.name, got, c.want)
		}
		told := false
		for _, n := range notes {
			told = told || n.Code == "linked"
		}
		if want := strings.Contains("chain caught", c.name); told != want {
			t.Errorf("%s: told of links: %v", c.name, told)
		}
		sum := 0.0
		var middle vec.V3
		for _, b := range i.Bodies {
			sum += b.Volume
			middle = middle.Add(vec.FromArray(b.Centroid).Mul(b.Volume))
		}
		if c0 := c.mesh.Centroid(); middle.Mul(1/sum).Dist(c0) > 1e-4 {
			t.Errorf("%s: the bodies' middle is %v, the mesh's %v", c.name, middle.Mul(1/sum), c0)
		}
		if math.Abs(sum-c.mesh.Volume()) > 1e-4*sum {
			t.Errorf("%s: bodies hold %g, the mesh %g", c.name, sum, c.mesh.Volume())
		}
	}
}

func TestLinkedBodiesGetNoMould(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{"chain": sculpt.Links(15, 3, 2, 48, 24).Mesh, "caught": caught()} {
		r, err := Make(context.Background(), parse(t, head+rest), Setting{Version: "test", Mesh: stl(t, m)})
		if err != nil {
			t.Fatal(name, err)
		}
		n := 0
		for _, f := range r.Plan.Findings {
			if f.Code == "linked" {
				n++
				if f.Severity != plan.Must || f.At == nil || !strings.Contains(f.Say, "bodies 1 and 2") {
					t.Errorf("%s: %+v", name, f)
				}
			}
		}
		if r.Plan.Verdict != plan.No || n != 1 || r.Plan.Master.Bodies != 2 || math.Abs(r.Plan.Master.Volume-m.Volume()) > 1e-4*m.Volume() {
			t.Errorf("%s: verdict %s, %d findings, %d bodies of %g mm3", name, r.Plan.Verdict, n, r.Plan.Master.Bodies, r.Plan.Master.Volume)
		}
	}
}

// The chain of the mesh set: 40 links, each through the next.
func TestChainOfTheMeshSet(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	path := filepath.Join(dir, "files", "chain40.3mf")
	r, err := read(Source{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	m, err := check(r)
	if err != nil {
		t.Fatal(err)
	}
	s, err := split(context.Background(), m, parting.Options{Pull: &vec.V3{Z: 1}})
	if err != nil {
		t.Fatal(err)
	}
	// The set's own figure is 40 separate linked bodies; none of them is free.
	told := 0
	for _, b := range s.Bars {
		if b.Code == "linked" {
			told++
		}
	}
	if m.Said.Bodies != 40 || len(m.Linked) != 40 || told != mostLinks+1 {
		t.Fatalf("%d bodies, %d bars of links", m.Said.Bodies, told)
	}
	for k, l := range m.Linked {
		if len(l) == 0 {
			t.Errorf("body %d is linked with none", k+1)
		}
	}
}
