package sequence

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
)

// FuzzMaster takes bytes the whole way from the file through the repair to the
// figures: a clear refusal, or a closed body with finite figures of which every
// repair is said, and the same again at the second time.
func FuzzMaster(f *testing.F) {
	m := sculpt.Ball(5, 4).Mesh
	for _, drop := range []int{0, 1, 3} {
		var b bytes.Buffer
		if err := meshfile.WriteSTL(&b, &mesh.Mesh{V: m.V, F: m.F[drop:]}); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes(), byte(0))
	}
	var b bytes.Buffer
	for _, p := range m.V {
		fmt.Fprintf(&b, "v %g %g %g\n", p.X, p.Y, p.Z)
	}
	for i, t := range m.F {
		if i%9 == 0 {
			t[0], t[1] = t[1], t[0]
		}
		fmt.Fprintf(&b, "f %d %d %d\n", t[0]+1, t[1]+1, t[2]+1)
	}
	f.Add(b.Bytes(), byte(1))
	f.Add([]byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nv 1 1 1\nf 1 2 3\nf 2 1 4\nf 1 2 5\nf 3 2 5\nf 1 4 3 5\n"), byte(1))
	f.Add([]byte("OFF 8 5 0\n0 0 0 1 0 0 1 1 0 0 1 0 0 0 1 1 0 1 1 1 1 0 1 1\n4 3 2 1 0\n4 0 1 5 4\n4 1 2 6 5\n4 2 3 7 6\n4 3 0 4 7\n"), byte(3))
	f.Add([]byte("OFF 9 6 0\n0 0 0 1 0 0 1 1 0 0 1 0 0 0 1 1 0 1 1 1 1 0 1 1 .5 0 0\n4 3 2 1 0\n5 0 8 1 5 4\n4 1 2 6 5\n4 2 3 7 6\n4 3 0 4 7\n4 4 5 6 7\n"), byte(3))
	names := []string{"a.stl", "a.obj", "a.ply", "a.off"}
	f.Fuzz(func(t *testing.T, data []byte, kind byte) {
		name := names[int(kind)%len(names)]
		m, err := Check(Source{Path: name, Data: data})
		if err != nil {
			if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
				t.Fatalf("%v without a hint", err)
			}
			return
		}
		s := m.Said
		if !mesh.TopologyOf(m.Mesh).Watertight || !(s.Volume > 0) || math.IsInf(s.Volume, 0) || !(s.Area > 0) || s.Bodies < 1 || !(s.VolumeBand >= 0) {
			t.Fatalf("%+v", s)
		}
		if !s.Read.Watertight && len(s.Repairs) == 0 || len(m.Notes) < len(s.Repairs) {
			t.Fatalf("%d repairs, %d notes: %+v", len(s.Repairs), len(m.Notes), s)
		}
		again, err := Check(Source{Path: name, Data: data})
		if err != nil || again.Said.Volume != s.Volume || len(again.Mesh.F) != len(m.Mesh.F) {
			t.Fatalf("not the same again: %v", err)
		}
	})
}
