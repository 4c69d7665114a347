package sequence

import (
	"math"
	"strings"
	"testing"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// A ball of half a million triangles is thinned for the steps after the check;
// its figures stay those of the fine mesh, and the distance is said.
func TestVeryFineMastersAreThinned(t *testing.T) {
	ball := sculpt.Ball(30, 710).Mesh
	if len(ball.F) <= heavy {
		t.Fatalf("%d triangles", len(ball.F))
	}
	m, err := Check(Source{Path: "a.stl", Data: stl(t, ball), Unit: "mm", From: "flag"})
	if err != nil {
		t.Fatal(err)
	}
	volume, fine := m.Said.Volume, m.Mesh
	m.thin()
	s := m.Said
	if s.Thinned == nil || s.Volume != volume || s.Triangles != len(fine.F) || len(m.Mesh.F) != s.Thinned.Triangles {
		t.Fatalf("%+v", s)
	}
	if d := s.Thinned; d.Triangles > heavy || d.Found > d.Apart || d.Apart > 2*5*thinLimit*60 || math.Abs(m.Mesh.Volume()/volume-1) > 1e-4 {
		t.Errorf("%+v, volume %g of %g", d, m.Mesh.Volume(), volume)
	}
	if !mesh.TopologyOf(m.Mesh).Watertight || !strings.Contains(m.Notes[len(m.Notes)-1].Say, "thinned") {
		t.Errorf("%+v", m.Notes)
	}
}
