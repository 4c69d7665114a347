package rig

import (
	"context"
	"encoding/json"
	"math"
	"runtime"
	"testing"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
)

// quick is a setting of the bar on cells so coarse that a pour takes a moment.
func quick(t *testing.T) pour.Setting {
	t.Helper()
	s := setting(t, "pewter-92-7-1")
	h, rate, cell := 3.0, 8e3, 2.2
	s.Fill, s.FillCell, s.Pouring.Rate, s.Cell = true, &h, &rate, &cell
	s.Pouring.Height = 20
	return s
}

// A pour that is stopped again and again goes on to the same bytes as one that is not, on one core or
// all; volume and heat close, and the freezing starts with what the filling left.
func TestFillGoesOn(t *testing.T) {
	s := quick(t)
	hands := Hands[:3]
	text := func(f *Filled) string {
		b, err := json.Marshal(f.Doc)
		if err != nil {
			t.Fatal(err)
		}
		return string(b) + string(f.Fields.Frames.Encode()) + string(f.trace.State)
	}
	whole, err := fillBy(context.Background(), bar(), s, Options{}, hands)
	if err != nil {
		t.Fatal(err)
	}
	d := &whole.Doc // of the open volume a twelfth, the rod beside the bar, has no way in
	t.Logf("%+v", d.Middle)
	if !d.Computed || len(d.Runs) != 3 || len(d.Broken) > 0 || d.Middle.Filled.Median < 0.7 || d.Middle.Filled.High > 1+1e-9 {
		t.Errorf("%+v", d)
	}
	if m := d.Middle; !(math.Abs(m.Volume) <= 1e-10) || !(math.Abs(m.Energy) <= 1e-6) {
		t.Errorf("of what was poured %g of the volume and %g of the heat are left over", m.Volume, m.Energy)
	}
	store := &Store{Dir: t.TempDir(), Most: 1 << 30}
	runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(runtime.NumCPU())
	for stops := 0; ; stops++ {
		ctx, stop := context.WithCancel(context.Background())
		told := 0
		f, err := fillBy(ctx, bar(), s, Options{Store: store, Progress: func(string, float64) {
			if told++; told == 17 {
				stop()
			}
		}}, hands)
		stop()
		if err == nil {
			if text(f) != text(whole) {
				t.Error("the stopped pours end differently")
			}
			if stops < 4 {
				t.Errorf("stopped only %d times", stops)
			}
			break
		}
		if fault.KindOf(err) != fault.Interrupted || stops > 200 {
			t.Fatal(stops, err)
		}
	}
	s.Shots = 1
	r, err := Pour(context.Background(), bar(), s, Options{Store: store})
	if err == nil && len(r.Doc.Filling.Runs) != len(Hands) {
		t.Errorf("%d pours", len(r.Doc.Filling.Runs))
	}
	if err != nil {
		t.Fatal(err)
	}
	h := r.Doc.Filling.Handover
	if h == nil || h.Volume > 1e-9 || h.Energy > 1e-9 || !r.Doc.Freeze.Computed {
		t.Errorf("handed over: %+v", h)
	}
	if p := *r.Doc.Freeze.RubberPeak; p > s.Metal-10 || p < s.Mould+50 {
		t.Errorf("rubber of %g degC by metal of %g", p, s.Metal)
	}
	again, err := Pour(context.Background(), bar(), s, Options{Store: store})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := json.Marshal(r.Doc)
	b, _ := json.Marshal(again.Doc)
	if string(a) != string(b) || again.Filling == nil || string(again.Filling.Frames.Encode()) != string(r.Filling.Frames.Encode()) {
		t.Error("the kept result differs")
	}
}
