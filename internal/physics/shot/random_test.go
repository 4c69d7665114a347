package shot

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// pick returns one of a list.
func pick(r *rand.Rand, x ...float64) float64 { return x[r.IntN(len(x))] }

// Moulds, settings and limits drawn at random: every search ends; a rest that was
// found keeps the limits in a steady state that is settled anew from a cold mould,
// and one that is shorter by 7 % and two steps does not.
func TestRestOfMouldsDrawnAtRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	n := 30
	if os.Getenv("POURWRIGHT_FULL") != "" {
		n = 300
	}
	count := map[Why]int{}
	for range n {
		p := piece{"random", r.IntN(3), 0.0015 * math.Pow(6, r.Float64()), 0, 3 + r.IntN(3), pick(r, 3, 5, 10, 30)}
		p.out = p.r + 0.005*math.Pow(8, r.Float64())
		m := p.mould()
		s := Setting{Pour: 246 + 80*r.Float64(), Open: Opening{Wait: pick(r, 0, 60, 200, 600)}, Powder: 60 * r.Float64(), Close: 60 * r.Float64()}
		l := Limits{Rating: pick(r, 0, 0, 225, 235), Mould: pick(r, 0, 0, 60), Ready: pick(r, 0, 0, Quickest, 300), Longest: pick(r, 0, 600, 25), Step: pick(r, 0, 1, 7)}
		for _, c := range must(FindRest(bg, m, s, threeWays, l, nil)) {
			count[c.Why]++
			if c.Why != Found {
				if c.Slack >= 0 && l.Ready != Quickest {
					t.Errorf("%+v %+v %+v: %+v", p, s, l, c)
				}
				continue
			}
			if c.Slack < 0 || !c.Steady.Closed || c.Rest > l.filled().Longest {
				t.Errorf("%+v %+v %+v: %+v", p, s, l, c)
			}
			again := l.filled()
			again.Ready = c.Ready
			slack := func(rest float64) float64 {
				s := s
				s.How, s.Rest, s.Open.Longest = c.How, rest, 3*c.Ready
				m.SetSlow(m.Rested())
				x, _ := Slack(s, again, must(Settle(bg, m, s, 0.02, nil)).Shot)
				return x
			}
			if x := slack(c.Rest); x < -0.05 {
				t.Errorf("%+v %+v %+v: %s, rest %g by %v has a slack of %g", p, s, l, c.How.Name, c.Rest, c.Bound, x)
			}
			if shorter := math.Max(0, 0.93*c.Rest-2*again.Step); c.Rest > 0 && c.Bound != ByPace {
				if x := slack(shorter); x >= 0 {
					t.Errorf("%+v %+v %+v: %s, rest %g by %v was found, but %g has a slack of %g", p, s, l, c.How.Name, c.Rest, c.Bound, shorter, x)
				}
			}
		}
	}
	if count[Found] == 0 || count[Burns] == 0 || count[NoFreeze] == 0 || n > 100 && count[TooLong] == 0 {
		t.Errorf("of the kinds of answer some never came: %v", count)
	}
}
