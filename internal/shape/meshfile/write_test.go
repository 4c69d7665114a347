package meshfile

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// model is a 3MF model part as encoding/xml sees it.
type model struct {
	XMLName xml.Name `xml:"http://schemas.microsoft.com/3dmanufacturing/core/2015/02 model"`
	Unit    string   `xml:"unit,attr"`
	Object  []struct {
		ID     int    `xml:"id,attr"`
		Name   string `xml:"name,attr"`
		Vertex []struct {
			X float64 `xml:"x,attr"`
			Y float64 `xml:"y,attr"`
			Z float64 `xml:"z,attr"`
		} `xml:"mesh>vertices>vertex"`
		Triangle []struct {
			A int32 `xml:"v1,attr"`
			B int32 `xml:"v2,attr"`
			C int32 `xml:"v3,attr"`
		} `xml:"mesh>triangles>triangle"`
	} `xml:"resources>object"`
	Item []struct {
		ID int `xml:"objectid,attr"`
	} `xml:"build>item"`
}

func Test3MFIsReadBackByTheStandardLibrary(t *testing.T) {
	a, b := torus(200, 150), torus(9, 7)
	for i := range a.V {
		a.V[i] = a.V[i].Mul(1.0 / 3) // more digits than a float32 has
	}
	var out bytes.Buffer
	if err := Write3MF(&out, Object{"half 1", a}, Object{`half "2" <&>`, b}); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	if len(z.File) != 3 || z.File[0].Name != "[Content_Types].xml" || z.File[0].ModifiedDate != 0 || len(z.File[0].Extra) > 0 {
		t.Fatalf("parts: %v", z.File)
	}
	r, err := z.Open("3D/3dmodel.model")
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err) // also holds the checksum against the bytes
	}
	var got model
	if err := xml.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	if got.Unit != "millimeter" || len(got.Object) != 2 || len(got.Item) != 2 || got.Object[1].Name != `half "2" <&>` {
		t.Fatalf("unit %s, %d objects", got.Unit, len(got.Object))
	}
	for i, want := range []*mesh.Mesh{a, b} {
		m := &mesh.Mesh{}
		for _, p := range got.Object[i].Vertex {
			m.V = append(m.V, vec.V3{X: p.X, Y: p.Y, Z: p.Z})
		}
		for _, f := range got.Object[i].Triangle {
			m.F = append(m.F, [3]int32{f.A, f.B, f.C})
		}
		same(t, got.Object[i].Name, want, m)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	var again bytes.Buffer
	if err := Write3MF(&again, Object{"half 1", a}, Object{`half "2" <&>`, b}); err != nil || !bytes.Equal(out.Bytes(), again.Bytes()) {
		t.Errorf("other bytes on one core (%v)", err)
	}
}

func TestNothingHalfWrittenStays(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stl")
	if err := SaveSTL(path, torus(8, 6)); err != nil {
		t.Fatal(err)
	}
	if m, _, err := Read(path, Options{}); err != nil || len(m.F) != 96 {
		t.Error(err)
	}
	if err := SaveSTL(filepath.Join(dir, "none", "a.stl"), torus(8, 6)); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
		t.Error(err)
	}
	full := errors.New("no space left")
	if err := save(path, func(w io.Writer) error { return errors.Join(writeAll(w, []byte("half")), full) }); !errors.Is(err, full) {
		t.Error(err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Error("the half-written file is still there")
	}
	if err := WriteSTL(short{}, torus(8, 6)); !errors.Is(err, io.ErrShortWrite) {
		t.Error(err)
	}
}

type short struct{}

func (short) Write(p []byte) (int, error) { return len(p) / 2, nil }

// throughput reports bytes of the file and triangles a second.
func throughput(b *testing.B, data []byte, name string, opt Options) {
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		_, facts, err := Parse(data, name, opt)
		if err != nil {
			b.Fatal(err)
		}
		n += facts.Triangles
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds()/1e6, "Mtri/s")
}

// BenchmarkRead reads meshes of up to a million triangles in every format.
func BenchmarkRead(b *testing.B) {
	for _, n := range []int{50, 200, 500} {
		m := torus(2*n, n)
		var pack bytes.Buffer
		if err := Write3MF(&pack, Object{"a", m}); err != nil {
			b.Fatal(err)
		}
		var index []uint32
		for _, f := range m.F {
			index = append(index, uint32(f[0]), uint32(f[1]), uint32(f[2]))
		}
		s := &scene{primitive: tetraPrimitive}
		s.add(floats(m.V, 0), "")
		s.add(wholes(index, 4), "")
		s.accessors = []string{
			fmt.Sprintf(`{"bufferView":0,"componentType":5126,"count":%d,"type":"VEC3"}`, len(m.V)),
			fmt.Sprintf(`{"bufferView":1,"componentType":5125,"count":%d,"type":"SCALAR"}`, len(index)),
		}
		files := map[string][]byte{
			"binary.stl": stlBytes(m), "text.stl": stlText(m), "a.obj": objText17(m), "short.obj": objShort(m),
			"little.ply": plyBytes(m, "binary_little_endian"), "ascii.ply": plyBytes(m, "ascii"), "a.off": offBytes(m),
			"a.3mf": pack.Bytes(), "a.glb": s.glb(), "a.gltf": s.gltf(), "binary.stl.gz": gzipped(stlBytes(m)),
		}
		names := slices.Sorted(maps.Keys(files))
		for _, name := range names {
			b.Run(fmt.Sprintf("%s/%d", name, len(m.F)), func(b *testing.B) { throughput(b, files[name], name, Options{}) })
		}
	}
}

// objShort writes as most programs do: six decimals, no textures.
func objShort(m *mesh.Mesh) []byte {
	var b []byte
	for _, p := range m.V {
		b = fmt.Appendf(b, "v %.6f %.6f %.6f\n", p.X, p.Y, p.Z)
	}
	for _, f := range m.F {
		b = fmt.Appendf(b, "f %d %d %d\n", f[0]+1, f[1]+1, f[2]+1)
	}
	return b
}

// BenchmarkBustSTL reads nefertiti.obj of the mesh set with every triangle cut in
// four, as binary STL of 280 000 triangles: parsed only, parsed and joined in the
// order of the file, and as Read does, in canonical order with a hash of the
// bytes. The set's peers for the same file: CGAL 356 ms and, joined and oriented,
// 1530 ms; three 136 ms and, joined, 914 ms.
func BenchmarkBustSTL(b *testing.B) {
	dir := outside.Meshes(b)
	if dir == "" {
		b.Skip("needs the mesh set")
	}
	m, _, err := Read(filepath.Join(dir, "files", "nefertiti.obj"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	data := stlBytes(outside.Quartered(m))
	b.Run("parse", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			if err := readSTLBinary(data, newBuilder("a", &Facts{Bytes: int64(len(data))})); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("join", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			j := newBuilder("a", &Facts{Bytes: int64(len(data))})
			if err := readSTLBinary(data, j); err != nil {
				b.Fatal(err)
			}
			if m, err := j.finish(Options{KeepOrder: true}); err != nil || len(m.F) != 280_000 {
				b.Fatal(err)
			}
		}
	})
	b.Run("read", func(b *testing.B) { throughput(b, data, "a.stl", Options{}) })
}

// BenchmarkMeshSet reads every file of the mesh set.
func BenchmarkMeshSet(b *testing.B) {
	dir := outside.Meshes(b)
	if dir == "" {
		b.Skip("needs the mesh set")
	}
	names, _ := outside.Values[value](b, dir)
	for _, name := range names {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Read(filepath.Join(dir, "files", name), Options{}) // some are refused
			}
		})
	}
}

func BenchmarkWrite(b *testing.B) {
	for _, n := range []int{50, 200, 388} {
		m := torus(2*n, n)
		b.Run(fmt.Sprintf("stl/%d", len(m.F)), func(b *testing.B) {
			for b.Loop() {
				WriteSTL(io.Discard, m)
			}
		})
		b.Run(fmt.Sprintf("3mf/%d", len(m.F)), func(b *testing.B) {
			for b.Loop() {
				Write3MF(io.Discard, Object{"a", m})
			}
		})
	}
}
