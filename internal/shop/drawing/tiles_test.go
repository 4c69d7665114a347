package drawing

import (
	"fmt"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
)

// Every word of a drawing that is cut into tiles stands whole on one of them:
// words across a joint are moved, not dropped.
func TestTilesLoseNoWords(t *testing.T) {
	for _, paper := range []string{"A4", "Letter"} {
		in := large(paper)
		c := &card{in: in}
		c.stock, _ = stockOf(paper)
		in.look()
		items := []func() *item{
			func() *item { return in.halfItem(0, 100, 100) },
			func() *item { return in.halfItem(1, 100, 100) },
			func() *item { return in.bedItem(100, 100) },
			func() *item { return in.boardItem(100, 100) },
			func() *item { return in.wallItems()[0] },
			func() *item { return in.wallItems()[3] },
			func() *item { return in.maskItems()[0] },
			func() *item { return in.stripItems()[0] },
		}
		for _, make := range items {
			i := make()
			for x := 20.0; x < i.w-60; x += 7 {
				i.print(label, 8, x, 3+10*x/i.w, left, fmt.Sprintf("words at %.0f mm, longer than the overlap", x))
			}
			tr := &tray{c: c}
			tr.begin("Test", "", "")
			from := len(c.pages)
			tr.put(i)
			if i.w > tr.wide() && len(c.pages) < from+1 {
				t.Errorf("%s, %s: %.0f mm wide and not in tiles", paper, i.name, i.w)
			}
			all := map[string]int{}
			for _, s := range c.pages[from:] {
				for _, o := range s.ops {
					all[o.text]++
				}
			}
			for _, o := range i.ops {
				if o.kind == opText && all[o.text] == 0 {
					t.Errorf("%s, %s: the words %q stand on no tile", paper, i.name, o.text)
				}
			}
		}
	}
}

// The letter of a joint goes where the drawing leaves room: off the words, and
// off the lines where some place on the joint has none.
func TestJointsKeepOffTheDrawing(t *testing.T) {
	p := &page{w: 200, h: 100}
	p.print(label, 8, 95, 31, left, "words in the way")
	p.line(cutLine, 0, 36, 200, 36)
	p.line(cutLine, 0, 26, 200, 26)
	g := &grid{nx: 2, ny: 1, cw: 100, ch: 100, over: 5}
	for c := range 2 {
		q := &page{}
		g.joints(q, p, 0, 0, 0, c)
		n := 0
		for _, o := range q.ops {
			if o.kind != opText {
				continue
			}
			n++
			lo, hi := textBox(&o)
			if w := (window{lo.X, lo.Y, hi.X, hi.Y}); busy(p, w) > 0 {
				t.Errorf("tile %d: the letter at %.1f, %.1f lies on the drawing", c, lo.X, lo.Y)
			}
		}
		if n != 2 {
			t.Errorf("tile %d has %d letters, not a pair", c, n)
		}
	}
}

// The front shows the guesses that decide first, five in all, and no guess is
// lost between the front and the sheet behind the findings.
func TestGuessesFrontAndBehind(t *testing.T) {
	in := sample(1, 2)
	in.Plan.Guessed = nil
	in.Plan.Order.Cost = nil
	for i := range 12 {
		in.Plan.Guessed = append(in.Plan.Guessed, plan.Guess{Input: fmt.Sprintf("guess number %d", i), Used: 1, Range: [2]float64{0, 2}, Flips: plan.Ptr(i == 7)})
	}
	in.Plan.Guessed[11] = plan.Guess{Input: "castings that fail, share", Used: 0.15, Range: [2]float64{0.05, 0.3}, Flips: plan.Ptr(false)}
	front, rest := in.guessed()
	if len(front) != 5 || front[0].Input != "guess number 7" || len(front)+len(rest) != 12 {
		t.Fatalf("front %v, rest %v", front, rest)
	}
	pages, err := cardPages(in)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]string{}
	for _, s := range pages {
		for _, o := range s.ops {
			seen[o.text] += s.name + " "
		}
	}
	for i := range 11 {
		if w := seen[fmt.Sprintf("guess number %d", i)]; strings.Count(w, " ") != 1 {
			t.Errorf("guess %d stands on %q", i, w)
		}
	}
	if seen["castings that fail, %"] == "" || seen["15"] == "" {
		t.Error("a share among the guesses is not said in per cent")
	}
}

// Findings that ask the same are told once, with all their numbers.
func TestSameAdviceOnce(t *testing.T) {
	in := sample(1, 2)
	in.Names.Sentence = ""
	in.Plan.Verdict = plan.Care
	in.Plan.Findings = nil
	for i := range 3 {
		in.Plan.Findings = append(in.Plan.Findings, plan.Finding{Code: "undercut", Severity: plan.Should, At: &plan.P3{float64(9 * i), 0, 0}, Say: fmt.Sprintf("undercut %d", i), Do: "peel it"})
	}
	s := strings.ReplaceAll(in.sentence(), nb, " ")
	if strings.Count(s, "Peel it.") != 1 || !strings.Contains(s, "(1, 2, 3)") {
		t.Errorf("the sentence is %q", s)
	}
}

// A short piece of fold lines that hangs on nothing is left out; a long one and
// one at the outline stay.
func TestSpecksOfFolds(t *testing.T) {
	s := &cast{w: 200, h: 40, depth: make([]float32, 200*40), tri: make([]int32, 200*40)}
	ink := make([]uint8, s.w*s.h)
	for x := range 200 {
		ink[x] = inkEdge
	}
	run := func(x, y, n int) {
		for i := range n {
			ink[y*s.w+x+i] = inkFold
		}
	}
	run(10, 20, 20)  // a speck
	run(100, 30, 80) // a long fold
	run(150, 2, 10)  // at the outline
	s.dropSpecks(ink)
	for _, k := range []struct {
		x, y int
		want uint8
	}{{15, 20, inkNone}, {120, 30, inkFold}, {155, 2, inkFold}, {50, 0, inkEdge}} {
		if got := ink[k.y*s.w+k.x]; got != k.want {
			t.Errorf("pixel %d, %d is inked %d, not %d", k.x, k.y, got, k.want)
		}
	}
}
