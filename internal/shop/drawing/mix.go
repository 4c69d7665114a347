package drawing

import (
	"math"
)

// mix makes the sheet for the rubber of half i.
func (c *card) mix(i int) {
	in := c.in
	r := in.Plan.Rubber
	h := r.Halves[i]
	name := "half " + grouped(float64(i+1), 0)
	f := c.flowOn("Mix "+name, "Half "+grouped(float64(i+1), 0))
	c.mixHead(f, i)
	f.blanks(8, "Lot, part A", "Lot, part B", "Room, °C", "Humidity, %")
	f.y += 1
	n := f.steps(sizeStep, 1, in.weighSteps(i))
	f.y += 1
	f.room(22)
	f.rule()
	before, opened := "Pour before", "Open not before"
	if r.PotLife > 0 {
		before += ", " + shorter(r.PotLife) + " later"
	}
	if r.Cure > 0 {
		opened += ", " + WaitWords(r.Cure) + " later"
	}
	f.blanks(10, "Mixed at, clock", before, opened)
	f.rule()
	f.y += 2
	f.steps(sizeStep, n, in.pourRubberSteps(i))
	c.bench(f, h.Parts.A)
}

// shorter says a limit on a time, rounded down to the minute.
func shorter(s float64) string { return grouped(downTo(s, 60)/60, 0) + nb + "min" }

func (c *card) mixHead(f *flow, i int) {
	in, s := c.in, f.s
	h := in.Plan.Rubber.Halves[i]
	big := Part(h.Parts.A, in.Bench.ScaleStepA) + " + " + Part(h.Parts.B, in.Bench.ScaleStep)
	wu := widthOf(label, 10, "g")
	s.print(label, 10, s.x1-wu, s.top+10, left, "g")
	wb := s.print(wordsBold, 26, s.x1-wu-1.5, s.top+10, right, big)
	s.print(label, sizeLabel.pt, s.x1, s.top+14.5, right, "part A + part B, one mix, half "+grouped(float64(i+1), 0))
	title := "Mix for half " + grouped(float64(i+1), 0)
	pt := sizeTitle.pt
	if room := s.x1 - s.x0 - wb - wu - 8; widthOf(wordsBold, pt, title) > room {
		pt = 18
	}
	s.print(wordsBold, pt, s.x0, s.top+9.5, left, title)
	text := clean(in.Names.Rubber)
	if text == "" {
		text = clean(in.Plan.Rubber.Kind)
	}
	if in.Bench.Ratio > 0 {
		text += ", " + ratioWords(in.Bench.Ratio) + " by mass"
	}
	y := s.para(sizeWords, s.x0, s.top+16.5, s.x1-s.x0-60, full(text))
	f.y = max(y-1, s.top+19)
	s.line(ruleLine, s.x0, f.y, s.x1, f.y)
	f.y += 2
}

// ratioWords says parts A to one of B; under 10 as a decimal.
func ratioWords(r float64) string {
	if math.Abs(r-math.Round(r)) < 0.005 {
		return grouped(r, 0) + " to 1"
	}
	return grouped(r, 1) + " to 1"
}

func (in *Input) weighSteps(i int) []step {
	h := in.Plan.Rubber.Halves[i]
	a, b := h.Parts.A, h.Parts.B
	const cup = 38.0
	danger := "Part B irritates skin and eyes."
	if !in.Bench.Condensation {
		danger = "Rubber parts irritate skin and eyes."
	}
	first := step{do: "Gloves and glasses on. Window open.", caution: strong(danger) + " Nitrile or vinyl; latex may keep it from setting."}
	scale := in.Bench.ScaleStep
	if scale <= 0 {
		scale = 0.1
	}
	toStep := "to " + grouped(scale, decimalsOf(scale)) + nb + "g"
	stepA := in.Bench.ScaleStepA
	if stepA <= 0 {
		stepA = scale
	}
	shown := max(decimalsOf(scale), decimalsOf(stepA), 1)
	together := cup + math.Round(a/stepA)*stepA
	steps := []step{first,
		{do: "Stir part A and shake part B in their cans. Cup on the scale.", blank: "Write the mass of the cup:", unit: "g"},
		{do: "Pour A until the scale shows cup + " + Part(a, stepA) + ". With a cup of 38.0" + nb + "g: " + strong(grouped(together, max(decimalsOf(stepA), 1))),
			small: []string{"A little over does no harm."}, blank: "Write what it shows:", unit: "g"},
	}
	if b < 60 {
		steps = append(steps, step{do: "Weigh B in its own small cup, " + toStep + ": " + strong(Part(b, scale)+nb+"g"), small: []string{"If A came out otherwise, take B from the table."}})
	} else {
		steps = append(steps, step{do: "Add B on top until the scale shows " + strong(grouped(together+math.Round(b/scale)*scale, shown)) + ", with that cup.",
			small: []string{"If A came out otherwise, take B from the table and add it to what the scale shows."}})
	}
	stir := "4" + nb + "min"
	if in.Bench.Stir > 0 {
		stir = WaitWords(in.Bench.Stir)
	}
	return append(steps, step{do: "B into A. Stir " + stir + ", scrape wall and bottom. Into a clean cup, 1" + nb + "min more."})
}

func (in *Input) pourRubberSteps(i int) []step {
	r := in.Plan.Rubber
	noPump := "No pump: let it stand 5" + nb + "min, tap, paint a first coat on the master, pour in a thread."
	var air step
	switch {
	case r.VacuumPot > 0 && in.Bench.HasPump:
		air = step{do: "Into the vacuum pot, " + strong(litres(r.VacuumPot)) + " or more.", small: []string{"Let it rise and fall, then 3" + nb + "min. " + noPump},
			caution: strong("Only a pot and lid made and marked for vacuum.") + " No kitchen pot, no jar, no crazed acrylic."}
		// a strong vacuum would blow it up by far more, but then the foam breaks
		if in.Bench.Growth > 1 && in.Bench.Growth <= 5 {
			air.do = "Into the vacuum pot: it rises to " + grouped(math.Ceil(in.Bench.Growth-slack), 0) + " times its height. Pot of " + strong(litres(r.VacuumPot)) + " or more."
		}
	default:
		air = step{do: "Let the mix stand 5" + nb + "min. Tap the cup. Paint a first coat on the master.", small: []string{"Without a pump the thin thread and the brushed coat keep the bubbles off the face."}}
		if r.VacuumPot > 0 {
			air.small = append(air.small, "With a pump: a pot and lid made and marked for vacuum, "+litres(r.VacuumPot)+" or more.")
		}
	}
	pour := step{do: "Pour a thin stream into the lowest corner, up to the wall strips' upper edge.", small: []string{"Not onto the master."}}
	if i == 1 {
		pour.do = "Pour a thin stream into the lowest corner, up to the wall strips' upper edge."
	}
	return []step{air, pour,
		{do: "Keep a little in the mixing cup as witness. Set when a fingernail leaves no mark.", blank: "The witness overrules the clock. Set at:"},
	}
}

// litres says a volume of a pot, up to the half litre.
func litres(l float64) string {
	if l = upTo(l, 0.5); l == 1 {
		return "1" + nb + "litre"
	}
	return trimmed(l) + nb + "litres"
}

// bench sets the table of B for A at the left, the rescue lines at the right.
func (c *card) bench(f *flow, a float64) {
	in := c.in
	const rowHigh = 6.6
	rows := 5
	high := 14 + rowHigh*float64(rows)
	if f.s.bottom-f.y < high && f.s.bottom-f.y > high-2*rowHigh {
		rows = int((f.s.bottom - f.y - 14) / rowHigh)
		high = 14 + rowHigh*float64(rows)
	}
	f.room(high)
	s := f.s
	top := max(f.y+3, s.bottom-high+3)
	ratio := in.Bench.Ratio
	if ratio <= 0 {
		if b := in.Plan.Rubber.Halves[0].Parts.B; b > 0 {
			ratio = in.Plan.Rubber.Halves[0].Parts.A / b
		}
	}
	wide := s.x1 - s.x0
	lw := wide * 0.48
	s.print(wordsBold, sizeHeading.pt, s.x0, top+3, left, "B for the A you poured")
	if ratio > 0 {
		start := math.Round(a/5)*5 - 5*float64(rows)
		start = max(start, 5)
		half := lw / 2
		for k := range 2 {
			x := s.x0 + float64(k)*half
			s.print(label, sizeLabel.pt, x+half*0.42, top+8.6, right, "A poured")
			s.print(label, sizeLabel.pt, x+half*0.92, top+8.6, right, "take B")
			for j := range rows {
				m := start + 5*float64(k*rows+j)
				y := top + 10 + rowHigh*float64(j)
				s.print(words, sizeWords.pt, x+half*0.42, y+4.7, right, grouped(m, 0)+nb+"g")
				s.print(wordsBold, sizeWords.pt, x+half*0.92, y+4.7, right, Part(m/ratio, in.Bench.ScaleStep)+nb+"g")
			}
		}
		s.line(ruleLine, s.x0, top+10, s.x0+lw, top+10)
		for j := range rows {
			y := top + 10 + rowHigh*float64(j+1)
			s.line(hairLine, s.x0, y, s.x0+lw, y)
		}
	}
	c.rescue(s, s.x0+lw+6, top, s.x1)
	f.y = s.bottom
}

// rescue sets the lines for when the rubber goes wrong.
func (c *card) rescue(s *sheet, x, top, x1 float64) {
	s.print(wordsBold, sizeHeading.pt, x, top+3, left, "If it goes wrong")
	lines := [][2]string{
		{"Short of rubber", "Mix the rest within 2" + nb + "h and pour it on; it bonds while tacky."},
		{"The box leaks", "Clay on the outside, talc in the gap."},
		{"Still sticky", "Wait a day in a warm room, then look at the ratio and the cans."},
		{"Will not open", "Wooden wedge, soapy water, from a key side."},
	}
	const nameWide = 26
	y := top + 6
	for _, l := range lines {
		w := wrap(sizeSmall.pt, x1-x-nameWide, l[1])
		s.print(wordsBold, sizeSmall.pt, x, y+3.6, left, l[0])
		s.putLines(size{sizeSmall.pt, 4.1}, x+nameWide, y+3.6, w)
		y += 4.1*float64(len(w)) + 1.6
		s.line(hairLine, x, y, x1, y)
	}
}
