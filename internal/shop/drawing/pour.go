package drawing

import (
	"math"
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
	if in.Bench.MouldMax > 0 {
		metal += ", rubber rated to " + NeverAbove(in.Bench.MouldMax) + nb + "°C"
	}
	beside = append(beside, full(metal))
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
	charge := m.ChargeMass / max(1, float64(m.Ladles))
	g := []gauge{{"Pot", Temperature(m.PourTemperature), "°C", ""}, {"Mould", Temperature(m.MouldTemperature), "°C", ""}, {"Ladle", Ladle(charge), "g", "in one go"}}
	if x := in.Bench.PotMax; x > 0 {
		g[0].under = "never above " + NeverAbove(x)
	}
	if x := in.Bench.MouldMax; x > 0 {
		g[1].under = "rubber never above " + NeverAbove(x)
	}
	if m.Ladles > 1 {
		g[2].under = counted(m.Ladles) + " ladles, no stop"
	} else if x := in.Bench.PourWithin; x > 0 {
		g[2].under = "one go, within " + Within(x) + nb + "s"
	}
	if t, ok, sure := in.openAfter(); ok {
		fig, u := Wait(t)
		under := "by the short formula"
		if sure && in.Bench.OpenAt > 0 {
			under = "it is at about " + Temperature(in.Bench.OpenAt) + nb + "°C"
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
		for widthOf(words, pt, x.under) > w-3.5 && pt > 7.2 {
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
	wait := "Wait until the cup is dull and hard."
	if t, ok, _ := in.openAfter(); ok {
		wait = "Wait " + WaitWords(t) + "."
	}
	rest := "Write the shot. Halves apart, fan on."
	if t, ok, _ := in.rest(); ok {
		rest = "Write the shot. Halves apart, fan on, " + WaitWords(t) + "."
	}
	cold := "It looks cold and is not."
	at := " Leather gloves or tongs."
	if in.Bench.OpenAt > 0 {
		at = " About " + Temperature(in.Bench.OpenAt) + nb + "°C. Leather gloves or tongs."
	}
	f.steps(sizePour, 1, []step{
		{do: "Dry, warm ingots and tools. No drink near the pot.", caution: strong("A drop of water bursts in the melt.") + " Vent the fume, keep below smoke."},
		{do: "Halves dry. Powder both faces, tap off.", small: []string{"Unscented talc free of asbestos, not starch. Not near the face."}},
		{do: "Close, cup up. Boards, " + clamps + "." + squeeze, small: []string{"No elastic bands. Stand it in a tray of dry sand."}},
		{do: "Skim. Read the pot with the probe, not with the gun."},
		{do: strong("Pour in one go. Cup stays full.") + " Tap twice.", caution: strong("Face shield, leather gloves, long sleeves, closed shoes.") + " Hands out of the line of the cup. Never hold the mould."},
		{do: wait + " Open flat.", caution: strong(cold) + at},
		{do: rest, small: []string{"No rubber point passes its rating."}},
	})
	f.x1 = x1
	if f.s == sheet0 {
		c.spill(f.s, x1-55, top, x1)
		s := f.s
		y := top + 50
		w := 55.0
		for _, t := range []string{strong("Too light") + ": short, air, or a leak.", strong("Too heavy") + ": flash, not closed."} {
			y = s.para(sizeWords, x1-w, y, w, t)
		}
		f.y = max(f.y, y)
	}
}

// spill is the one framed box of the card.
func (c *card) spill(s *sheet, x, y, x1 float64) {
	w := x1 - x
	s.rect(ruleLine, x, y, w, 43)
	s.print(wordsBold, sizeHeading.pt, x+3, y+6.5, left, "Spill or burn")
	yy := y + 12.5
	for _, t := range []string{"Spilled metal: dry sand.", strong("Never water on it.") + " Fire: spray cans and", "thinner away first. Burn: cool running", "water, 20" + nb + "min. Pull nothing off."} {
		yy = s.para(size{9.6, 4.6}, x+3, yy, w-5, t)
	}
	s.blanks(x+3, y+31, w-6, 7, "Sand stands", "Call")
}

// shots sets the table to write in and the letters of the defects.
func (c *card) shots(f *flow) {
	in := c.in
	rows := 14
	if c.stock == letter {
		rows = 12
	}
	const rowHigh = 7.3
	const foot = 19
	f.heading("Shots", "tick the good castings; the first ones warm the mould and go back into the pot")
	free := int((f.s.bottom - foot - f.y - 10) / rowHigh)
	if free < 4 {
		f.y = f.s.bottom
		f.room(60)
		free = int((f.s.bottom - foot - f.y - 10) / rowHigh)
	}
	rows = min(rows, free)
	s := f.s
	n := min(in.cavities(), 4)
	type col struct {
		a, b string
		w    float64
	}
	cols := []col{{"", "Shot", 9}, {"", "Clock", 15}, {"Pot", "°C", 12}, {"Mould", "°C", 12}, {"Pour", "s", 11}, {"Wait", "min", 11}, {"Whole", "g", 14}}
	tick := len(cols)
	for i := range n {
		name := "Good"
		if n > 1 {
			name = cavityHead(in, i)
		}
		cols = append(cols, col{"", name, 13})
	}
	used := 0.0
	for _, k := range cols {
		used += k.w
	}
	rest := s.x1 - s.x0 - used
	cols = append(cols, col{"Letter,", "place", min(20, rest*0.35)})
	cols = append(cols, col{"", "One thing changed", rest - min(20, rest*0.35)})
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
		s.print(wordsBold, sizeWords.pt, s.x0+1, y+5, left, grouped(float64(i+1), 0))
		x := s.x0
		for j, k := range cols {
			if j > 0 {
				s.line(hairLine, x, y, x, y+rowHigh)
			}
			if j >= tick && j < tick+n {
				s.rect(frameLine, x+(k.w-6)/2, y+0.65, 6, 6)
			}
			x += k.w
		}
		y += rowHigh
		s.line(hairLine, s.x0, y, s.x1, y)
	}
	s.line(hairLine, s.x1, y-rowHigh*float64(rows), s.x1, y)
	c.letters(s, s.bottom-16)
	f.y = s.bottom
}

func cavityHead(in *Input, i int) string {
	s := cavityName(in, i)
	if len(in.look().masters) != 2 {
		return grouped(float64(i+1), 0)
	}
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
