package fill

import (
	"context"
	"errors"
	"math"
	"runtime"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/tension"
)

// slosh is a heap of metal that falls over in a shut box.
func slosh(t *testing.T) *Run {
	t.Helper()
	c, err := cells.Box([3]int{24, 10, 16}, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	f := make([]float64, c.Wall+1)
	for i := range c.N {
		if p := c.I[i]; p[0] < 9 && p[2] < 13-p[1]/3 {
			f[i] = 1
		}
	}
	r, err := New(Problem{Cells: c, Metal: Metal{7000, 1.8e-3, 0.53, tension.Powdered}, Gravity: vec.V3{Z: -9.81}}, f)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestSameOnOneCore(t *testing.T) {
	var runs [2]*Run
	for k, n := range []int{1, 2} {
		old := runtime.GOMAXPROCS(n)
		runs[k] = slosh(t)
		err := runs[k].Advance(context.Background(), 0.03)
		runtime.GOMAXPROCS(old)
		if err != nil {
			t.Fatal(err)
		}
	}
	if a, b := runs[0].Sum, runs[1].Sum; a != b {
		t.Errorf("%+v on one core, %+v on two", a, b)
	}
	for i := range runs[0].F {
		if runs[0].F[i] != runs[1].F[i] || runs[0].U[2][i] != runs[1].U[2][i] {
			t.Fatalf("cell %d differs", i)
		}
	}
}

func TestVolumeStays(t *testing.T) {
	r := slosh(t)
	v := r.Volume()
	if err := r.Advance(context.Background(), 0.1); err != nil {
		t.Fatal(err)
	}
	if d := math.Abs((r.Volume()+r.Sum.Dropped)/v - 1); d > 1e-12 {
		t.Errorf("volume off by %.1e after %d steps", d, r.Sum.Steps)
	}
	for i, f := range r.F[:r.c.N] {
		if !(f >= -1e-12 && f < 1.1) {
			t.Errorf("cell %d holds %g", i, f)
		}
	}
	if w := math.Sqrt(2 * 9.81 * 0.016); r.Fastest() > 3*w {
		t.Errorf("moves at %.2f m/s where %.2f is the fall", r.Fastest(), w)
	}
}

func TestStopsWhenAsked(t *testing.T) {
	r := slosh(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	err := r.Advance(ctx, 1)
	if fault.KindOf(err) != fault.Interrupted || !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func TestRefusesNonsense(t *testing.T) {
	c, err := cells.Box([3]int{2, 2, 2}, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	good := Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 1e-3}, Gravity: vec.V3{Z: -9.81}}
	f := make([]float64, c.Wall+1)
	for name, change := range map[string]func(p *Problem, f []float64){
		"no cells":      func(p *Problem, _ []float64) { p.Cells = nil },
		"no density":    func(p *Problem, _ []float64) { p.Metal.Density = 0 },
		"no number":     func(p *Problem, _ []float64) { p.Metal.Viscosity = math.NaN() },
		"gravity":       func(p *Problem, _ []float64) { p.Gravity.X = math.Inf(1) },
		"ports":         func(p *Problem, _ []float64) { p.Ports = make([]Beyond, 3) },
		"sections":      func(p *Problem, _ []float64) { p.Sections = make([]cells.Section, 1) },
		"share over 1":  func(_ *Problem, f []float64) { f[0] = 1.5 },
		"share under 0": func(_ *Problem, f []float64) { f[0] = -0.5 },
	} {
		p, g := good, append([]float64{}, f...)
		change(&p, g)
		if _, err := New(p, g); fault.KindOf(err) != fault.Input {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := New(good, f[:3]); fault.KindOf(err) != fault.Input {
		t.Errorf("shares: %v", err)
	}
	if _, err := New(good, f); err != nil {
		t.Error(err)
	}
}
