package sequence

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// dented is a plate of 40 x 30 x 8 mm with a dent from above that leaves a floor of
// f mm.
func dented(t *testing.T, f float64) []byte {
	level := func(inset, z float64) sculpt.Level {
		return sculpt.Level{Ring: sculpt.Rect(inset, inset, 40-inset, 30-inset), Z: z}
	}
	m, err := sculpt.Lofted([]sculpt.Level{level(0, 0), level(0, 8), level(8, 8), level(11, f)})
	if err != nil {
		t.Fatal(err)
	}
	return stl(t, m)
}

// TestWhatHangsOnTheCalipers: the same piece, scanned with a dent that is too deep
// or too shallow.
func TestWhatHangsOnTheCalipers(t *testing.T) {
	for _, c := range []struct {
		name       string
		mesh, read float64
		want, not  string
		thin       string // severity of thin in the plan
		flips      bool
	}{
		{"scan too thin", 0.9, 1.8, "only by the mesh: thin (must)", "only by the calipers", "", false},
		{"scan too thick", 1.8, 0.9, "only by the calipers: thin (must)", "only by the mesh", plan.Must, false},
		{"both thick", 4, 4.4, "Neither the verdict nor a finding hangs on it", "only by", "", false},
		{"the same", 1.8, 1.85, "", "by the mesh.", "", false},
		{"near the limit", 1.8, 1.6, "The thinnest section counts as 1.60 mm by the calipers, 1.80 mm by the mesh.", "", "", true},
	} {
		data := dented(t, c.mesh)
		at := "[20, 15, 0]"
		r, err := Make(context.Background(), parse(t, head+fmt.Sprintf("thickness = [[%s, %g]]\n", at, c.read)+rest), Setting{Version: "test", Mesh: data})
		if err != nil {
			t.Fatal(c.name, err)
		}
		say, thin := "", ""
		for _, f := range r.Plan.Findings {
			switch {
			case f.Code == "calipers" && strings.HasPrefix(f.Say, "The thinnest section counts"):
				say = f.Say
				if *f.Computed != c.read || math.Abs(*f.Limit-c.mesh) > 1e-6 || f.Do == "" {
					t.Errorf("%s: %+v", c.name, f)
				}
			case f.Code == "thin":
				thin = f.Severity
				if !strings.Contains(f.Say, "by the calipers") {
					t.Errorf("%s: %s", c.name, f.Say)
				}
			}
		}
		if !strings.Contains(say, c.want) || c.not != "" && strings.Contains(say, c.not) || (say == "") != (c.want == "") || thin != c.thin {
			t.Errorf("%s: thin %q, want %q; %s", c.name, thin, c.thin, say)
		}
		var g *plan.Guess
		for k := range r.Plan.Guessed {
			if strings.Contains(r.Plan.Guessed[k].Input, "by the calipers") {
				g = &r.Plan.Guessed[k]
			}
		}
		if g == nil || g.Used != c.read || math.Abs(g.Range[1]-c.read-0.1) > 1e-9 || g.Flips == nil {
			t.Fatalf("%s: guess %+v", c.name, g)
		}
		if verdict := r.Plan.Verdict; *g.Flips != c.flips {
			t.Errorf("%s: flips %v with the verdict %s, want %v", c.name, *g.Flips, verdict, c.flips)
		}
	}
}

// The scale of a scan is told by control, else by mass and density.
func TestMassAndDensity(t *testing.T) {
	for _, c := range []struct {
		k    float64 // by which the scan of a box of 40 x 30 x 8 mm is too large
		mass float64 // of 9.6 cm3 at 1.18 g/cm3: 11.328
		want string
	}{{1, 11.33, "agree with the scan's volume"}, {1.02, 11.33, "lengths of the scan would be 2.0 % too large"}, {0.98, 11.33, "2.0 % too small"}, {1, 8, "or the master is hollow"}, {1, 0.9, "no material"}} {

		scan := sculpt.Box(40*c.k, 30*c.k, 8*c.k).Mesh
		w, err := checked(t, head+fmt.Sprintf("mass = %g\ndensity = 1.18\n", c.mass)+rest, stl(t, scan))
		if err != nil {
			t.Fatal(err)
		}
		all := ""
		for _, n := range w.master.Notes {
			if n.Code == "calipers" {
				all += n.Say + " " + n.Do
			}
		}
		if !strings.Contains(all, c.want) {
			t.Errorf("scan %g, %g g: %q, want %q", c.k, c.mass, all, c.want)
		}
	}
}

// The three places to measure, on bodies of which they can be told by hand.
func TestSpots(t *testing.T) {
	inspect := func(data []byte) *plan.Inspection {
		up, pull := vec.V3{X: 1}, vec.V3{Z: 1}
		i, _, err := Inspect(context.Background(), Look{Source: Source{Path: "a.stl", Data: data, Unit: "mm", From: "flag"}, Up: &up, Pull: &pull}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(i.Measure) != 3 {
			t.Fatalf("%d places", len(i.Measure))
		}
		for _, s := range i.Measure {
			if d := vec.FromArray(s.At).Dist(vec.FromArray(s.To)); math.Abs(d-s.Scan) > 1e-6*s.Scan || s.Why == "" {
				t.Errorf("%+v", s)
			}
			// What is to be typed is a job.
			parse(t, head+strings.Replace(s.Key, "X]", "3.3]", 1)+"\n"+rest)
		}
		return i
	}
	i := inspect(dented(t, 0.9))
	kinds := []string{plan.SpotWall, plan.SpotLength, plan.SpotThick}
	want := []float64{0.9, 40, 8}
	for k, s := range i.Measure {
		if s.Kind != kinds[k] && !(k == 2 && s.Kind == plan.SpotNextWall) || k < 2 && math.Abs(s.Scan-want[k]) > 1e-6 {
			t.Errorf("%+v, want %s of %g mm", s, kinds[k], want[k])
		}
	}
	// No wall below twice the limit: the thickest section.
	if s := inspect(stl(t, sculpt.U(5, 30, 20, 12, 15).Mesh)).Measure[2]; s.Kind != plan.SpotThick || s.Scan < 5-1e-6 {
		t.Errorf("%+v", s)
	}
	// A ball has no two flat faces: its greatest width.
	if s := inspect(stl(t, sculpt.Ball(15, 48).Mesh)).Measure[1]; s.Kind != plan.SpotLength || math.Abs(s.Scan-30) > 0.1 {
		t.Errorf("%+v", s)
	}
	// Two thin places far apart: the second one is next.
	m := together(sculpt.Box(60, 20, 1.2).Mesh)
	if s := inspect(stl(t, m)).Measure; s[2].Kind != plan.SpotNextWall || vec.FromArray(s[2].At).Dist(vec.FromArray(s[0].At)) < wellApart*60 {
		t.Errorf("%+v", s)
	}
	// Of two bodies the length of the larger one, not that from one to the other.
	m = together(sculpt.Box(60, 20, 5).Mesh, shifted(sculpt.Box(30, 20, 5).Mesh, vec.V3{X: 100}))
	if s := inspect(stl(t, m)).Measure[1]; math.Abs(s.Scan-60) > 1e-6 {
		t.Errorf("%+v", s)
	}
}

// The bodies of the mesh set with closed forms all have three places.
func TestSpotsOfTheMeshSet(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	list, err := filepath.Glob(filepath.Join(dir, "files", "exact_*.stl"))
	if err != nil || len(list) == 0 {
		t.Fatal("no bodies: ", err)
	}
	for _, path := range list {
		r, err := read(Source{Path: path, Unit: "mm", From: "flag"})
		if err != nil {
			t.Fatal(err)
		}
		m, err := check(r)
		if err != nil {
			t.Fatal(err)
		}
		m.prepare()
		s := spots(m)
		if len(s) != 3 {
			t.Errorf("%s: %d places", filepath.Base(path), len(s))
			continue
		}
		if long := m.Mesh.Box().Longest(); s[1].Scan < 0.5*long || s[0].Scan > s[2].Scan {
			t.Errorf("%s: %+v", filepath.Base(path), s)
		}
	}
}
