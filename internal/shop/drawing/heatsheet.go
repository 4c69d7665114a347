package drawing

import (
	"math"
	"strings"

	"pourwright/internal/book/pour"
)

// computed is the computed pour, nil where there is none.
func (in *Input) computed() *pour.Doc {
	if in.Heat == nil || in.Heat.Doc == nil || !in.Heat.Doc.Freeze.Computed {
		return nil
	}
	return in.Heat.Doc
}

// openLater is when the castings of the second shot and all later ones may be
// lifted: the longest of them, for a mould that warms up takes longer from shot to
// shot. ok is false where that is not computed or not longer than the first.
func (in *Input) openLater() (s float64, ok bool) {
	d := in.computed()
	first, known, _ := in.openAfter()
	if d == nil || !known {
		return 0, false
	}
	list := d.Shots[min(1, len(d.Shots)):]
	if d.Steady != nil {
		list = append(list[:len(list):len(list)], *d.Steady)
	}
	for _, x := range list {
		t := x.Opened
		if x.OpenAfter != nil {
			t = *x.OpenAfter
		}
		if finite(t) {
			s = math.Max(s, t)
		}
	}
	return s, s > first && WaitWords(s) != WaitWords(first)
}

// openAt is how hot the casting is when it is opened, the hottest of the first and
// of the steady shot.
func (in *Input) openAt() (c float64, ok bool) {
	c = in.Bench.OpenAt
	if f := in.Plan.Freeze; f.Computed && f.OpenTemperature != nil {
		c = *f.OpenTemperature
		if d := in.computed(); d != nil && d.Steady != nil {
			c = math.Max(c, d.Steady.OpenTemperature)
		}
	}
	return c, c > 0 && finite(c)
}

// waitWords says how long to wait in the first shot and, where that is more, from
// then on.
func (in *Input) waitWords() string {
	t, ok, _ := in.openAfter()
	if !ok {
		return "Wait until the cup is dull and hard."
	}
	first := WaitWords(t)
	if w, ok := in.openLater(); ok {
		return "Wait " + first + " the first time, then " + WaitWords(w) + "."
	}
	return "Wait " + first + "."
}

// freeze makes the sheet of what was computed of freezing and of the series.
func (c *card) freeze() {
	in := c.in
	d := in.computed()
	if d == nil {
		return
	}
	f := c.flowOn("Freeze", "Both halves")
	f.title("Freeze and rest", in.Heat.freezeBeside()...)
	c.freezeCut(f)
	c.freezeFigures(f)
	f.y += 2
	c.caution(f, strong("It looks cold and is not.")+in.hotWords()+" Leather gloves or tongs, and a dry board to put it on.")
	f.text(sizeWords, in.Heat.doubt())
	c.rotation(f)
	c.restsTried(f)
	c.touching(f)
	c.firstShots(f)
}

// firstShots sets the chart of the first shots.
func (c *card) firstShots(f *flow) {
	h := c.in.Heat
	high := 88.0
	if len(h.curves()) == 0 {
		return
	}
	f.room(high + 35)
	f.heading("The first shots", "")
	p := &f.s.page
	n := h.series(p, f.x0+10, f.y+9, f.x1-50, f.y+9+high, f.x1)
	y := f.y - 3
	p.print(label, sizeLabel.pt, f.x0+widthOf(wordsBold, sizeHeading.pt, "The first shots")+3.5, y, left, cutTo(label, sizeLabel.pt, f.x1-f.x0-42, h.seriesRemark(n)))
	f.y += high + 22
	for _, l := range wrapIn(label, labelBold, 8, f.x1-f.x0, h.seriesWords()) {
		p.putLine(label, labelBold, 8, f.x0, f.y, l)
		f.y += 3.8
	}
}

// rowsRoom keeps a heading with its table of n rows.
func (f *flow) rowsRoom(n int) { f.room(10 + 5.2 + 6.2*float64(min(n, 6))) }

func (in *Input) hotWords() string {
	if t, ok := in.openAt(); ok {
		return " About " + Temperature(t) + nb + "°C when opened."
	}
	return ""
}

func (h *Heat) freezeBeside() []string {
	s := &h.Doc.Setting
	return []string{"Computed, not the short formula.", "Metal " + grouped(s.Metal, 0) + nb + "°C, mould " + grouped(s.Mould, 0) + nb + "°C, room " + grouped(s.Room, 0) + nb + "°C."}
}

// caution sets a bar and words across the column.
func (c *card) caution(f *flow, t string) {
	lines := wrap(sizeWords.pt, f.x1-f.x0-4, t)
	h := sizeWords.line*float64(len(lines)) + 2
	f.room(h)
	f.s.putLines(sizeWords, f.x0+4, f.y+4, lines)
	f.s.fill(black, box(f.x0, f.y, cautionBar, h-2))
	f.y += h
}

// freezeCut sets the two sections with the place that freezes last.
func (c *card) freezeCut(f *flow) {
	h := *c.in.Heat
	if h.Plan == nil {
		h.Plan = c.in.Plan
	}
	if h.check() != nil {
		return
	}
	s := h.see()
	if s == nil {
		return
	}
	high := 74.0
	if f.s.h < a4.h {
		high = 62
	}
	p := &f.s.page
	p.print(wordsBold, sizeHeading.pt, f.x0, f.y+4, left, "Time to solid")
	top := f.y + 15
	g, x := s.lay(f.x0-heatSide/2, top, f.x1-f.x0+heatSide/2, high, 46)
	bottom := g[0].oy + g[0].high()
	sc := s.solidViews(p, g, x, f.x1, bottom)
	f.y = sc.draw(p, f.x0, bottom+8.5, f.x1-f.x0, solidWords(sc)+" Broken line: where the halves meet."+s.channelWords()) - 1
}

// freezeFigures sets the figures in two columns.
func (c *card) freezeFigures(f *flow) {
	in := c.in
	d := in.computed()
	var a, b []row
	add := func(l *[]row, name string, s *float64) {
		if s != nil && finite(*s) && *s >= 0 {
			fig, u := Wait(*s)
			*l = append(*l, row{name, fig, u})
		}
	}
	degree := func(l *[]row, name string, t *float64) {
		if t != nil && finite(*t) {
			*l = append(*l, row{name, Temperature(*t), "°C"})
		}
	}
	add(&a, "Open after, first shot", d.Freeze.OpenAfter)
	if w, ok := in.openLater(); ok {
		add(&a, "Open after, later shots", &w)
	}
	degree(&a, "It has, when opened", d.Freeze.OpenTemperature)
	add(&a, "Bare hands after, first shot", d.Freeze.TouchAfter)
	y := &d.Cycle
	if y.Computed {
		if y.Rest != nil && *y.Rest > 0 {
			add(&b, restName[in.how()], y.Rest)
		} else if y.Rest != nil {
			b = append(b, row{"Rest", "none", ""})
		}
		if y.ShotsPerHour != nil {
			n := "Shots an hour, one mould"
			if y.Moulds != nil && *y.Moulds > 1 {
				n = "Shots an hour, " + counted(*y.Moulds) + " moulds"
			}
			b = append(b, row{n, perHour(*y.ShotsPerHour), ""})
		}
		warm := "over " + grouped(float64(len(d.Shots)), 0)
		if y.WarmUpShots != nil {
			warm = grouped(float64(*y.WarmUpShots), 0)
		}
		b = append(b, row{"Shots until it is warm", warm, ""})
		degree(&b, "Mould before a pour, once warm", y.SteadyMouldTemperature)
	}
	f.room(10 + 8*float64(max(len(a), len(b))))
	f.y += 1
	mid := (f.x0 + f.x1) / 2
	f.s.print(wordsBold, sizeHeading.pt, f.x0, f.y+4, left, "One shot")
	end := f.s.figureRows(f.x0, mid-4, f.y+5, a)
	if len(b) > 0 {
		f.s.print(wordsBold, sizeHeading.pt, mid+4, f.y+4, left, "Shot after shot")
		end = max(end, f.s.figureRows(mid+4, f.x1, f.y+5, b))
	}
	f.y = end + 1
}

// perHour says a rate so that no shot is promised that does not come: down, to a
// tenth under 10.
func perHour(x float64) string {
	if x < 10 {
		return trimmed(downTo(x, 0.1))
	}
	return grouped(downTo(x, 1), 0)
}

// doubt says how sure the figures are.
func (h *Heat) doubt() string {
	d := h.Doc
	t := h.errorWords(true)
	if t == "" {
		t = "How far the cells put the times out is not known: a coarser grid gave none."
	}
	t += " What was guessed, above all how well the rubber conducts, may change them more; a thermocouple in the cup tells."
	if p := d.Freeze.RubberPeak; p != nil {
		t += " The rubber reaches " + Temperature(*p) + nb + "°C in the first shot"
		if s := d.Steady; s != nil {
			t += ", " + Temperature(s.RubberPeak) + nb + "°C in a warm mould"
		}
		if r := d.Setting.Rubber.Rating; r > 0 {
			t += "; it is rated to " + NeverAbove(r) + nb + "°C"
		}
		t += "."
	}
	if s := d.Freeze.Balance; s != nil && finite(*s) {
		t += " Heat unaccounted for: " + shareWords(math.Abs(*s)) + " of what was poured."
	}
	return t
}

// shareWords says a very small share in powers of ten.
func shareWords(x float64) string {
	if x >= 1e-3 {
		return Share(x)
	}
	if x < 1e-9 {
		return "less than a billionth"
	}
	return "less than " + map[int]string{-3: "a thousandth", -4: "1/10" + thin + "000", -5: "1/100" + thin + "000", -6: "a millionth", -7: "1/10 of a millionth", -8: "1/100 of a millionth", -9: "a billionth"}[int(math.Ceil(math.Log10(x)-1e-9))]
}

// rotation sets the shots an hour for moulds in turn.
func (c *card) rotation(f *flow) {
	d := c.in.computed()
	if len(d.Moulds) == 0 {
		return
	}
	f.rowsRoom(len(d.Moulds))
	f.heading("Moulds in turn", "one caster; pouring, opening and powdering as set")
	var rows [][]string
	for _, m := range d.Moulds {
		rows = append(rows, []string{strong(counted(m.Moulds)), strong(perHour(m.PerHour)), exactly(m.Period), exactly(m.Rest), Share(m.Idle)})
	}
	w := f.x1 - f.x0
	f.tableIn(size{9.6, 4.2}, []column{{head: "Moulds", wide: 24}, {head: "Shots an hour", wide: 32, right: true}, {head: "A shot every", wide: 34, right: true},
		{head: "Each mould rests", wide: 38, right: true}, {head: "Your hands are free", wide: w - 128, right: true}}, rows)
}

// restsTried sets the ways of resting that were looked at.
func (c *card) restsTried(f *flow) {
	d := c.in.computed()
	if len(d.Rests) == 0 {
		return
	}
	f.rowsRoom(len(d.Rests))
	f.heading("Ways to rest", "the quickest pace with no mould poured above 93"+nb+"°C and no rubber over its rating")
	var rows [][]string
	for _, r := range d.Rests {
		rest, open := "no rest does", ""
		if r.Rest != nil {
			rest = WaitWords(*r.Rest)
			if *r.Rest <= 0 {
				rest = "none needed"
			}
		}
		if r.OpenAfter != nil {
			open = WaitWords(*r.OpenAfter)
		}
		why := clean(r.Held)
		if why != "" {
			why = "held by " + why
		}
		if r.Why != "found" {
			why = clean(r.Why)
		}
		how := clean(r.How)
		rows = append(rows, []string{strings.ToUpper(how[:min(1, len(how))]) + how[min(1, len(how)):], strong(rest), open, why})
	}
	w := f.x1 - f.x0
	f.tableIn(size{9.6, 4.2}, []column{{head: "How", wide: 38}, {head: "Rest", wide: 26, right: true}, {head: "Open after, warm", wide: 34, right: true}, {head: "Why", wide: w - 98}}, rows)
}

// touching sets when a lifted casting may be touched.
func (c *card) touching(f *flow) {
	d := c.in.computed()
	if len(d.Touch) == 0 {
		return
	}
	f.rowsRoom(len(d.Touch))
	f.heading("When bare hands may touch it", "computed, lying in still air; ISO 13732-1, bare metal, burn threshold")
	var rows [][]string
	for _, t := range d.Touch {
		after := "not computed"
		if t.After != nil && finite(*t.After) {
			after = WaitWords(math.Max(1, *t.After))
		}
		rows = append(rows, []string{contactWords(t.Contact), grouped(t.Below, 0) + nb + "°C", strong(after), clean(t.Source)})
	}
	w := f.x1 - f.x0
	f.tableIn(size{9.6, 4.2}, []column{{head: "Touched for", wide: 26}, {head: "Below", wide: 22, right: true}, {head: "After it was lifted", wide: 38, right: true}, {head: "Source", wide: w - 86}}, rows)
}

// contactWords says how long it is touched.
func contactWords(s float64) string {
	switch {
	case s >= 3600:
		return trimmed(s/3600) + nb + "h"
	case s >= 60:
		return trimmed(s/60) + nb + "min"
	}
	return trimmed(s) + nb + "s"
}
