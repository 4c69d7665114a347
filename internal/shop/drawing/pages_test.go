package drawing

import (
	"bytes"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"pourwright/internal/book/plan"
	"pourwright/internal/shape/mesh"
)

// crowded is the sample with everything too long and too many.
func crowded(paper string) *Input {
	in := sample(2, 2)
	in.Paper = paper
	in.Names.Title = strings.Repeat("A very long title of a piece ", 8)
	in.Names.Workshop = "Workshopwithanameofmanylettersandnospaceatall & Sons, Lower Rill Yard"
	in.Names.Job = "a-job-file-with-a-long-name-2026-11"
	in.Names.Mould = "MOULD-0231-A-SECOND-RUN"
	in.Names.Version = "no. 1234"
	in.Names.Alloy = "pewter ąęłżČ 漢字 with a long description from somebody's own data sheet"
	p := in.Plan
	for i := range 40 {
		p.Findings = append(p.Findings, plan.Finding{Code: "pocket", Severity: []string{plan.Must, plan.Should, plan.Note}[i%3], At: &plan.P3{float64(i), -6, 2}, Cavity: plan.Ptr(i % 2), Half: plan.Ptr(1 + i%2),
			Computed: plan.Ptr(1e7 * float64(i)), Limit: plan.Ptr(1e-5), Say: strings.Repeat("air stays here and there ", 1+i%9), Do: strings.Repeat("Aword"+strings.Repeat("x", 3*i)+" ", 2)})
		p.Figures = append(p.Figures, plan.Figure{Name: fmt.Sprintf("figure.number_%d.with_a_long_name", i), Value: 1.5e9, Unit: "W/(m2 K)", Formula: strings.Repeat("a + b ", 4*i), Inputs: map[string]float64{"a": 1, "b": 2, "long_input_name": 3}, Source: "somewhere"})
		p.Guessed = append(p.Guessed, plan.Guess{Input: strings.Repeat("guess ", 1+i%7), Used: 1e6, Range: [2]float64{-1e9, 1e9}})
	}
	for i := range 30 {
		f := float64(i)
		p.Block.Cuts = append(p.Block.Cuts, plan.Cut{No: 3 + i, Half: 1 + i%2, Width: 3, Depth: 0.2, When: "if short", Path: []plan.P3{{-40 + 2.5*f, 10, 0}, {-40 + 2.5*f, 71, 0}}})
	}
	p.Order.Cost.Currency = "a long currency"
	p.Order.Castings, p.Order.Shots = 12000, plan.Ptr(6000)
	p.Rubber.Halves[0].Parts = plan.Parts{A: 12345.6, B: 617.3}
	p.Metal.ChargeMass, p.Metal.WholeMass, p.Metal.Ladles = 123456, 120000, plan.Ptr(3)
	in.Bench.OpenAfter = 5700
	return in
}

// large is the sample in a block that needs tiles.
func large(paper string) *Input {
	in := sample(2, 2)
	in.Paper = paper
	in.Plan.Block.Size = plan.P3{420, 310, 90}
	in.Plan.Block.Clamps.Board.Size = plan.P3{460, 320, 25}
	in.Plan.Block.Clamps.Count = 6
	return in
}

// bare is a plan with as little in it as there can be.
func bare() *Input {
	in := sample(1, 2)
	in.Names, in.Bench = Names{}, Bench{}
	p := in.Plan
	p.Findings, p.Figures, p.Guessed, p.Order, p.Split.Undercuts = nil, nil, nil, plan.Order{}, nil
	b := p.Block
	b.Keys, b.Cuts, b.FlowOffs, b.Ingates, b.Clamps = nil, nil, nil, nil, plan.Clamps{}
	p.Verdict = plan.Pour
	return in
}

func allPages(t *testing.T, in *Input) []*sheet {
	t.Helper()
	pages, err := cardPages(in)
	if err != nil {
		t.Fatal(err)
	}
	if in.Plan.Block != nil {
		more, err := templatePages(in)
		if err != nil {
			t.Fatal(err)
		}
		pages = append(pages, more...)
	}
	return pages
}

func everyInput() map[string]*Input {
	l := map[string]*Input{"no": refused(), "bare": bare()}
	for _, paper := range []string{"A4", "Letter"} {
		for n := 1; n <= 2; n++ {
			in := sample(n, 2)
			in.Paper = paper
			l[fmt.Sprint(paper, " ", n)] = in
		}
		for n := 1; n <= 2; n++ {
			in := sample(n, 2)
			if n == 2 {
				in = crowded(paper)
			}
			in.Heat = ballPour(1.5)
			in.Paper, in.Plan.Freeze, in.Plan.Cycle = paper, in.Heat.Doc.Freeze, in.Heat.Doc.Cycle
			l[fmt.Sprint(paper, " computed ", n)] = in
		}
		l[paper+" crowded"] = crowded(paper)
		l[paper+" large"] = large(paper)
	}
	return l
}

func TestNoTextOverlapsOrLeavesTheFrame(t *testing.T) {
	for name, in := range everyInput() {
		for n, s := range allPages(t, in) {
			var boxes []window
			var texts []string
			for i := range s.ops {
				o := &s.ops[i]
				if o.kind != opText {
					continue
				}
				lo, hi := textBox(o)
				w := window{lo.X, lo.Y, hi.X, hi.Y}
				if w.x0 < edgeLeft || w.x1 > s.w-edgeOther || w.y0 < edgeOther-0.5 || w.y1 > s.h-edgeOther {
					t.Errorf("%s, page %d (%s): %q leaves the frame", name, n+1, s.name, o.text)
				}
				for k, b := range boxes {
					if min(w.x1, b.x1)-max(w.x0, b.x0) > 0.3 && min(w.y1, b.y1)-max(w.y0, b.y0) > 0.3 {
						t.Errorf("%s, page %d (%s): %q and %q overlap", name, n+1, s.name, o.text, texts[k])
					}
				}
				boxes, texts = append(boxes, w), append(texts, o.text)
				if o.pt < 7.15 && o.col != accent {
					t.Errorf("%s, page %d: %q is set in %.1f pt, less than 7.2", name, n+1, o.text, o.pt)
				}
			}
		}
	}
}

func TestEverySheetIsNamed(t *testing.T) {
	in := sample(1, 2)
	for n, s := range allPages(t, in) {
		all := ""
		for _, o := range s.ops {
			all += "|" + o.text
		}
		for _, want := range []string{"0231", "0231-A", "no. 3", "Rill Yard", "Date", "Bent drop pull", "Sheet "} {
			if !strings.Contains(all, want) {
				t.Errorf("page %d (%s) does not say %q", n+1, s.name, want)
			}
		}
	}
}

func TestSameBytesEveryTime(t *testing.T) {
	make := func() [][]byte {
		in := sample(2, 1.5)
		var out [][]byte
		for _, f := range []func(*Input) ([]byte, error){Card, Templates} {
			b, err := f(in)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, b)
		}
		s, l, c, err := Pictures(in)
		if err != nil {
			t.Fatal(err)
		}
		return append(out, s, l, c)
	}
	a := make()
	time.Sleep(1100 * time.Millisecond) // dates in the files would move on
	t.Setenv("TZ", "Asia/Kolkata")
	old := runtime.GOMAXPROCS(1)
	b := make()
	runtime.GOMAXPROCS(old)
	for i := range a {
		if !bytes.Equal(a[i], b[i]) {
			t.Errorf("file %d differs between two runs", i)
		}
	}
}

func TestRefusesUnknownPaper(t *testing.T) {
	in := bare()
	in.Paper = "A3"
	if _, err := Card(in); err == nil || !strings.Contains(err.Error(), "A3") {
		t.Errorf("paper A3: %v", err)
	}
	if _, err := Templates(refused()); err == nil {
		t.Error("templates of a plan without a block are made")
	}
	s, l, c, err := Pictures(refused())
	if err != nil || len(s) == 0 || l != nil || c != nil {
		t.Errorf("pictures of a refused plan: %d %d %d bytes, %v", len(s), len(l), len(c), err)
	}
}

func TestSideBySide(t *testing.T) {
	in := sample(2, 2)
	var wg sync.WaitGroup
	for _, f := range []func() error{
		func() error { _, err := Card(in); return err },
		func() error { _, err := Templates(in); return err },
		func() error { _, _, _, err := Pictures(in); return err },
	} {
		wg.Go(func() {
			if err := f(); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
}

// Whatever is missing from an input, the paper is made without it.
func TestMadeFromLittle(t *testing.T) {
	for name, strip := range map[string]func(*Input){
		"no surface":   func(in *Input) { in.Surface = nil },
		"no metal":     func(in *Input) { in.Metal = nil },
		"empty metal":  func(in *Input) { in.Metal = &mesh.Mesh{} },
		"no master":    func(in *Input) { in.Master = nil },
		"empty master": func(in *Input) { in.Master = &mesh.Mesh{} },
		"open master": func(in *Input) {
			in.Master = &mesh.Mesh{V: in.Master.V, F: in.Master.F[:len(in.Master.F)/2]}
		},
		"no line":       func(in *Input) { in.Plan.Split.Line = nil },
		"no placements": func(in *Input) { in.Plan.Block.Placements = nil },
		"no rubber":     func(in *Input) { in.Plan.Rubber = nil },
		"no metal row":  func(in *Input) { in.Plan.Metal = nil },
		"no pull":       func(in *Input) { in.Plan.Split.Pull, in.Plan.Stand.Up = plan.P3{}, plan.P3{} },
		"thin block":    func(in *Input) { in.Plan.Block.Size = plan.P3{8, 8, 2} },
	} {
		in := sample(2, 2)
		strip(in)
		for _, s := range allPages(t, in) {
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
		if _, err := Card(in); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if _, _, _, err := Pictures(in); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
