package shot

import (
	"bytes"
	"errors"
	"math"
	"os"
	"reflect"
	"runtime"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
)

var (
	pewter   = heat.Metal{Density: 7150, KSolid: 50, KLiquid: 27, CpSolid: 256, CpLiquid: 247, Latent: 66e3, Fraction: []heat.Melt{{T: 236, F: 0}, {T: 245, F: 1}}}
	silicone = heat.Rubber{Density: 1250, Cp: 1250, K: 0.25}
)

// mouldOf lays cells of h mm over a block; f is the distance from the cavity's wall.
func mouldOf(t testing.TB, f func(vec.V3) float64, size vec.V3, h float64, change ...func(*heat.Problem)) *Run {
	t.Helper()
	g := must(grid.Over(vec.Box{Max: size}, h))
	p := heat.Problem{Body: heat.FromDistance(f, g), Metal: pewter, Rubber: silicone, Air: 25, Start: 25}
	for _, c := range change {
		c(&p)
	}
	r, err := heat.New(bg, p)
	if err != nil {
		t.Fatal(err)
	}
	return Of(r, p)
}

// inAir gives all sides of a block 10 W/(m2 K).
func inAir(p *heat.Problem) {
	for i := range p.Sides {
		p.Sides[i].H = StillAir
	}
}

// boards puts 12 mm of wood on two sides.
func boards(p *heat.Problem) {
	p.Sides[heat.ZLow] = heat.Side{H: StillAir, Board: 0.1, Capacity: 12e3}
	p.Sides[heat.ZHigh] = p.Sides[heat.ZLow]
}

// parted lays the parting in the middle of the block's height.
func parted(p *heat.Problem) {
	g := p.Body.Grid
	p.Body.Half = make([]uint8, g.Len())
	for q := range p.Body.Half {
		p.Body.Half[q] = 1
		if _, _, k := g.Cell(q); k >= g.NZ/2 {
			p.Body.Half[q] = 2
		}
	}
}

func ball(r float64, c vec.V3) func(vec.V3) float64 {
	return func(p vec.V3) float64 { return p.Dist(c) - r }
}

// capsules is a union of rods with round ends: x, y, z of both ends, and radius.
func capsules(list [][7]float64) func(vec.V3) float64 {
	return func(p vec.V3) float64 {
		d := math.Inf(1)
		for _, c := range list {
			a, b := vec.V3{X: c[0], Y: c[1], Z: c[2]}, vec.V3{X: c[3], Y: c[4], Z: c[5]}
			ab := b.Sub(a)
			t := math.Min(1, math.Max(0, p.Sub(a).Dot(ab)/ab.Dot(ab)))
			d = math.Min(d, p.Dist(a.Add(ab.Mul(t)))-c[6])
		}
		return d
	}
}

// figure is a hand-sized casting: body, limbs and a thin arm, 2 to 18 mm thick,
// 27 cm3, in a block of 160 x 90 x 60 mm.
var figureBlock = vec.V3{X: 160, Y: 90, Z: 60}

func figure(p vec.V3) float64 {
	return capsules([][7]float64{{-50, 0, 0, 0, 0, 0, 9}, {0, 0, 0, 45, 10, 5, 6}, {0, 0, 0, 30, -22, -3, 4}, {-30, 0, 0, -10, 25, 8, 2.5},
		{-30, 0, 0, -20, -28, -8, 1.5}, {10, 4, 2, 40, 28, 0, 1}, {-60, -20, -10, -60, 20, 10, 5}, {-70, 0, 0, -45, 0, 0, 5}})(p.Sub(vec.V3{X: 92, Y: 45, Z: 30}))
}

// Three shots of a 10 mm ball of pewter in three places against the grid, cells of
// a tenth: the fine radial solution of TestThreeShotsOfBall, mean within 2.5 %.
func TestThreeShotsOfBallInThreeDimensions(t *testing.T) {
	solid, cold := []float64{26.75, 30.11, 31.66}, []float64{29.72, 33.49, 35.25}
	var s, c [3]float64
	places := []vec.V3{{X: .37, Y: .21, Z: .43}, {X: .11, Y: .64, Z: .82}, {X: .73, Y: .35, Z: .08}}
	for _, o := range places {
		m := mouldOf(t, ball(5, vec.V3{X: 30, Y: 30, Z: 30}.Add(o)), vec.V3{X: 60, Y: 60, Z: 60}, 1)
		res := must(Play(bg, m, Setting{Pour: 275, Open: Opening{Wait: 60, LiftBelow: 216}, How: Opened, Rest: 120, Shots: 3}, nil))
		for i, x := range res.Shots {
			s[i] += x.Solid / solid[i] / float64(len(places))
			c[i] += x.Ready / cold[i] / float64(len(places))
			if math.Abs(x.Ready-x.Cold) > 0.02 {
				t.Errorf("ready after %g s, 20 K under the solidus after %g", x.Ready, x.Cold)
			}
			if math.Abs(x.Spent.Share()) > 1e-5 {
				t.Errorf("%g of the heat is lost", x.Spent.Share())
			}
		}
	}
	for i := range s {
		t.Logf("shot %d: solid %+.2f %%, 20 K colder %+.2f %%", i+1, 100*(s[i]-1), 100*(c[i]-1))
		if math.Abs(s[i]-1) > 0.025 || math.Abs(c[i]-1) > 0.025 {
			t.Errorf("shot %d: solid %.4f, cold %.4f of the fine solution", i+1, s[i], c[i])
		}
	}
}

// cells returns the cell size of the figure's tests, mm: 3, or 1 in full.
func cells() float64 {
	if os.Getenv("POURWRIGHT_FULL") != "" {
		return 1
	}
	return 3
}

// With 150 s in and 150 s open the figure's mould warms until nothing freezes in
// time: the series shows it, and the search says it. With 1200 s open it settles.
func TestMouldThatIsPouredTooOften(t *testing.T) {
	m := mouldOf(t, figure, figureBlock, cells(), inAir)
	s := Setting{Pour: 275, Open: Opening{Wait: 150, LiftBelow: 216}, How: Opened, Rest: 150, Shots: 20}
	res := must(Play(bg, m, s, nil))
	first, last := res.Shots[0], res.Shots[19]
	t.Logf("150 s open: first solid %.1f s, last %.0f %% liquid when opened, mould %.0f degC, peak %.0f", first.Solid, 100*last.Liquid, last.Mould, last.Peak)
	if first.Ready == 0 || last.Ready != 0 || last.Solid != 0 || last.Liquid < 0.2 || math.Abs(res.Balance.Share()) > 1e-5 {
		t.Errorf("%+v %+v %+v", first, last, res.Balance)
	}
	if err := m.SetSlow(m.Rested()); err != nil {
		t.Fatal(err)
	}
	c := must(FindRest(bg, m, s, []How{Opened}, Limits{Longest: 150}, nil))[0]
	if c.Why != TooLong || c.Bound != ByWait || c.Slack >= 0 {
		t.Errorf("%+v", c)
	}
	m.SetSlow(m.Rested())
	s.Open.Wait, s.Rest = 240, 1200
	res = must(Play(bg, m, s, nil))
	last = res.Shots[19]
	t.Logf("1200 s open: first ready %.1f s, last %.1f, mould %.1f degC, balance %.1g", res.Shots[0].Ready, last.Ready, last.Mould, res.Balance.Share())
	for i, x := range res.Shots {
		if x.Ready == 0 || i > 0 && x.Solid < res.Shots[i-1].Solid-0.5 {
			t.Errorf("shot %d: %+v", i+1, x)
		}
	}
	if math.Abs(res.Balance.Share()) > 1e-5 || last.Ready < 1.15*res.Shots[0].Ready {
		t.Errorf("%+v %+v", last, res.Balance)
	}
	if first := res.Shots[0].Ready; last.Ready > 600 || first < 60 {
		t.Errorf("a hand-sized casting is ready after %g and %g s; practice opens after ten minutes at the latest", first, last.Ready)
	}
}

// The shortest rest of the figure, found on coarse cells and proved on finer ones,
// for both kinds of bound: what comes back keeps the limits on the fine cells, and
// a rest a tenth shorter does not.
func TestRestOfFigure(t *testing.T) {
	coarse := mouldOf(t, figure, figureBlock, 1.6*cells(), inAir, parted, boards)
	fine := mouldOf(t, figure, figureBlock, cells(), inAir, parted, boards)
	s := Setting{Pour: 275, Open: Opening{Wait: 240}, Powder: 30, Close: 30}
	cool := must(Play(bg, fine, Setting{Pour: 275, Open: Opening{Wait: 240}, Shots: 1}, nil)).Shots[0].Peak
	for _, l := range []Limits{{}, {Rating: cool + 1.2}} {
		d := must(RestOf(bg, coarse, fine, s, []How{Opened}, l, nil))[0]
		t.Logf("rating %.1f, cells %g proved on %g: %v, %g s by %v, slack %.3f, %d shots on the fine cells", l.Rating, 1.6*cells(), cells(), d.Why, d.Rest, d.Bound, d.Slack, d.Played)
		short := s
		short.How, short.Rest = Opened, math.Max(0, 0.9*d.Rest-20)
		if slack, _ := Slack(short, l, must(Settle(bg, fine, short, 0.2, nil)).Shot); d.Why != Found || d.Slack < 0 || slack >= 0 {
			t.Errorf("%+v; a rest of %g s has a slack of %g", d, short.Rest, slack)
		}
		if x := d.Steady.Shot; x.Ready > 240 || l.Rating > 0 && x.Peak > l.Rating {
			t.Errorf("%+v", x)
		}
	}
	q := must(RestOf(bg, coarse, fine, Setting{Pour: 275, Powder: 30, Close: 30}, []How{Opened}, Limits{Ready: Quickest, Mould: 93}, nil))[0]
	t.Logf("quickest: %v, %g s by %v, ready after %.0f of %.0f s, cycle %.0f s, mould %.1f degC, %d shots on the fine cells", q.Why, q.Rest, q.Bound, q.Steady.Shot.Ready, q.Ready, q.Steady.Cycle, q.Steady.Shot.Mould, q.Played)
	if q.Why != Found || q.Steady.Shot.Ready > q.Ready || q.Steady.Shot.Mould > 93 || q.Steady.Cycle > 240+410+60 {
		t.Errorf("%+v", q)
	}
	for _, l := range []Limits{{Rating: cool - 2}} {
		if d := must(RestOf(bg, coarse, fine, s, threeWays, l, nil)); len(d) != 3 || d[2].Why != Burns || d[2].How != Fanned || math.Abs(d[2].Rested.Peak-cool) > 0.5 {
			t.Errorf("%+v", d)
		}
	}
}

// The thin end of a casting stays above coherency (half liquid) longer in the
// second shot than in the first.
func TestThinEndStaysFluidLongerInWarmMould(t *testing.T) {
	end := vec.V3{X: 31, Y: 11, Z: 11}
	body := capsules([][7]float64{{11, 11, 11, 12, 11, 11, 5}, {12, 11, 11, 32, 11, 11, 1}})
	m := mouldOf(t, body, vec.V3{X: 42, Y: 22, Z: 22}, 0.5, inAir)
	var fluid []float64
	now := 0
	m.watch = func(r *heat.Run) {
		if r.Shots > now {
			now = r.Shots
			fluid = append(fluid, 0)
		}
		if r.Full() && r.At(end) > 240.5 {
			fluid[now-1] = r.Poured
		}
	}
	res := must(Play(bg, m, Setting{Pour: 275, Open: Opening{Wait: 60}, How: Opened, Rest: 120, Powder: 20, Close: 20, Shots: 3}, nil))
	t.Logf("thin end half solid after %.2f s; small casting ready after %.0f %.0f %.0f s", fluid, res.Shots[0].Ready, res.Shots[1].Ready, res.Shots[2].Ready)
	for i := 1; i < 3; i++ {
		if fluid[0] == 0 || fluid[i] <= fluid[i-1] || res.Shots[i].Solid <= res.Shots[i-1].Solid {
			t.Errorf("%v %+v", fluid, res.Shots)
		}
	}
	if r := res.Shots[2].Ready; r == 0 || r > 180 {
		t.Errorf("a small casting is ready after %g s; practice opens after 3 to 5 min", r)
	}
}

// A series in three dimensions that is stopped goes on to the last bit.
func TestResumeInThreeDimensions(t *testing.T) {
	mould := func() *Run {
		return mouldOf(t, ball(5, vec.V3{X: 12.3, Y: 12.2, Z: 12.1}), vec.V3{X: 24, Y: 24, Z: 24}, 1, inAir, parted, boards)
	}
	s := Setting{Pour: 275, Open: Opening{Wait: 20, Longest: 60}, How: Fanned, Rest: 150, Powder: 30, Close: 30, Shots: 2}
	var saved [][]byte
	whole := must(Play(bg, mould(), s, func(p Progress) error {
		saved = append(saved, must(p.Save()))
		return nil
	}))
	for i := 0; i < len(saved); i += 5 {
		r := must(Resume(mould(), saved[i]))
		k := i
		res, err := r.Play(bg, func(p Progress) error {
			if k++; !bytes.Equal(must(p.Save()), saved[k]) {
				t.Fatalf("stretch %d differs after going on from %d", k, i)
			}
			return nil
		})
		if err != nil || !reflect.DeepEqual(res, whole) {
			t.Fatalf("going on from stretch %d: %v\n%+v\n%+v", i, err, res, whole)
		}
	}
	if _, err := Resume(mouldOf(t, ball(5, vec.V3{X: 12, Y: 12, Z: 12}), vec.V3{X: 24, Y: 24, Z: 24}, 1), saved[0]); fault.KindOf(err) != fault.Input {
		t.Error("the state of another mould was taken", err)
	}
}

// A search that is stopped after any shot goes on with what it remembers, in new
// moulds, and finds the same to the last bit, for the shots that are left.
func TestSearchThatIsStoppedGoesOn(t *testing.T) {
	mould := func(h float64) *Run {
		return mouldOf(t, ball(7, vec.V3{X: 15, Y: 12.2, Z: 12.1}), vec.V3{X: 30, Y: 24, Z: 24}, h, inAir, parted, boards)
	}
	s := Setting{Pour: 275, Open: Opening{Wait: 120}, Powder: 30, Close: 30}
	find := func(m *Memory, watch Watch) ([]Choice, error) {
		return RestOf(bg, mould(2.5), mould(1.5), s, []How{Opened, Fanned}, Limits{Memory: m}, watch)
	}
	whole := must(find(nil, nil))
	var all Memory
	if again := must(find(&all, nil)); !reflect.DeepEqual(again, whole) {
		t.Fatalf("a search that remembers finds other things:\n%+v\n%+v", again, whole)
	}
	if whole[0].Why != Found || whole[0].Rest == 0 || all.Shots() < 10 {
		t.Fatalf("%+v, %d shots", whole, all.Shots())
	}
	stop := errors.New("stop")
	for _, at := range []int{0, 1, all.Shots() / 2, all.Shots() - 1} {
		var m Memory
		if _, err := find(&m, func(p Progress) error {
			if p.Search == at && p.Time > 0 {
				return stop
			}
			return nil
		}); err != stop || m.Shots() != at {
			t.Fatal(err, m.Shots(), at)
		}
		r := must(Recall(must(m.Save())))
		computed := map[int]bool{}
		got := must(find(r, func(p Progress) error {
			computed[p.Search] = true
			return nil
		}))
		if !reflect.DeepEqual(got, whole) || len(computed) != all.Shots()-at || r.Shots() != all.Shots() {
			t.Errorf("stopped after %d of %d shots and gone on for %d:\n%+v\n%+v", at, all.Shots(), len(computed), got, whole)
		}
	}
	// Other arguments: what is remembered does not count from where they differ.
	s.Open.Wait = 130
	if got, anew := must(find(&all, nil)), must(find(nil, nil)); reflect.DeepEqual(got, whole) || !reflect.DeepEqual(got, anew) {
		t.Errorf("%+v\n%+v", got, anew)
	}
	s.Open.Wait = 120
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if got := must(find(nil, nil)); !reflect.DeepEqual(got, whole) {
		t.Errorf("on one core other things are found: %+v\n%+v", got, whole)
	}
	b := must(all.Save())
	for _, bad := range [][]byte{nil, b[:len(b)-3], b[5:], append(b[:len(b)-1:len(b)-1], b[len(b)-1]^1)} {
		if _, err := Recall(bad); fault.KindOf(err) != fault.Input {
			t.Error(err)
		}
	}
}

// A straight field goes from cells of 2 mm to cells of 0.7 mm as it is, away from
// the cavity to rounding, beside it within what half a cell holds; boards too.
func TestCarry(t *testing.T) {
	c := vec.V3{X: 12.3, Y: 12.2, Z: 12.1}
	size := vec.V3{X: 28, Y: 25.2, Z: 22.4}
	from, to := mouldOf(t, ball(5, c), size, 2, inAir, boards), mouldOf(t, ball(5, c), size, 0.7, inAir, boards)
	field := func(p vec.V3) float64 { return p.X + 2*p.Y - p.Z }
	state := func(r *Run) []float32 {
		x := r.Slow()
		q := 0
		g := r.p.Body.Grid
		for i, d := range r.p.Body.Dist {
			if d >= 0 {
				x[q] = float32(field(g.Centre(g.Cell(i))))
				q++
			}
		}
		for _, z := range []float64{-1, 1} {
			for f := range g.NX * g.NY {
				x[q] = float32(z * g.Centre(f%g.NX, f/g.NX, 0).X)
				q++
			}
		}
		if q != len(x) {
			t.Fatalf("%d of %d", q, len(x))
		}
		return x
	}
	got := must(Carry(state(from), from, to))
	want := state(to)
	if len(got) != len(want) {
		t.Fatalf("%d for %d", len(got), len(want))
	}
	g := to.p.Body.Grid
	q := 0
	inner := from.p.Body.Grid.Box()
	for i, d := range to.p.Body.Dist {
		if d < 0 {
			continue
		}
		p := g.Centre(g.Cell(i))
		edge := math.Inf(1)
		for a, x := range p.Array() {
			edge = math.Min(edge, math.Min(x-inner.Min.Array()[a], inner.Max.Array()[a]-x))
		}
		most := 1e-4
		if d < 4 || edge < 1 {
			most = 5
		}
		if e := math.Abs(float64(got[q] - want[q])); e > most {
			t.Fatalf("cell at %v, %g mm from the wall: %g, want %g", p, d, got[q], want[q])
		}
		q++
	}
	for ; q < len(got); q++ {
		if math.Abs(float64(got[q]-want[q])) > 1.5 {
			t.Fatalf("board: %g, want %g", got[q], want[q])
		}
	}
	if err := to.SetSlow(got); err != nil {
		t.Error(err)
	}
	for _, bad := range [][]float32{nil, got, append(state(from), 1)} {
		if _, err := Carry(bad, from, to); fault.KindOf(err) != fault.Input {
			t.Error(err)
		}
	}
	if _, err := Carry(state(from), from, mouldOf(t, ball(5, c), size, 1, inAir)); fault.KindOf(err) != fault.Input {
		t.Error(err)
	}
}

func BenchmarkTwentyShots(b *testing.B) {
	m := mouldOf(b, figure, figureBlock, cells(), inAir)
	for b.Loop() {
		m.SetSlow(m.Rested())
		must(Play(bg, m, Setting{Pour: 275, Open: Opening{Wait: 240}, How: Opened, Rest: 1200, Shots: 20}, nil))
	}
}

func BenchmarkFindRest(b *testing.B) {
	m := mouldOf(b, figure, figureBlock, 2, inAir, parted)
	for b.Loop() {
		must(FindRest(bg, m, Setting{Pour: 275, Open: Opening{Wait: 240}, Powder: 30, Close: 30}, threeWays, Limits{}, nil))
	}
}
