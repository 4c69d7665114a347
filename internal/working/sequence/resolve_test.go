package sequence

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

// TestPlanOfABarThroughItself: a bar that runs through its own beginning is cut
// there, and a mould is planned from it; twice with the same bytes.
func TestPlanOfABarThroughItself(t *testing.T) {
	var files [2][]byte
	for i := range files {
		r, err := Make(context.Background(), parse(t, head+rest), Setting{Version: "test", Mesh: stl(t, outside.BarThrough())})
		if err != nil {
			t.Fatal(err)
		}
		p := r.Plan
		if p.Verdict == "" || p.Verdict == plan.No || p.Block == nil || len(p.Master.Repairs) != 1 || math.Abs(p.Master.Volume-2416) > 0.1 {
			t.Fatalf("verdict %s, %+v", p.Verdict, p.Master)
		}
		for _, f := range r.Files {
			if f.Name == "cavity.stl" {
				var b bytes.Buffer
				if err := f.Write(&b); err != nil {
					t.Fatal(err)
				}
				files[i] = b.Bytes()
			}
		}
	}
	if len(files[0]) == 0 || !bytes.Equal(files[0], files[1]) {
		t.Error("another cavity the second time")
	}
}

// TestAsIsRefusesThrough: --as-is takes no surface that runs through itself and
// names the place.
func TestAsIsRefusesThrough(t *testing.T) {
	_, err := Check(Source{Path: "a.stl", Data: stl(t, outside.BarThrough()), Unit: "mm", From: "flag", AsIs: true})
	if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" || !strings.Contains(err.Error(), "runs through itself") || !strings.Contains(err.Error(), "near -2, -2,") {
		t.Errorf("%v", err)
	}
}

// TestWriteSavesTheResolved: the saved file is in order, so that --as-is takes it.
func TestWriteSavesTheResolved(t *testing.T) {
	for _, name := range []string{"a.stl", "a.3mf"} {
		out := filepath.Join(t.TempDir(), name)
		s := Source{Path: "bar.stl", Data: stl(t, outside.BarThrough()), Unit: "mm", From: "flag"}
		if _, _, err := Inspect(context.Background(), Look{Source: s, Write: out}, nil); err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		m, err := Check(Source{Path: out, Data: data, Unit: "mm", From: "flag", AsIs: true})
		if err != nil || len(m.Said.Repairs) > 0 || math.Abs(m.Said.Volume-2416) > 0.1 || len(says(m, "through")) > 0 {
			t.Errorf("%s: %v, %+v", name, err, m)
		}
	}
}

// TestOneShellOfTwo: beside a bar that runs through itself lies a ball, and
// another ball cuts into it; the balls stay shells of their own.
func TestOneShellOfTwo(t *testing.T) {
	m := outside.BarThrough()
	for _, x := range []float64{-40, -20} {
		b := sculpt.Ball(3, 12).Mesh
		for i := range b.V {
			b.V[i] = b.V[i].Add(vec.V3{X: x})
		}
		m.Append(b)
	}
	r, err := Check(Source{Path: "a.stl", Data: stl(t, m), Unit: "mm", From: "flag"})
	if err != nil {
		t.Fatal(err)
	}
	if r.Said.Shells != 3 || len(r.Said.Repairs) != 1 {
		t.Errorf("%d shells, %+v, %+v", r.Said.Shells, r.Said.Repairs, r.Notes)
	}
}
