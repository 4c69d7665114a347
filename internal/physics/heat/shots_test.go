package heat

import (
	"context"
	"math"
	"runtime"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

func begin(t testing.TB, p Problem) *Run {
	t.Helper()
	r, err := New(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// shot pours, waits, opens, takes out, rests open and closes.
func shot(t testing.TB, r *Run, pour, wait, rest float64) {
	t.Helper()
	ctx := context.Background()
	must(t, r.Pour(pour))
	must(t, r.Advance(ctx, wait))
	must(t, r.Open(10))
	must(t, r.TakeOut())
	must(t, r.Advance(ctx, rest))
	r.Close()
}

// parted is a ball with a channel to the upper side, in a block whose halves meet
// in the plane through its middle.
func parted(h float64) *Body {
	g := grid.Grid{H: h, NX: int(24 / h), NY: int(30 / h), NZ: int(20 / h)}
	c := vec.V3{X: 12.13 * 1, Y: 12.21, Z: 10.09}
	b := FromDistance(func(p vec.V3) float64 {
		d := p.Sub(c)
		q := d
		q.Y = 0
		channel := math.Max(q.Len()-2, -d.Y)
		return math.Min(d.Len()-5, channel)
	}, g)
	b.Half = make([]uint8, g.Len())
	for q := range b.Half {
		_, _, k := g.Cell(q)
		b.Half[q] = 1
		if k >= g.NZ/2 {
			b.Half[q] = 2
		}
	}
	return b
}

func partedProblem(h float64) Problem {
	p := Problem{Body: parted(h), Metal: pewter, Rubber: silicone, Air: 22, Start: 22, Rating: 180}
	for i := range p.Sides {
		p.Sides[i] = Side{H: 10, Board: 0.1, Metal: 12}
	}
	p.Sides[ZLow].Capacity, p.Sides[ZHigh].Capacity = 9000, 9000
	return p
}

func TestBalanceOfTwentyShots(t *testing.T) {
	r := begin(t, partedProblem(1))
	for range 20 {
		shot(t, r, 275, 90, 200)
	}
	e := r.Energy()
	t.Logf("%+v, share left %.2g", e, e.Share())
	if math.Abs(e.Share()) > 1e-5 {
		t.Errorf("%.2g of the heat poured is left over", e.Share())
	}
	for _, x := range []float64{e.LostMouth, e.LostOpen, e.LostOutside, e.CarriedOut, e.Boards, e.Rubber} {
		if !(x > 0.001*e.Poured) {
			t.Errorf("a part of the balance is missing: %+v", e)
		}
	}
}

func TestSecondShotFreezesLater(t *testing.T) {
	r := begin(t, partedProblem(1))
	var solid []float64
	for range 3 {
		must(t, r.Pour(275))
		must(t, r.Advance(context.Background(), 90))
		solid = append(solid, r.Times().Solid)
		must(t, r.TakeOut())
		must(t, r.Open(10))
		must(t, r.Advance(context.Background(), 120))
		r.Close()
	}
	if !(solid[0] > 0 && solid[1] > solid[0] && solid[2] > solid[1]) {
		t.Errorf("times to solid %v", solid)
	}
}

func TestSameBytesOnOneCoreAndWithPlainKernels(t *testing.T) {
	run := func(plain bool) []byte {
		p := partedProblem(1)
		p.Plain = plain
		r := begin(t, p)
		shot(t, r, 275, 60, 60)
		shot(t, r, 275, 30, 0)
		must(t, r.Pour(275))
		must(t, r.Advance(context.Background(), 20))
		return r.Save()
	}
	a, b := run(false), run(true)
	old := runtime.GOMAXPROCS(1)
	c := run(false)
	runtime.GOMAXPROCS(old)
	if !slices.Equal(a, b) {
		t.Error("plain kernels give other bytes")
	}
	if !slices.Equal(a, c) {
		t.Error("one core gives other bytes")
	}
}

func TestCheckpointGoesOn(t *testing.T) {
	ctx := context.Background()
	a := begin(t, partedProblem(1))
	shot(t, a, 275, 60, 40)
	must(t, a.Pour(275))
	must(t, a.Advance(ctx, 10))
	saved := a.Save()
	must(t, a.Advance(ctx, 50))
	b := begin(t, partedProblem(1))
	must(t, b.Load(saved))
	must(t, b.Advance(ctx, 50))
	if !slices.Equal(a.Save(), b.Save()) {
		t.Error("the second Run went another way")
	}
	if a.Times() != b.Times() {
		t.Errorf("%+v and %+v", a.Times(), b.Times())
	}
	for name, data := range map[string][]byte{"cut": saved[:len(saved)/2], "empty": nil, "noise": append(slices.Clone(saved[:999]), saved[1000:]...)} {
		if begin(t, partedProblem(1)).Load(data) == nil {
			t.Errorf("%s: taken", name)
		}
	}
	p := partedProblem(1)
	p.Rubber.K = 0.3
	if begin(t, p).Load(saved) == nil {
		t.Error("taken by another problem")
	}
}

// Long steps against explicit ones: a mould at rest, open and closed, with boards.
func TestLongRest(t *testing.T) {
	for _, apart := range []bool{true, false} {
		var field [2][]float32
		var steps [2]int
		for i, longest := range []float64{1e-3, 60} {
			p := partedProblem(1)
			p.Rest = longest
			r := begin(t, p)
			must(t, r.Pour(275))
			must(t, r.Advance(context.Background(), 60))
			must(t, r.TakeOut())
			if apart {
				must(t, r.Open(10))
			}
			steps[i] = -r.Steps
			must(t, r.Advance(context.Background(), 1200))
			steps[i] += r.Steps
			field[i] = r.Temperature()
			if e := r.Energy(); math.Abs(e.Share()) > 1e-5 {
				t.Errorf("%g of the heat is left over", e.Share())
			}
		}
		worst, mean := 0.0, 0.0
		for q := range field[0] {
			worst = max(worst, math.Abs(float64(field[0][q]-field[1][q])))
			mean += float64(field[0][q]-22) / float64(len(field[0]))
		}
		t.Logf("open %v: %v steps, largest difference %.4f K of %.2f K over the air", apart, steps, worst, mean)
		if worst > 0.06 || steps[1] > steps[0]/5 {
			t.Errorf("open %v: %d steps instead of %d change a temperature by %g K", apart, steps[1], steps[0], worst)
		}
	}
}

func TestStopsWhenAsked(t *testing.T) {
	r := begin(t, partedProblem(1))
	must(t, r.Pour(275))
	ctx, cancel := context.WithCancel(context.Background())
	r.Watch = func(r *Run) {
		if r.Poured > 5 {
			cancel()
		}
	}
	if err := r.Advance(ctx, 60); err == nil || r.Poured > 8 {
		t.Errorf("went on to %g s: %v", r.Poured, err)
	}
	r.Watch = nil
	must(t, r.Advance(context.Background(), 60-r.Poured))
	if r.Times().Solid < 0 {
		t.Error("not solid after going on")
	}
}

// Two balls joined by a thin neck, fed at the first: the neck freezes first and
// the second ball is cut off.
func TestIslandBehindANeck(t *testing.T) {
	g := grid.Grid{H: 1, NX: 44, NY: 20, NZ: 20}
	a, b := vec.V3{X: 10.2, Y: 10.1, Z: 10.3}, vec.V3{X: 32.2, Y: 10.1, Z: 10.3}
	body := FromDistance(func(p vec.V3) float64 {
		neck := math.Max(math.Hypot(p.Y-10.1, p.Z-10.3)-1.5, math.Abs(p.X-21)-10)
		return min(p.Dist(a)-6, p.Dist(b)-5, neck)
	}, g)
	box := vec.Box{Min: a, Max: a}.Grow(2)
	r := begin(t, Problem{Body: body, Metal: pewter, Rubber: silicone, Air: 25, Start: 25, Feed: []vec.Box{box}})
	must(t, r.Pour(275))
	must(t, r.Advance(context.Background(), 120))
	list, known := r.Islands()
	if !known || len(list) == 0 {
		t.Fatal("no island found")
	}
	t.Logf("%+v", list)
	if s := list[0]; s.At.Dist(b) > 5 || s.Liquid < 50 || s.Liquid > 524 || !(s.Time > 1 && s.Time < r.Times().Solid) {
		t.Errorf("island %+v", s)
	}
	// fed at both ends nothing but crumbs is cut off
	r = begin(t, Problem{Body: body, Metal: pewter, Rubber: silicone, Air: 25, Start: 25, Feed: []vec.Box{box, vec.Box{Min: b, Max: b}.Grow(2)}})
	must(t, r.Pour(275))
	must(t, r.Advance(context.Background(), 120))
	if list, _ := r.Islands(); len(list) > 0 && list[0].Liquid > 5 {
		t.Errorf("fed at both ends: %+v", list)
	}
}

// The face of the rubber is over a rating the longer, the lower the rating is, and
// only at walls.
func TestTimeOverTheRating(t *testing.T) {
	before := 0.0
	for _, rating := range []float64{260, 200, 150} {
		p := partedProblem(1)
		p.Rating = rating
		r := begin(t, p)
		must(t, r.Pour(275))
		must(t, r.Advance(context.Background(), 60))
		x := r.Times()
		if !(x.Over >= before) || rating == 260 && x.Over > 0.1 || rating < 260 && x.Over < 5 || x.Over > 60 {
			t.Errorf("rating %g: %g s over it, peak %g", rating, x.Over, x.Surface)
		}
		before = x.Over
		most := 0.0
		for q, s := range r.Over() {
			if s > 0 && r.kind[q] != wallRubber {
				t.Fatalf("cell %d is no wall and %g s over the rating", q, s)
			}
			most = max(most, float64(s))
		}
		if math.Abs(most-x.Over) > 1e-4 {
			t.Errorf("longest %g, in the field %g", x.Over, most)
		}
	}
}

func TestMemoryIsAboutRight(t *testing.T) {
	g := grid.Grid{H: 1, NX: 100, NY: 90, NZ: 80}
	used := func() int64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int64(m.HeapAlloc)
	}
	start := used()
	b := FromDistance(func(p vec.V3) float64 { return p.Dist(vec.V3{X: 50, Y: 45, Z: 40}) - 20 }, g)
	r := begin(t, Problem{Body: b, Metal: pewter, Rubber: silicone, Air: 25, Start: 25})
	must(t, r.Advance(context.Background(), 100))
	got, said := used()-start, Memory(g)
	if got > said || got < said/3 {
		t.Errorf("takes %d bytes, said %d", got, said)
	}
	runtime.KeepAlive(r)
}

// A casting may stay in the open mould: the parting loses heat, the cavity does
// not until it is lifted out.
func TestCastingStaysInTheOpenMould(t *testing.T) {
	ctx := context.Background()
	play := func(open bool) (mid, end Balance, metal float64) {
		r := begin(t, partedProblem(1))
		must(t, r.Pour(275))
		must(t, r.Advance(ctx, 60))
		if open {
			must(t, r.Open(20))
		}
		must(t, r.Advance(ctx, 120))
		mid = r.Energy()
		must(t, r.TakeOut())
		must(t, r.Advance(ctx, 300))
		r.Close()
		must(t, r.Advance(ctx, 300))
		return mid, r.Energy(), mid.Metal
	}
	_, shut, warm := play(false)
	mid, end, cool := play(true)
	if !(cool < warm) || !(mid.LostOpen > 0) || !(end.LostOpen > mid.LostOpen) || shut.LostOpen != 0 {
		t.Errorf("metal holds %g J open and %g J closed, lost %g, then %g, closed %g", cool, warm, mid.LostOpen, end.LostOpen, shut.LostOpen)
	}
	for _, e := range []Balance{mid, end, shut} {
		if math.Abs(e.Share()) > 1e-5 {
			t.Errorf("%g of the heat is left over", e.Share())
		}
	}
}

// What a filling leaves: half frozen at the freezing point, cold or hot elsewhere.
func TestPourPartly(t *testing.T) {
	b := ballIn(5, 24, 1, vec.V3{X: .3, Y: .2, Z: .4})
	r := begin(t, Problem{Body: b, Metal: solder, Rubber: silicone, Air: 25, Start: 25})
	n := b.Grid.Len()
	T, F := make([]float32, n), make([]float32, n)
	for q := range T {
		switch i, _, _ := b.Grid.Cell(q); {
		case i < 11:
			T[q], F[q] = 170, 0
		case i > 13:
			T[q], F[q] = 200, 1
		default:
			T[q], F[q] = 183, 0.25
		}
	}
	must(t, r.PourPartly(T, F))
	temp, frac := r.Temperature(), r.Fraction()
	for q := range temp {
		if frac[q] >= 0 && (math.Abs(float64(temp[q]-T[q])) > 1e-3 || math.Abs(float64(frac[q]-F[q])) > 1e-6) {
			t.Fatalf("cell %d: %g degC, %g liquid; given %g and %g", q, temp[q], frac[q], T[q], F[q])
		}
	}
	must(t, r.Advance(context.Background(), 30))
	if e := r.Energy(); math.Abs(e.Share()) > 1e-5 || r.Times().Solid < 0 {
		t.Errorf("%+v, %+v", r.Times(), e)
	}
	must(t, r.TakeOut())
	for q := range F {
		F[q] = 2
	}
	if r.PourPartly(T, F) == nil {
		t.Error("took a share of 2")
	}
	if r.PourPartly(T, F[:5]) == nil || r.PourField(T[:5]) == nil {
		t.Error("took too few values")
	}
}
