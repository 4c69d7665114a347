package pour

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
)

func TestPouringRefused(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		p    Pouring
		says string
	}{
		"as it is":     {Pouring{}, ""},
		"usual":        {Pouring{Ladle: plan.Ptr(60e3), Rate: plan.Ptr(30e3), Height: 60, Pause: 1, Tilt: [2]float64{10, -5}, Tap: true}, ""},
		"no ladle":     {Pouring{Ladle: plan.Ptr(0.0)}, "the ladle is 0 cm3"},
		"nan ladle":    {Pouring{Ladle: &nan}, "the ladle is NaN"},
		"backwards":    {Pouring{Rate: plan.Ptr(-5e3)}, "the rate of pouring is -5 cm3/s"},
		"a flood":      {Pouring{Rate: plan.Ptr(1e9)}, "the rate of pouring is 1e+06 cm3/s"},
		"below":        {Pouring{Height: -1}, "the height of pouring is -1 mm"},
		"from a roof":  {Pouring{Height: 3000}, "the height of pouring is 3000 mm"},
		"cold by then": {Pouring{Pause: 100}, "the pause is 100 s"},
		"over":         {Pouring{Tilt: [2]float64{0, 90}}, "the tilt is 90 degrees"},
		"no number":    {Pouring{Tilt: [2]float64{nan, 0}}, "the tilt is NaN"},
	} {
		err := c.p.Check("pour")
		if c.says == "" {
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Input || !strings.Contains(f.Text, c.says) || f.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The plan's section must hold numbers only, with shares in 0..1, and null where
// nothing was computed.
func TestFillingInThePlan(t *testing.T) {
	for _, f := range []*Filling{nil, {}, {Computed: true}} {
		if got := f.Plan(); got != (plan.Fill{}) {
			t.Errorf("%+v: %+v", f, got)
		}
	}
	f := &Filling{Computed: true, Runs: []Run{{Cell: 2}}, Middle: Middle{
		Time: Spread{1.5, 1.2, 2}, Filled: Spread{1 + 1e-12, 0.9, 1}, Trapped: Spread{0.02, 0.01, 0.05}, Short: Spread{-1e-15, 0, 0}, Volume: 1e-12, Energy: 1e-8,
	}, Meetings: []Meeting{{Line: []plan.P3{{0, 0, 0}, {1, 0, 0}}}, {Line: []plan.P3{{0, 0, 0}}}}}
	p := f.Plan()
	if *p.FilledShare != 1 || *p.MisrunShare != 0 || math.Abs(*p.Spread-0.02) > 1e-15 || *p.Cell != 2 || p.Coldest != nil || len(*p.Meeting) != 1 || p.Balance.Energy != 1e-8 {
		t.Errorf("%+v", p)
	}
	if _, err := json.Marshal(p); err != nil {
		t.Error(err)
	}
}
