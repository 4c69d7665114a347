package drawing

import (
	"fmt"
	"strings"

	"pourwright/internal/ground/vec"
)

// stock is a size of paper.
type stock struct {
	name string
	w, h float64
}

var (
	a4     = stock{"A4", 210, 297}
	letter = stock{"Letter", 215.9, 279.4}
)

// stockOf returns the paper of that name, A4 where it is empty.
func stockOf(name string) (stock, bool) {
	switch strings.ToLower(strings.TrimSpace(name)) {
	case "", "a4":
		return a4, true
	case "letter":
		return letter, true
	}
	return stock{}, false
}

// Margins of a sheet: the left edge is wide for holes.
const (
	edgeLeft  = 20
	edgeOther = 10
	headBand  = 16
	footBand  = 7
	inset     = 5
)

// card collects the sheets of one document.
type card struct {
	in    *Input
	stock stock
	pages []*sheet
}

// sheet is a page with the frame, the head and the foot of the house.
type sheet struct {
	page
	name   string  // in the head
	part   string  // half 1, half 2, both halves, or empty
	x0, x1 float64 // body
	top    float64
	bottom float64
}

// sheet starts a new sheet: frame with the notch, punch mark, head band.
func (c *card) sheet(name, part string) *sheet {
	w, h := c.stock.w, c.stock.h
	s := &sheet{page: page{w: w, h: h}, name: name, part: part}
	s.x0, s.x1 = edgeLeft+inset, w-edgeOther-inset
	s.top, s.bottom = edgeOther+headBand+3, h-edgeOther-footBand-1.5
	fw := w - edgeLeft - edgeOther
	mid := edgeLeft + fw/2
	s.stroke(frameLine, nil, true, []vec.V2{
		{X: edgeLeft, Y: edgeOther}, {X: mid - 4, Y: edgeOther}, {X: mid, Y: edgeOther + 4}, {X: mid + 4, Y: edgeOther},
		{X: w - edgeOther, Y: edgeOther}, {X: w - edgeOther, Y: h - edgeOther}, {X: edgeLeft, Y: h - edgeOther},
	})
	s.line(thinLine, 10, h/2, 14, h/2)
	c.head(s, fw)
	c.pages = append(c.pages, s)
	return s
}

// head sets the six fields of the head band. The cells take the width that
// their entries need; where all together need too much, the type becomes
// smaller and the longest entries are shortened.
func (c *card) head(s *sheet, fw float64) {
	labels := [6]string{"Workshop", "Sheet", "Job", "Mould", "Plan", "Date"}
	n := c.in.Names
	entry := [6]string{clean(n.Workshop), s.name, clean(n.Job), clean(n.Mould), clean(n.Version), ""}
	// The notch hangs over the middle, between the third and the fourth label.
	least := [6]float64{34, 26, 20, 20, 20, 30}
	const pad = 5
	pt := sizeWords.pt
	width := least
	need := func() float64 {
		sum := 0.0
		for i := range width {
			width[i] = max(least[i], widthOf(wordsBold, pt, entry[i])+pad)
			sum += width[i]
		}
		return sum
	}
	total := need()
	if total > fw {
		pt = sizeSmall.pt
		total = need()
	}
	for total > fw {
		widest := 0
		for i := range width {
			if width[i]-least[i] > width[widest]-least[widest] {
				widest = i
			}
		}
		cut := min(total-fw, max(2, width[widest]-least[widest]))
		width[widest] -= cut
		total -= cut
	}
	width[5] += fw - total
	x := float64(edgeLeft)
	for i := range labels {
		s.print(label, sizeLabel.pt, x+2.5, edgeOther+7.8, left, labels[i])
		s.print(wordsBold, pt, x+2.5, edgeOther+12.6, left, cutTo(wordsBold, pt, width[i]-3.5, entry[i]))
		if i > 0 {
			s.headRule(x)
		}
		x += width[i]
	}
	s.line(ruleLine, edgeLeft, edgeOther+headBand, edgeLeft+fw, edgeOther+headBand)
}

// headRule draws an upright of the head band, which starts under the notch
// where it meets it.
func (s *sheet) headRule(x float64) {
	mid := edgeLeft + (s.w-edgeLeft-edgeOther)/2
	y := float64(edgeOther)
	if d := x - mid; d > -4 && d < 4 {
		y += 4 - max(d, -d)
	}
	s.line(ruleLine, x, y, x, edgeOther+headBand)
}

// feet writes the foot of every sheet, once their number is known.
func (c *card) feet() {
	left0 := clean(c.in.Names.Title)
	if n := c.in.cavities(); n > 1 {
		left0 += ", " + counted(n) + " in a mould"
	}
	state := c.in.state()
	for i, s := range c.pages {
		y := s.h - edgeOther - 2.6
		right0 := fmt.Sprintf("Sheet %d of %d", i+1, len(c.pages))
		if s.part != "" {
			right0 = s.part + nb + nb + nb + right0
		}
		wm := widthOf(label, sizeLabel.pt, state)
		x0, x1 := edgeLeft+2.5, s.w-edgeOther-2.5
		mid := (x0 + x1) / 2
		s.print(label, sizeLabel.pt, x1, y, right, right0)
		s.print(label, sizeLabel.pt, mid, y, middle, state)
		s.print(label, sizeLabel.pt, x0, y, left, cutTo(label, sizeLabel.pt, mid-wm/2-4-x0, left0))
	}
}
