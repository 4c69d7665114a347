package drawing

import (
	"math"
	"strings"
)

// pour makes the sheet for the shots.
func (c *card) pour() {
	in := c.in
	m := in.Plan.Metal
	f := c.flowOn("Pour", "Both halves")
	var beside []string
	if n := clean(in.Names.Mould); n != "" {
		beside = append(beside, "Mould "+n+".")
	}
	metal := clean(in.Names.Alloy)
	if metal == "" {
		metal = clean(m.Kind)
	}
	rated := ""
	if in.Bench.MouldMax > 0 {
		rated = "rubber rated to " + NeverAbove(in.Bench.MouldMax) + nb + "°C"
	}
	if one := metal + ", " + rated; rated != "" && widthOf(words, sizeStep.pt, one) < 90 {
		metal, rated = one, ""
	}
	beside = append(beside, full(metal))
	if rated != "" {
		beside = append(beside, full(rated))
	}
	f.title("Pour", beside...)
	f.y -= 2
	c.gauges(f)
	c.pourSteps(f)
	c.shots(f)
}

// gauge is one figure of the strip at the head of the sheet.
type gauge struct{ head, figure, unit, under string }

func (c *card) gauges(f *flow) {
	in, s := c.in, f.s
	m := in.Plan.Metal
	charge := m.ChargeMass / ladles(m)
	g := []gauge{{"Pot", Temperature(m.PourTemperature), "°C", ""}, {"Mould", Temperature(m.MouldTemperature), "°C", ""}, {"Ladle", Ladle(charge), "g", "in one go"}}
	if x := in.Bench.PotMax; x > 0 {
		g[0].under = "never above " + NeverAbove(x)
	}
	if x := in.Bench.MouldMax; x > 0 {
		g[1].under = "rubber never above " + NeverAbove(x)
	}
	if n := ladles(m); n > 1 {
		g[2].under = counted(int(n)) + " ladles, no stop"
	} else if x := in.Bench.PourWithin; x > 0 {
		g[2].under = "one go, within " + Within(x) + nb + "s"
	}
	if t, ok, sure := in.openAfter(); ok {
		fig, u := Wait(t)
		under := "by the short formula"
		if w, ok := in.openLater(); ok {
			under = "from shot 2 on " + WaitWords(w)
		} else if at, ok := in.openAt(); sure && ok {
			under = "it is at about " + Temperature(at) + nb + "°C"
		} else if sure {
			under = "computed"
		}
		g = append(g, gauge{"Open after", fig, u, under})
	}
	g = append(g, gauge{"Whole, uncut", Grams(m.WholeMass), "g", "between " + grouped(math.Floor(m.WholeMass*0.97), 0) + " and " + grouped(math.Ceil(m.WholeMass*1.03), 0)})
	w := (s.x1 - s.x0) / float64(len(g))
	for i, x := range g {
		gx := s.x0 + float64(i)*w
		s.line(ruleLine, gx, f.y, gx, f.y+18)
		s.print(label, sizeLabel.pt, gx+2.5, f.y+3, left, x.head)
		pt := 24.0
		for widthOf(wordsBold, pt, x.figure)+widthOf(label, 9, x.unit) > w-5 && pt > 12 {
			pt--
		}
		fw := s.print(wordsBold, pt, gx+2.5, f.y+11.8, left, x.figure)
		s.print(label, 9, gx+3.8+fw, f.y+11.8, left, x.unit)
		pt = sizeSmall.pt
		for widthOf(words, pt, x.under) > w-3.5 && pt > 7.4 {
			pt -= 0.2
		}
		s.print(words, pt, gx+2.5, f.y+16.8, left, cutTo(words, pt, w-3, x.under))
	}
	f.y += 20
	s.line(ruleLine, s.x0, f.y, s.x1, f.y)
	f.y += 4
}

// pourSteps sets the steps at the left, the box for spills at the right.
func (c *card) pourSteps(f *flow) {
	in := c.in
	b := in.Plan.Block
	top, sheet0 := f.y, f.s
	x1 := f.x1
	f.x1 = x1 - 61
	squeeze := ""
	if q := b.Clamps.Squeeze; q > 0 {
		squeeze = " Boards touch, then " + Length(q) + nb + "mm closer."
	}
	clamps := "clamps"
	if n := b.Clamps.Count; n > 0 {
		clamps = counted(n) + " clamps"
		if n == 1 {
			clamps = "one clamp"
		}
	}
	wait := in.waitWords()
	rest := step{do: "Write the shot. Halves apart, fan on."}
	if t, ok, _ := in.rest(); ok {
		rest.do = "Write the shot. " + restStep[in.how()] + ", " + WaitWords(t) + "."
		if in.how() == "opened" {
			rest.small = []string{"A fan shortens it. Read the rubber with the gun before you close."}
		}
	}
	cold := "It looks cold and is not."
	at := " Leather gloves or tongs."
	if t, ok := in.openAt(); ok {
		at = " About " + Temperature(t) + nb + "°C. Leather gloves or tongs."
	}
	powder := []string{"Talc: unscented, no asbestos, no starch. Not near the face."}
	if len(b.Inserts) > 0 {
		powder = append(powder, "Inserts back into the line, dry and warm.")
	}
	skim := step{do: "Skim. Read the pot with the probe, not with the gun."}
	if in.Bench.Lead {
		skim.caution = strong("Lead: the dross is a poison.") + " Do not stir up dust, no food, wash hands, own clothes."
	}
	f.steps(sizePour, 1, []step{
		{do: "Dry, warm ingots and tools. Fan or open door.", caution: strong("A drop of water bursts in the melt.") + " No drinks near."},
		{do: "Halves dry. Powder both faces, tap off.", small: powder},
		{do: "Close, cup up. Boards, " + clamps + "." + squeeze, small: []string{"No elastic bands. Stand it in a tray of dry sand."}},
		skim,
		{do: strong("Pour in one go. Cup stays full.") + " Tap twice.", caution: strong("Face shield, leather gloves, long sleeves, closed shoes.") + " Hands out of the line of the cup. Never hold the mould."},
		{do: wait + " Open flat.", caution: strong(cold) + at},
		rest,
	})
	f.x1 = x1
	if f.s == sheet0 {
		c.spill(f.s, x1-55, top, x1)
		s := f.s
		y := top + 54
		w := 55.0
		for _, t := range []string{strong("Too light") + ": short, air, or a leak.", strong("Too heavy") + ": flash, not closed."} {
			y = s.para(sizeWords, x1-w, y, w, t)
		}
		y = s.para(sizeSmall, x1-w, y, w, "Local rules and the metal's own safety sheet come first.")
		f.y = max(f.y, y)
	}
}

// spill is the one framed box of the card.
func (c *card) spill(s *sheet, x, y, x1 float64) {
	w := x1 - x
	s.rect(ruleLine, x, y, w, 48)
	s.print(wordsBold, sizeHeading.pt, x+3, y+6.5, left, "Spill or burn")
	yy := y + 12
	for _, t := range []string{"Spilled metal: dry sand.", strong("Never water on it."), "Fire: spray cans, thinner away first.", "Burn: cool running water, 20" + nb + "min. Pull nothing off."} {
		yy = s.para(size{9.4, 4.5}, x+3, yy, w-5, t)
	}
	s.blanks(x+3, y+35, w-6, 7.5, "Sand stands", "Call")
}

// shots sets the table to write in, with the letters of the defects below, on
// this sheet and on a sheet of its own where the order needs more rows.
func (c *card) shots(f *flow) {
	const remark = "tick the good castings; the first ones warm the mould and go back into the pot"
	f.heading("Shots", remark)
	first := c.shotRows(f, 1)
	need := first
	if n := c.in.Plan.Order.Shots; n != nil {
		need = *n
	}
	for need > first && need <= 400 {
		g := c.flowOn("Shots", "Both halves")
		g.title("Shots", "One change a shot.")
		n := c.shotRows(g, first+1)
		if n == 0 {
			return
		}
		first += n
	}
}

const shotHigh = 7.3

// shotRows sets as many rows as there is room for, some to spare, and returns
// the last shot's number.
func (c *card) shotRows(f *flow, from int) int {
	const foot = 19
	free := int((f.s.bottom - foot - f.y - 10) / shotHigh)
	if free < 4 {
		f.y = f.s.bottom
		f.room(60)
		free = int((f.s.bottom - foot - f.y - 10) / shotHigh)
	}
	rows := free
	s := f.s
	cols, tick, n := c.shotColumns(s)
	y := f.y
	x := s.x0
	for i, k := range cols {
		dx := 1.0
		if i == 0 {
			dx = 0
		}
		s.print(label, sizeLabel.pt, x+dx, y+3, left, k.a)
		s.print(label, sizeLabel.pt, x+dx, y+6.8, left, cutTo(label, sizeLabel.pt, k.w-1, k.b))
		x += k.w
	}
	y += 9
	s.line(ruleLine, s.x0, y, s.x1, y)
	for i := range rows {
		s.print(wordsBold, sizeWords.pt, s.x0+1, y+5, left, grouped(float64(from+i), 0))
		x := s.x0
		for j, k := range cols {
			if j > 0 {
				s.line(hairLine, x, y, x, y+shotHigh)
			}
			if j >= tick && j < tick+n {
				s.rect(frameLine, x+(k.w-6)/2, y+0.65, 6, 6)
			}
			x += k.w
		}
		y += shotHigh
		s.line(hairLine, s.x0, y, s.x1, y)
	}
	s.line(hairLine, s.x1, y-shotHigh*float64(rows), s.x1, y)
	c.letters(s, s.bottom-16)
	f.y = s.bottom
	return from - 1 + rows
}

// shotColumn is one column of the table of shots: two lines of head, width.
type shotColumn struct {
	a, b string
	w    float64
}

// shotColumns returns the columns, the first one to tick and how many: a box
// for each piece, or where they are more than six a place for their number.
func (c *card) shotColumns(s *sheet) ([]shotColumn, int, int) {
	n := c.in.cavities()
	cols := []shotColumn{{"", "Shot", 9}, {"", "Clock", 15}, {"Pot", "°C", 12}, {"Mould", "°C", 12}, {"Pour", "s", 11}, {"Wait", "min", 11}, {"Whole", "g", 14}}
	tick, boxes := len(cols), n
	switch {
	case n == 1:
		cols = append(cols, shotColumn{"", "Good", 13})
	case n <= 4:
		for i := range n {
			cols = append(cols, shotColumn{"", cavityHead(c.in, i), 13})
		}
	case n <= 6:
		for i := range n {
			cols = append(cols, shotColumn{"", grouped(float64(i+1), 0), 8})
		}
		cols[tick].a = "Piece"
	default:
		cols = append(cols, shotColumn{"Good,", "of " + grouped(float64(n), 0), 14})
		boxes = 0
	}
	rest := s.x1 - s.x0
	for _, k := range cols {
		rest -= k.w
	}
	last := widthOf(label, sizeLabel.pt, "One thing changed") + 2.5
	place := max(min(20, rest*0.35, rest-last), 9)
	return append(cols, shotColumn{"Letter,", "place", place}, shotColumn{"", "One thing changed", rest - place}), tick, boxes
}

// cavityHead is the head of the column in which a cavity's castings are
// ticked.
func cavityHead(in *Input, i int) string {
	s := strings.TrimSuffix(cavityName(in, i), " piece")
	return string(s[0]-'a'+'A') + s[1:]
}

// letters sets the defects with their letters and first cures, the free ones
// first.
func (c *card) letters(s *sheet, y float64) {
	l := [][2]string{
		{"A", "air left: tap, tilt, vent there"}, {"F", "flash: clamp, clean the faces"}, {"K", "sink: cup fuller, wait longer"},
		{"S", "short: warmer mould first"}, {"C", "cold seam: pour faster"}, {"R", "rough: less powder, dry mould"},
		{"M", "step: clean the keys"}, {"B", "burnt rubber: rest, cooler pot"}, {"T", "torn rubber: colder, peel it"},
	}
	s.line(ruleLine, s.x0, y, s.x1, y)
	w := (s.x1 - s.x0) / 3
	for i, d := range l {
		x := s.x0 + float64(i%3)*w
		yy := y + 5 + 4.4*float64(i/3)
		k := s.print(wordsBold, sizeSmall.pt, x, yy, left, d[0])
		s.print(words, sizeSmall.pt, x+k+1.2, yy, left, d[1])
	}
}
