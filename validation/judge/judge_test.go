// Package judge holds finished solids to an outside judge: CGAL's polygon mesh
// processing (Debian's libcgal-dev) says of each half, as 3MF and as float32
// STL, of the cavity, the follow board and the formers whether it is closed,
// outward and free of self-intersection.
package judge

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/examples"
	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/voxel"
	"pourwright/internal/working/sequence"
	"pourwright/validation/outside"
)

// build compiles the judge, or returns "" where that cannot be done here.
func build(t *testing.T) string {
	t.Helper()
	exe := filepath.Join(t.TempDir(), "judge")
	out, err := exec.Command("g++", "-O2", "-DNDEBUG", "-std=c++17", "testdata/judge.cpp", "-o", exe, "-lgmp", "-lmpfr").CombinedOutput()
	if err == nil {
		return exe
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("the judge needs g++ and libcgal-dev: %v\n%s", err, out)
	}
	t.Log("not run: needs g++ and libcgal-dev")
	return ""
}

// model is the part of a 3MF model that holds triangles.
type model struct {
	Unit    string `xml:"unit,attr"`
	Objects []struct {
		Vertices []struct {
			X float64 `xml:"x,attr"`
			Y float64 `xml:"y,attr"`
			Z float64 `xml:"z,attr"`
		} `xml:"mesh>vertices>vertex"`
		Triangles []struct {
			A int32 `xml:"v1,attr"`
			B int32 `xml:"v2,attr"`
			C int32 `xml:"v3,attr"`
		} `xml:"mesh>triangles>triangle"`
	} `xml:"resources>object"`
}

// open3MF reads a 3MF by the standard library alone.
func open3MF(t *testing.T, data []byte) *mesh.Mesh {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open("3D/3dmodel.model")
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	var d model
	if err := xml.Unmarshal(text, &d); err != nil {
		t.Fatal(err)
	}
	if d.Unit != "millimeter" || len(d.Objects) != 1 {
		t.Fatalf("unit %q, %d objects", d.Unit, len(d.Objects))
	}
	m := &mesh.Mesh{}
	for _, v := range d.Objects[0].Vertices {
		m.V = append(m.V, vec.V3{X: v.X, Y: v.Y, Z: v.Z})
	}
	for _, f := range d.Objects[0].Triangles {
		m.F = append(m.F, [3]int32{f.A, f.B, f.C})
	}
	return m
}

func writeOFF(t *testing.T, path string, m *mesh.Mesh) {
	t.Helper()
	var b bytes.Buffer
	w := bufio.NewWriter(&b)
	fmt.Fprintf(w, "OFF\n%d %d 0\n", len(m.V), len(m.F))
	for _, p := range m.V {
		fmt.Fprintf(w, "%.17g %.17g %.17g\n", p.X, p.Y, p.Z)
	}
	for _, f := range m.F {
		fmt.Fprintf(w, "3 %d %d %d\n", f[0], f[1], f[2])
	}
	w.Flush()
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

// judged plans a master and has every solid of its folder judged.
func judged(t *testing.T, exe string, m *mesh.Mesh) {
	var b bytes.Buffer
	if err := meshfile.WriteSTL(&b, m); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	j, err := job.Parse(filepath.Join(dir, "job.toml"), []byte(outside.Job))
	if err != nil {
		t.Fatal(err)
	}
	r, err := sequence.Make(context.Background(), j, sequence.Setting{Mesh: b.Bytes()})
	if err != nil {
		t.Fatal(err)
	}
	var p plan.Plan
	if err := json.Unmarshal(r.JSON, &p); err != nil {
		t.Fatal(err)
	}
	if p.Verdict == plan.No {
		t.Fatal("no mould to judge")
	}
	var names []string
	solids := map[string]*mesh.Mesh{}
	for _, f := range r.Files {
		ext := filepath.Ext(f.Name)
		if ext != ".stl" && ext != ".3mf" {
			continue
		}
		var d bytes.Buffer
		if err := f.Write(&d); err != nil {
			t.Fatal(err)
		}
		var s *mesh.Mesh
		if ext == ".3mf" {
			s = open3MF(t, d.Bytes())
		} else if s, _, err = meshfile.Parse(d.Bytes(), f.Name, meshfile.Options{}); err != nil {
			t.Fatal(err)
		}
		solids[f.Name] = s
		names = append(names, filepath.Join(dir, f.Name+".off"))
		writeOFF(t, names[len(names)-1], s)
	}
	if len(names) != 7 {
		t.Errorf("%d solids in the folder, want 7", len(names))
	}
	out, err := exec.Command(exe, names...).CombinedOutput()
	if err != nil {
		t.Fatalf("the judge failed: %v\n%s", err, out)
	}
	sum := 0.0
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		var name string
		var triangles, closed, outward, crossings int
		var volume float64
		if _, err := fmt.Sscan(line, &name, &triangles, &closed, &outward, &crossings, &volume); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		name = strings.TrimSuffix(filepath.Base(name), ".off")
		if closed != 1 || outward != 1 || crossings != 0 {
			t.Errorf("%s, %d triangles: closed %d, outward %d, %d pairs cross", name, triangles, closed, outward, crossings)
		}
		switch name {
		case "half-1.stl", "half-2.stl", "cavity.stl":
			sum += volume
		}
	}
	s := p.Block.Size
	if d := math.Abs(sum/(s[0]*s[1]*s[2]) - 1); d > 1e-6 {
		t.Errorf("by the judge's volumes the solids differ from the block by %.1e", d)
	}
	overlap(t, &p, solids)
	for k, h := range p.Rubber.Halves {
		v := solids[fmt.Sprintf("half-%d.stl", k+1)].Volume()
		if math.Abs(h.Volume/v-1) > 2e-3 {
			t.Errorf("half %d: volume %.6g in the plan, %.6g in the file", k+1, h.Volume, v)
		}
		if rho := h.MassNet / v * 1000; math.Abs(rho/1.375-1) > 2e-3 { // g/cm3, the row's density
			t.Errorf("half %d: %.4f g/cm3", k+1, rho)
		}
		if h.MassMix < h.MassNet*1.05+10-1e-9 || math.Abs(h.Parts.A+h.Parts.B-h.MassMix) > 0.11 {
			t.Errorf("half %d: mix %.4g of %.4g net, parts %.4g + %.4g", k+1, h.MassMix, h.MassNet, h.Parts.A, h.Parts.B)
		}
	}
}

// overlap measures the common volume of each two solids on a grid of columns.
func overlap(t *testing.T, p *plan.Plan, solids map[string]*mesh.Mesh) {
	const h = 0.73
	s := p.Block.Size
	var cast []*voxel.Columns
	for _, n := range []string{"half-1.stl", "half-2.stl", "cavity.stl"} {
		cast = append(cast, voxel.Cast(solids[n], int(s[0]/h), int(s[1]/h), -s[0]/2+0.411*h, -s[1]/2+0.377*h, h))
	}
	for i := range cast {
		for j := range i {
			w := 0.0
			for q := range cast[i].Len() {
				for _, a := range cast[i].Of(q) {
					for _, b := range cast[j].Of(q) {
						w += max(0, min(a.Hi, b.Hi)-max(a.Lo, b.Lo)-1e-9)
					}
				}
			}
			if w *= h * h; w > 1e-6*s[0]*s[1]*s[2] {
				t.Errorf("solids %d and %d share %.3g mm3", i, j, w)
			}
		}
	}
}

func TestJudge(t *testing.T) {
	exe := build(t)
	if exe == "" {
		return
	}
	full := os.Getenv("POURWRIGHT_FULL") == "1"
	for _, p := range examples.Pieces() {
		if p.Name == "bell" || p.Name == "chain" || p.Name == "hollow-ball" || p.Name == "stop-knob" { // no mould in this rubber
			continue
		}
		if !full && p.Name != "fern-pull" && p.Name != "drawer-pull" && p.Name != "buckle" {
			continue
		}
		t.Run(p.Name, func(t *testing.T) {
			m, err := p.Make()
			if err != nil {
				t.Fatal(err)
			}
			judged(t, exe, m)
		})
	}
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names := []string{"cat.obj", "bob_small.ply", "plate_holes.stl"}
	if full {
		names = append(names, "fish.obj", "nefertiti.obj", "koala_low.obj", "goathead.obj", "spot_low.obj", "bracket_top.ply", "torus_unit.obj", "cube_notched.stl", "ball_bumpy.off")
	}
	for _, n := range names {
		t.Run(n, func(t *testing.T) {
			m, _, err := meshfile.Read(filepath.Join(dir, "files", n), meshfile.Options{})
			if err != nil {
				t.Fatal(err)
			}
			judged(t, exe, outside.At60(m))
		})
	}
}
