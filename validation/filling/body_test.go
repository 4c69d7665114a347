package filling

import (
	"context"
	"math"
	"os"
	"runtime"
	"slices"
	"strconv"
	"syscall"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/gas"
	"pourwright/internal/physics/tension"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// figure is a body of our own of 37 cm3: eight round limbs of 1 to 9 mm radius times
// 1.1, with a sprue whose mouth lies in the plane x = -88 mm. Metal falls along x.
type figure struct {
	*cells.Cavity
	mesh *mesh.Mesh
	box  vec.Box
}

const figureScale = 1.1

// limbs are two points each, mm before the scale, and a radius.
var limbs = [][7]float64{{-50, 0, 0, 0, 0, 0, 9}, {0, 0, 0, 45, 10, 5, 6}, {0, 0, 0, 30, -22, -3, 4}, {-30, 0, 0, -10, 25, 8, 2.5},
	{-30, 0, 0, -20, -28, -8, 1.5}, {10, 4, 2, 40, 28, 0, 1}, {-60, -20, -10, -60, 20, 10, 5}, {-90, 0, 0, -45, 0, 0, 5}}

func newFigure(t testing.TB, h float64) figure {
	t.Helper()
	var f []sculpt.Field
	for _, l := range limbs {
		f = append(f, sculpt.Limb(vec.V3{X: l[0], Y: l[1], Z: l[2]}.Mul(figureScale), l[6]*figureScale, vec.V3{X: l[3], Y: l[4], Z: l[5]}.Mul(figureScale), l[6]*figureScale))
	}
	box := vec.Box{Min: vec.V3{X: -80, Y: -36, Z: -20}.Mul(figureScale), Max: vec.V3{X: 56, Y: 36, Z: 20}.Mul(figureScale)}
	m, err := sculpt.Contour(sculpt.Common(sculpt.Union(f...), sculpt.Below(vec.V3{X: -1}, 80*figureScale)), box.Grow(2), 0.7)
	if err != nil {
		t.Fatal(err)
	}
	return figure{laid(t, m, box, h), m, box}
}

// problem is a jet of rate m3/s through the middle 7 mm of the mouth; air leaves round it.
func (b figure) problem(t testing.TB, rate float64, warm bool) fill.Problem {
	t.Helper()
	var jet []int
	ports := make([]fill.Beyond, b.Ports)
	area := 0.0
	for k := range b.Ports {
		ports[k] = fill.Beyond{Kind: fill.Air}
		p := b.Centre(int32(b.N + k))
		if math.Hypot(p.Y, p.Z) < 3.5e-3 {
			jet = append(jet, k)
			area += b.A[0][b.Nb[1][b.N+k]] * b.H * b.H
		}
	}
	for _, k := range jet {
		ports[k] = fill.Beyond{Kind: fill.Jet, Speed: rate / area}
	}
	// A hole of 1 mm, 20 mm long, at the tip of each limb that hangs free.
	var vents []fill.Vent
	for _, tip := range [][2]vec.V3{
		{{X: 45, Y: 10, Z: 5}, {}}, {{X: 30, Y: -22, Z: -3}, {}}, {{X: -10, Y: 25, Z: 8}, {X: -30}}, {{X: -20, Y: -28, Z: -8}, {X: -30}},
		{{X: 40, Y: 28}, {X: 10, Y: 4, Z: 2}}, {{X: -60, Y: -20, Z: -10}, {X: -60}}, {{X: -60, Y: 20, Z: 10}, {X: -60}},
	} {
		out := tip[0].Sub(tip[1]).Unit()
		best, most := int32(0), math.Inf(-1)
		for i := range int32(b.N) { // the cell that lies furthest out near the tip
			x := b.Centre(i).Mul(1e3).Sub(tip[0].Mul(figureScale))
			if x.Len() < 11 && b.Own[i] > 0.3 && x.Dot(out) > most {
				best, most = i, x.Dot(out)
			}
		}
		vents = append(vents, fill.Vent{Cell: best, Outlet: gas.Outlet{Form: gas.Hole, Area: math.Pi / 4 * 1e-6, Gap: 1e-3, Length: 0.02}})
	}
	m := pewter
	m.Tension = 0.53
	m.Angle = tension.Powdered
	p := fill.Problem{Cells: b.Cells, Metal: m, Gravity: vec.V3{X: 9.81}, Ports: ports, Sections: b.Section, Vents: vents}
	if warm {
		w, _ := chill.FromMesh(b.Cells, b.mesh, b.box)
		s, err := chill.New(chill.Problem{Cells: b.Cells, Walls: w, Metal: chilledMetal, Rubber: chillRubber, Mould: 60})
		if err != nil {
			t.Fatal(err)
		}
		p.Heat, p.Pour = s, 300
	}
	return p
}

// stopwatch adds up processor time by part of a step's work.
type stopwatch struct {
	last float64
	by   [fill.Parts]float64
}

func (w *stopwatch) ended(p fill.Part) {
	now := processor()
	w.by[p] += now - w.last
	w.last = now
}

// report tells the mean of each part over the rounds of b.
func (w *stopwatch) report(b *testing.B) {
	for p, s := range w.by {
		b.ReportMetric(1e3*s/float64(b.N), "ms-"+fill.Part(p).String())
	}
}

// processor is the processor time of this process, s.
func processor() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return math.NaN()
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + 1e-6*float64(u.Utime.Usec+u.Stime.Usec)
}

// shut is the air that no vent reaches, m3.
func shut(r *fill.Run) float64 {
	v := 0.0
	for _, x := range r.Pockets() {
		if !x.Vented {
			v += x.Volume
		}
	}
	return v
}

// TestQuickPour: the beginning of a quick pour keeps volume and heat, and is the same on one core and two.
func TestQuickPour(t *testing.T) {
	if testing.Short() {
		t.Skip("pours for some seconds")
	}
	body := newFigure(t, 2)
	var first []float64
	for _, cores := range []int{1, 2} {
		p := body.problem(t, 40e-6, true)
		p.Quick = true
		r, err := fill.New(p, make([]float64, body.Wall+1))
		if err != nil {
			t.Fatal(err)
		}
		old := runtime.GOMAXPROCS(cores)
		err = r.Advance(context.Background(), 0.06)
		runtime.GOMAXPROCS(old)
		if err != nil {
			t.Fatal(err)
		}
		if x := (r.Sum.In - r.Sum.Out - r.Sum.Dropped - r.Volume()) / r.Sum.In; !(math.Abs(x) < 1e-10) || r.Sum.In < 0.99*40e-6*0.06 {
			t.Errorf("volume off by %.1e of %.3g m3", x, r.Sum.In)
		}
		b := p.Heat.Balance
		if x := (b.In - b.Out - b.Dropped - b.Rubber - p.Heat.Holds(r.Heat)) / b.In; !(math.Abs(x) < 1e-6) {
			t.Errorf("heat off by %.1e", x)
		}
		t.Logf("%d steps, %d pieces, fastest %.2f m/s", r.Sum.Steps, r.Sum.Substeps, r.Fastest())
		if first == nil {
			first = r.F
		} else if !slices.Equal(first, r.F) {
			t.Error("not the same on two cores")
		}
	}
}

// number is a number from the environment.
func number(name string, otherwise float64) float64 {
	if x, err := strconv.ParseFloat(os.Getenv(name), 64); err == nil {
		return x
	}
	return otherwise
}

// BenchmarkFigure pours the figure until 97 % of what can fill is filled or FIGURE_UNTIL seconds (0.1) are over, on cells of
// FIGURE_MM (2). FIGURE_COLD leaves the heat out, FIGURE_CAREFUL makes the run no quick one, FIGURE_SAY tells how it goes on; bench/fill/run
// pours it to the end.
func BenchmarkFigure(b *testing.B) {
	until := number("FIGURE_UNTIL", 0.1)
	body := newFigure(b, number("FIGURE_MM", 2))
	w := stopwatch{last: processor()}
	var r *fill.Run
	steps := 0
	start := processor()
	for b.Loop() {
		p := body.problem(b, 40e-6, os.Getenv("FIGURE_COLD") == "")
		p.Ended = w.ended
		p.Rise = number("FIGURE_RISE", p.Metal.Bubbles(p.Gravity.Len()))
		p.Courant, p.Quick = number("FIGURE_COURANT", 0), os.Getenv("FIGURE_CAREFUL") == ""
		w.last = processor()
		var err error
		if r, err = fill.New(p, make([]float64, body.Wall+1)); err != nil {
			b.Fatal(err)
		}
		for r.Time < until*(1-1e-9) && r.Volume() < 0.97*(body.Volume()-shut(r)) {
			if err := r.Advance(context.Background(), min(until, r.Time+0.02)); err != nil {
				b.Fatal(err)
			}
			if os.Getenv("FIGURE_SAY") != "" {
				b.Logf("%.3f s, filled %.2f %%, %d steps, %d again, %d capillary, %d viscous, %d grown, %d pieces, %d planes, %d iterations, fastest %.2f m/s", r.Time, 100*r.Volume()/body.Volume(), r.Sum.Steps, r.Sum.Rejected, r.Sum.Capillary, r.Sum.Viscous, r.Sum.Grown, r.Sum.Substeps, r.Sum.Planes, r.Sum.Iterations, r.Fastest())
			}
		}
		if x := r.Sum.In - r.Sum.Out - r.Sum.Dropped - r.Volume(); !(math.Abs(x) < 1e-10*body.Volume()) {
			b.Fatalf("the volume is %g m3 off", x)
		}
		steps += r.Sum.Steps
	}
	n := float64(b.N)
	w.report(b)
	b.ReportMetric((processor()-start)/n, "s-processor")
	b.ReportMetric(float64(steps)/n, "steps")
	b.ReportMetric(float64(r.Sum.Rejected), "again")
	b.ReportMetric(float64(r.Sum.Iterations)/float64(r.Sum.Steps), "iterations/step")
	b.ReportMetric(float64(body.N), "cells")
	b.ReportMetric(100*r.Volume()/body.Volume(), "%-full")
	b.ReportMetric(1e3*r.Time, "ms-poured")
	b.ReportMetric(1e6*shut(r), "cm3-shut-in")
	b.ReportMetric(1e9*b.Elapsed().Seconds()/float64(steps)/float64(body.N), "ns/cell-step")
}
