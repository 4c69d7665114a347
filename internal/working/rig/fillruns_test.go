package rig

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"sync/atomic"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// pours solves nothing but a stream into a cup: quick, and of its hand alone.
func pours(calls *atomic.Int32) Pourer {
	return func(ctx context.Context, h Hand, progress func(float64)) (outcome, error) {
		calls.Add(1)
		s := NewStream(&pour.Pouring{}, 30e3, 20e3, h)
		n := 0
		for !s.Done() {
			if err := ctx.Err(); err != nil {
				return outcome{}, &fault.Error{Kind: fault.Interrupted, Text: "stopped", Cause: err}
			}
			s.Take(1e-3)
			n++
			progress(s.Poured / s.Charge)
		}
		return outcome{Run: pour.Run{Name: h.Name, Cell: 2, Time: s.Time, Poured: s.Poured, Steps: n, Coldest: plan.Ptr(250.0), Air: []pour.Place{{Volume: s.Time / 3}}, Misruns: []pour.Place{}}}, nil
	}
}

// The same runs in the same order on any number of cores, and progress that only rises.
func TestPourRuns(t *testing.T) {
	var calls atomic.Int32
	var first []outcome
	for _, cores := range []int{1, 2, 3} {
		was := runtime.GOMAXPROCS(cores)
		at := 0.0
		runs, err := PourRuns(context.Background(), "k", Hands, pours(&calls), Options{Progress: func(_ string, x float64) {
			if x < at {
				t.Errorf("progress fell from %g to %g", at, x)
			}
			at = x
		}})
		runtime.GOMAXPROCS(was)
		if err != nil || at != 1 || len(runs) != len(Hands) {
			t.Fatal(err, at)
		}
		for i, r := range runs {
			if r.Run.Name != Hands[i].Name {
				t.Errorf("%d: %s", i, r.Run.Name)
			}
		}
		if first == nil {
			first = runs
		} else if !reflect.DeepEqual(first, runs) {
			t.Errorf("otherwise on %d cores", cores)
		}
	}
	if first[3].Run.Time < first[0].Run.Time || first[4].Run.Time > first[0].Run.Time {
		t.Errorf("slow %g, steady %g, fast %g s", first[3].Run.Time, first[0].Run.Time, first[4].Run.Time)
	}
}

// Stopped after three hands, a second call computes the other four and gives what one
// call gives.
func TestPourRunsGoOn(t *testing.T) {
	whole, err := PourRuns(context.Background(), "k", Hands, pours(new(atomic.Int32)), Options{})
	if err != nil {
		t.Fatal(err)
	}
	o := Options{Store: &Store{Dir: t.TempDir(), Most: 1 << 20}}
	was := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(was)
	ctx, stop := context.WithCancel(context.Background())
	var calls atomic.Int32
	solve := pours(&calls)
	_, err = PourRuns(ctx, "k", Hands, func(c context.Context, h Hand, p func(float64)) (outcome, error) {
		r, err := solve(c, h, p)
		if calls.Load() == 3 {
			stop()
		}
		return r, err
	}, o)
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Interrupted || calls.Load() != 3 {
		t.Fatal(err, calls.Load())
	}
	got, err := PourRuns(context.Background(), "k", Hands, solve, o)
	if err != nil || calls.Load() != int32(len(Hands)) || !reflect.DeepEqual(whole, got) {
		t.Errorf("%v, %d calls\n%+v\n%+v", err, calls.Load(), whole, got)
	}
	if _, err := PourRuns(context.Background(), "other", Hands, solve, o); err != nil || calls.Load() != 2*int32(len(Hands)) {
		t.Error("runs of another mould were taken", calls.Load())
	}
}

func TestPourRunsFail(t *testing.T) {
	broke := fault.New(fault.Unstable, "fill", "take smaller cells", "left its limits")
	_, err := PourRuns(context.Background(), "k", Hands, func(_ context.Context, h Hand, _ func(float64)) (outcome, error) {
		if h.Name == "fast" {
			return outcome{}, broke
		}
		return outcome{}, &fault.Error{Kind: fault.Interrupted, Text: "stopped"}
	}, Options{})
	if !errors.Is(err, broke) {
		t.Error(err)
	}
}

func TestHang(t *testing.T) {
	r := pour.Run{Cell: 1, Air: []pour.Place{{At: plan.P3{0, 0, 0}, Volume: 30}, {At: plan.P3{10, -20, 0}, Volume: 12}}}
	Hang(&r, []Bore{{At: vec.V3{X: 10, Y: -22}, Wide: 3}, {At: vec.V3{X: 40}, Wide: 3}})
	if len(r.Air) != 1 || r.Air[0].Volume != 30 || len(r.Bridged) != 1 || r.Bridged[0].Volume != 12 {
		t.Errorf("%+v", r)
	}
}

// A front that runs along a row at 50 mm/s: times and speeds come back, and frames stay even
// and few whatever the steps.
func TestRecorder(t *testing.T) {
	const n, cell, speed = 40, 2.0, 50.0
	for _, dt := range []float64{1e-3, 7.3e-3, 0.11} {
		f := &pour.Frames{Cells: [3]int{n, 1, 1}, H: cell}
		for c := range n {
			f.Open = append(f.Open, int32(c))
		}
		r := NewRecorder(f, 0.02, 20)
		share := make([]float64, n+3) // and what stands behind the open cells
		for k := 1; float64(k)*dt < 1.7+dt; k++ {
			for c := range n {
				share[c] = math.Max(0, math.Min(1, speed*float64(k)*dt/cell-float64(c)))
			}
			r.Step(float64(k)*dt, share)
		}
		r.End()
		slack := 1e-9
		if dt > cell/speed/2 { // cells fill within a step
			slack = dt
		} else if dt > 5e-3 {
			slack = dt / 2
		}
		for c, got := range r.Time {
			if want := (float64(c) + 0.5) * cell / speed; math.Abs(got-want) > slack {
				t.Fatalf("steps of %g s: cell %d at %g, not %g s", dt, c, got, want)
			}
		}
		if len(f.Times) > 22 || len(f.Times) < 8 {
			t.Errorf("steps of %g s: %d frames", dt, len(f.Times))
		}
		for k := 2; k < len(f.Times)-1; k++ {
			if d := f.Times[k] - f.Times[k-1]; math.Abs(d-(f.Times[1]-f.Times[0])) > 1e-9 {
				t.Errorf("steps of %g s: frames at %v", dt, f.Times)
				break
			}
		}
		if last := f.Shares[len(f.Shares)-1]; last[0] != 255 || last[n-1] != 255 {
			t.Error("not full in the end")
		}
		if back, err := pour.ParseFrames(f.Encode(), "f"); err != nil || !reflect.DeepEqual(back, f) {
			t.Error("frames do not come back", err)
		}
		if dt > 1e-3 {
			continue
		}
		v := r.Speeds(cell, func(c, axis int) (int, int) {
			if axis > 0 {
				return -1, -1
			}
			if c == n-1 {
				return c - 1, -1
			}
			return c - 1, c + 1
		})
		for c, got := range v {
			if math.Abs(got-speed) > 1e-6*speed {
				t.Fatalf("front at %g mm/s in cell %d", got, c)
			}
		}
	}
}
