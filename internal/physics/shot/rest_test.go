package shot

import (
	"math"
	"testing"

	"pourwright/internal/ground/fault"
)

var threeWays = []How{Closed, Opened, Fanned}

// A rest that was found keeps the limits through thirty shots that are played one
// by one, and a rest shorter by a tenth (two steps at least) passes them in the end.
func TestRestThatWasFoundIsTheShortest(t *testing.T) {
	for _, c := range []struct {
		piece
		wait, rating float64
		bound        Bound
	}{
		{plate3, 240, 0, ByWait}, {rod12, 240, 0, ByWait}, {rod12, 240, 228, ByRating},
		{ball18, 240, 226, ByRating}, {ball18, 600, 226, ByRating}, {plate10, 600, 0, ByWait},
	} {
		m := c.mould()
		s := Setting{Pour: 275, Open: Opening{Wait: c.wait}, Powder: 30, Close: 30}
		l := Limits{Rating: c.rating}
		got, err := FindRest(bg, m, s, threeWays, l, nil)
		if err != nil {
			t.Fatal(err)
		}
		last := math.Inf(1)
		for _, g := range got {
			t.Logf("%-17s wait %3g rating %3g %-17s rest %4g s by %v, %2d shots computed", c.name, c.wait, c.rating, g.How.Name, g.Rest, g.Bound, g.Played)
			if g.Why != Found || g.Bound != c.bound || g.Slack < 0 || g.Rest > last || math.Mod(g.Rest, 10) != 0 {
				t.Errorf("%+v", g)
			}
			last = g.Rest
			m.SetSlow(m.Rested())
			s.How, s.Rest, s.Shots = g.How, g.Rest, 30
			for i, x := range must(Play(bg, m, s, nil)).Shots {
				if slack, _ := Slack(s, l, x); slack < -0.02 {
					t.Errorf("%s, wait %g, rating %g, %s: shot %d after rests of %g s has a slack of %g", c.name, c.wait, c.rating, g.How.Name, i+1, g.Rest, slack)
				}
			}
			s.Rest = math.Max(0, math.Min(0.9*g.Rest, g.Rest-20))
			x := must(Settle(bg, m, s, 0.05, nil)).Shot
			if slack, _ := Slack(s, l, x); slack >= 0 {
				t.Errorf("%s, wait %g, rating %g, %s: rest %g was found, but %g has a slack of %g", c.name, c.wait, c.rating, g.How.Name, g.Rest, s.Rest, slack)
			}
		}
	}
}

func TestRestThatCannotBe(t *testing.T) {
	find := func(p piece, wait float64, l Limits) []Choice {
		return must(FindRest(bg, p.mould(), Setting{Pour: 275, Open: Opening{Wait: wait}}, threeWays, l, nil))
	}
	for _, c := range find(plate10, 240, Limits{}) {
		if c.Why != NoFreeze || c.Steady != nil || c.Rested.Ready < 240 && c.Rested.Ready != 0 {
			t.Errorf("%+v", c)
		}
	}
	for _, c := range find(plate10, 600, Limits{Rating: 220}) {
		if c.Why != Burns || c.Rested.Peak < 220 {
			t.Errorf("%+v", c)
		}
	}
	// Insulated all round: closed it never cools, opened with a fan it does.
	c := find(sealed, 240, Limits{Longest: 3000})
	if c[0].Why != TooLong || c[0].Rest != 3000 || c[0].Slack >= 0 || c[2].Why != Found {
		t.Errorf("%+v", c)
	}
	if _, err := Prove(bg, sealed.mould(), sealed.mould().Slow(), c[0], Setting{Pour: 275}, Limits{}, nil); fault.KindOf(err) != fault.Input {
		t.Error(err)
	}
	// Nothing to rest for.
	for _, c := range find(ball18, 600, Limits{}) {
		if c.Why != Found || c.Rest != 0 || c.Bound != Nothing {
			t.Errorf("%+v", c)
		}
	}
	for _, l := range []Limits{{Rating: math.NaN()}, {Step: -1}, {Longest: 5}, {Within: math.NaN()}} {
		if _, err := FindRest(bg, ball18.mould(), Setting{Pour: 275}, threeWays, l, nil); fault.KindOf(err) != fault.Input {
			t.Errorf("%+v: %v", l, err)
		}
	}
}

// A rest found with cells of 2 mm is proved with cells of 0.75 mm.
func TestProveOnFinerCells(t *testing.T) {
	coarse, fine := rod12, rod12
	coarse.n, fine.n = 3, 8
	s := Setting{Pour: 275, Open: Opening{Wait: 240}, Powder: 30, Close: 30}
	for _, rating := range []float64{0, 230} {
		l := Limits{Rating: rating}
		found := must(FindRest(bg, coarse.mould(), s, []How{Opened}, l, nil))[0]
		exact := must(FindRest(bg, fine.mould(), s, []How{Opened}, l, nil))[0]
		m := fine.mould()
		shots := -1
		proved := must(Prove(bg, m, m.Rested(), found, s, l, func(p Progress) error {
			if p.Save != nil || p.Shots != 1 || p.Search < shots || p.Search > shots+1 {
				t.Errorf("%d shots computed, then %+v", shots, p)
			}
			shots = p.Search
			return nil
		}))
		if shots+1 != proved.Played {
			t.Errorf("%d shots were seen, %d computed", shots+1, proved.Played)
		}
		if proved.Why != Found || proved.Slack < 0 || math.Abs(proved.Rest-exact.Rest) > 0.04*exact.Rest+10 {
			t.Errorf("coarse %+v, proved %+v, found on fine cells %+v", found, proved, exact)
		}
		t.Logf("rating %g: coarse %g s, proved %g s in %d shots, searched on fine cells %g s", rating, found.Rest, proved.Rest, proved.Played, exact.Rest)
	}
}

// The rest with which shots follow each other soonest: no other that was scanned has
// a cycle shorter by more than 4 %, and none that is longer has one nearly as short.
// Limits hold it back.
func TestQuickest(t *testing.T) {
	for _, p := range []piece{rod12, ball18, plate3, sealed} {
		m := p.mould()
		s := Setting{Pour: 275, Powder: 30, Close: 30}
		got := must(FindRest(bg, m, s, threeWays, Limits{Ready: Quickest}, nil))
		last := math.Inf(1)
		for _, c := range got {
			if p.name == sealed.name && c.How.Name == "closed" {
				if c.Why != TooLong {
					t.Errorf("%+v", c)
				}
				continue
			}
			t.Logf("%-18s %-17s rest %4g, ready after %3.0f, cycle %4.0f s, mould %5.1f degC, %d shots", p.name, c.How.Name, c.Rest, c.Ready, c.Steady.Cycle, c.Steady.Shot.Mould, c.Played)
			if c.Why != Found || c.Bound != ByPace || c.Steady.Cycle > 1.03*last || c.Ready != c.Steady.Shot.Ready {
				t.Errorf("%+v", c)
			}
			last = c.Steady.Cycle
			s.How = c.How
			for _, f := range []float64{0, 0.3, 0.6, 1.5, 2.5} {
				s.Rest = math.Round(f*c.Rest/10) * 10
				if f > 1 {
					s.Rest += 30
				}
				x := must(Settle(bg, m, s, 0.2, nil))
				if x.Shot.Ready > 0 && (x.Cycle < 0.95*c.Steady.Cycle || f > 1 && x.Cycle < c.Steady.Cycle) {
					t.Errorf("%s, %s: rest %g has a cycle of %.0f s, rest %g of %.0f s was taken", p.name, c.How.Name, s.Rest, x.Cycle, c.Rest, c.Steady.Cycle)
				}
			}
		}
	}
	m := rod12.mould()
	s := Setting{Pour: 275, Powder: 30, Close: 30}
	free := must(FindRest(bg, m, s, []How{Opened}, Limits{Ready: Quickest}, nil))[0]
	for _, l := range []Limits{{Ready: Quickest, Rating: free.Steady.Shot.Peak - 4}, {Ready: Quickest, Mould: free.Steady.Shot.Mould - 20}} {
		c := must(FindRest(bg, m, s, []How{Opened}, l, nil))[0]
		x := c.Steady.Shot
		if c.Why != Found || c.Rest <= free.Rest || c.Slack < 0 || c.Slack > 0.3 || l.Rating != 0 && (c.Bound != ByRating || x.Peak > l.Rating) || l.Mould != 0 && (c.Bound != ByMould || x.Mould > l.Mould) {
			t.Errorf("%+v: %+v", l, c)
		}
	}
	// The air is warmer than the mould may be.
	if c := must(FindRest(bg, m, s, []How{Opened}, Limits{Mould: 20}, nil))[0]; c.Why != TooLong || c.Bound != ByMould {
		t.Errorf("%+v", c)
	}
}

// Opened as soon as it is ready, a casting may take half as long again as in a
// rested mould, or what was asked.
func TestRestOfMouldThatIsOpenedWhenReady(t *testing.T) {
	for _, ready := range []float64{0, 200, -200} {
		m := rod12.mould()
		s := Setting{Pour: 275, Powder: 30, Close: 30}
		if ready < 0 { // said as the longest wait
			ready = -ready
			s.Open.Longest = ready
		}
		l := Limits{Ready: ready}
		if s.Open.Longest > 0 {
			l.Ready = 0
		}
		c := must(FindRest(bg, m, s, threeWays, l, nil))
		for _, c := range c {
			most := ready
			if ready == 0 {
				most = 1.5 * c.Rested.Ready
			}
			x := c.Steady.Shot
			if c.Why != Found || c.Rest == 0 || x.Ready > most || x.Ready < 0.9*most || x.Opened > 1.01*x.Ready {
				t.Errorf("%s: rest %g, ready after %g of %g s, opened after %g", c.How.Name, c.Rest, x.Ready, most, x.Opened)
			}
		}
		fine := rod12
		fine.n = 10
		g := fine.mould()
		d := must(Prove(bg, g, g.Rested(), c[1], s, l, nil))
		if math.Abs(d.Rest-c[1].Rest) > 0.1*c[1].Rest+10 {
			t.Errorf("%g s, proved %g s", c[1].Rest, d.Rest)
		}
	}
}

func TestWarmUp(t *testing.T) {
	m := rod12.mould()
	s := Setting{Pour: 275, Open: Opening{Wait: 240}, How: Opened, Rest: 600, Powder: 30, Close: 30, Shots: 20}
	res := must(Play(bg, m, s, nil))
	steady := must(Settle(bg, m, s, 0.01, nil)).Shot
	n, ok := WarmUp(res.Shots, steady, 0.03)
	if !ok || n < 1 || n > 10 {
		t.Errorf("%d %v", n, ok)
	}
	for i, x := range res.Shots {
		alike := math.Abs(x.Solid/steady.Solid-1) <= 0.03 && math.Abs(x.OpenAt/steady.OpenAt-1) <= 0.03
		if alike != (i >= n) {
			t.Errorf("shot %d: %g of %g, %g of %g", i+1, x.Solid, steady.Solid, x.OpenAt, steady.OpenAt)
		}
	}
	c := Choice{How: Opened, Rest: 600, Steady: &Steady{Shot: steady}}
	if k, ok, err := Warm(bg, m, m.Rested(), c, s, 0.03, mostShots, nil); k != n || !ok || err != nil {
		t.Errorf("%d shots until alike, then %d %v %v", n, k, ok, err)
	}
	if _, ok, err := Warm(bg, m, m.Rested(), Choice{}, s, 0.03, mostShots, nil); ok || err != nil {
		t.Error(ok, err)
	}
	if n, ok := WarmUp(res.Shots[:1], steady, 0.03); ok || n != 1 {
		t.Error(n, ok)
	}
	if _, ok := WarmUp(res.Shots, Shot{}, 0.03); ok {
		t.Error("like a shot that does not freeze")
	}
}
