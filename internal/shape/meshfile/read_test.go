package meshfile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// torus returns a closed mesh of 2pq triangles.
func torus(p, q int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range p {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(p))
		for j := range q {
			t, d := math.Sincos(2 * math.Pi * float64(j) / float64(q))
			m.V = append(m.V, vec.V3{X: float64(float32((30 + 9*d) * c)), Y: float64(float32((30 + 9*d) * s)), Z: float64(float32(9 * t))})
		}
	}
	at := func(i, j int) int32 { return int32(i%p*q + j%q) }
	for i := range p {
		for j := range q {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

func stlBytes(m *mesh.Mesh) []byte {
	var b bytes.Buffer
	if err := WriteSTL(&b, m); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func stlText(m *mesh.Mesh) []byte {
	var b bytes.Buffer
	b.WriteString("solid piece one\n")
	for i := range m.F {
		b.WriteString("facet normal 0 0 0\nouter loop\n")
		x, y, z := m.Tri(i)
		for _, p := range []vec.V3{x, y, z} {
			fmt.Fprintf(&b, "vertex %.17g %.17e %.17g\n", p.X, p.Y, p.Z)
		}
		b.WriteString("endloop\nendfacet\n")
	}
	b.WriteString("endsolid piece one\n")
	return b.Bytes()
}

func objText17(m *mesh.Mesh) []byte {
	var b bytes.Buffer
	for _, p := range m.V {
		fmt.Fprintf(&b, "v %.17g %.17g %.17g\n", p.X, p.Y, p.Z)
	}
	for _, f := range m.F {
		fmt.Fprintf(&b, "f %d//1 %d/2 %d/3/4\n", f[0]+1, f[1]+1, f[2]+1)
	}
	return b.Bytes()
}

// plyBytes writes PLY in one of its three forms, with properties to pass over.
func plyBytes(m *mesh.Mesh, form string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "ply\nformat %s 1.0\ncomment nothing\nelement vertex %d\nproperty uchar red\nproperty double x\nproperty float y\nproperty double z\nproperty list uchar short extra\nelement face %d\nproperty list uint16 int vertex_indices\nproperty int16 mark\nend_header\n", form, len(m.V), len(m.F))
	var order binary.AppendByteOrder = binary.LittleEndian
	if form == "binary_big_endian" {
		order = binary.BigEndian
	}
	var d []byte
	for _, p := range m.V {
		if form == "ascii" {
			d = fmt.Appendf(d, "7 %.17g %.17g %.17g 2 -1 -2\n", p.X, p.Y, p.Z)
			continue
		}
		d = append(d, 7)
		d = order.AppendUint64(d, math.Float64bits(p.X))
		d = order.AppendUint32(d, math.Float32bits(float32(p.Y)))
		d = order.AppendUint64(d, math.Float64bits(p.Z))
		d = order.AppendUint16(append(d, 1), 65535)
	}
	for _, f := range m.F {
		if form == "ascii" {
			d = fmt.Appendf(d, "3 %d %d %d -5\n", f[0], f[1], f[2])
			continue
		}
		d = order.AppendUint16(d, 3)
		for _, v := range f {
			d = order.AppendUint32(d, uint32(v))
		}
		d = order.AppendUint16(d, 99)
	}
	return append(b.Bytes(), d...)
}

func offBytes(m *mesh.Mesh) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "COFF # colours\n# none\n%d %d 0\n", len(m.V), len(m.F))
	for _, p := range m.V {
		fmt.Fprintf(&b, "%.17g %.17g %.17g 255 0 0 255\n", p.X, p.Y, p.Z)
	}
	for _, f := range m.F {
		fmt.Fprintf(&b, "3 %d %d %d 0.5 0.5 0.5\n", f[0], f[1], f[2])
	}
	return b.Bytes()
}

func same(t *testing.T, what string, want, got *mesh.Mesh) {
	t.Helper()
	if !slices.Equal(want.V, got.V) || !slices.Equal(want.F, got.F) {
		t.Errorf("%s: %d corners and %d triangles came back as %d and %d, or changed", what, len(want.V), len(want.F), len(got.V), len(got.F))
	}
}

func TestEveryFormatGivesTheSameMesh(t *testing.T) {
	m := torus(40, 24)
	want := mesh.Canonical(m)
	for name, data := range map[string][]byte{
		"binary.stl": stlBytes(m), "text.stl": stlText(m), "a.obj": objText17(m), "a.off": offBytes(m), "no-ending": objText17(m),
		"ascii.ply": plyBytes(m, "ascii"), "little.ply": plyBytes(m, "binary_little_endian"), "big.ply": plyBytes(m, "binary_big_endian"),
		"wrong.stl": objText17(m), "wrong.obj": stlBytes(m), "wrong.off": plyBytes(m, "ascii"), "returns.obj": bytes.ReplaceAll(objText17(m), []byte("\n"), []byte("\r\n")),
		"returns.ply": bytes.ReplaceAll(plyBytes(m, "ascii"), []byte("\n"), []byte("\r\n")), "marked.obj": append([]byte("\xef\xbb\xbf"), objText17(m)...),
	} {
		got, facts, err := Parse(data, name, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		same(t, name, want, got)
		if facts.Triangles != len(m.F) || facts.Degenerate != 0 || facts.Polygons != len(m.F) || len(facts.SHA256) != 64 {
			t.Errorf("%s: facts %+v", name, facts)
		}
	}
}

func TestOrderOfTriangles(t *testing.T) {
	m := torus(30, 11)
	want, _, err := Parse(stlBytes(m), "a.stl", Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := &mesh.Mesh{V: m.V}
	for _, i := range rand.New(rand.NewPCG(3, 4)).Perm(len(m.F)) {
		s.F = append(s.F, m.F[i])
	}
	got, _, err := Parse(stlBytes(s), "a.stl", Options{})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "shuffled", want, got)
	kept, _, err := Parse(stlBytes(m), "a.stl", Options{KeepOrder: true})
	if err != nil {
		t.Fatal(err)
	}
	for i := range m.F {
		a, b, c := m.Tri(i)
		x, y, z := kept.Tri(i)
		if a != x || b != y || c != z {
			t.Fatalf("triangle %d moved", i)
		}
	}
	if len(kept.V) != len(m.V) || kept.F[0] != [3]int32{0, 1, 2} {
		t.Errorf("corners are not in the order of their first appearance: %v", kept.F[0])
	}
}

func TestMinusZeroEqualsZero(t *testing.T) {
	m, _, err := Parse([]byte("v 0 0 0\nv -0 0 -0.0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 4 3\nf 2 3 5\nf 1 5 4\nf 3 4 5\n"), "a.obj", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if top := mesh.TopologyOf(m); !top.Watertight || len(m.V) != 4 {
		t.Errorf("%d corners, watertight %v", len(m.V), top.Watertight)
	}
}

func TestFormsOfOBJ(t *testing.T) {
	text := `# C:\folder\
mtllib C:\x\
o first
v -1 -1 -1 0.5 0.5 0.5
v 1 -1 -1
v 1 \
  1 -1
v -1 1 -1
vn 0 0 1
vt 0 0
g side
f 4//1 3//1 \
  2//1 1//1
o second
v -1 -1 1 1.0
v 1 -1 1
v 1 1 1
v -1 1 1
l 1 2
f -4 -3 -2 -1
f 1/1/1 2/1/1 6/1/1 5/1/1 # front
f 2 3 7 6
f 3 4 8 7
f 4 1 5 8
`
	m, facts, err := Parse([]byte(text), "a.obj", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if facts.Polygons != 6 || facts.Triangles != 12 || math.Abs(m.Volume()-8) > 1e-12 || !mesh.TopologyOf(m).Watertight {
		t.Errorf("facts %+v, volume %g", facts, m.Volume())
	}
}

func TestPLYStripsTurnEverySecondTriangle(t *testing.T) {
	text := "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\nelement tristrips 1\nproperty list int int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n0 0 1\n6 0 2 1 3 0 2\n"
	m, _, err := Parse([]byte(text), "a.ply", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !mesh.TopologyOf(m).Watertight || math.Abs(m.Volume()-1./6) > 1e-12 {
		t.Errorf("volume %g", m.Volume())
	}
}

func TestNumbersAreRoundedAsStrconvDoes(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range 20000 {
		x := math.Float64frombits(rng.Uint64())
		if i%2 == 0 {
			x = rng.NormFloat64() * math.Pow(10, float64(rng.IntN(12)-6))
		}
		if math.IsNaN(x) || math.IsInf(x, 0) {
			continue
		}
		for _, f := range []string{"%.17g", "%.6f", "%e", "%g", "%+.9E", "%.15g"} {
			s := fmt.Sprintf(f, x)
			var want float64
			if _, err := fmt.Sscan(s, &want); err != nil {
				continue
			}
			if got, ok := number([]byte(s)); !ok || got != want {
				t.Fatalf("%s read as %g", s, got)
			}
		}
	}
	for _, s := range []string{"", "-", ".", "1,5", "1e", "1e+", "e5", "1.2.3", "--1", "1_0", "0x", "1f"} {
		if x, ok := number([]byte(s)); ok {
			t.Errorf("%q was read as %g", s, x)
		}
	}
}

// TestBadFilesAreRefused holds each message to the words that matter.
func TestBadFilesAreRefused(t *testing.T) {
	good := stlBytes(torus(8, 6))
	cut := good[:len(good)-75]
	nan := slices.Clone(good)
	binary.LittleEndian.PutUint32(nan[84+50*4+16:], math.Float32bits(float32(math.NaN())))
	text := string(stlText(torus(8, 6)))
	for _, c := range []struct{ file, data, say string }{
		{"a.stl", "", "empty"},
		{"a.stl", string(cut), "says 96 triangles and the file holds 94"},
		{"a.stl", string(good[:60]), "84 of a binary STL header"},
		{"a.stl", string(nan), "triangle 5 has a corner that is not a finite number"},
		{"a.stl", "<!DOCTYPE html><html></html>", "web page"},
		{"a.stl", "solid\nendsolid\n", "no triangles"},
		{"a.stl", "solid nothing", "no triangles"},
		{"a.stl", text[:len(text)/2], "cut"},
		{"a.stl", strings.Replace(text, "vertex", "vertex x", 1), "a.stl:4: \"x\" is not a number"},
		{"a.stl", strings.Replace(text, "vertex", "vortex", 1), "a.stl:4: \"vortex\" is no word"},
		{"a.stl", "hello", "no ASCII STL"},
		{"a.3mf", "PK\x03\x04rest", "no whole zip archive"},
		{"a.glb", "glTF\x02\x00\x00\x00", "less than the 20 of a GLB header"},
		{"a.obj", "v 0 0 0\nv 1 0 0\n", "2 points but no face"},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", "a.obj:4: a face names corner 9 of 3"},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 0\n", "a.obj:4: a face names corner 0"},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -4\n", "a.obj:4: a face counts back"},
		{"a.obj", "v 0 0 0\nv 1 0\nv 0 1 0\nf 1 2 3\n", "a.obj:2: a corner has 2 of its three numbers"},
		{"a.obj", "v 0,5,7 0 0\nv 1 0 0\nf 1 2 3\n", "a.obj:1: \"0,5,7\" has commas where"},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 1 2\nf 3 3 3\n", "all 2 triangles"},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv inf 1 0\nf 1 2 3\n", "triangle 1 has a corner that is not a finite number"},
		{"a.obj", "curv 0 1 2\n", "free-form"},
		{"a.off", "OFF\n353535235358 6 0\n0 0 0\n", "more than the"},
		{"a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n", "a.off:6: face 1 names corner \"3\""},
		{"a.off", "OFF\n3 2 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n", "says 2 faces and the file holds 1"},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2" + strings.Repeat(" 3 1 2", 400_000), "a.obj:4: a face has more than 1048576 corners"},
		{"a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n2000000" + strings.Repeat(" 0", 2000000), "a.off:6: a face has more than 1048576 corners"},
		{"a.ply", "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list int int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n2000000" + strings.Repeat(" 0", 2000000), "a.ply:13: a face has more than 1048576 corners"},
		{"a.off", "OFF BINARY\n", "binary OFF"},
		{"a.ply", "ply\nformat ascii 1.0\nelement vertex 4000000000\nproperty float x\nproperty float y\nproperty float z\nend_header\n", "more than the 0 bytes"},
		{"a.ply", "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nend_header\n0\n", "no properties x, y and z"},
		{"a.ply", "ply\nformat ascii 1.0\n", "does not end"},
		{"a.ply", "ply\nformat runes 1.0\nend_header\n", "format is not"},
		{"a.ply", string(plyBytes(torus(8, 6), "binary_little_endian"))[:700], "more than the"},
		{"a.ply", strings.Replace(string(plyBytes(torus(8, 6), "ascii")), "\n3 ", "\n3000 ", 1), "cut"},
		{"a.ply", strings.Replace(string(plyBytes(torus(8, 6), "ascii")), "\n3 0", "\n3 777", 1), "names corner 777"},
		{"a.xyz", "\x00\x01\x02\x03", "no mesh of a format"},
		{"a.txt", "dear reader", "no mesh of a format"},
	} {
		_, _, err := Parse([]byte(c.data), c.file, Options{})
		if err == nil {
			t.Errorf("%s %.20q was read; want %q", c.file, c.data, c.say)
			continue
		}
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" || !strings.HasPrefix(err.Error(), c.file) {
			t.Errorf("%q: kind %d, hint %q", err, fault.KindOf(err), fault.HintOf(err))
		}
		if !strings.Contains(err.Error()+"; "+fault.HintOf(err), c.say) {
			t.Errorf("%s %.20q: said %q; want %q", c.file, c.data, err, c.say)
		}
	}
	if _, _, err := Read(filepath.Join(t.TempDir(), "none.stl"), Options{}); fault.KindOf(err) != fault.Input {
		t.Errorf("absent file: %v", err)
	}
	if _, _, err := Read(t.TempDir(), Options{}); fault.KindOf(err) != fault.Input {
		t.Errorf("folder: %v", err)
	}
	if _, _, err := ReadFrom(bytes.NewReader(good), "a.stl", Options{MaxBytes: 1000}); err == nil || !strings.Contains(err.Error(), "limit") {
		t.Errorf("large file: %v", err)
	}
}

func TestCountOfTheHeader(t *testing.T) {
	m := torus(8, 6)
	for _, count := range []uint32{0, math.MaxUint32, 95} {
		d := stlBytes(m)
		binary.LittleEndian.PutUint32(d[80:], count)
		got, facts, err := Parse(d, "a.stl", Options{})
		if err != nil || len(facts.Notes) != 1 {
			t.Errorf("count %d: %v, notes %q", count, err, facts.Notes)
			continue
		}
		if want := 96; count != 95 && len(got.F) != want || count == 95 && len(got.F) != 95 {
			t.Errorf("count %d: %d triangles", count, len(got.F))
		}
	}
	d := stlBytes(m)
	copy(d, "solid of the other kind")
	if got, facts, err := Parse(append(d, 0, 0, 0), "a.stl", Options{}); err != nil || len(got.F) != 96 || len(facts.Notes) != 1 {
		t.Errorf("binary file that begins with solid: %v", err)
	}
}

func TestGuessUnit(t *testing.T) {
	for _, c := range []struct {
		long float64
		unit string
	}{{60, "mm"}, {355.6, "mm"}, {495, "mm"}, {2.79, "in"}, {1.352, "in"}, {5, "in"}, {0.307, "m"}, {0.071, "m"}, {71000, "um"}, {900, "mm"}, {13.85, "mm"}} {
		if u, why := GuessUnit(c.long); u != c.unit || why == "" {
			t.Errorf("%g: %s (%s)", c.long, u, why)
		}
	}
	if _, err := UnitScale("ft"); fault.KindOf(err) != fault.Usage {
		t.Error(err)
	}
}

type value struct {
	Kind, Format string
	Read         struct {
		Triangles, Shells, Euler *int
		Vertices                 *int `json:"vertices_welded"`
		Watertight               *bool
		Genus                    *int
		Volume, Area             *float64
		Centroid                 *[3]float64
		Open                     *int        `json:"open_edges"`
		Doubled                  *int        `json:"edges_over_two_faces"`
		Misturned                *int        `json:"misoriented_edges"`
		Pinched                  *int        `json:"nonmanifold_vertices"`
		Repeated                 *int        `json:"repeated_index_triangles"`
		Min                      *[3]float64 `json:"bbox_min"`
		Max                      *[3]float64 `json:"bbox_max"`
	}
	Expected struct{ Outcome, Say string }
}

// TestMeshSet reads every file of the set and compares with the values computed
// by other programs. What cannot be read must be refused.
func TestMeshSet(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names, all := outside.Values[value](t, dir)
	read, refused := 0, 0
	for _, name := range names {
		v := all[name]
		m, facts, err := Read(filepath.Join(dir, "files", name), Options{})
		if cut := name == "infinite.glb" || name == "derived_truncated_half.stl"; (cut || v.Read.Triangles == nil && v.Expected.Outcome == "refuse") && err == nil {
			t.Errorf("%s was read: %s", name, v.Expected.Say)
		}
		if err == nil && (v.Format == "3mf" || v.Format == "glb") != (facts.Unit != "") {
			t.Errorf("%s: unit %q", name, facts.Unit)
		}
		if err != nil {
			refused++
			if v.Kind != "broken" && v.Kind != "damaged" || fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
				t.Errorf("%s (%s): %v", name, v.Kind, err)
			}
			if strings.Contains(err.Error(), "\n") || len(err.Error()) > 500 {
				t.Errorf("%s: said %q", name, err)
			}
			if v.Expected.Outcome == "accept" || v.Expected.Outcome == "repair" {
				t.Errorf("%s must be read: %v", name, err)
			}
			continue
		}
		read++
		compare(t, name, v, m, facts)
	}
	t.Logf("%d files read, %d refused", read, refused)
	if read < 76 || refused < 5 {
		t.Errorf("%d files read and %d refused", read, refused)
	}
}

func compare(t *testing.T, name string, v value, m *mesh.Mesh, facts Facts) {
	top := mesh.TopologyOf(m)
	r := v.Read
	check := func(what string, want *int, got int) {
		if want != nil && *want != got {
			t.Errorf("%s: %s %d, want %d", name, what, got, *want)
		}
	}
	check("triangles", r.Triangles, facts.Triangles)
	check("corners", r.Vertices, top.Corners)
	check("shells", r.Shells, top.Shells)
	check("open edges", r.Open, top.Open)
	check("doubled edges", r.Doubled, top.Doubled)
	check("turned edges", r.Misturned, top.Misturned)
	check("pinched corners", r.Pinched, top.Pinched)
	check("degenerate", r.Repeated, facts.Degenerate)
	if r.Repeated == nil || *r.Repeated == 0 {
		check("euler", r.Euler, top.Euler)
	}
	if r.Watertight != nil && *r.Watertight != top.Watertight {
		t.Errorf("%s: watertight %v", name, top.Watertight)
	}
	if r.Watertight != nil && ((r.Genus == nil) != (top.Genus == nil) || r.Genus != nil && *r.Genus != *top.Genus) {
		t.Errorf("%s: genus %v", name, top.Genus)
	}
	if box := m.Box(); r.Min != nil && facts.Degenerate == 0 {
		if d := max(box.Min.Dist(vec.FromArray(*r.Min)), box.Max.Dist(vec.FromArray(*r.Max))); d > 1e-7*box.Longest() {
			t.Errorf("%s: box off by %g", name, d)
		}
	}
	if !top.Watertight {
		return // the signed volume of an open mesh depends on the origin
	}
	near := func(what string, want *float64, got, tol float64) {
		if want != nil && math.Abs(got-*want) > tol*math.Max(math.Abs(*want), 1e-300) {
			t.Errorf("%s: %s %.12g, want %.12g", name, what, got, *want)
		}
	}
	tol := 1e-9
	if facts.Format == "STL ASCII" {
		tol = 1e-7 // the values were computed from the numbers rounded to float32
	}
	near("volume", r.Volume, m.Volume(), tol)
	near("area", r.Area, m.Area(), tol)
	if r.Centroid != nil {
		if d := m.Centroid().Dist(vec.FromArray(*r.Centroid)); d > 1e-7*m.Box().Longest() {
			t.Errorf("%s: centroid off by %g", name, d)
		}
	}
}
