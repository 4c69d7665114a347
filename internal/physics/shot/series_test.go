package shot

import (
	"bytes"
	"context"
	"errors"
	"math"
	"reflect"
	"testing"

	"pourwright/internal/ground/fault"
)

var bg = context.Background()

// Three shots of a 10 mm ball of pewter against a fine radial solution (400
// metal cells, second-order implicit, of another program): 60 s metal in, 120 s
// open at 10 W/(m2 K), 30 K of superheat.
func TestThreeShotsOfBall(t *testing.T) {
	m := newRadial(2, 0.005, 0.045, 40, 0)
	res, err := Play(bg, m, Setting{Pour: 275, Open: Opening{Wait: 60, LiftBelow: 216}, How: Opened, Rest: 120, Shots: 3}, nil)
	if err != nil {
		t.Fatal(err)
	}
	solid, cold := []float64{26.75, 30.11, 31.66}, []float64{29.72, 33.49, 35.25}
	for i, s := range res.Shots {
		if math.Abs(s.Solid/solid[i]-1) > 0.005 || math.Abs(s.Cold/cold[i]-1) > 0.005 || math.Abs(s.Ready/cold[i]-1) > 0.005 {
			t.Errorf("shot %d: solid %.2f of %.2f, cold %.2f and ready %.2f of %.2f", i+1, s.Solid, solid[i], s.Cold, s.Ready, cold[i])
		}
		if math.Abs(s.Spent.Share()) > 1e-12 {
			t.Errorf("shot %d: %g of the heat is lost", i+1, s.Spent.Share())
		}
	}
}

func TestOpenWhenReady(t *testing.T) {
	m := newRadial(2, 0.005, 0.045, 20, 0)
	s, err := OpenAfter(bg, m, 275, Opening{LiftBelow: 216})
	if err != nil || s.Ready == 0 || s.Opened < s.Ready || s.Opened > 1.01*s.Ready || !m.Full || m.Apart {
		t.Errorf("%+v %v", s, err)
	}
	if s.OpenAt > 216 || s.OpenAt < 214 || s.OpenMean > s.OpenAt {
		t.Errorf("opened at %g, %g on average", s.OpenAt, s.OpenMean)
	}
	// Stronger means colder means later.
	later, err := OpenAfter(bg, newRadial(2, 0.005, 0.045, 20, 0), 275, Opening{})
	if err != nil || later.Ready <= s.Ready || math.Abs(Opening{}.Below(236)-(0.95*509.15-273.15)) > 1e-9 {
		t.Errorf("%+v %v", later, err)
	}
	// A wait that is too long for the caster.
	short, err := OpenAfter(bg, newRadial(2, 0.005, 0.045, 20, 0), 275, Opening{Longest: 10})
	if err != nil || short.Ready != 0 || short.Opened != 10 || !(short.Liquid > 0) {
		t.Errorf("%+v %v", short, err)
	}
}

// The mould warms from shot to shot: each casting takes longer to freeze, comes
// out hotter and leaves the rubber hotter; the balance closes over all twenty.
func TestTwentyShotsWarmTheMould(t *testing.T) {
	for _, p := range []piece{rod12, ball18} {
		m := p.mould()
		m.rating = 228
		res := must(Play(bg, m, Setting{Pour: 275, Open: Opening{Wait: 300}, How: Opened, Rest: 600, Powder: 45, Close: 30, Shots: 20}, nil))
		for i, s := range res.Shots {
			if s.Solid == 0 || s.Ready < s.Solid || s.Opened != 300 || s.OpenMean > s.OpenAt || s.OpenAt > res.Below || math.Abs(s.Spent.Share()) > 1e-12 {
				t.Errorf("%s, shot %d: %+v", p.name, i+1, s)
			}
			if (s.Over > 0) != (s.Peak > 228) {
				t.Errorf("%s, shot %d: peak %g, %g s over 228", p.name, i+1, s.Peak, s.Over)
			}
			if i == 0 {
				continue
			}
			o := res.Shots[i-1]
			if s.Mould != o.Left || s.Mould < o.Mould || s.Solid < o.Solid || s.Ready < o.Ready || s.OpenAt < o.OpenAt || s.Peak < o.Peak || s.Spent.Carried < o.Spent.Carried {
				t.Errorf("%s, shot %d: not warmer than the one before: %+v %+v", p.name, i+1, s, o)
			}
		}
		b := res.Balance
		if math.Abs(b.Share()) > 1e-12 || math.Abs(b.Poured-b.Carried-b.Lost-b.Stored-b.Left) > 1e-12*b.Poured {
			t.Errorf("%s: %+v", p.name, b)
		}
	}
}

// A thin plate and a thick rod in rubber 30 mm thick are ready when practice says:
// small thin castings after three to five minutes, a hand-sized one after ten at
// the latest (common practice, no source).
func TestReadyWhenPracticeSays(t *testing.T) {
	for _, c := range []struct {
		piece
		most float64
	}{{plate3, 300}, {rod12, 300}, {piece{"rod 18", 1, 0.009, 0.039, 9, 10}, 600}, {piece{"ball 30", 2, 0.015, 0.045, 10, 10}, 600}} {
		m := c.mould()
		if err := m.SetSlow(warm(m, 20)); err != nil { // 45 degC
			t.Fatal(err)
		}
		s, err := OpenAfter(bg, m, 300, Opening{})
		if err != nil || s.Ready == 0 || s.Ready > c.most {
			t.Errorf("%s is ready after %.0f s, practice says %g at the latest; %v", c.name, s.Ready, c.most, err)
		}
	}
}

func warm(m *radial, over float32) []float32 {
	x := m.Rested()
	for i := range x {
		x[i] = over
	}
	return x
}

// A series that is stopped at any point and goes on in a new mould gives the same
// results, and the same bytes when it is saved again.
func TestResumeGivesTheSameBytes(t *testing.T) {
	s := Setting{Pour: 275, Open: Opening{Wait: 40, Longest: 90}, How: Fanned, Rest: 300, Powder: 45, Close: 30, Shots: 3}
	var saved [][]byte
	whole, err := Play(bg, ball18.mould(), s, func(p Progress) error {
		saved = append(saved, must(p.Save()))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	phases := map[Phase]bool{}
	for i, b := range saved {
		r, err := Resume(ball18.mould(), b)
		if err != nil {
			t.Fatal(err)
		}
		phases[r.at.Phase] = true
		if again := must(r.Save()); !bytes.Equal(again, b) {
			t.Fatal("a series that was read and saved again has changed")
		}
		if i%5 != 0 && i != len(saved)-1 {
			continue
		}
		k := i
		res, err := r.Play(bg, func(p Progress) error {
			k++
			if !bytes.Equal(must(p.Save()), saved[k]) {
				t.Fatalf("stretch %d differs after going on from %d", k, i)
			}
			return nil
		})
		if err != nil || !reflect.DeepEqual(res, whole) {
			t.Fatalf("going on from stretch %d: %v\n%+v\n%+v", i, err, res, whole)
		}
	}
	if len(phases) != 4 {
		t.Errorf("saved in phases %v only", phases)
	}
}

func TestStopAndGoOn(t *testing.T) {
	s := Setting{Pour: 275, Open: Opening{Wait: 60}, How: Opened, Rest: 300, Shots: 3}
	whole := must(Play(bg, ball18.mould(), s, nil))
	ctx, cancel := context.WithCancel(bg)
	n, done := 0, 0.0
	r := must(New(ball18.mould(), s))
	_, err := r.Play(ctx, func(p Progress) error {
		if n++; n == 30 {
			cancel()
		}
		if p.Done < done || p.Done > 1 || p.Shot < 1 || p.Shot > 3 {
			t.Errorf("%+v after %g", p, done)
		}
		done = p.Done
		return nil
	})
	if fault.KindOf(err) != fault.Interrupted || n != 30 {
		t.Fatal(err, n)
	}
	b := must(r.Save())
	if res := must(must(Resume(ball18.mould(), b)).Play(bg, nil)); !reflect.DeepEqual(res, whole) {
		t.Errorf("%+v\n%+v", res, whole)
	}
	if res := must(r.Play(bg, nil)); !reflect.DeepEqual(res, whole) || !reflect.DeepEqual(r.Result(), whole) {
		t.Errorf("%+v\n%+v", res, whole)
	}
	stop := errors.New("enough")
	if _, err := Play(bg, ball18.mould(), s, func(Progress) error { return stop }); err != stop {
		t.Error(err)
	}
}

func TestSavedSeriesThatIsNone(t *testing.T) {
	r := must(New(ball18.mould(), Setting{Pour: 275, Shots: 1}))
	b := must(r.Save())
	for _, bad := range [][]byte{nil, []byte("shots"), b[:len(b)-1], append([]byte{}, b[1:]...), append(b[:len(b)-1:len(b)-1], b[len(b)-1]^1)} {
		if _, err := Resume(ball18.mould(), bad); fault.KindOf(err) != fault.Input {
			t.Error(err)
		}
	}
	if _, err := Resume(rod12.mould(), b); err == nil {
		t.Error("the state of another mould was taken")
	}
}

func TestSettingsThatAreNone(t *testing.T) {
	nan := math.NaN()
	for _, s := range []Setting{{Pour: nan}, {Pour: math.Inf(1)}, {Rest: -1}, {Rest: nan}, {Powder: nan}, {Close: -3}, {Shots: -1}, {Shots: 1e6},
		{How: How{Inner: -1}}, {How: How{Outer: nan}}, {Open: Opening{Wait: -1}}, {Open: Opening{Longest: nan}}, {Open: Opening{Margin: -5}}, {Open: Opening{LiftBelow: nan}},
		{Open: Opening{Margin: 600}}} {
		if _, err := Play(bg, ball18.mould(), s, nil); fault.KindOf(err) != fault.Input {
			t.Errorf("%+v: %v", s, err)
		}
	}
	if res := must(Play(bg, ball18.mould(), Setting{Pour: 275}, nil)); len(res.Shots) != 0 {
		t.Error(res)
	}
	// Poured cooler than it is lifted: the model takes it, and it is ready at once.
	if s, err := OpenAfter(bg, ball18.mould(), 275, Opening{LiftBelow: 300, Margin: 1e-9}); err != nil || s.Ready == 0 {
		t.Errorf("%+v %v", s, err)
	}
}
