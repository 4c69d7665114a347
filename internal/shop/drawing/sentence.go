package drawing

import (
	"regexp"
	"strconv"
	"strings"

	"pourwright/internal/book/plan"
)

// refusedUnder names the first reason in two or three words for the stamp.
func refusedUnder(p *plan.Plan) string {
	short := map[string]string{
		"closed-void": "closed all round", "linked": "linked bodies", "needs-piece": "more than two parts", "seam": "seam over a face",
		"undercut": "the rubber would tear", "alloy-use": "wrong metal for the use", "alloy-origin": "metal of unknown origin",
		"too-hot": "too hot for the rubber", "thin": "too thin to fill", "head": "not enough head", "size": "size out of range",
		"masters": "too few masters", "inhibition": "the rubber would not set", "insert": "insert cannot be held", "pocket": "air would stay",
	}
	for _, f := range p.Findings {
		if f.Severity == plan.Must {
			if s, ok := short[f.Code]; ok {
				return s
			}
		}
	}
	return "see the reason beside it"
}

// summary says in two lines what is ordered.
func (in *Input) summary() string {
	o := in.Plan.Order
	var b strings.Builder
	if o.Castings > 0 {
		b.WriteString(grouped(float64(o.Castings), 0) + nb + "castings")
		if o.Castings == 1 {
			b.Reset()
			b.WriteString("One casting")
		}
	} else {
		b.WriteString("Castings")
	}
	if n := clean(in.Names.Alloy); n != "" {
		b.WriteString(", " + n)
	}
	if u := useWords[in.Names.Use]; u != "" {
		b.WriteString(", " + u)
	}
	b.WriteString(".")
	if in.Plan.Block == nil {
		return b.String()
	}
	s := counted(in.cavities()) + " in a mould"
	s = strings.ToUpper(s[:1]) + s[1:]
	if o.Moulds != nil && *o.Moulds > 1 {
		s += ", " + counted(*o.Moulds) + " moulds in turn"
	}
	if o.Shots != nil {
		s += ", " + grouped(float64(*o.Shots), 0) + nb + "shots"
		if w := in.Plan.Cycle.WarmUpShots; w != nil && *w > 0 {
			if in.Plan.Cycle.Computed { // castings before that are good too, but not alike
				s += "; castings are alike from shot" + nb + grouped(float64(*w+1), 0) + " on"
			} else {
				s += " with " + grouped(float64(*w), 0) + " to warm up"
			}
		}
	}
	return b.String() + " " + s + "."
}

var useWords = map[string]string{
	"toy": "a toy", "food": "for food", "jewellery": "jewellery", "fishing": "for fishing", "decor": "decoration",
}

// sentence gives the verdict with its reasons.
func (in *Input) sentence() string {
	if s := clean(in.Names.Sentence); s != "" {
		return s
	}
	var b strings.Builder
	p := in.Plan
	if p.Verdict != plan.No {
		if s, ok, sure := in.solidAfter(); ok {
			about := "about "
			if sure {
				about = ""
			}
			b.WriteString("It is solid after " + about + WaitWords(s) + ". ")
		}
	}
	said, more := 0, 0
	var told []string              // what the findings say, each text once
	numbers := map[string]string{} // of the findings that say it
	for i, f := range p.Findings {
		if f.Severity != plan.Must && f.Severity != plan.Should {
			continue
		}
		text := full(f.Do)
		if p.Verdict == plan.No {
			text = full(f.Say)
		}
		first := f.Severity == plan.Must || p.Verdict == plan.Care
		if numbers[text] == "" && (said >= 3 || !first) {
			more++
			continue
		}
		if numbers[text] == "" {
			said++
			told = append(told, text)
		} else {
			numbers[text] += ", "
		}
		numbers[text] += grouped(float64(in.look().numbers[i]), 0)
	}
	for _, t := range told {
		b.WriteString(strong(t) + " ")
		if p.Verdict != plan.No {
			b.WriteString("(" + strings.ReplaceAll(numbers[t], " ", nb) + ") ")
		}
	}
	what, place := " more finding", "on the sheet of findings."
	if said == 0 {
		what = " finding"
	}
	if p.Block == nil {
		place = "below."
	}
	switch {
	case more == 1:
		b.WriteString("One" + what + " stands " + place)
	case more > 1:
		s := counted(more) + what + "s stand " + place
		b.WriteString(strings.ToUpper(s[:1]) + s[1:])
	case said == 0 && p.Verdict == plan.Pour:
		b.WriteString("Nothing stands against it. Follow the sheets in their order.")
	case said == 0 && len(in.deciding()) > 0:
		b.WriteString("It hangs on " + strong("what was guessed: "+strings.Join(in.deciding(), "; ")) + ". Find the true figure first.")
	case said == 0:
		b.WriteString("The reasons stand on the sheet of findings.")
	}
	return strings.TrimSpace(b.String())
}

// deciding names the guesses that would change the verdict, the first three.
func (in *Input) deciding() []string {
	var l []string
	for _, g := range in.Plan.Guessed {
		if g.Flips != nil && *g.Flips && len(l) < 3 {
			name, _, _ := strings.Cut(sayInput(g.Input), ", ")
			l = append(l, name)
		}
	}
	return l
}

// full makes s a whole sentence: cleaned, a capital, a full stop.
func full(s string) string {
	s = raised(cubicWords(clean(s)))
	if s == "" {
		return ""
	}
	r := []rune(s)
	s = strings.ToUpper(string(r[:1])) + string(r[1:])
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}

// cubicWords says volumes of 1000 mm3 and more in cm3.
func cubicWords(s string) string {
	return volumes.ReplaceAllStringFunc(s, func(v string) string {
		x, err := strconv.ParseFloat(strings.TrimSuffix(v, " mm3"), 64)
		if err != nil || x < 999.5 {
			return v
		}
		return Cubic(x)
	})
}

var volumes = regexp.MustCompile(`\d+(\.\d+)?(e\+?\d+)? mm3`)

// sayInput makes a name from a file fit for reading.
func sayInput(s string) string {
	return raised(strings.ReplaceAll(clean(s), "_", " "))
}

// raised writes the powers of units as one reads them: m2 becomes m².
func raised(s string) string {
	return powers.ReplaceAllStringFunc(s, func(u string) string {
		return u[:len(u)-1] + map[byte]string{'2': "²", '3': "³"}[u[len(u)-1]]
	})
}

var powers = regexp.MustCompile(`\b[mcd]?m[23]\b`)
