package fit

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pourwright/internal/book/material"
	"pourwright/internal/book/readings"
	"pourwright/internal/ground/fault"
)

// The finite volumes agree with the closed form, so that a miss of the fit is
// one of the fit.
func TestSlabFollowsHalfSpace(t *testing.T) {
	times := gridTimes(300)
	depths := []float64{0.001, 0.002, 0.005, 0.01}
	got := slab(0.31, 1200, depths, times)
	for c, x := range depths {
		for i, s := range times {
			if want := halfSpace(0.31, rhoc, 1200, room, metal, x, s); math.Abs(got[c][i]-want) > 0.12 {
				t.Errorf("%g m, %g s: %g, want %g", x, s, got[c][i], want)
			}
		}
	}
}

// From the bytes of a logger with decimal commas, clocks and an open circuit to
// the conductivity.
func TestFromTheLog(t *testing.T) {
	b := usualBench()
	b.shiftSD, b.white, b.slow, b.drift = 0.05, 0.05, 0.05, 0
	time, read, start := b.record(rand.New(rand.NewPCG(7, 7)))
	var s strings.Builder
	s.WriteString("Logger;invented\n\nUhrzeit;T1 [°C];T2 [°C]\n")
	for i, x := range time {
		line := fmt.Sprintf("14:%02d:%04.1f;%.1f;%.1f\n", int(x)/60, math.Mod(x, 60), read[0][i], read[1][i])
		if i == 90 {
			line = fmt.Sprintf("14:%02d:%04.1f;9999;OL\n", int(x)/60, math.Mod(x, 60))
		}
		s.WriteString(strings.ReplaceAll(line, ".", ","))
	}
	l, err := readings.Parse("pour.csv", []byte(s.String()), readings.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p, m, runs := b.problem(l.Time, [][]float64{l.Channels[0].T, l.Channels[1].T})
	r, err := Fit(context.Background(), p, m)
	if err != nil {
		t.Fatal(err)
	}
	k, h := r.Params[0], r.Params[1]
	if !k.Told || math.Abs(k.Value/b.k-1) > 0.1 || k.Low > b.k || k.High < b.k || !r.Usable() || !r.Converged {
		t.Errorf("conductivity %+v, %v", k, r.Findings)
	}
	if h.Low > b.h || h.High < b.h && !h.HighOpen {
		t.Errorf("coefficient %+v", h)
	}
	if d := r.Start[0].Value - start; math.Abs(d) > 0.3 {
		t.Errorf("the pour begins %g s off", d)
	}
	if *runs > 12 || r.Runs != *runs {
		t.Errorf("%d runs, %d counted", *runs, r.Runs)
	}
	if e, ok := r.Of("interface"); !ok || e.Value != h.Value {
		t.Error("no estimate by name")
	}
	row, err := r.Own("red-30-may", "condensation-heat-30", "2026-05-12", "pour.csv")
	if err != nil || len(row.Values) == 0 || row.Values[0].Property != "conductivity" || row.Values[0].Value != four(k.Value) {
		t.Errorf("own row %+v, %v", row, err)
	}
	file := filepath.Join(t.TempDir(), material.OwnFile)
	if err := material.SaveOwn(file, row); err != nil {
		t.Error(err, fault.HintOf(err))
	}
	again, err := Fit(context.Background(), p, m)
	if err != nil || !reflect.DeepEqual(r, again) {
		t.Error("the same recording gave other numbers")
	}
}

// A bead 1.2 mm off its stated place, one dead probe, spikes.
func TestShiftedAndDeadProbes(t *testing.T) {
	b := usualBench()
	b.depth = []float64{2, 3, 5, 8}
	b.shiftSD = 0
	rng := rand.New(rand.NewPCG(3, 1))
	b.depth[1] = 4.2
	time, read, _ := b.record(rng)
	b.depth[1] = 3
	b.shiftSD = 0.25
	for i := range read[3] {
		read[3][i] = 23 + 0.1*rng.NormFloat64()
	}
	for i := 20; i < len(time); i += 37 {
		read[0][i] += 40
	}
	p, m, _ := b.problem(time, read)
	r, err := Fit(context.Background(), p, m)
	if err != nil {
		t.Fatal(err)
	}
	codes := map[string]string{}
	for _, f := range r.Findings {
		codes[f.Code] += f.Say + "; "
	}
	if !strings.Contains(codes["shifted"], "probe B") || !strings.Contains(codes["flat"], "probe D") || r.Probes[3].Used {
		t.Errorf("findings %v", r.Findings)
	}
	if r.Probes[0].Spikes == 0 {
		t.Error("the spikes stayed")
	}
	if k := r.Params[0]; math.Abs(math.Log(k.Value/b.k)) > 0.25 {
		t.Errorf("conductivity %+v", k)
	}
}

// Conductivity and heat capacity are told together, hardly each alone, by a
// bead whose depth is not known; the prior of the capacity carries through.
func TestPriorCarriesThrough(t *testing.T) {
	b := usualBench()
	time, read, _ := b.record(rand.New(rand.NewPCG(5, 5)))
	p, m, _ := b.problem(time, read)
	alone, err := Fit(context.Background(), p, m)
	if err != nil {
		t.Fatal(err)
	}
	p.Params = append(p.Params, Param{Name: "heat", Unit: "J/kgK", Start: 1300, Low: 800, High: 2000, Spread: 0.1})
	with, err := Fit(context.Background(), p, func(ctx context.Context, v []float64) ([][]float64, error) {
		return m(ctx, []float64{v[0] * 1300 / v[2], v[1] * 1300 / v[2]}) // the same diffusivity and h/k: rho c scales both
	})
	if err != nil {
		t.Fatal(err)
	}
	if a, w := alone.Params[0].SpreadOf, with.Params[0].SpreadOf; w < math.Sqrt(a*a+0.08*0.08) {
		t.Errorf("a capacity known to 10 %% leaves the conductivity known to %.3f, without it %.3f", w, a)
	}
	if c := with.Correlation[0][2]; c < 0.5 {
		t.Errorf("correlation of conductivity and capacity %g", c)
	}
}

// Two recordings of one mould, each with its own start.
func TestTwoPours(t *testing.T) {
	b := usualBench()
	rng := rand.New(rand.NewPCG(8, 8))
	time, read, s0 := b.record(rng)
	p, m, _ := b.problem(time, read)
	one, err := Fit(context.Background(), p, m)
	if err != nil {
		t.Fatal(err)
	}
	time, read, s1 := b.record(rng)
	q, _, _ := b.problem(time, read)
	for _, pr := range q.Probes {
		pr.Pour = 1
		p.Probes = append(p.Probes, pr)
	}
	two, err := Fit(context.Background(), p, m)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(two.Start[0].Value-s0) > 1 || math.Abs(two.Start[1].Value-s1) > 1 {
		t.Errorf("starts %g, %g, want %g, %g", two.Start[0].Value, two.Start[1].Value, s0, s1)
	}
	if two.Params[0].SpreadOf > one.Params[0].SpreadOf {
		t.Errorf("two recordings tell less (%g) than one (%g)", two.Params[0].SpreadOf, one.Params[0].SpreadOf)
	}
}

func TestRefusalsAndStops(t *testing.T) {
	b := usualBench()
	time, read, _ := b.record(rand.New(rand.NewPCG(1, 2)))
	p, m, _ := b.problem(time, read)
	ctx, stop := context.WithCancel(context.Background())
	calls := 0
	_, err := Fit(ctx, p, func(ctx context.Context, v []float64) ([][]float64, error) {
		if calls++; calls == 2 {
			stop()
		}
		return m(ctx, v)
	})
	if fault.KindOf(err) != fault.Interrupted || calls != 2 {
		t.Errorf("stopped: %v after %d runs", err, calls)
	}
	_, err = Fit(context.Background(), p, func(ctx context.Context, v []float64) ([][]float64, error) {
		y, err := m(ctx, v)
		y[3][7] = math.NaN()
		return y, err
	})
	if fault.KindOf(err) != fault.Unstable || fault.HintOf(err) == "" {
		t.Errorf("no number: %v", err)
	}
	if _, err = Fit(context.Background(), p, func(context.Context, []float64) ([][]float64, error) { return nil, nil }); err == nil {
		t.Error("a model without curves is taken")
	}
	// a wrong model: misfit, and nothing may be stored
	r, err := Fit(context.Background(), p, func(ctx context.Context, v []float64) ([][]float64, error) {
		y, err := m(ctx, v)
		for c := range y {
			for i, s := range p.Times {
				y[c][i] += 60 * math.Sin(s/25)
			}
		}
		return y, err
	})
	if err != nil || r.Usable() {
		t.Errorf("a wrong model is usable: %v", err)
	}
	if _, err := r.Own("red-30-may", "condensation-heat-30", "", "pour.csv"); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
		t.Errorf("a misfit is kept: %v", err)
	}
	flat := p
	flat.Probes = append([]Probe(nil), p.Probes...)
	for i := range flat.Probes {
		flat.Probes[i].T = make([]float64, len(time))
	}
	if _, err = Fit(context.Background(), flat, m); fault.KindOf(err) != fault.Input || !strings.Contains(err.Error(), "no pour") {
		t.Errorf("flat: %v", err)
	}
	for name, spoil := range map[string]func(*Problem){
		"no parameter":  func(p *Problem) { p.Params = nil },
		"start outside": func(p *Problem) { p.Params = []Param{{Name: "k", Start: 3, Low: 0.1, High: 2}} },
		"times":         func(p *Problem) { p.Times = []float64{0, 1, 1, 2, 3} },
		"few runs":      func(p *Problem) { p.MaxRuns = 2 },
		"level":         func(p *Problem) { p.Level = 1 },
		"one curve":     func(p *Problem) { p.Probes = []Probe{{Time: time, T: read[0], Curves: []Curve{{0, 0}}, ShiftSD: 1}} },
	} {
		q := p
		spoil(&q)
		if _, err := Fit(context.Background(), q, m); fault.KindOf(err) != fault.Input {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestRise(t *testing.T) {
	var x, y []float64
	for i := range 200 {
		s := float64(i)
		v := 60 - s/20 // a warm mould that cools
		if s >= 80 {
			v += 90 * (1 - math.Exp(-(s-80)/10))
		}
		x, y = append(x, s), append(y, v+0.05*math.Sin(7*s))
	}
	y[40], y[41] = math.NaN(), 300 // a gap and a spike
	if at, ok := Rise(x, y); !ok || math.Abs(at-80.5) > 1 {
		t.Errorf("rise at %g, %v", at, ok)
	}
	if _, ok := Rise(x[:70], y[:70]); ok {
		t.Error("a rise where there is none")
	}
}

// One fit but for the runs of the model.
func BenchmarkFit(b *testing.B) {
	w := usualBench()
	time, read, _ := w.record(rand.New(rand.NewPCG(7, 7)))
	for b.Loop() {
		p, m, _ := w.problem(time, read)
		if _, err := Fit(context.Background(), p, m); err != nil {
			b.Fatal(err)
		}
	}
}
