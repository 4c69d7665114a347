package rig

import (
	"math"
	"reflect"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// An invented end of a pour in a row of 12 cells of 2 mm: metal, closed air, metal,
// metal that stopped, a gap behind it, and at the far end space open to the outside.
func row() *Poured {
	e := &Poured{Cell: 2, Poured: 60, Overflow: 2, Steps: 10, Taken: 1.25, Volume: 1e-13, Energy: -2e-8}
	for c, share := range []float64{1, 1, 0.2, 0, 1, 1, 1, 0, 0, 1, 0, 0} {
		e.At = append(e.At, vec.V3{X: 2*float64(c) + 1, Y: 1, Z: 1})
		e.Open = append(e.Open, 8)
		e.Share = append(e.Share, share)
		e.Time, e.Warm, e.Pocket = append(e.Time, 0.1*float64(c)), append(e.Warm, 280-float64(c)), append(e.Pocket, -1)
		e.Stopped, e.Speed = append(e.Stopped, c == 6), append(e.Speed, 100*float64(c))
	}
	e.Pocket[2], e.Pocket[3] = 7, 7
	e.Beside = func(c int, visit func(o int)) {
		if c > 0 {
			visit(c - 1)
		}
		if c < 11 {
			visit(c + 1)
		}
	}
	return e
}

func TestReadARun(t *testing.T) {
	r := row().Run("steady", 30e3)
	if math.Abs(r.Filled-6.2/12) > 1e-12 || math.Abs(r.Trapped-1.8/12) > 1e-12 || math.Abs(r.Short-2.0/12) > 1e-12 {
		t.Errorf("filled %g, trapped %g, short %g", r.Filled, r.Trapped, r.Short)
	}
	if len(r.Air) != 1 || math.Abs(r.Air[0].Volume-14.4) > 1e-12 || math.Abs(r.Air[0].At[0]-(0.8*5+7)/1.8) > 1e-12 || r.Air[0].Frozen {
		t.Errorf("air %+v", r.Air)
	}
	if len(r.Misruns) != 1 || r.Misruns[0].Volume != 16 || r.Misruns[0].At[0] != 16 || !r.Misruns[0].Frozen {
		t.Errorf("misruns %+v", r.Misruns)
	}
	if *r.Coldest != 271 || r.Fastest != 1100 {
		t.Errorf("coldest %g, fastest %g", *r.Coldest, r.Fastest)
	}
	if e := (&Poured{Cell: 2}).Run("nothing", 1); e.Filled != 0 || e.Coldest != nil || e.Air == nil {
		t.Errorf("%+v", e)
	}
}

func TestGather(t *testing.T) {
	at := func(x, v float64) pour.Place { return pour.Place{At: plan.P3{x, 0, 0}, Volume: v} }
	runs := []pour.Run{
		{Cell: 2, Trapped: 0.02, Time: 1.5, Coldest: plan.Ptr(250.0), Air: []pour.Place{at(0, 30), at(40, 5)}, Misruns: []pour.Place{at(70, 9)}, Volume: 1e-14},
		{Cell: 2, Trapped: 0.05, Time: 1.1, Coldest: plan.Ptr(240.0), Air: []pour.Place{at(1, 60)}, Volume: -3e-13, Energy: 2e-9},
		{Cell: 2, Trapped: 0.03, Time: 1.9, Coldest: plan.Ptr(245.0), Air: []pour.Place{at(-1, 40), at(1.5, 4)}, Misruns: []pour.Place{at(71, 11)},
			Meetings: []pour.Meeting{{Length: 12}}},
	}
	f := &pour.Filling{}
	Gather(f, runs)
	m := f.Middle
	if m.Trapped != (pour.Spread{Median: 0.03, Low: 0.02, High: 0.05}) || m.Time.Median != 1.5 || m.Coldest.Low != 240 || m.Volume != -3e-13 || m.Energy != 2e-9 {
		t.Errorf("%+v", m)
	}
	if len(f.Air) != 2 || f.Air[0].Runs != 3 || f.Air[0].Volume != (pour.Spread{Median: 44, Low: 30, High: 60}) || f.Air[1].Volume != (pour.Spread{Median: 0, Low: 0, High: 5}) {
		t.Errorf("%+v", f.Air)
	}
	if len(f.Short) != 1 || f.Short[0].Volume != 9 || math.Abs(f.Short[0].At[0]-(70*9+71*11)/20.0) > 1e-12 {
		t.Errorf("%+v", f.Short)
	}
	if len(f.Meetings) != 1 || f.Meetings[0].Length != 12 { // of the run in the middle
		t.Errorf("%+v", f.Meetings)
	}
	again := &pour.Filling{}
	Gather(again, runs)
	if !reflect.DeepEqual(f, again) {
		t.Error("not the same twice")
	}
	Gather(f, nil)
	if f.Computed {
		t.Error("computed from nothing")
	}
}

func TestMedianOfEven(t *testing.T) {
	if s := spreadOf([]float64{4, 1, 3, 2}); s != (pour.Spread{Median: 2.5, Low: 1, High: 4}) {
		t.Error(s)
	}
}
