package drawing

import "strings"

// bold switches bold on and off inside a text. clean removes it from texts
// that come from outside.
const bold = "\x02"

// strong wraps s in bold.
func strong(s string) string { return bold + s + bold }

// span is a piece of a wrapped line.
type span struct {
	strong bool
	s      string
}

// size is a size of type with its line height.
type size struct{ pt, line float64 }

// The sizes of the look on paper: points, and mm from line to line.
var (
	sizeTitle   = size{24, 10}
	sizeHeading = size{13, 5}
	sizeStep    = size{12, 5.6}
	sizePour    = size{11, 5}
	sizeWords   = size{10.5, 5}
	sizeSmall   = size{8.8, 4.4}
	sizeLabel   = size{7.6, 3.6}
)

// wrap breaks text into lines of at most width mm. Words longer than a line
// are broken between letters.
func wrap(pt, width float64, text string) [][]span { return wrapIn(words, wordsBold, pt, width, text) }

func wrapIn(plainHand, boldHand hand, pt, width float64, text string) [][]span {
	w := &wrapper{hands: [2]hand{plainHand, boldHand}, pt: pt, width: width}
	for i, part := range strings.Split(text, bold) {
		w.strong = i%2 == 1
		for j, s := range strings.Split(part, " ") {
			if j > 0 {
				w.space = w.used > 0
			}
			if s != "" {
				w.word(s)
			}
		}
	}
	if len(w.line) > 0 {
		w.feed()
	}
	return w.lines
}

// wrapper breaks a text into lines, word by word.
type wrapper struct {
	hands  [2]hand // plain and bold
	pt     float64
	width  float64
	strong bool
	space  bool // a space waits to be written before the next word
	used   float64
	line   []span
	lines  [][]span
}

func (w *wrapper) hand() hand {
	if w.strong {
		return w.hands[1]
	}
	return w.hands[0]
}

func (w *wrapper) put(s string, wide float64) {
	if n := len(w.line); n > 0 && w.line[n-1].strong == w.strong {
		w.line[n-1].s += s
	} else {
		w.line = append(w.line, span{w.strong, s})
	}
	w.used += wide
}

func (w *wrapper) feed() {
	w.lines = append(w.lines, w.line)
	w.line, w.used = nil, 0
}

func (w *wrapper) word(s string) {
	wide := widthOf(w.hand(), w.pt, s)
	gap := 0.0
	if w.space {
		gap = widthOf(w.hand(), w.pt, " ")
	}
	if w.used > 0 && w.used+gap+wide > w.width {
		w.feed()
		w.space, gap = false, 0
	}
	if w.space {
		w.put(" ", gap)
		w.space = false
	}
	for wide > w.width {
		cut := fitting(w.hand(), w.pt, w.width-w.used, s)
		w.put(s[:cut], 0)
		w.feed()
		s = s[cut:]
		wide = widthOf(w.hand(), w.pt, s)
	}
	w.put(s, wide)
}

// fitting returns how many bytes of s fit into width, at least one letter.
func fitting(h hand, pt, width float64, s string) int {
	best := 0
	for i := range s {
		if i > 0 && widthOf(h, pt, s[:i]) > width {
			break
		}
		if i > 0 {
			best = i
		}
	}
	if best == 0 {
		for i := range s {
			if i > 0 {
				return i
			}
		}
		return len(s)
	}
	return best
}

// cutTo shortens s with an ellipsis so that it is at most width wide.
func cutTo(h hand, pt, width float64, s string) string {
	if widthOf(h, pt, s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && widthOf(h, pt, string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ") + "…"
}

// putLine draws one wrapped line with its baseline at (x, y).
func (p *page) putLine(plainHand, boldHand hand, pt, x, y float64, line []span) {
	for _, s := range line {
		h := plainHand
		if s.strong {
			h = boldHand
		}
		x += p.print(h, pt, x, y, left, s.s)
	}
}

// putLines draws wrapped lines, the first with its baseline at y, and returns
// the baseline after the last.
func (p *page) putLines(z size, x, y float64, lines [][]span) float64 {
	for _, l := range lines {
		p.putLine(words, wordsBold, z.pt, x, y, l)
		y += z.line
	}
	return y
}

// para wraps and draws text at once.
func (p *page) para(z size, x, y, width float64, text string) float64 {
	return p.putLines(z, x, y, wrap(z.pt, width, text))
}

// flow sets what follows in one column over as many sheets as it takes.
type flow struct {
	c      *card
	s      *sheet
	y      float64 // upper edge of what comes next
	x0, x1 float64
}

// flowOn starts a flow at the top of the body of a new sheet.
func (c *card) flowOn(name, part string) *flow {
	s := c.sheet(name, part)
	return &flow{c: c, s: s, y: s.top, x0: s.x0, x1: s.x1}
}

// room makes sure that h mm are free below, else goes on with a new sheet; it
// reports whether it did.
func (f *flow) room(h float64) bool {
	if f.y+h <= f.s.bottom || f.y <= f.s.top+12 {
		return false
	}
	s := f.c.sheet(f.s.name, f.s.part)
	s.print(wordsBold, sizeHeading.pt, s.x0, s.top+5, left, f.s.name)
	s.print(label, sizeLabel.pt, s.x0+widthOf(wordsBold, sizeHeading.pt, f.s.name)+3, s.top+5, left, "continued")
	f.s, f.y = s, s.top+11
	return true
}

// title sets the head of a sheet: the title at the left, lines of words at the
// right, a rule below.
func (f *flow) title(title string, beside ...string) {
	s := f.s
	z := sizeTitle
	wide := 0.0
	for _, b := range beside {
		wide = max(wide, widthOf(words, sizeStep.pt, b))
	}
	room := s.x1 - s.x0
	if wide > 0 {
		wide = min(wide, room*0.55)
		room -= wide + 6
	}
	if widthOf(wordsBold, z.pt, title) > room {
		z = size{18, 8}
	}
	y := s.top + 9
	lines := wrapIn(wordsBold, wordsBold, z.pt, room, title)
	if len(lines) > 2 {
		lines = lines[:2]
	}
	for i, l := range lines {
		s.putLine(wordsBold, wordsBold, z.pt, s.x0, y+float64(i)*z.line, l)
	}
	yb := y - 3
	for _, b := range beside {
		for _, l := range wrap(sizeStep.pt, max(wide, 1)+0.1, b) {
			w := 0.0
			for _, sp := range l {
				w += widthOf(words, sizeStep.pt, sp.s)
			}
			s.putLine(words, wordsBold, sizeStep.pt, s.x1-w, yb, l)
			yb += 5
		}
	}
	f.y = max(y+float64(len(lines)-1)*z.line+5, yb-1)
	s.line(ruleLine, s.x0, f.y, s.x1, f.y)
	f.y += 4
}

// heading sets a heading with a small remark behind it.
func (f *flow) heading(text, remark string) {
	f.room(16)
	f.y += 3
	w := f.s.print(wordsBold, sizeHeading.pt, f.x0, f.y+4, left, text)
	if remark != "" {
		f.s.print(label, sizeLabel.pt, f.x0+w+3.5, f.y+4, left, cutTo(label, sizeLabel.pt, f.x1-f.x0-w-4, remark))
	}
	f.y += 7
}

// text sets a paragraph.
func (f *flow) text(z size, t string) {
	for _, l := range wrap(z.pt, f.x1-f.x0, t) {
		f.room(z.line)
		f.s.putLine(words, wordsBold, z.pt, f.x0, f.y+0.76*z.line, l)
		f.y += z.line
	}
}

// step is one thing to do: what is said in large, remarks below it, a caution
// that names the danger in bold first, and a blank to fill in.
type step struct {
	do      string
	small   []string
	caution string
	blank   string // label before a blank line
	unit    string // behind it
}

// steps sets numbered steps with tick boxes, starting at number n, and returns
// the next number.
func (f *flow) steps(z size, n int, list []step) int {
	for _, st := range list {
		f.step(z, n, st)
		n++
	}
	return n
}

func (f *flow) step(z size, n int, st step) {
	const indent = 16.5
	x := f.x0 + indent
	wide := f.x1 - x
	do := wrap(z.pt, wide, st.do)
	var small [][][]span
	h := float64(len(do)) * z.line
	for _, t := range st.small {
		l := wrap(sizeSmall.pt+0.7, wide, t)
		small = append(small, l)
		h += float64(len(l)) * sizeSmall.line
	}
	if st.blank != "" {
		h += 7
	}
	var caution [][]span
	if st.caution != "" {
		caution = wrap(sizeWords.pt, wide-4, st.caution)
		h += float64(len(caution))*sizeWords.line + 2.2
	}
	h = max(h+1.8, 9.2)
	f.room(h)
	s := f.s
	s.rect(frameLine, f.x0, f.y, 7, 7)
	base := f.y + 4.9
	s.print(wordsBold, z.pt, f.x0+14.2, base, right, grouped(float64(n), 0))
	y := s.putLines(z, x, base, do)
	y += sizeSmall.line - z.line
	for _, l := range small {
		y = s.putLines(size{sizeSmall.pt + 0.7, sizeSmall.line}, x, y, l)
	}
	if st.blank != "" {
		y += 2.2
		w := s.print(words, sizeSmall.pt+0.7, x, y, left, st.blank)
		s.line(ruleLine, x+w+2, y+0.6, x+w+30, y+0.6)
		s.print(words, sizeSmall.pt+0.7, x+w+31.5, y, left, st.unit)
		y += 4.8
	}
	if caution != nil {
		y += 0.9
		top := y - 3.9
		y = s.putLines(sizeWords, x+4, y, caution)
		s.fill(black, box(x, top, cautionBar, y-sizeWords.line+1.3-top))
	}
	f.y += h
}

// blanks sets labelled lines to write on, side by side, height mm high.
func (f *flow) blanks(height float64, labels ...string) {
	f.room(height + 5)
	f.s.blanks(f.x0, f.y, f.x1-f.x0, height, labels...)
	f.y += height + 5
}

func (p *page) blanks(x, y, wide, height float64, labels ...string) {
	const gap = 5
	w := (wide - gap*float64(len(labels)-1)) / float64(len(labels))
	for i, l := range labels {
		bx := x + float64(i)*(w+gap)
		p.print(label, sizeLabel.pt, bx, y+3, left, cutTo(label, sizeLabel.pt, w, l))
		p.line(ruleLine, bx, y+3+height, bx+w, y+3+height)
	}
}

// rule draws a line across the column.
func (f *flow) rule() {
	f.s.line(ruleLine, f.x0, f.y, f.x1, f.y)
	f.y += 1.5
}
