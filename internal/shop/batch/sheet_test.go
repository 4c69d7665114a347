package batch

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
)

// order is a job of an invented workshop; extra lines are put at its end.
func order(t *testing.T, rubber, alloy, extra string) *job.Job {
	t.Helper()
	text := fmt.Sprintf("[master]\nmesh=\"a.stl\"\n[rubber]\nkind=%q\n[alloy]\nkind=%q\n[order]\ncastings=24\nuse=\"decor\"\n%s", rubber, alloy, extra)
	j, err := job.Parse("a.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// pull is a bar handle on two feet, two in a block of 115 x 120 x 46 mm.
func pull(t *testing.T, j *job.Job) Input {
	t.Helper()
	return Input{
		Job: j, Rubber: j.RubberRow, Alloy: j.AlloyRow,
		Block: plan.P3{115, 120, 46}, Halves: [2]float64{310000, 295000}, Cavity: 29000,
		Castings: []float64{9400, 9400}, Area: 4300, Size: plan.P3{90, 30, 22},
		Modulus: 2.8, Thinnest: 4, Ends: []End{{Thickness: 4, Width: 40, Head: 30}}, Scanned: true,
	}
}

func made(t *testing.T, i Input) *Sheet {
	t.Helper()
	s, err := Make(i)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func figureOf(t *testing.T, s *Sheet, name string) plan.Figure {
	t.Helper()
	for _, f := range s.Figures {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no figure %q", name)
	return plan.Figure{}
}

func codes(s *Sheet) string {
	var w []string
	for _, f := range s.Findings {
		w = append(w, f.Code+"/"+f.Severity)
	}
	return strings.Join(w, " ")
}

// A two-cavity drawer pull: near 0.75-0.8 kg of rubber, frozen in about 2 min,
// the rest and not the wait sets the pace (workshop scenario, sizes invented).
func TestSheetOfADrawerPull(t *testing.T) {
	j := order(t, "condensation-heat-30", "pewter-92-7-1", "[bench]\nscale_step=0.1\nladle_g=500\nmelting_pot_kg=2\n[prices]\ncurrency=\"EUR\"\nrubber_kg=30\nalloy_kg=40\nhour=20\n[stock]\nrubber_a_g=100\nalloy_g=5000\n")
	s := made(t, pull(t, j))
	for k, v := range []float64{310000, 295000} {
		h := s.Rubber.Halves[k]
		close(t, "net", h.MassNet, v*1375e-6, 1e-12)
		if h.MassMix < h.MassNet*1.05+10 || h.MassMix > h.MassNet*1.05+10.1 {
			t.Errorf("mix %g for %g net", h.MassMix, h.MassNet)
		}
		close(t, "parts add up", h.Parts.A+h.Parts.B, h.MassMix, 1e-12)
		close(t, "ratio", h.Parts.B/h.Parts.A, 0.05, 0.005)
	}
	close(t, "casting", s.Metal.CastingMass, 9400*7150e-6, 1e-12)
	close(t, "charge", s.Metal.ChargeMass, 29000*6973e-6, 1e-12)
	close(t, "yield", s.Metal.Yield, 2*9400*7150/(29000*6973.0), 1e-12)
	if s.Metal.PourTemperature != 290 || s.Metal.MouldTemperature != 45 || *s.Metal.Ladles != 1 {
		t.Errorf("metal %+v", s.Metal)
	}
	if f := s.Freeze; f.Computed || *f.SolidAfter < 60 || *f.SolidAfter > 180 || *f.OpenAfter <= *f.SolidAfter || f.Balance != nil {
		t.Errorf("freeze %+v", f)
	}
	if c := s.Cycle; c.Computed || *c.Rest < 2**s.Freeze.OpenAfter || *c.Rest > 3600 || *c.How != "opened" {
		t.Errorf("rest %g s, %s", *c.Rest, *c.How)
	}
	if o := s.Order; *o.Shots != 15+2**o.Moulds || *o.Time < 32*3600 || *o.Time > 14*24*3600 {
		t.Errorf("order %+v, %g s", o, *o.Time)
	}
	c := s.Order.Cost
	close(t, "total", c.Total, float64(*s.Order.Moulds)*c.Mould+24*c.Casting, 1e-12)
	sum := 0.0
	for _, r := range s.Bench.PerCasting {
		sum += r.Amount
	}
	close(t, "rows of the cost", sum, c.Total/24, 1e-12)
	if codes(s) != "vacuum/note tolerance/note stock/must" && codes(s) != "stock/must vacuum/note tolerance/note" {
		t.Errorf("findings %s", codes(s))
	}
	if s.Bench.Growth != 0 || s.Bench.HasPump {
		t.Error("a growth without a pump")
	}
}

// Every figure says how it was got, no name stands twice, and all numbers are
// finite.
func TestFiguresSayHowTheyWereGot(t *testing.T) {
	j := order(t, "addition-heat-40", "tin-bismuth-58-42", "[bench]\npump_gauge_mbar=900\naltitude=300\nvacuum_pot_l=6\npump_l_min=50\nlid_span=250\nlid_thickness=25\n")
	s := made(t, pull(t, j))
	seen := map[string]bool{}
	for _, f := range s.Figures {
		if f.Name == "" || f.Formula == "" || f.Source == "" || f.Inputs == nil || seen[f.Name] {
			t.Errorf("figure %+v", f)
		}
		seen[f.Name] = true
	}
	if err := plan.Finite(s); err != nil {
		t.Error(err)
	}
	if s.Bench.Growth < 8 || s.Bench.Growth > 15.5 || !strings.Contains(codes(s), "vacuum/should") {
		t.Errorf("growth %g, %s", s.Bench.Growth, codes(s))
	}
	for _, name := range []string{"pump down, at least", "stress in the lid", "first coat by brush", "smallest bubble that rises out without a pump", "clay for the bed"} {
		figureOf(t, s, name)
	}
}

func TestFindings(t *testing.T) {
	for _, c := range []struct {
		name, rubber, alloy, extra, code string
		change                           func(*Input)
	}{
		{"too hot for a general rubber", "addition-20", "pewter-92-7-1", "", "too-hot/must", nil},
		{"too hot by the job", "addition-heat-40", "pewter-92-7-1", "[bench]\npour_c=340\n", "too-hot/must", nil},
		{"held down", "addition-heat-40", "tin-lead-63-37", "", "", func(i *Input) { i.Rubber.Rating.X = 220 }},
		{"coarse scale", "condensation-heat-30", "tin", "[bench]\nscale_step=2\n", "scale/should", nil},
		{"thin lid", "condensation-heat-30", "tin", "[bench]\npump_mbar=5\nlid_span=300\nlid_thickness=20\n", "vacuum/must", nil},
		{"gauge that cannot be", "condensation-heat-30", "tin", "[bench]\npump_gauge_mbar=982\naltitude=600\n", "vacuum/should", nil},
		{"small pot", "condensation-heat-30", "tin", "[bench]\npump_mbar=5\nvacuum_pot_l=1\n", "vacuum/should", nil},
		{"short pot life", "addition-20", "tin-bismuth-58-42", "[bench]\nroom_c=30\nvacuum_pot_l=6\n", "pot-life/must", func(i *Input) { i.Rubber.PotLife.X = 900 }},
		{"cold room", "addition-20", "tin-bismuth-58-42", "[bench]\nroom_c=8\n", "pot-life/should", nil},
		{"small ladle", "condensation-heat-30", "tin", "[bench]\nladle_g=200\n", "ladle/should", nil},
		{"small pot of metal", "condensation-heat-30", "tin", "[bench]\nmelting_pot_kg=0.2\n", "ladle/must", nil},
		{"hot mould", "condensation-heat-30", "tin", "[bench]\nmould_c=120\n", "mould-hot/should", nil},
		{"mould that never freezes it", "addition-20", "bismuth-lead-tin-cadmium-50-26.7-13.3-10", "[bench]\nmould_c=69\n", "mould-hot/must", nil},
		{"hotter than the metal freezes", "addition-20", "bismuth-lead-tin-cadmium-50-26.7-13.3-10", "[bench]\nmould_c=90\n", "mould-hot/must", nil},
		{"short of alloy", "condensation-heat-30", "tin", "[stock]\nalloy_g=500\n", "stock/must", nil},
		{"growing alloy", "addition-20", "tin-bismuth-58-42", "", "release/note", nil},
	} {
		i := pull(t, order(t, c.rubber, c.alloy, c.extra))
		if c.change != nil {
			c.change(&i)
		}
		s := made(t, i)
		want := c.code
		if c.name == "held down" {
			want = "too-hot/should"
		}
		if !strings.Contains(codes(s), want) {
			t.Errorf("%s: %s", c.name, codes(s))
		}
		if err := plan.Finite(s); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		for _, f := range s.Findings {
			if f.Say == "" || f.Do == "" || strings.ContainsAny(f.Say+f.Do, "!") || strings.Contains(f.Say, "%!") {
				t.Errorf("%s: %q, %q", c.name, f.Say, f.Do)
			}
		}
	}
}

// The rating of a row is a guess of 280 to 330 degC; lead-free pewter is poured
// at 290, so the low end turns the answer. With the rating from the user's own
// sheet it is no guess.
func TestGuessesSayWhatWouldTurnTheAnswer(t *testing.T) {
	find := func(s *Sheet, input string) *plan.Guess {
		for k := range s.Guesses {
			if strings.HasPrefix(s.Guesses[k].Input, input) {
				return &s.Guesses[k]
			}
		}
		return nil
	}
	s := made(t, pull(t, order(t, "condensation-heat-30", "pewter-92-7-1", "")))
	if g := find(s, "rubber rating"); g == nil || !*g.Flips || g.Range != [2]float64{280, 330} || g.Used != 305 {
		t.Errorf("rating: %+v", g)
	}
	if g := find(s, "rubber conductivity"); g == nil || *g.Flips {
		t.Errorf("conductivity: %+v", g)
	}
	for k, g := range s.Guesses {
		if k > 0 && *g.Flips && !*s.Guesses[k-1].Flips || !(g.Range[0] <= g.Used && g.Used <= g.Range[1]) {
			t.Errorf("guess %d: %+v, flips %v", k, g, *g.Flips)
		}
	}
	for _, name := range []string{"surface tension", "contact angle at thin ends", "contact angle at vents", "rubber hardness", "rubber density", "thinnest section", "relative humidity", "room", "shots of one mould"} {
		if find(s, name) == nil {
			t.Errorf("%s is not among the guesses", name)
		}
	}
	s = made(t, pull(t, order(t, "condensation-heat-30", "pewter-92-7-1", "[bench]\nmould_c=50\n")))
	if find(s, "mould when poured") != nil {
		t.Error("a given mould temperature is called a guess")
	}
	j := order(t, "condensation-heat-30", "pewter-92-7-1", "")
	if err := j.RubberRow.Set("rating", 300); err != nil {
		t.Fatal(err)
	}
	if s = made(t, pull(t, j)); find(s, "rubber rating") != nil {
		t.Error("a rating of the user's sheet is called a guess")
	}
	// a head just above what the mean surface tension asks
	i := pull(t, j)
	need := 2e6 * 0.533 / (6973 * 9.80665 * 1.5)
	i.Ends = []End{{Thickness: 1.5, Width: 1e9, Head: need * 1.05}}
	if s = made(t, i); find(s, "surface tension") == nil || !*find(s, "surface tension").Flips {
		t.Errorf("surface tension: %+v", find(s, "surface tension"))
	}
}

func TestNoPricesNoCost(t *testing.T) {
	s := made(t, pull(t, order(t, "condensation-heat-30", "tin", "[prices]\ncurrency=\"EUR\"\nalloy_kg=40\n")))
	if s.Order.Cost != nil || len(s.Bench.PerCasting) != 0 {
		t.Errorf("cost %+v", s.Order.Cost)
	}
}

func TestSameInputSameSheetAndTableUntouched(t *testing.T) {
	i := pull(t, order(t, "condensation-heat-30", "pewter-92-7-1", ""))
	a, b := made(t, i), made(t, i)
	if !reflect.DeepEqual(a, b) {
		t.Error("two sheets differ")
	}
	if i.Rubber.Rating.X != 305 || i.Job.RubberRow.Rating.X != 305 {
		t.Error("a trial of a guess reached the job")
	}
	p := &plan.Plan{Guessed: a.Guesses, Figures: a.Figures, Findings: a.Findings, Order: a.Order, Cycle: a.Cycle, Freeze: a.Freeze, Metal: &a.Metal, Rubber: &a.Rubber}
	var w bytes.Buffer
	if err := plan.Write(&w, p); err != nil {
		t.Error(err)
	}
}

func TestImpossibleInputIsAnError(t *testing.T) {
	j := order(t, "condensation-heat-30", "tin", "")
	for name, spoil := range map[string]func(*Input){
		"no job":      func(i *Input) { i.Job = nil },
		"no cavity":   func(i *Input) { i.Castings = nil },
		"NaN half":    func(i *Input) { i.Halves[0] = math.NaN() },
		"flat block":  func(i *Input) { i.Block[2] = 0 },
		"no surface":  func(i *Input) { i.Area = 0 },
		"inf casting": func(i *Input) { i.Castings = []float64{math.Inf(1)} },
	} {
		i := pull(t, j)
		spoil(&i)
		if _, err := Make(i); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// A long order takes spare moulds and more moulds in turn.
func TestLongOrder(t *testing.T) {
	j := order(t, "condensation-heat-30", "pewter-92-7-1", "")
	j.Order.Castings = 2000
	s := made(t, pull(t, j))
	if *s.Order.Moulds < 29 || *s.Order.Shots < 1177+2**s.Order.Moulds || *s.Cycle.Moulds > 4 {
		t.Errorf("order %+v, %d in turn", s.Order, *s.Cycle.Moulds)
	}
	if float64(*s.Order.Moulds)*40 < float64(*s.Order.Shots) {
		t.Errorf("%d moulds of 40 shots do not last for %d", *s.Order.Moulds, *s.Order.Shots)
	}
}

func BenchmarkMake(b *testing.B) {
	j, err := job.Parse("a.toml", []byte("[master]\nmesh=\"a.stl\"\n[rubber]\nkind=\"condensation-heat-30\"\n[alloy]\nkind=\"tin\"\n[order]\ncastings=24\nuse=\"decor\"\n"))
	if err != nil {
		b.Fatal(err)
	}
	i := Input{Job: j, Rubber: j.RubberRow, Alloy: j.AlloyRow, Block: plan.P3{115, 120, 46}, Halves: [2]float64{310000, 295000}, Cavity: 29000,
		Castings: []float64{9400, 9400}, Area: 4300, Size: plan.P3{90, 30, 22}, Modulus: 2.8, Thinnest: 4}
	for b.Loop() {
		if _, err := Make(i); err != nil {
			b.Fatal(err)
		}
	}
}

// Each part can be weighed on its scale, both together are the mix, and the mix
// is what is wanted and less than one step of the scale more.
func TestPartsAddUpToTheMixOnEveryScale(t *testing.T) {
	for _, step := range []float64{0.01, 0.1, 0.5, 1, 5} {
		for _, stepB := range []float64{0.01, 0.1, 1} {
			for _, ratio := range []float64{2, 5, 10, 100} {
				for k := range 40 {
					i := pull(t, order(t, "condensation-heat-30", "tin", fmt.Sprintf("[bench]\nscale_step=%g\nhardener_step=%g\n", step, stepB)))
					if err := i.Rubber.Set("hardener", ratio); err != nil {
						t.Fatal(err)
					}
					i.Halves = [2]float64{20000 + 7321*float64(k), 9000 + 113*float64(k)}
					for n, h := range assess(i, settingsOf(&i)).Rubber.Halves {
						least := h.MassNet*1.05 + 10
						whole := func(x, step float64) bool { return math.Abs(x/step-math.Round(x/step)) < 1e-6 }
						if !whole(h.Parts.A, step) || !whole(h.Parts.B, stepB) || math.Abs(h.Parts.A+h.Parts.B-h.MassMix) > 1e-9 ||
							h.MassMix < least-1e-6 || h.MassMix >= least+step {
							t.Errorf("step %g and %g, half %d: %+v, wanted %g", step, stepB, n+1, h, least)
						}
						if want := h.Parts.A * ratio / 100; math.Abs(h.Parts.B-want) > stepB/2*(1+ratio/100)+step*ratio/100+1e-9 && h.Parts.B > stepB {
							t.Errorf("step %g and %g: %g g of B for %g g of A", step, stepB, h.Parts.B, h.Parts.A)
						}
					}
				}
			}
		}
	}
}

// Dew points of tables of humid air: 20 degC at 50 % 9.3, at 80 % 16.4; 25 at
// 60 % 16.7, 10 at 100 % 10.
func TestHumidityIsUsed(t *testing.T) {
	for _, c := range [][3]float64{{20, 0.5, 9.27}, {20, 0.8, 16.44}, {25, 0.6, 16.7}, {10, 1, 10}} {
		if d := DewPoint(c[0], c[1]).Value; math.Abs(d-c[2]) > 0.06 {
			t.Errorf("dew point at %g degC and %g: %g, want %g", c[0], c[1], d, c[2])
		}
	}
	for _, c := range []struct {
		rubber, humidity, code string
		want                   bool
	}{
		{"condensation-heat-30", "25", "rubber-batch/should", true}, {"addition-heat-40", "25", "rubber-batch/should", false},
		{"condensation-heat-30", "50", "rubber-batch/should", false}, {"condensation-heat-30", "80", "release/note", true},
		{"addition-heat-40", "80", "release/note", true}, {"addition-heat-40", "50", "release/note", false}, {"condensation-heat-30", "0", "rubber-batch/should", true},
	} {
		s := made(t, pull(t, order(t, c.rubber, "tin", "[bench]\nhumidity="+c.humidity+"\n")))
		if strings.Contains(codes(s), c.code) != c.want {
			t.Errorf("%s at %s %%: %s", c.rubber, c.humidity, codes(s))
		}
		if err := plan.Finite(s); err != nil {
			t.Error(err)
		}
		for _, g := range s.Guesses {
			if strings.HasPrefix(g.Input, "relative humidity") {
				t.Error("a given humidity is called a guess")
			}
		}
	}
}

// Where the whole plan has a verdict, flips is whether that verdict changes at
// an end of the range, and nothing else.
func TestFlipsFollowsTheVerdictOfThePlan(t *testing.T) {
	i := pull(t, order(t, "condensation-heat-30", "pewter-92-7-1", ""))
	i.Verdict = func(i *Input, sheet []plan.Finding) string {
		for _, f := range sheet {
			if f.Code == "too-hot" {
				return plan.Care
			}
		}
		if i.Thinnest < 3.9 || i.Contact < 150 {
			return plan.No
		}
		return plan.Pour
	}
	flips := map[string]bool{"rubber rating": true, "thinnest section": true, "contact angle at thin ends": true}
	for _, g := range made(t, i).Guesses {
		name, _, _ := strings.Cut(g.Input, ",")
		name = strings.TrimSuffix(name, " of the scan")
		if *g.Flips != flips[name] {
			t.Errorf("%s flips %v", g.Input, *g.Flips)
		}
	}
	i.Halves, i.Cavity, i.Castings = [2]float64{}, 0, nil
	var names []string
	for _, g := range Early(i) {
		names = append(names, g.Input)
	}
	if strings.Join(names, "; ") != "thinnest section of the scan, mm; rubber hardness, Shore A; rubber stretch at break, %" {
		t.Errorf("early guesses %v", names)
	}
}
