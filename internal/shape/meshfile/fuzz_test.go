package meshfile

import (
	"math"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/mesh"
)

// tryAny parses and holds the result to what every caller relies on.
func tryAny(t *testing.T, data []byte, name string) {
	m, facts, err := Parse(data, name, Options{})
	if err != nil {
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Fatalf("error without kind or hint: %v", err)
		}
		return
	}
	if len(m.F) == 0 || facts.Triangles != len(m.F)+facts.Degenerate {
		t.Fatalf("%d triangles, facts %+v", len(m.F), facts)
	}
	for _, f := range m.F {
		if !mesh.Proper(f) {
			t.Fatal("a triangle names a corner twice")
		}
		for _, k := range f {
			if k < 0 || int(k) >= len(m.V) || !m.V[k].Finite() {
				t.Fatalf("corner %d of %d", k, len(m.V))
			}
		}
	}
	top := mesh.TopologyOf(m)
	mesh.NestOf(m, top)
	if v := m.Volume(); math.IsNaN(v) {
		t.Fatal("volume is no number")
	}
}

func FuzzSTL(f *testing.F) {
	m := torus(3, 3)
	f.Add(stlBytes(m))
	f.Add(stlText(m))
	f.Add([]byte("solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid"))
	f.Add([]byte("solid\n"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.stl") })
}

func FuzzOBJ(f *testing.F) {
	f.Add(objText17(torus(3, 3)))
	f.Add([]byte("v 0 0 0\nv 1 0 0\nv 0 \\\n1 0\nf -1 -2 -3\nf 1/1 2/2/2 3//3\no x\nl 1 2"))
	f.Add([]byte("\xff\xfev\x00 \x001\x00"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.obj") })
}

func FuzzPLY(f *testing.F) {
	m := torus(3, 3)
	for _, form := range []string{"ascii", "binary_little_endian", "binary_big_endian"} {
		f.Add(plyBytes(m, form))
	}
	f.Add([]byte("ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement tristrips 1\nproperty list int int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.ply") })
}

func FuzzOFF(f *testing.F) {
	f.Add(offBytes(torus(3, 3)))
	f.Add([]byte("OFF 3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.off") })
}
