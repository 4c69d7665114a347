package meshfile

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
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

func BenchmarkRead(b *testing.B) {
	for _, n := range []int{50, 200, 388} {
		m := torus(2*n, n)
		for name, data := range map[string][]byte{
			"binary.stl": stlBytes(m), "text.stl": stlText(m), "a.obj": objText17(m),
			"little.ply": plyBytes(m, "binary_little_endian"), "ascii.ply": plyBytes(m, "ascii"), "a.off": offBytes(m),
		} {
			b.Run(fmt.Sprintf("%s/%d", name, len(m.F)), func(b *testing.B) {
				b.SetBytes(int64(len(data)))
				for b.Loop() {
					if _, _, err := Parse(data, name, Options{}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
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
