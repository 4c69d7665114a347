package drawing

import (
	"sort"

	"pourwright/internal/book/plan"
)

// findings makes the sheet of findings: numbered ones first, remarks after.
func (c *card) findings() {
	p := c.in.Plan
	if len(p.Findings) == 0 {
		return
	}
	f := c.flowOn("Findings", "")
	f.title("Findings", "What happens where, the figure against its limit, what to do.")
	v := c.in.look()
	notes := false
	for i, fd := range p.Findings {
		if v.numbers[i] > 0 {
			c.finding(f, i, fd)
		} else {
			notes = true
		}
	}
	if !notes {
		return
	}
	f.heading("Remarks", "nothing to do unless they say so")
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
	wide := f.x1 - x - side - 3
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
	if fd.Computed != nil {
		notes = append(notes, plain(*fd.Computed)+" computed")
	}
	if fd.Limit != nil {
		notes = append(notes, plain(*fd.Limit)+" is the limit")
	}
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
		s.print(wordsBold, 13, f.x0, y+0.4, left, grouped(float64(no), 0))
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
		w += "cavity " + grouped(float64(*fd.Cavity), 0)
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

// figures makes the sheet that shows how each figure was got.
func (c *card) figures() {
	p := c.in.Plan
	if len(p.Figures) == 0 {
		return
	}
	f := c.flowOn("Figures", "")
	f.title("How each figure was got", "Formula, what went in, source.")
	wide := f.x1 - f.x0
	const nameWide = 46
	const valueWide = 26
	for _, g := range p.Figures {
		name := wrap(sizeSmall.pt+0.7, nameWide-3, strong(sayInput(g.Name)))
		value := plain(g.Value)
		switch u := raised(clean(g.Unit)); u {
		case "", "1":
		case "share":
			value = Share(g.Value)
		default:
			value += nb + u
		}
		text := raised(clean(g.Formula))
		if in := inputsWords(g.Inputs); in != "" {
			text += "; with " + in
		}
		if src := clean(g.Source); src != "" {
			text += ". From: " + src
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

// inputsWords lists the inputs of a figure by name.
func inputsWords(in map[string]float64) string {
	keys := make([]string, 0, len(in))
	for k := range in {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	s := ""
	for i, k := range keys {
		if i > 0 {
			s += ", "
		}
		s += sayInput(k) + nb + plain(in[k])
	}
	return s
}
