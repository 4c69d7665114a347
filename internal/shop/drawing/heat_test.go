package drawing

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"os"
	"runtime"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
	cells "pourwright/internal/shape/grid"
)

// ballPour is an invented pour: a ball of radius r that freezes from its surface,
// s = 40 (1 - (q/r)^2), under a neck and a cup that freezes later, in rubber whose
// peak falls with the distance. The block is 60 x 80 x 40, the parting z = 0.
func ballPour(h float64) *Heat { return ballIn(vec.V3{X: 60, Y: 80, Z: 40}, h) }

// ballIn is ballPour in a block of another size.
func ballIn(size vec.V3, h float64) *Heat {
	const r = 12.0
	box := vec.Box{Min: size.Mul(-0.5), Max: size.Mul(0.5)}
	g, err := cells.Over(box, h)
	if err != nil {
		panic(err)
	}
	x := &Heat{Doc: ballDoc(), Grid: g}
	n := g.Len()
	x.Dist, x.Solid, x.Peak, x.Half = make([]float32, n), make([]float32, n), make([]float32, n), make([]uint8, n)
	for q := range n {
		p := g.Centre(g.Cell(q))
		ball := p.Len() - r
		cup := rod(p, vec.V3{Y: 30}, vec.V3{Y: 48}, 4, 9)
		neck := rod(p, vec.V3{Y: 8}, vec.V3{Y: 31}, 2, 2)
		d := math.Min(ball, math.Min(cup, neck))
		x.Dist[q], x.Solid[q] = float32(d), -1
		x.Half[q] = 1
		if p.Z < 0 {
			x.Half[q] = 2
		}
		switch {
		case d >= 0:
			x.Peak[q] = float32(45 + 185*math.Exp(-d/6))
		case ball < 0:
			x.Solid[q] = float32(40 * (1 - p.Dot(p)/(r*r)))
		case cup < 0:
			x.Solid[q] = 90
		default:
			x.Solid[q] = 5
		}
		if d < 0 {
			x.Peak[q] = 20
			if d > -h {
				x.Peak[q] = 230
			}
		}
	}
	p := sample(1, 2).Plan
	p.Master.Box = [2]plan.P3{{-r, -r, -r}, {r, r, r}}
	p.Block.Size = size.Array()
	p.Block.Placements = []plan.Frame{{X: plan.P3{1, 0, 0}, Y: plan.P3{0, 1, 0}, Z: plan.P3{0, 0, 1}}}
	p.Block.Frame = p.Block.Placements[0]
	p.Block.Ingates = []plan.Ingate{{At: plan.P3{0, 11.8, 0}, Direction: plan.P3{0, -1, 0}, Area: 4 * math.Pi}}
	p.Findings = append(p.Findings, plan.Finding{Code: "feeder", Severity: plan.Note, At: &plan.P3{0, -2, 0}, Computed: plan.Ptr(43.0), Say: "1.8 cm3 is cut off here"})
	x.Plan = p
	return x
}

func ballDoc() *pour.Doc {
	d := pour.Empty(pour.Setting{
		Alloy:  pour.Alloy{Kind: "pewter-92-7-1", Liquid: [][2]float64{{235, 0}, {242, 1}}, Change: -0.024},
		Rubber: pour.Matter{Kind: "condensation-heat-30", Rating: 305}, Metal: 290, Mould: 45, Room: 20, Powder: 60, Close: 30,
	})
	at := plan.P3{0, 12, 0}
	d.Grids = []pour.Grid{{Cell: 2.25}, {Cell: 1.5}, {Cell: 1}}
	d.Freeze = plan.Freeze{Computed: true, Cell: plan.Ptr(1.0), SolidAfter: plan.Ptr(90.0), OpenAfter: plan.Ptr(101.0), OpenTemperature: plan.Ptr(209.4), TouchAfter: plan.Ptr(415.0),
		LastPlace: &plan.P3{0, 39, 0}, UnfedVolume: plan.Ptr(43.0), RubberPeak: plan.Ptr(231.0), Balance: plan.Ptr(6e-7), Error: &plan.FreezeError{SolidAfter: 5.2, OpenAfter: 6.7}}
	d.Cycle = plan.Cycle{Computed: true, Rest: plan.Ptr(50.0), How: plan.Ptr("opened"), ShotsPerHour: plan.Ptr(10.08), Moulds: plan.Ptr(1), SteadyMouldTemperature: plan.Ptr(91.8), WarmUpShots: plan.Ptr(7)}
	d.Islands = []pour.Island{{At: plan.P3{0, -2, 0}, After: 12.4, Liquid: 1800, Unfed: 43}, {At: plan.P3{8, 0, 0}, After: 6, Liquid: 0.7, Unfed: 0.02}}
	d.Rubber = pour.Rubber{Peak: plan.Ptr(231.0), PeakAt: &at, OverFor: plan.Ptr(0.0), OverMost: plan.Ptr(0.0)}
	probes := []pour.Probe{{Name: "the metal that freezes first"}, {Name: "the metal where it is thickest", At: plan.P3{0, 0, 0}}, {Name: "rubber 1 mm from there", At: plan.P3{0, 0, 13}}, {Name: "rubber 5 mm from there", At: plan.P3{0, 0, 17}}}
	probes[0].At = plan.P3{0, -11, 0}
	start := 0.0
	for k := range 8 {
		open := 101 + 10*float64(k)
		d.Shots = append(d.Shots, pour.Shot{Mould: 45 + 5*float64(k), OpenAfter: plan.Ptr(open), Opened: open, OpenTemperature: 209})
		for t := 0.0; t < open+140; t += 5 {
			for i := range probes {
				c := 45 + 5*float64(k) + 100*t/open*math.Exp(1-t/open)/float64(i)
				if i < 2 {
					c = 20
					if t <= open {
						c = 270 - 100*t/open - 20*float64(i)
					}
				}
				probes[i].Curve = append(probes[i].Curve, [2]float64{start + t, c})
			}
		}
		start += open + 140
	}
	d.Probes = probes
	d.Steady = &pour.Shot{OpenAfter: plan.Ptr(190.0), Opened: 190, OpenTemperature: 208, RubberPeak: 236}
	d.Rests = []pour.Rest{{How: "closed", Rest: plan.Ptr(100.0), OpenAfter: plan.Ptr(189.0), Held: "freezing within the wait", Why: "found"}, {How: "opened, with a fan", Why: "rests longer than the longest"}}
	d.Moulds = []pour.Moulds{{Moulds: 1, PerHour: 10.08, Period: 357, Rest: 50, Idle: 0.5}, {Moulds: 2, PerHour: 20.0, Period: 180, Rest: 53, Idle: 0}}
	d.Touch = []pour.Touch{{Contact: 1, Below: 65, After: plan.Ptr(247.0), Source: "ISO 13732-1, value from memory"}, {Contact: 28800, Below: 43, Source: "ISO 13732-1, value from memory"}}
	return d
}

// The middle of the ball freezes last in the casting though the cup freezes later.
func TestLastInTheCasting(t *testing.T) {
	h := ballPour(1)
	at, after, all, ok := h.last()
	if !ok || all || at.Len() > 1 || math.Abs(after-40) > 0.5 {
		t.Errorf("with a plan: at %v after %.1f s, want the middle at 40 s", at, after)
	}
	cast, _ := h.castings()
	for q, in := range cast {
		p := h.Grid.Centre(h.Grid.Cell(q))
		if want := p.Len() < 12; in != want && math.Abs(p.Len()-12) > 1 {
			t.Fatalf("the cell at %v is told to be in the casting: %v", p, in)
		}
	}
	gates := h.Plan.Block.Ingates
	h.Plan.Block.Ingates = nil
	if at, _, all, _ := h.last(); all || at.Len() > 1 {
		t.Errorf("without ingates, by the box alone: at %v", at)
	}
	h.Plan.Block.Ingates, h.Plan.Master.Box = gates, [2]plan.P3{}
	if at, _, all, _ := h.last(); all || at.Len() > 1 {
		t.Errorf("without a box, by the ingates alone: at %v", at)
	}
	h.Plan = nil
	if at, after, all, _ = h.last(); !all || at.Y < 30 || after != 90 {
		t.Errorf("without a plan: at %v after %.1f s, want the cup at 90 s", at, after)
	}
	// what is not solid in the end comes last of all
	h.Solid[h.Grid.At(30, 30, 20)] = -1
	if _, after, _, _ = h.last(); after >= 0 {
		t.Errorf("a place that never froze is not the last one: %.1f s", after)
	}
}

// Lines of equal time in the ball are circles: s = 20 lies at r / sqrt 2.
func TestLinesOfTheBall(t *testing.T) {
	for _, h := range []float64{0.7, 1, 1.5} {
		s := ballPour(h).see()
		c := s.cut[1]
		if off := math.Abs(c.at); off > h {
			t.Fatalf("cells of %g: the cut lies at z = %g", h, c.at)
		}
		r2 := 144 - c.at*c.at
		area := 0.0
		for _, l := range c.metal {
			if inside(l, vec.V2{X: 0.3, Y: -6}) {
				area = math.Abs(areaOf([][]vec.V2{l}))
			}
		}
		// ball, neck and cup are one; the cup adds about 180, the neck 80 mm2
		if area < math.Pi*r2+150 || area > math.Pi*r2+450 {
			t.Errorf("cells of %g: the outline holds %.0f mm2, the ball alone %.0f", h, area, math.Pi*r2)
		}
		worst, n := 0.0, 0
		for _, l := range c.inside(c.level(s.solid[1], 20), -1) {
			for _, q := range l {
				if q.Y > 6 { // the neck joins here
					continue
				}
				n++
				want := math.Sqrt(72 - c.at*c.at)
				worst = math.Max(worst, math.Abs(q.Len()-want))
			}
		}
		if n < 30 || worst > 0.35*h {
			t.Errorf("cells of %g: the line of 20 s is off by %.2f mm in %d points", h, worst, n)
		}
		joint := s.cut[0].joint()
		for _, l := range joint {
			for _, q := range l {
				if math.Abs(q.X) > h {
					t.Fatalf("cells of %g: the joint lies at z = %.2f", h, q.X)
				}
			}
		}
		if len(joint) == 0 {
			t.Error("no joint is drawn")
		}
	}
}

func TestBands(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		most   int
		want   string
	}{
		{0, 65, 7, "from 0 by 10, 7"}, {0, 33, 6, "from 5 by 5, 6 below"}, {45, 231, 7, "from 0 by 50, 5"}, {3, 3, 7, "one"},
		{0, 0.7, 7, "from 0 by 0.1, 7"}, {100, 112, 7, "from 100 by 2, 6"}, {0, 1e6, 7, "from 0 by 200000, 5"}, {math.NaN(), 3, 7, "one"}, {-20, 50, 7, "from -20 by 10, 7"},
	} {
		s := bandsOf(c.lo, c.hi, 1, "s", c.most)
		got := fmt.Sprintf("from %g by %g, %d", s.from, s.step, s.n)
		if s.below {
			got += " below"
		}
		if c.want == "one" {
			if s.n != 1 || c.lo == c.lo && (s.edge(0) > c.lo || s.edge(1) < c.lo) {
				t.Errorf("%g..%g: %s", c.lo, c.hi, got)
			}
			continue
		}
		if got != c.want {
			t.Errorf("%g..%g: %s, want %s", c.lo, c.hi, got, c.want)
		}
		if s.edge(s.n) < c.hi || s.edge(0) > c.lo && !s.below {
			t.Errorf("%g..%g: the bands hold %g..%g", c.lo, c.hi, s.edge(0), s.edge(s.n))
		}
	}
	for k := range 4000 { // whatever the range, no more than seven
		lo := math.Sin(float64(k)) * 50
		hi := lo + math.Pow(10, 4*math.Sin(1.7*float64(k)))
		if s := bandsOf(lo, hi, 1, "s", 7); s.n > 7 || s.n < 1 || s.edge(s.n) < hi*(1-1e-9)-1e-9 {
			t.Fatalf("%g..%g: %d bands up to %g", lo, hi, s.n, s.edge(s.n))
		}
	}
}

// The pictures do not depend on the cores.
func TestHeatPicturesSameBytes(t *testing.T) {
	h := ballPour(1.5)
	a, b, c, err := HeatPictures(h)
	if err != nil {
		t.Fatal(err)
	}
	old := runtime.GOMAXPROCS(1)
	a1, b1, c1, err := HeatPictures(ballPour(1.5))
	runtime.GOMAXPROCS(old)
	if err != nil || !bytes.Equal(a, a1) || !bytes.Equal(b, b1) || !bytes.Equal(c, c1) {
		t.Errorf("the bytes differ on one core (%v)", err)
	}
}

// texts is all that a page says.
func texts(p *page) string {
	var b strings.Builder
	for _, o := range p.ops {
		b.WriteString(o.text + " ")
	}
	return strings.ReplaceAll(b.String(), nb, " ")
}

func TestHeatPicturesSay(t *testing.T) {
	h := ballPour(1)
	a, b, c, err := HeatPictures(h)
	if err != nil {
		t.Fatal(err)
	}
	for k, x := range [][]byte{a, b, c} {
		if _, err := png.Decode(bytes.NewReader(x)); err != nil {
			t.Error(err)
		}
		keep(t, []string{"ball-solid.png", "ball-peak.png", "ball-shots.png"}[k], x)
	}
	s := h.see()
	number := 0
	for i, f := range h.Plan.Findings {
		if f.Code == "feeder" {
			v := &view{}
			v.number(&Input{Plan: h.Plan})
			number = v.numbers[i]
		}
	}
	for name, c := range map[string]struct {
		p    *page
		want []string
	}{
		"solid":  {s.solidPage(), []string{"Time to solid", "freezes last in the casting: solid 40 s", "1.8 cm³ liquid cut off", "short by 43 mm³", "15 s", "40 s", "cup, this edge up", "half 1", "later", "seconds after the end of the pour", "give or take 6 s", fmt.Sprint(number)}},
		"peak":   {s.peakPage(), []string{"hottest rubber, 231 °C", "100 °C", "rated to 305 °C and stays under it", "where the halves meet"}},
		"series": {h.seriesPage(), []string{"pour 1", "pour 6", "open", "all solid (solidus), 235 °C", "rating of the rubber, 305 °C", "minutes since the first pour", "°C", "shots 1 to 6 of 8", "rubber 5 mm from the thickest metal"}},
	} {
		all := texts(c.p)
		for _, w := range c.want {
			// labels wrap: look for the words without the ends of lines
			if !strings.Contains(strings.ReplaceAll(all, "  ", " "), w) {
				t.Errorf("%s does not say %q: %s", name, w, all)
			}
		}
		for i := range c.p.ops {
			o := &c.p.ops[i]
			if o.kind != opText {
				continue
			}
			if lo, hi := textBox(o); lo.X < 0 || lo.Y < 0 || hi.X > c.p.w || hi.Y > c.p.h {
				t.Errorf("%s: %q leaves the picture", name, o.text)
			}
		}
	}
	h.Doc.Setting.Rubber.Rating = 200
	h.Doc.Rubber.OverFor = plan.Ptr(14.0)
	_, b, _, _ = HeatPictures(h)
	keep(t, "ball-over.png", b)
	if all := texts(h.see().peakPage()); !strings.Contains(all, "rating, 200 °C, passed for up to 14 s") || !strings.Contains(all, "rating 200 °C") {
		t.Errorf("a passed rating is not told: %s", all)
	}
}

// No text of a picture lies on another, in blocks of any shape.
func TestHeatTextsApart(t *testing.T) {
	for _, size := range []vec.V3{{X: 60, Y: 80, Z: 40}, {X: 227, Y: 359, Z: 40}, {X: 420, Y: 90, Z: 40}, {X: 30, Y: 300, Z: 30}, {X: 90, Y: 90, Z: 300}, {X: 26, Y: 80, Z: 26}} {
		h := ballIn(size, math.Max(1, size.Len()/150))
		h.Doc.Setting.Rubber.Rating = 200
		h.Doc.Islands = append(h.Doc.Islands, pour.Island{At: plan.P3{3, 2, 4}, After: 7, Liquid: 400, Unfed: 9.6}, pour.Island{At: plan.P3{-7, 3, 0}, After: 9, Liquid: 300, Unfed: -7})
		s := h.see()
		for k, p := range []*page{s.solidPage(), s.peakPage(), h.seriesPage()} {
			for i := range p.ops {
				a := &p.ops[i]
				lo, hi := textBox(a)
				if a.kind != opText || strings.TrimSpace(a.text) == "" {
					continue
				}
				if lo.X < 0 || lo.Y < 0 || hi.X > p.w || hi.Y > p.h {
					t.Errorf("%v, picture %d: %q leaves it", size, k, a.text)
				}
				for j := range i {
					b := &p.ops[j]
					blo, bhi := textBox(b)
					if b.kind == opText && min(hi.X, bhi.X)-max(lo.X, blo.X) > 0.2 && min(hi.Y, bhi.Y)-max(lo.Y, blo.Y) > 0.2 {
						t.Errorf("%v, picture %d: %q lies on %q", size, k, a.text, b.text)
					}
				}
			}
			if dir := os.Getenv("POURWRIGHT_KEEP"); dir != "" {
				b, err := h.picture(p)
				if err != nil {
					t.Fatal(err)
				}
				keep(t, fmt.Sprintf("block-%g-%d.png", size.X, k), b)
			}
		}
	}
}

// lacking takes something away from a pour.
var lacking = map[string]func(h *Heat){
	"no plan":    func(h *Heat) { h.Plan = nil },
	"no halves":  func(h *Heat) { h.Half = nil },
	"no fields":  func(h *Heat) { h.Dist, h.Solid, h.Peak, h.Half = nil, nil, nil, nil },
	"no probes":  func(h *Heat) { h.Doc.Probes = nil },
	"no shots":   func(h *Heat) { h.Doc.Shots, h.Doc.Steady, h.Doc.Cycle = nil, nil, plan.Cycle{} },
	"no ingates": func(h *Heat) { h.Plan.Block.Ingates = nil },
	"no box":     func(h *Heat) { h.Plan.Master.Box = [2]plan.P3{} },
	"never solid": func(h *Heat) {
		for q := range h.Solid {
			h.Solid[q] = -1
		}
		h.Doc.Freeze.SolidAfter, h.Doc.Freeze.OpenAfter, h.Doc.Freeze.Error, h.Doc.Freeze.TouchAfter = nil, nil, nil, nil
	},
	"no metal": func(h *Heat) {
		for q := range h.Dist {
			h.Dist[q] = 3
		}
	},
	"all metal": func(h *Heat) {
		for q := range h.Dist {
			h.Dist[q], h.Solid[q] = -3, 4
		}
	},
	"no figures": func(h *Heat) {
		h.Doc.Freeze = plan.Freeze{Computed: true}
		h.Doc.Rubber, h.Doc.Islands, h.Doc.Rests, h.Doc.Moulds, h.Doc.Touch = pour.Rubber{}, nil, nil, nil, nil
	},
	"not computed": func(h *Heat) { *h = Heat{Doc: pour.Empty(h.Doc.Setting), Plan: h.Plan} },
	"grows":        func(h *Heat) { h.Doc.Islands[0].Unfed = -40 },
	"flat": func(h *Heat) {
		g, _ := cells.Over(vec.Box{Max: vec.V3{X: 5, Y: 5, Z: 1}}, 1)
		*h = Heat{Doc: h.Doc, Grid: g, Dist: make([]float32, 25), Solid: make([]float32, 25), Peak: make([]float32, 25)}
		h.Dist[12] = -1
	},
}

// Whatever a pour lacks, pictures and card are made without it.
func TestHeatMadeFromLittle(t *testing.T) {
	for name, strip := range lacking {
		h := ballPour(2)
		strip(h)
		if err := h.check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if s := h.see(); s != nil {
			s.solidPage()
			s.peakPage()
		}
		h.seriesPage()
		in := sample(1, 2)
		in.Heat = h
		in.Plan.Freeze, in.Plan.Cycle = h.Doc.Freeze, h.Doc.Cycle
		pages, err := cardPages(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range pages {
			for _, o := range s.ops {
				for _, l := range o.loops {
					for _, q := range l {
						if !finite(q.X + q.Y) {
							t.Fatalf("%s: a mark without a place on sheet %s", name, s.name)
						}
					}
				}
			}
		}
	}
	h := ballPour(2)
	h.Solid = h.Solid[1:]
	if _, _, _, err := HeatPictures(h); err == nil {
		t.Error("fields of unequal length are drawn")
	}
	if _, _, _, err := HeatPictures(nil); err == nil {
		t.Error("a pour that is not there is drawn")
	}
}

// The card says what was computed, and from the second shot on the longer wait.
func TestCardSaysThePour(t *testing.T) {
	in := sample(1, 2)
	in.Heat = ballPour(1.5)
	in.Plan.Freeze, in.Plan.Cycle = in.Heat.Doc.Freeze, in.Heat.Doc.Cycle
	say := map[string]string{}
	for _, s := range allPages(t, in) {
		say[s.name] += texts(&s.page)
	}
	for sheet, want := range map[string][]string{
		"Front":  {"fill not yet computed", "Open, first shot", "Open, later shots", "open and rest computed"},
		"Pour":   {"Wait 2 min the first time, then 4 min. Open", "About 210 °C. Leather gloves or tongs", "from shot 2 on 4 min"},
		"Freeze": {"Computed, not the short formula", "give or take 7 s", "Shots an hour, one mould", "Bare hands after", "ISO 13732-1", "freezes last in the casting", "It looks cold and is not.", "leather gloves or tongs", "no rest does", "Mould before a pour", "pour 6"},
	} {
		for _, w := range want {
			if !strings.Contains(strings.ToLower(say[sheet]), strings.ToLower(w)) {
				t.Errorf("sheet %s does not say %q: %s", sheet, w, say[sheet])
			}
		}
	}
	in = sample(1, 2)
	for _, s := range allPages(t, in) {
		if s.name == "Freeze" {
			t.Error("a pour that was not computed has a sheet")
		}
	}
}

// Two million cells.
func BenchmarkHeatPictures(b *testing.B) {
	h := ballPour(0.46)
	b.Logf("%d cells", h.Grid.Len())
	for b.Loop() {
		if _, _, _, err := HeatPictures(h); err != nil {
			b.Fatal(err)
		}
	}
}
