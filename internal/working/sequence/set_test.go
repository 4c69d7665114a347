package sequence

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/validation/outside"
)

// stated is what the mesh set states of one file (its README, section 1).
type stated struct {
	Kind, Format string
	Expected     struct {
		Outcome, Say      string
		Volume            *float64
		Tol               float64 `json:"volume_rel_tol"`
		Shells, Triangles *int
	}
	Read struct {
		Triangles  *int
		Shells     *int
		Watertight *bool
		Volume     *float64
	}
}

// meshSet returns the names of the set's files, in order, and what is stated of
// them; nil where the set is absent.
func meshSet(t testing.TB) (dir string, names []string, set map[string]stated) {
	if dir = outside.Meshes(t); dir == "" {
		return "", nil, nil
	}
	names, set = outside.Values[stated](t, dir)
	return filepath.Join(dir, "files"), names, set
}

// TestSetComesOutAsStated reads, checks and repairs every file of the set: it is
// accepted, repaired or refused as values.json states, with its volume, shells
// and triangles; and what was repaired is said. Volumes were computed by the
// set's own programs and checked with CGAL and manifold-3d.
func TestSetComesOutAsStated(t *testing.T) {
	dir, names, set := meshSet(t)
	for _, name := range names {
		f := set[name]
		e := f.Expected
		r, err := read(Source{Path: filepath.Join(dir, name), Unit: "mm", From: "flag"})
		var m *Master
		if err == nil {
			m, err = check(r)
		}
		if err != nil {
			if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" || !strings.Contains(err.Error(), name) {
				t.Errorf("%s: %v (hint %q)", name, err, fault.HintOf(err))
			}
			if e.Outcome != "refuse" && e.Outcome != "either" {
				t.Errorf("%s: refused: %v; want %s (%s)", name, err, e.Outcome, e.Say)
			}
			t.Logf("%-28s %-7s refused: %v", name, e.Outcome, err)
			continue
		}
		s := m.Said
		if e.Outcome == "refuse" {
			t.Errorf("%s: taken with a volume of %g; want it refused (%s)", name, s.Volume, e.Say)
			continue
		}
		said := len(s.Repairs) > 0 || len(m.Notes) > 0
		if e.Outcome == "accept" && len(s.Repairs) > 0 || e.Outcome != "accept" && !said {
			t.Errorf("%s: repairs %+v, notes %+v; want %s (%s)", name, s.Repairs, m.Notes, e.Outcome, e.Say)
		}
		if e.Outcome == "repair" && len(s.Repairs) == 0 {
			t.Errorf("%s: no repair is named (%s)", name, e.Say)
		}
		if !s.Watertight || len(s.Repairs) > 0 && len(m.Notes) < len(s.Repairs) {
			t.Errorf("%s: closed %t, %d repairs, %d notes", name, s.Watertight, len(s.Repairs), len(m.Notes))
		}
		if v := e.Volume; v != nil && math.Abs(s.Volume-*v) > e.Tol**v {
			t.Errorf("%s: volume %.8g, want %.8g within %g (%s)", name, s.Volume, *v, e.Tol, e.Say)
		}
		if k := e.Shells; k != nil && s.Shells != *k {
			t.Errorf("%s: %d shells, want %d", name, s.Shells, *k)
		}
		if k := e.Triangles; k != nil && s.Triangles != *k {
			t.Errorf("%s: %d triangles, want %d", name, s.Triangles, *k)
		}
		// The file as it stands.
		if k := f.Read.Triangles; k != nil && s.Read.Triangles != *k {
			t.Errorf("%s: %d triangles were read, want %d", name, s.Read.Triangles, *k)
		}
		if k := f.Read.Shells; k != nil && s.Read.Shells != *k {
			t.Errorf("%s: %d shells were read, want %d", name, s.Read.Shells, *k)
		}
		if k := f.Read.Watertight; k != nil && s.Read.Watertight != *k {
			t.Errorf("%s: read as closed %t, want %t", name, s.Read.Watertight, *k)
		}
		if v := f.Read.Volume; v != nil && f.Read.Watertight != nil && *f.Read.Watertight && math.Abs(s.Read.Volume-*v) > 1e-6*math.Abs(*v) {
			t.Errorf("%s: read with a volume of %.8g, want %.8g", name, s.Read.Volume, *v)
		}
		if len(s.Repairs) > 0 {
			t.Logf("%-28s %-7s %.8g mm3, band %.2g, %+v", name, e.Outcome, s.Volume, s.VolumeBand, s.Repairs)
		}
	}
	t.Logf("%d files", len(names))
}
