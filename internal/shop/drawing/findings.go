package drawing

import (
	"strings"

	"pourwright/internal/book/plan"
)

// findings makes the sheet of findings: numbered ones first, remarks after.
func (c *card) findings() {
	p := c.in.Plan
	if len(p.Findings) == 0 {
		return
	}
	v := c.in.look()
	notes, told := false, false
	for i := range p.Findings {
		notes = notes || v.numbers[i] == 0
		told = told || v.numbers[i] > 0
	}
	told = told && p.Block != nil // else they stand on the front, in full
	_, more := c.in.guessed()
	if !notes && !told && len(more) == 0 {
		return
	}
	f := c.flowOn("Findings", "")
	if told {
		f.title("Findings", "What happens where, the figure against", "its limit, what to do.")
		for i, fd := range p.Findings {
			if v.numbers[i] > 0 {
				c.finding(f, i, fd)
			}
		}
	}
	defer c.otherGuesses(f)
	switch {
	case told && notes:
		f.heading("Remarks", "nothing to do unless they say so")
	case !told && p.Block != nil:
		f.title("Remarks", "Nothing to do here unless it says so.")
	case !told:
		f.title("Remarks", "The reasons stand on the front.", "Nothing to do here unless it says so.")
	}
	for i, fd := range p.Findings {
		if v.numbers[i] == 0 {
			c.finding(f, i, fd)
		}
	}
}

var severityWords = map[string]string{plan.Must: "must be done", plan.Should: "should be done", plan.Note: "note"}

// finding sets one finding: its number, what is so, the figure against the
// limit, what to do, and where it is.
func (c *card) finding(f *flow, i int, fd plan.Finding) {
	no := c.in.look().numbers[i]
	const side = 34
	const indent = 9
	x := f.x0 + indent
	wide := f.x1 - x - side - 5
	text := strong(full(fd.Say))
	if no == 0 {
		text = full(fd.Say)
	}
	if d := full(fd.Do); d != "" {
		text += " " + d
	}
	lines := wrap(sizeWords.pt, wide, text)
	var notes []string
	notes = append(notes, severityWords[fd.Severity])
	notes = append(notes, against(fd)...)
	if w := c.where(fd); w != "" {
		notes = append(notes, w)
	}
	var note [][]span
	for _, n := range notes {
		note = append(note, wrapIn(label, labelBold, sizeLabel.pt, side, n)...)
	}
	h := max(float64(len(lines))*sizeWords.line, float64(len(note))*sizeLabel.line) + 3.4
	f.room(h)
	s := f.s
	y := f.y + 4.4
	if no > 0 {
		s.printIn(accent, wordsBold, 13, f.x0, y+0.4, left, grouped(float64(no), 0))
	}
	s.putLines(sizeWords, x, y, lines)
	ny := y
	s.line(thinLine, f.x1-side-2, f.y+1.4, f.x1-side-2, f.y+h-2)
	for _, l := range note {
		s.putLine(label, labelBold, sizeLabel.pt, f.x1-side, ny-0.6, l)
		ny += sizeLabel.line
	}
	f.y += h
	s.line(hairLine, f.x0, f.y-0.6, f.x1, f.y-0.6)
}

// measures says how the figures of a finding are spoken, by its code: what
// stands here is a figure against a limit; the figures of other findings are
// told in their sentence.
var measures = map[string]func(float64) string{
	"thin": inThin, "head": inMM, "dead-end": inMM, "seam": inMM, "section": inMM,
	"undercut": Share, "needs-piece": Share,
	"too-hot": inCelsius, "pocket": Cubic, "masters": wholeNumber,
}

func inMM(x float64) string        { return Length(x) + nb + "mm" }
func inThin(x float64) string      { return Thin(x) + nb + "mm" }
func inCelsius(x float64) string   { return grouped(x, 0) + nb + "°C" }
func wholeNumber(x float64) string { return grouped(x, 0) }

// against says the figure of a finding and its limit, with the unit.
func against(fd plan.Finding) []string {
	say := measures[fd.Code]
	if say == nil || fd.Computed == nil || fd.Limit == nil || *fd.Limit == 0 {
		return nil
	}
	a, b := say(*fd.Computed), say(*fd.Limit)
	if a == b && *fd.Computed != *fd.Limit {
		return nil
	}
	word := "computed"
	if fd.Code == "masters" {
		word = "on the bench"
		return []string{a + " " + word, b + " are needed"}
	}
	return []string{a + " " + word, b + " is the limit"}
}

// where says the place of a finding in words.
func (c *card) where(fd plan.Finding) string {
	var w string
	if fd.Half != nil {
		w = "half " + grouped(float64(*fd.Half), 0)
	}
	if fd.Cavity != nil && c.in.cavities() > 1 {
		if w != "" {
			w += ", "
		}
		w += pieceName(c.in, *fd.Cavity)
	}
	if fd.At != nil {
		if w != "" {
			w += ", "
		}
		a := *fd.At
		w += "at " + grouped(a[0], 1) + " / " + grouped(a[1], 1) + " / " + grouped(a[2], 1) + nb + "mm of the master"
	}
	return w
}

// pieceName names cavity n, counted from 1, as the templates do.
func pieceName(in *Input, n int) string {
	if n >= 1 && n <= len(in.look().masters) {
		return cavityName(in, n-1)
	}
	return "piece " + grouped(float64(n), 0)
}

// figures makes the sheet that shows how each figure was got.
func (c *card) figures() {
	p := c.in.Plan
	if len(p.Figures) == 0 || (len(p.Figures) == 1 && p.Figures[0].Name == PlanNumber) {
		return
	}
	f := c.flowOn("Figures", "")
	f.title("How each figure was got", "Formula, what went in, source.", "Lengths in mm, masses in g, times in s", "unless the formula says otherwise.")
	c.sideTable(f)
	wide := f.x1 - f.x0
	const nameWide = 46
	const valueWide = 26
	for _, g := range p.Figures {
		if _, _, side := sideOf(g); side || g.Name == PlanNumber {
			continue // in the table of the sides; in the head
		}
		name := wrap(sizeSmall.pt+0.7, nameWide-3, strong(typeset(sayInput(g.Name))))
		value := figureValue(g)
		text := typeset(clean(g.Formula))
		if in := inputsWords(g); in != "" {
			text += "; with " + in
		}
		if b, ok := c.in.band(g.Name); ok {
			lo, hi := g, g
			lo.Value, hi.Value = b.Low, b.High
			text += ". By the measures " + Between(figureValue(lo), figureValue(hi))
		}
		if src := clean(g.Source); src != "" {
			text += ". From: " + sourced(src)
		}
		lines := wrap(sizeSmall.pt, wide-nameWide-valueWide-2, text)
		val := wrap(sizeSmall.pt+0.7, valueWide-1, strong(value))
		h := max(float64(len(lines))*4.1, float64(len(name))*sizeSmall.line, float64(len(val))*sizeSmall.line) + 2.2
		f.room(h)
		s := f.s
		s.putLines(sizeSmall, f.x0, f.y+4, name)
		yy := f.y + 4
		for _, l := range val {
			w := 0.0
			for _, sp := range l {
				w += widthOf(spanHand(sp), sizeSmall.pt+0.7, sp.s)
			}
			s.putLine(words, wordsBold, sizeSmall.pt+0.7, f.x0+nameWide+valueWide-2-w, yy, l)
			yy += sizeSmall.line
		}
		s.putLines(size{sizeSmall.pt, 4.1}, f.x0+nameWide+valueWide+2, f.y+4, lines)
		f.y += h
		s.line(hairLine, f.x0, f.y, f.x1, f.y)
	}
}

// PlanNumber is the name of the figure that holds the number of the plan.
const PlanNumber = "plan number"

// seconds says a time of the table of figures: seconds up to two minutes, then
// minutes, from 90 of them hours.
func seconds(s float64) string {
	switch {
	case s < 120:
		return plain(s) + nb + "s"
	case s < 5400:
		return plain(s/60) + nb + "min"
	}
	return plain(s/3600) + nb + "h"
}

// typeset writes a formula as one reads it: a cross for times, raised powers.
func typeset(s string) string {
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		s = "−" + rest
	}
	return celsius(raised(strings.NewReplacer(" x ", " × ", "^2", "²", "^3", "³", "^4", "⁴", " - ", " − ", "(-", "(−").Replace(s)))
}
