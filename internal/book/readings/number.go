package readings

import (
	"math"
	"strconv"
	"strings"
)

// What a cell without a number says. Common practice of loggers, no source.
var (
	missing = words(`"" - -- --- ---- ----- . ? nan na n/a #n/a #na null nil none nodata no_data #value! missing invalid ---.- --.- ----.-`)
	open    = words(`ol o.l o.l. +ol -ol open oc over overrange overload ofl ovf uflow under underrange burnout fault err error inf +inf -inf fail
		-open +over -over opn t/c disconnected unplugged`)
)

func words(s string) map[string]bool {
	m := map[string]bool{"": true}
	for _, w := range strings.Fields(s) {
		m[w] = true
	}
	return m
}

func isMissing(s string) bool { return missing[strings.ToLower(s)] }

func isOpen(s string) bool {
	s = strings.ToLower(strings.TrimSpace(s))
	if s == "" {
		return false
	}
	if open[s] || open[strings.ReplaceAll(s, " ", "")] {
		return true
	}
	first, _, _ := strings.Cut(s, " ")
	if open[first] && first != "" {
		return true
	}
	return (s[0] == '>' || s[0] == '<') && len(s) > 1 && looksNumber(strings.TrimSpace(s[1:]))
}

// style is how a column writes numbers.
type style struct {
	comma bool // decimal comma
	group bool // the other mark parts groups of three
}

// bare cuts a unit off the end of a number: "23.4 °C" gives "23.4" and "C".
// ok is false where letters follow that are no unit.
func bare(s string) (num, unit string, ok bool) {
	end := len(s)
	for end > 0 && (s[end-1] < '0' || s[end-1] > '9') && s[end-1] != '.' && s[end-1] != ',' {
		end--
	}
	if end == 0 {
		return "", "", false
	}
	tail := strings.TrimSpace(s[end:])
	if tail == "" {
		return s[:end], "", true
	}
	unit = unitWord(tail)
	if unit == "" {
		return "", "", false
	}
	return strings.TrimSpace(s[:end]), unit, true
}

// looksNumber reports whether s may be a number in some style.
func looksNumber(s string) bool {
	num, _, ok := bare(s)
	if !ok {
		return false
	}
	if _, ok := plain(num); ok {
		return true
	}
	for _, st := range []style{{comma: true}, {comma: true, group: true}, {group: true}} {
		if _, ok := st.parse(num); ok {
			return true
		}
	}
	return false
}

// plain parses digits with a point and an exponent, nothing else that
// strconv would take (no hexadecimal, no underscore, no words).
func plain(s string) (float64, bool) {
	if s == "" || len(s) > 40 {
		return 0, false
	}
	for _, c := range []byte(s) {
		if (c < '0' || c > '9') && c != '.' && c != '+' && c != '-' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) {
		return 0, false
	}
	return x, true
}

var spaces = strings.NewReplacer("\u00a0", "", "\u202f", "", "\u2009", "", "'", "", "\u2019", "", "\u2212", "-")

// parse reads a number without a unit.
func (st style) parse(s string) (float64, bool) {
	s = spaces.Replace(s)
	mark, other := ".", ","
	if st.comma {
		mark, other = ",", "."
	}
	if strings.Contains(s, other) {
		whole, _, _ := strings.Cut(s, mark)
		if !st.group || !groups(strings.TrimLeft(whole, "+-"), other) || strings.Contains(s[len(whole):], other) {
			return 0, false
		}
		s = strings.ReplaceAll(s, other, "")
	}
	if st.comma {
		s = strings.Replace(s, ",", ".", 1)
	}
	return plain(s)
}

// groups reports whether s is 1 to 3 digits and then groups of three.
func groups(s, mark string) bool {
	part := strings.Split(s, mark)
	if len(part) < 2 || len(part[0]) < 1 || len(part[0]) > 3 || part[0][0] == '0' {
		return false
	}
	for i, p := range part {
		if i > 0 && len(p) != 3 {
			return false
		}
		for _, c := range []byte(p) {
			if c < '0' || c > '9' {
				return false
			}
		}
	}
	return true
}

// styleOf finds how a column writes numbers. at is the index of a cell that
// contradicts the others, -1 where all agree.
//
// A mark that stands after another one is the decimal mark, one that stands twice
// is not. A lone comma is a
// decimal comma, unless points stand elsewhere in the column and all commas
// part groups of three; the same for points.
func styleOf(cells []string) (st style, at int) {
	var comma, point, commaGroup, pointGroup, last int
	firstComma, firstPoint := -1, -1
	for i, s := range cells {
		num, _, ok := bare(s)
		if !ok {
			continue
		}
		num = strings.TrimLeft(spaces.Replace(num), "+-")
		c, p := strings.LastIndexByte(num, ','), strings.LastIndexByte(num, '.')
		switch {
		case c >= 0 && p >= 0 && c > p:
			last |= 1
		case c >= 0 && p >= 0:
			last |= 2
		case strings.Count(num, ",") > 1:
			last |= 2
		case strings.Count(num, ".") > 1:
			last |= 1
		case c >= 0:
			comma++
			if groups(num, ",") {
				commaGroup++
			} else if firstComma < 0 {
				firstComma = i
			}
		case p >= 0:
			point++
			if groups(num, ".") {
				pointGroup++
			} else if firstPoint < 0 {
				firstPoint = i
			}
		}
	}
	asComma, asPoint := style{comma: true, group: true}, style{group: true}
	switch {
	case last == 1 && point == pointGroup:
		return asComma, -1
	case last == 2 && comma == commaGroup:
		return asPoint, -1
	case last != 0:
		return asPoint, max(firstComma, firstPoint, 0)
	case comma == 0:
		return asPoint, -1
	case point == 0:
		return asComma, -1
	case comma == commaGroup && point > pointGroup:
		return asPoint, -1
	case point == pointGroup && comma > commaGroup:
		return asComma, -1
	}
	return asPoint, max(firstComma, firstPoint, 0)
}
