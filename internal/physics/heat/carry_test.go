package heat

import (
	"bytes"
	"context"
	"math"
	"slices"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// boarded is a ball in a block with boards of 12 mm of wood on two sides.
func boarded(t *testing.T) *Run {
	t.Helper()
	p := Problem{Body: ballIn(5, 24, 1, vec.V3{X: .3, Y: .2, Z: .1}), Metal: pewter, Rubber: silicone, Air: 25, Start: 25}
	for i := range p.Sides {
		p.Sides[i] = Side{H: 10}
	}
	p.Sides[YLow] = Side{H: 10, Board: 0.1, Capacity: 12e3}
	p.Sides[YHigh] = Side{H: 10, Board: 0.1, Capacity: 12e3}
	r, err := New(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func do(t *testing.T, errs ...error) {
	t.Helper()
	for _, err := range errs {
		if err != nil {
			t.Fatal(err)
		}
	}
}

// Boards that come off keep their heat, cool on both faces, and are back when they
// are put on; nothing is lost from the balance, and a state that is saved while
// they are off goes on to the last bit.
func TestBoardsThatComeOff(t *testing.T) {
	bg := context.Background()
	play := func(r *Run, stop bool) *Run {
		do(t, r.Pour(275), r.Advance(bg, 100), r.Outside(25, true), r.Open(25), r.TakeOut(), r.Advance(bg, 150))
		if stop {
			s := r.Save()
			r = boarded(t)
			do(t, r.Load(s))
			if !bytes.Equal(r.Save(), s) {
				t.Error("a state that was loaded and saved again has changed")
			}
		}
		do(t, r.Advance(bg, 150), r.Outside(10, true), r.Advance(bg, 50))
		r.Close()
		do(t, r.Outside(0, false), r.Advance(bg, 30))
		return r
	}
	r := play(boarded(t), false)
	if e := r.Energy(); math.Abs(e.Share()) > 1e-6 || e.Boards <= 0 {
		t.Errorf("%+v", e)
	}
	if !bytes.Equal(r.Save(), play(boarded(t), true).Save()) {
		t.Error("going on from a saved state gives other bytes")
	}

	b := boarded(t)
	do(t, b.Pour(275), b.Advance(bg, 100), b.TakeOut())
	was := append([]float64{}, b.boards(YLow)...)
	heat := b.Energy().Boards
	do(t, b.Outside(25, true))
	if b.Energy().Boards != heat {
		t.Error("boards lose heat by being taken off")
	}
	do(t, b.Advance(bg, 600), b.Outside(0, false))
	f := math.Exp(-2 * 600 / (12e3 * (0.05 + 0.1)))
	for i, x := range b.boards(YLow) {
		if math.Abs(x-was[i]*f) > 1e-9 {
			t.Fatalf("a board of %g K over the air is at %g after ten minutes, not %g", was[i], x, was[i]*f)
		}
	}
	// Bare rubber loses more than rubber behind boards.
	lost := func(bare bool) float64 {
		r := boarded(t)
		do(t, r.Pour(275), r.Advance(bg, 100), r.TakeOut(), r.Outside(0, bare))
		before := r.Energy().LostOutside
		do(t, r.Advance(bg, 600))
		return r.Energy().LostOutside - before
	}
	if a, b := lost(false), lost(true); a >= b || a <= 0 {
		t.Errorf("boards on: %g J, off: %g J", a, b)
	}
	for _, h := range []float64{-1, math.NaN(), math.Inf(1)} {
		if err := b.Outside(h, false); fault.KindOf(err) != fault.Input {
			t.Error(h, err)
		}
	}
}

// A state that is taken out of one mould and put into another gives the same run;
// the balance does not mind.
func TestMouldHandedOn(t *testing.T) {
	bg := context.Background()
	r := boarded(t)
	do(t, r.Pour(275), r.Advance(bg, 100), r.TakeOut(), r.Advance(bg, 100))
	x := r.Mould()
	o := boarded(t)
	do(t, o.SetMould(x))
	if e := o.Energy(); math.Abs(e.Left) > 1e-9*e.Start || math.Abs(e.Start/(r.Energy().Rubber+r.Energy().Boards)-1) > 1e-6 {
		t.Errorf("%+v", e)
	}
	ra, _ := r.Means()
	oa, none := o.Means()
	if math.Abs(ra-oa) > 1e-6 || ra < 26 || !math.IsNaN(none) {
		t.Errorf("means %g %g %g", ra, oa, none)
	}
	// A run that has seen other shots goes on as a new one does.
	do(t, r.SetMould(x))
	for _, r := range []*Run{r, o} {
		do(t, r.Pour(275), r.Advance(bg, 50), r.TakeOut(), r.Outside(25, true), r.Open(25), r.Advance(bg, 200))
		r.Close()
		do(t, r.Outside(0, false), r.Advance(bg, 50), r.Pour(275), r.Advance(bg, 50))
	}
	if !slices.Equal(r.Mould(), o.Mould()) || r.Energy() != o.Energy() || r.Time != o.Time {
		t.Errorf("a used mould goes on otherwise than a new one: %+v, %+v", r.Energy(), o.Energy())
	}
	if _, m := r.Means(); math.Abs(m-r.Hottest()) > 20 || m > r.Hottest() {
		t.Errorf("mean of the metal %g, hottest %g", m, r.Hottest())
	}
	if err := r.SetMould(x); fault.KindOf(err) != fault.Input {
		t.Error("a state was put into a full mould", err)
	}
	do(t, r.TakeOut())
	x[3] = float32(math.NaN())
	for _, bad := range [][]float32{nil, x, x[:len(x)-1]} {
		if err := r.SetMould(bad); fault.KindOf(err) != fault.Input {
			t.Error(err)
		}
	}
}
