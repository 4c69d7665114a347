package drawing

import (
	"math"
	"strings"

	"pourwright/internal/book/plan"
)

// row is a name with a figure to weigh or to watch.
type row struct{ name, figure, unit string }

// figureRows sets names and large figures, the unit behind, a line under each.
func (p *page) figureRows(x0, x1, y float64, rows []row) float64 {
	high := 8.0
	if p.h < a4.h {
		high = 7.0
	}
	unitWide := 0.0
	for _, r := range rows {
		unitWide = max(unitWide, widthOf(label, 8, r.unit))
	}
	for _, r := range rows {
		if r.figure == "" {
			continue
		}
		p.print(label, 8, x1-unitWide, y+high-2, left, r.unit)
		fx := x1 - unitWide - 1.2
		pt := 18.0
		if widthOf(wordsBold, pt, r.figure) > (x1-x0)*0.55 {
			pt = 13
		}
		w := p.print(wordsBold, pt, fx, y+high-2, right, r.figure)
		p.print(words, sizeWords.pt, x0, y+high-2, left, cutTo(words, sizeWords.pt, fx-w-2-x0, r.name))
		p.line(hairLine, x0, y+high, x1, y+high)
		y += high
	}
	return y
}

// front makes the first sheet: the verdict and its reason, the mould, what to
// weigh, what to watch, what was guessed.
func (c *card) front() {
	in := c.in
	f := c.flowOn("Front", "")
	c.frontHead(f)
	reason := size{13, 6}
	if len(wrap(reason.pt, f.x1-f.x0, in.sentence())) > 3 {
		reason = size{11.5, 5.2}
	}
	if len(wrap(reason.pt, f.x1-f.x0, in.sentence())) > 4 {
		reason = size{10.5, 4.7}
	}
	f.text(reason, in.sentence())
	f.y += 2
	if in.Plan.Block != nil {
		c.frontColumns(f)
	} else {
		c.refusal(f)
	}
	c.guesses(f)
	c.begin(f)
	s := f.s
	// the label, 7 mm to write in, and 2 mm below
	const high = 12
	y := max(s.bottom-14, min(f.y, s.bottom-high))
	if f.y > y+1.5 {
		f.room(s.bottom)
		s, y = f.s, f.s.bottom-14
	}
	s.blanks(s.x0, y, s.x1-s.x0, min(8.5, s.bottom-y-4.5), "Made by", "First cast on", "If poured against the advice, why")
}

func (c *card) frontHead(f *flow) {
	in, s := c.in, f.s
	under := in.state()
	under = strings.ToLower(under[:1]) + under[1:]
	estimate := in.Plan.Verdict != plan.No && (!in.Plan.Freeze.Computed || !in.Plan.Fill.Computed)
	if estimate {
		switch {
		case in.standsIn():
			under = "from measures, not computed"
		case !in.Plan.Fill.Computed && !in.Plan.Freeze.Computed:
			under = "fill and freeze not yet computed"
		case !in.Plan.Fill.Computed:
			under = "fill not yet computed"
		default:
			under = "freeze not yet computed"
		}
	}
	if in.Plan.Verdict == plan.No {
		under = refusedUnder(in.Plan)
	}
	s.stamp(s.x1-stampWide+1, s.top+1, in.Plan.Verdict, under, estimate)
	room := s.x1 - s.x0 - stampWide - 5
	z := sizeTitle
	title := clean(in.Names.Title)
	lines := wrapIn(wordsBold, wordsBold, z.pt, room, title)
	if len(lines) > 1 {
		z = size{18, 7.5}
		lines = wrapIn(wordsBold, wordsBold, z.pt, room, title)
	}
	if len(lines) > 2 {
		z = size{13, 5.5}
		lines = wrapIn(wordsBold, wordsBold, z.pt, room, title)
		lines = lines[:min(3, len(lines))]
	}
	y := s.top + 8.5
	for _, l := range lines {
		s.putLine(wordsBold, wordsBold, z.pt, s.x0, y, l)
		y += z.line
	}
	y = s.para(sizeWords, s.x0, y-z.line+8, room, in.summary())
	f.y = max(y, s.top+stampHigh+6)
	s.line(ruleLine, s.x0, f.y-2, s.x1, f.y-2)
	f.y += 1
}

// frontColumns sets the picture of half 1 at the left, the figures at the
// right.
func (c *card) frontColumns(f *flow) {
	in, s := c.in, f.s
	top := f.y
	rx := s.x1 - 64
	y := top + 4
	s.print(wordsBold, sizeHeading.pt, rx, y, left, "Weigh")
	y = s.figureRows(rx, s.x1, y+1, in.weigh())
	y += 7.5
	w := s.print(wordsBold, sizeHeading.pt, rx, y, left, "Watch")
	if _, ok, sure := in.openAfter(); ok && !sure {
		s.print(label, sizeLabel.pt, rx+w+3, y, left, "times by the short formula")
	} else if ok {
		s.print(label, sizeLabel.pt, rx+w+3, y, left, "open and rest computed")
	}
	y = s.figureRows(rx, s.x1, y+1, in.watch())

	lw := rx - 6 - s.x0
	half := in.betterHalf()
	name := [2]string{"Half 1, seen from half 2", "Half 2, seen from half 1"}[half]
	w = s.print(wordsBold, sizeHeading.pt, s.x0, top+4, left, name)
	s.print(label, sizeLabel.pt, s.x0+w+4, top+4, left, "not to scale")
	v := in.look()
	notes := c.legend(lw)
	room := max(y-top-15-sizeSmall.line*float64(len(notes)), 50)
	const labels = 17
	m := faceMap{half: half, size: v.size, ox: s.x0, oy: top + 13}
	m.scale = min((lw-labels)/v.size.X, room/v.size.Y)
	in.drawFace(&s.page, m, m.ox+v.size.X*m.scale+5, s.x0+lw)
	ly := s.putLines(sizeSmall, s.x0, m.oy+v.size.Y*m.scale+5, notes)
	f.y = max(y, ly-3)
}

// legend says under the picture what the numbers in it mean, in lines of at
// most wide mm: the first ones, in at most legendLines lines, then where the
// others are told.
func (c *card) legend(wide float64) [][]span {
	const legendLines = 8
	v := c.in.look()
	var out [][]span
	last, full0 := 0, false
	add := func(no int, text string) {
		lines := wrap(sizeSmall.pt, wide, strong(grouped(float64(no), 0))+nb+" "+text)
		if full0 || len(out)+len(lines) > legendLines {
			full0 = true
			return
		}
		out, last = append(out, lines...), no
	}
	if t := c.in.byMeasures(); t != "" {
		out = append(out, wrap(sizeSmall.pt, wide, t)...)
	}
	for i, f := range c.in.Plan.Findings {
		if v.numbers[i] > 0 && f.At != nil {
			add(v.numbers[i], full(f.Say))
		}
	}
	for _, i := range c.in.largestUndercuts(len(c.in.Plan.Split.Undercuts)) {
		u := c.in.Plan.Split.Undercuts[i]
		if v.spoken[i] || v.under[i] == 0 {
			continue
		}
		t := "Undercut, " + Length(u.Depth) + nb + "mm deep."
		if u.Action != nil && *u.Action == "release" {
			t = "Undercut, " + Length(u.Depth) + nb + "mm deep: peel the rubber off here."
		}
		add(v.under[i], t)
	}
	if full0 {
		where := "The other numbers: sheets Findings and Open, cut, dry."
		if last == 0 {
			where = "The numbers: sheets Findings and Open, cut, dry."
		}
		out = append(out, wrap(sizeSmall.pt, wide, where)...)
	}
	return out
}

// betterHalf is the half whose face shows more of the metal, half 1 where the
// two are about equal.
func (in *Input) betterHalf() int {
	v := in.look()
	a, b := areaOf(v.face[0]), areaOf(v.face[1])
	if max(b, -b) > 1.2*max(a, -a) {
		return 1
	}
	return 0
}

// ladles is how many ladles a shot takes, one where the bench's is not known.
func ladles(m *plan.Metal) float64 {
	if m.Ladles == nil {
		return 1
	}
	return max(1, float64(*m.Ladles))
}

// weigh lists what goes on the scale.
func (in *Input) weigh() []row {
	var rows []row
	if r := in.Plan.Rubber; r != nil {
		for i, h := range r.Halves {
			name := "Half " + grouped(float64(i+1), 0)
			rows = append(rows, row{name + ", part A", Part(h.Parts.A, in.Bench.ScaleStepA), "g"}, row{name + ", part B", Part(h.Parts.B, in.Bench.ScaleStep), "g"})
		}
	}
	if m := in.Plan.Metal; m != nil {
		charge := m.ChargeMass
		if b, ok := in.band("charge for one shot"); ok { // enough for whatever the piece turns out to be
			charge = b.High
		}
		rows = append(rows, row{"Metal, each ladle", Ladle(charge / ladles(m)), "g"},
			row{"Whole casting, uncut", Grams(m.WholeMass), "g"})
	}
	return rows
}

// watch lists temperatures and times; what is not known is left out.
func (in *Input) watch() []row {
	var rows []row
	if m := in.Plan.Metal; m != nil {
		rows = append(rows, row{"Pot, at the pour", Temperature(m.PourTemperature), "°C"}, row{"Mould, at the pour", Temperature(m.MouldTemperature), "°C"})
	}
	if s := in.Bench.PourWithin; s > 0 {
		rows = append(rows, row{"Pour within", Within(s), "s"})
	}
	if s, ok, _ := in.openAfter(); ok {
		f, u := Wait(s)
		name := "Open after"
		later, ok := in.openLater()
		if ok {
			name = "Open, first shot"
		}
		rows = append(rows, row{name, f, u})
		if ok {
			f, u = Wait(later)
			rows = append(rows, row{"Open, later shots", f, u})
		}
	}
	if s, ok, _ := in.rest(); ok {
		f, u := Wait(s)
		rows = append(rows, row{restName[in.how()], f, u})
	}
	return rows
}

// refusal sets the reasons and what to do, where there is nothing to build.
func (c *card) refusal(f *flow) {
	v := c.in.look()
	f.heading("Why, and what would help", "")
	for i, fd := range c.in.Plan.Findings {
		if v.numbers[i] > 0 {
			c.finding(f, i, fd)
		}
	}
	f.heading("What was measured", "")
	m := c.in.Plan.Master
	t := Length(m.Size[0]) + " × " + Length(m.Size[1]) + " × " + Length(m.Size[2]) + nb + "mm, " + Cubic(m.Volume)
	if m.Thinnest > 0 {
		t += ", thinnest place " + Thin(m.Thinnest) + nb + "mm"
	}
	f.text(sizeWords, t+". The best pull locks "+Share(c.in.Plan.Split.LockedShare)+" of the volume.")
}

// begin sets what to see to first at the left, the cost at the right.
func (c *card) begin(f *flow) {
	in := c.in
	list := in.before()
	cost := in.costRows()
	// two or three columns of boxes where no cost stands beside them
	cols, wide := 2, (f.x1-f.x0-6)/2
	switch {
	case len(cost) > 0:
		cols, wide = 1, 100
	case len(list) == 3:
		cols, wide = 3, (f.x1-f.x0-12)/3
	}
	pitch, money := 8.2, 6.1
	if f.s.h < a4.h {
		pitch, money = 7.5, 5.4
	}
	h := 7 + pitch*math.Ceil(float64(len(list))/float64(cols))
	h = max(h, 7+money*float64(len(cost)))
	f.room(h + 12)
	s, top := f.s, f.y+3
	s.print(wordsBold, sizeHeading.pt, s.x0, top+4, left, "Before you begin")
	y, row := top+7, 0.0
	for i, t := range list {
		x := s.x0 + float64(i%cols)*(wide+6)
		s.rect(frameLine, x, y, 7, 7)
		lines := wrap(sizeWords.pt, wide-10, t)
		yy := y + 4.8
		if len(lines) > 1 {
			yy = y + 2.8
		}
		s.putLines(size{sizeWords.pt, 4.4}, x+10, yy, lines)
		row = max(row, pitch, 4.4*float64(len(lines))+1)
		if i%cols == cols-1 || i == len(list)-1 {
			y, row = y+row, 0
		}
	}
	if len(cost) > 0 {
		x := s.x1 - 64
		w := s.print(wordsBold, sizeHeading.pt, x, top+4, left, "Cost")
		s.print(label, sizeLabel.pt, x+w+3, top+4, left, "per casting, at your prices")
		cy := top + 7
		for i, r := range cost {
			h := words
			if i == len(cost)-1 {
				h = wordsBold
			}
			fw := s.print(h, sizeWords.pt, s.x1, cy+4.3, right, cutTo(h, sizeWords.pt, 45, r.figure))
			s.print(h, sizeWords.pt, x, cy+4.3, left, cutTo(h, sizeWords.pt, 61-fw, r.name))
			cy += money
			s.line(hairLine, x, cy, s.x1, cy)
		}
		y = max(y, cy)
	}
	f.y = y
}

// before lists what to have or to check before anything is mixed.
func (in *Input) before() []string {
	var l []string
	p := in.Plan
	if b := p.Block; b != nil {
		if n := b.MastersNeeded; n > 1 {
			s := counted(n)
			l = append(l, strings.ToUpper(s[:1])+s[1:]+" masters on the bench, or working copies.")
		} else {
			l = append(l, "The master on the bench, sound and clean.")
		}
	}
	length, what := in.Bench.Caliper, "the checked length"
	if length <= 0 {
		length, what = max(p.Master.Size[0], p.Master.Size[1], p.Master.Size[2]), "the longest side"
	}
	if length > 0 {
		l = append(l, "Caliper over "+what+": "+Length(length)+nb+"mm.")
	}
	if a := clean(in.Names.Alloy); a != "" && p.Metal != nil {
		l = append(l, "Ingot paper says "+a+".")
	}
	if p.Verdict == plan.No {
		l = append(l, "Nothing is mixed or melted before the reason above is gone.")
	}
	return l
}

func (in *Input) costRows() []row {
	cost := in.Plan.Order.Cost
	if cost == nil {
		return nil
	}
	var rows []row
	for _, c := range in.Bench.PerCasting {
		rows = append(rows, row{name: clean(c.Name), figure: Money(c.Amount, cost.Currency)})
	}
	if len(rows) == 0 {
		rows = append(rows, row{name: "The mould, whole order", figure: Money(cost.Mould, cost.Currency)}, row{name: "All castings", figure: Money(cost.Total, cost.Currency)})
	}
	// the whole order over its castings, so that the rows add up to it
	one := cost.Casting
	if n := in.Plan.Order.Castings; n > 0 {
		one = cost.Total / float64(n)
	}
	return append(rows, row{name: "One casting, together", figure: Money(one, cost.Currency)})
}
