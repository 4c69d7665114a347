package fill

import (
	"context"
	"errors"
	"math"
	"runtime"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/gas"
	"pourwright/internal/physics/heat"
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
	dim := [3]int{2, 2, 2}
	c, err := cells.Box(dim, 1e-3, cells.Side(dim, 2, true)...)
	if err != nil {
		t.Fatal(err)
	}
	other, err := cells.Box([3]int{2, 2, 2}, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	warm := func(c *cells.Cells) *chill.State {
		m := heat.Metal{Density: 7000, KSolid: 50, KLiquid: 30, CpSolid: 256, CpLiquid: 247, Latent: 6e4, Fraction: []heat.Melt{{T: 236, F: 0}, {T: 242, F: 1}}}
		s, err := chill.New(chill.Problem{Cells: c, Metal: m, Rubber: heat.Rubber{Density: 1250, Cp: 1250, K: 0.25}, Mould: 45})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	nan, inf := math.NaN(), math.Inf(1)
	good := Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 1e-3}, Gravity: vec.V3{Z: -9.81}, Ports: make([]Beyond, c.Ports)}
	f := make([]float64, c.Wall+1)
	for name, change := range map[string]func(p *Problem, f []float64){
		"no cells":          func(p *Problem, _ []float64) { p.Cells = nil },
		"no density":        func(p *Problem, _ []float64) { p.Metal.Density = 0 },
		"no number":         func(p *Problem, _ []float64) { p.Metal.Viscosity = nan },
		"gravity":           func(p *Problem, _ []float64) { p.Gravity.X = inf },
		"wall":              func(p *Problem, _ []float64) { p.Slide[1].Y = nan },
		"ports":             func(p *Problem, _ []float64) { p.Ports = make([]Beyond, c.Ports+1) },
		"speed no number":   func(p *Problem, _ []float64) { p.Ports[1] = Beyond{Kind: Jet, Speed: nan} },
		"speed without end": func(p *Problem, _ []float64) { p.Ports[1] = Beyond{Kind: Jet, Speed: inf} },
		"speed under 0":     func(p *Problem, _ []float64) { p.Ports[1] = Beyond{Kind: Jet, Speed: -1} },
		"pressure":          func(p *Problem, _ []float64) { p.Ports[1] = Beyond{Kind: Head, Pressure: nan} },
		"pressure of air":   func(p *Problem, _ []float64) { p.Ports[1] = Beyond{Kind: Air, Pressure: inf} },
		"air under nothing": func(p *Problem, _ []float64) { p.Ports[1] = Beyond{Kind: Air, Pressure: -2e5} },
		"sections":          func(p *Problem, _ []float64) { p.Sections = make([]cells.Section, 1) },
		"section no number": func(p *Problem, _ []float64) { p.Sections = make([]cells.Section, c.Wall+1); p.Sections[2].Drag = nan },
		"section over 1":    func(p *Problem, _ []float64) { p.Sections = make([]cells.Section, c.Wall+1); p.Sections[2].Blend = 2 },
		"given too short":   func(p *Problem, _ []float64) { p.Given[1] = make([]float64, 3) },
		"given no number":   func(p *Problem, _ []float64) { p.Given[1] = make([]float64, c.Wall+1); p.Given[1][4] = nan },
		"vent nowhere": func(p *Problem, _ []float64) {
			p.Vents = []Vent{{Cell: int32(c.N), Outlet: gas.Outlet{Form: gas.Hole, Area: 1e-6, Gap: 1e-3, Length: 1e-2}}}
		},
		"vent of no size": func(p *Problem, _ []float64) {
			p.Vents = []Vent{{Outlet: gas.Outlet{Form: gas.Hole, Gap: 1e-3, Length: 1e-2}}}
		},
		"courant under 0":    func(p *Problem, _ []float64) { p.Courant = -0.5 },
		"courant over 1":     func(p *Problem, _ []float64) { p.Courant = 3 },
		"courant no number":  func(p *Problem, _ []float64) { p.Courant = nan },
		"careful and fast":   func(p *Problem, _ []float64) { p.Courant = 1.2 },
		"void that sinks":    func(p *Problem, _ []float64) { p.Rise = -0.1 },
		"rise no number":     func(p *Problem, _ []float64) { p.Rise = nan },
		"residual under 0":   func(p *Problem, _ []float64) { p.Share = -1e-4 },
		"residual no number": func(p *Problem, _ []float64) { p.Share = nan },
		"heat elsewhere":     func(p *Problem, _ []float64) { p.Heat, p.Pour = warm(other), 300 },
		"pour no number":     func(p *Problem, _ []float64) { p.Heat, p.Pour = warm(c), nan },
		"share over 1":       func(_ *Problem, f []float64) { f[0] = 1.5 },
		"share under 0":      func(_ *Problem, f []float64) { f[0] = -0.5 },
		"share no number":    func(_ *Problem, f []float64) { f[0] = nan },
	} {
		p, g := good, append([]float64{}, f...)
		p.Ports = append([]Beyond{}, good.Ports...)
		change(&p, g)
		if _, err := New(p, g); fault.KindOf(err) != fault.Input {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := New(good, f[:3]); fault.KindOf(err) != fault.Input {
		t.Errorf("shares: %v", err)
	}
	for name, change := range map[string]func(p *Problem){
		"as it is":      func(*Problem) {},
		"given nothing": func(p *Problem) { p.Given[0] = make([]float64, c.Wall+1) },
		"heat of its":   func(p *Problem) { p.Heat, p.Pour = warm(c), 300 },
	} {
		p := good
		change(&p)
		if _, err := New(p, f); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// driven pours through the middle of the floor what drive says.
func driven(t *testing.T, drive func(t float64, ports []Beyond)) *Run {
	t.Helper()
	dim := [3]int{4, 4, 4}
	c, err := cells.Box(dim, 1e-3, append(cells.Side(dim, 2, false), cells.Side(dim, 2, true)...)...)
	if err != nil {
		t.Fatal(err)
	}
	f := make([]float64, c.Wall+1)
	for i := range c.N {
		if c.I[i][2] < 2 {
			f[i] = 1
		}
	}
	ports := make([]Beyond, c.Ports)
	for k := range ports {
		if c.I[c.N+k][2] > 0 {
			ports[k].Kind = Air
		}
	}
	r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 1.8e-3}, Gravity: vec.V3{Z: -9.81}, Ports: ports, Drive: drive}, f)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestSaysWhereItWentWrong holds every way in which a run may end to an error of the right kind that names a place.
func TestSaysWhereItWentWrong(t *testing.T) {
	at := func(ports []Beyond, b Beyond) {
		for k := range 16 { // the floor comes first
			ports[k] = b
		}
	}
	for _, x := range []struct {
		name  string
		drive func(t float64, ports []Beyond)
		kind  fault.Kind
	}{
		{"a speed that is no number", func(now float64, ports []Beyond) {
			at(ports, Beyond{Kind: Jet, Speed: 0.1})
			if now > 0.002 {
				at(ports, Beyond{Kind: Jet, Speed: math.Log(-now)})
			}
		}, fault.Input},
		{"a pressure that is no number", func(now float64, ports []Beyond) {
			at(ports, Beyond{Kind: Head, Pressure: math.Inf(1)})
		}, fault.Input},
		{"a pressure without measure", func(now float64, ports []Beyond) {
			at(ports, Beyond{Kind: Head, Pressure: 1e20})
		}, fault.Unstable},
		{"a speed without measure", func(now float64, ports []Beyond) {
			at(ports, Beyond{Kind: Jet, Speed: 1e9})
		}, fault.Unstable},
	} {
		r := driven(t, x.drive)
		err := r.Advance(context.Background(), 0.01)
		if fault.KindOf(err) != x.kind || err == nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		if !strings.Contains(err.Error(), " mm") {
			t.Errorf("%s: no place in %q", x.name, err)
		}
		if x.kind == fault.Unstable && fault.HintOf(err) == "" {
			t.Errorf("%s: nothing to do", x.name)
		}
	}
	// A field that went wrong under way is found at the next step, wherever it stands.
	for _, i := range []int{0, 7, 20} {
		r := driven(t, nil)
		if err := r.Advance(context.Background(), 0.001); err != nil {
			t.Fatal(err)
		}
		r.U[0][i+1] = math.NaN()
		if err := r.Advance(context.Background(), 0.002); fault.KindOf(err) != fault.Unstable || err == nil || !strings.Contains(err.Error(), " mm") {
			t.Errorf("cell %d: %v", i, err)
		}
	}
}

// TestShortStepsAreForgotten: a reading a hair after another costs one step, no more.
func TestShortStepsAreForgotten(t *testing.T) {
	one, two := slosh(t), slosh(t)
	if err := one.Advance(context.Background(), 0.03); err != nil {
		t.Fatal(err)
	}
	for _, until := range []float64{0.01, 0.01 + 1e-9, 0.02, 0.02 + 1e-9, 0.03} {
		if err := two.Advance(context.Background(), until); err != nil {
			t.Fatal(err)
		}
	}
	if a, b := one.Sum.Steps, two.Sum.Steps; b > a+8 {
		t.Errorf("%d steps in one go, %d with four readings between", a, b)
	}
}
