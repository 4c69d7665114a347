package readings

import (
	"strings"
	"unicode"
)

// kind is what a cell holds.
type kind int

const (
	text kind = iota
	blank
	number
	clock
	date
	dateClock
)

func kindOf(s string) kind {
	if isMissing(s) || isOpen(s) {
		return blank
	}
	if looksNumber(s) {
		return number
	}
	if _, ok := parseClock(s); ok {
		return clock
	}
	if s[0] >= '0' && s[0] <= '9' || len(s) > 5 {
		if _, ok := parseStamp(s); ok {
			return dateClock
		}
		if _, ok := parseDay(s); ok {
			return date
		}
	}
	return text
}

// survey finds the kind of each column from up to 2000 full rows.
func (r *reader) survey() {
	count := make([][6]int, r.width)
	step := max(1, len(r.rows)/2000)
	for i := 0; i < len(r.rows); i += step {
		if w := r.rows[i]; len(w.cells) == r.width {
			for j, c := range w.cells {
				count[j][kindOf(c.text)]++
			}
		}
	}
	r.kinds = make([]kind, r.width)
	for j, n := range count {
		full := n[text] + n[number] + n[clock] + n[date] + n[dateClock]
		if full == 0 {
			r.kinds[j] = blank
			continue
		}
		for k := number; k <= dateClock; k++ {
			if 10*n[k] >= 6*full {
				r.kinds[j] = k
			}
		}
	}
}

// header reads the lines above the first row of readings: up to three with as
// many cells as the readings, of which units may be one. A mark of a remark
// before them is dropped.
func (r *reader) header(firstLine int) error {
	r.head = make([]string, r.width)
	found := 0
	for i := firstLine - 2; i >= 0 && i >= firstLine-12 && found < 3; i-- {
		s := strings.TrimLeft(r.lines[i], "#%!/ ")
		if r.sep == '\t' && strings.HasPrefix(r.lines[i], "\t") {
			s = r.lines[i]
		}
		if strings.TrimSpace(s) == "" {
			continue
		}
		cells := cut(s, r.sep, nil)
		for len(cells) > r.width && cells[len(cells)-1].text == "" {
			cells = cells[:len(cells)-1]
		}
		words, units, numbers := 0, 0, 0
		for _, c := range cells {
			switch {
			case c.text == "":
			case unitWord(c.text) != "" || timeUnit(c.text) > 0 && !nameOfTime(c.text):
				units++
				words++
			case kindOf(c.text) == text:
				words++
			default:
				numbers++
			}
		}
		if r.sep == ',' && 2*len(cells) == r.width && words == len(cells) && !r.anyPoint() {
			return r.commas(firstLine)
		}
		if words == 0 || words < numbers || len(cells) > r.width || len(cells) < r.width-1 {
			if found > 0 {
				break
			}
			continue
		}
		for j, c := range cells {
			w := c.text
			if units == words && w != "" && words > 0 {
				w = "(" + strings.Trim(w, "()[]") + ")"
			}
			r.head[j] = strings.TrimSpace(w + " " + r.head[j])
		}
		found++
	}
	return nil
}

func (r *reader) commas(line int) error {
	return r.fail(line, 0, "export again with semicolons or tabs between the columns, or with decimal points and a header line",
		"commas stand both between the columns and inside the numbers: they cannot be told apart")
}

// named reports whether any column has a header.
func (r *reader) named() bool {
	for _, h := range r.head {
		if h != "" {
			return true
		}
	}
	return false
}

// anyPoint reports whether a decimal point stands in any cell of a full row.
func (r *reader) anyPoint() bool {
	for _, w := range r.rows {
		if len(w.cells) != r.width {
			continue
		}
		for _, c := range w.cells {
			if strings.Contains(c.text, ".") && kindOf(c.text) == number {
				return true
			}
		}
	}
	return false
}

// unitWord returns C, F or K for the spellings of a unit of temperature, "x"
// for another known unit, "" for what is none.
func unitWord(s string) string {
	s = strings.ToLower(strings.TrimSpace(s))
	s = strings.Trim(s, "()[]{}.")
	marked := false
	for _, d := range []string{"degrees", "degree", "deg.", "deg", "grad", "°", "º", "˚"} {
		if cut, ok := strings.CutPrefix(s, d); ok {
			s, marked = strings.TrimLeft(cut, " _.-"), true
			break
		}
	}
	switch s {
	case "c", "celsius", "℃", "centigrade":
		return "C"
	case "f", "fahrenheit", "℉":
		return "F"
	case "k", "kelvin", "kelvins":
		return "K"
	}
	if marked {
		return ""
	}
	switch s {
	case "s", "sec", "ms", "min", "%", "%rh", "rh", "% rh", "v", "mv", "µv", "uv", "a", "ma", "pa", "hpa", "kpa", "mbar", "bar", "psi", "ohm", "ohms", "Ω", "ω", "w", "w/m2",
		"g", "kg", "n", "kn", "mm", "m", "ppm", "lux", "lx", "rpm", "hz", "db", "dbm", "l/min", "m/s", "counts":
		return "x"
	}
	return ""
}

// nameAndUnit takes the unit off the end of a name: in brackets, behind a slash or a
// comma, or as the last word. sure is false for a bare letter that may be a
// name: "channel C", "type K".
func nameAndUnit(h string) (name, unit string, sure bool) {
	h = strings.TrimSpace(h)
	for i := len(h) - 1; i > 0; i-- {
		if h[i] != '(' && h[i] != '[' && h[i] != '{' {
			continue
		}
		inside, _, _ := strings.Cut(h[i+1:], string(closing(h[i])))
		if u := unitWord(inside); u != "" {
			rest := strings.TrimSpace(h[:i])
			if len(strings.TrimSpace(inside)) > 1 || !typed(rest) {
				return strings.TrimRight(rest, " /,"), u, true
			}
			return h, u, false
		}
	}
	if u := unitWord(h); u != "" && (len(h) > 1 || u == "x") {
		return "", u, true
	}
	at := strings.LastIndexAny(h, " _/,;:")
	if i := strings.LastIndexAny(h, "°º˚℃℉"); i > 0 && at < 0 { // T1°C
		for at = i; at > 0 && h[at]&0xc0 == 0x80; at-- {
		}
		at--
	}
	if at <= 0 {
		return h, "", false
	}
	for _, from := range []int{strings.LastIndexAny(h[:at], " _/,;:"), at} { // "T1 deg C" before "T1 C"
		if from < 0 {
			continue
		}
		if u := unitWord(h[from+1:]); u != "" {
			sep := h[from]
			loud := len([]rune(strings.TrimSpace(h[from+1:]))) > 1 || sep == '/' || sep == ','
			if loud || !typed(h[:from]) {
				return strings.TrimRight(h[:from+1], " _/,;:"), u, true
			}
			return h, u, false
		}
	}
	return h, "", false
}

func closing(c byte) byte {
	switch c {
	case '(':
		return ')'
	case '[':
		return ']'
	}
	return '}'
}

// typed reports whether a letter behind these words may be a kind of
// thermocouple or the name of a channel.
func typed(h string) bool {
	for _, w := range letters(h) {
		switch w {
		case "type", "typ", "tc", "thermocouple", "channel", "ch", "chan", "kanal", "probe", "sensor", "input", "thermoelement":
			return true
		}
	}
	return false
}

// letters returns the words of a header in small letters, digits dropped.
func letters(h string) []string {
	return strings.FieldsFunc(strings.ToLower(h), func(c rune) bool { return !unicode.IsLetter(c) })
}

// nameOfTime reports whether a header names a time.
func nameOfTime(h string) bool {
	for _, w := range letters(h) {
		switch w {
		case "time", "times", "timestamp", "datetime", "date", "elapsed", "runtime", "clock", "zeit", "zeitstempel", "uhrzeit", "datum", "laufzeit", "sekunden",
			"temps", "heure", "tiempo", "hora", "fecha", "tempo", "ora", "tijd", "tid", "czas", "seconds", "minutes", "hours", "sec", "secs", "day", "days":
			return true
		}
	}
	return strings.EqualFold(strings.TrimSpace(h), "t") || timeUnit(h) > 0 && len(letters(h)) == 1
}

// timeUnit returns the seconds of a unit of time that stands in brackets,
// behind a slash or as the last word of a header, else 0.
func timeUnit(h string) float64 {
	h = strings.ToLower(strings.TrimRight(strings.TrimSpace(h), ")]} ."))
	if i := strings.LastIndexAny(h, " ([{/,;_"); i >= 0 {
		h = h[i+1:]
	}
	switch strings.TrimRight(h, ".") {
	case "s", "sec", "secs", "second", "seconds", "sek", "sekunden":
		return 1
	case "ms", "msec", "millisecond", "milliseconds":
		return 1e-3
	case "us", "µs", "μs", "microseconds":
		return 1e-6
	case "min", "mins", "minute", "minutes", "minuten":
		return 60
	case "h", "hr", "hrs", "hour", "hours", "std", "stunden":
		return 3600
	case "d", "day", "days", "tage":
		return 86400
	}
	return 0
}

// saysTime reports whether a column beside that of the times is another one of
// times: named so, by more than a letter, and never falling.
func (r *reader) saysTime(j int) bool {
	return nameOfTime(r.head[j]) && !strings.EqualFold(strings.TrimSpace(r.head[j]), "t") && r.rising(j) == 1
}

// nameOfIndex reports whether a header counts rows.
func nameOfIndex(h string) bool {
	switch strings.Trim(strings.ToLower(strings.TrimSpace(h)), ".") {
	case "#", "no", "nr", "n", "index", "idx", "id", "record", "record no", "sample", "samples", "scan", "row", "count", "point", "reading", "num", "number", "lfd", "lfd.nr", "lfd. nr", "entry":
		return true
	}
	return false
}
