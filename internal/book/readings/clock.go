package readings

import (
	"strings"
	"time"
)

// clockTime is a time of day or a time since the start.
type clockTime struct {
	s     float64 // taken as hh:mm:ss, or as the first part in hours where there are two
	parts int     // 2 or 3
	first float64 // the first part
	frac  bool    // the last part has a fraction
	half  bool    // AM or PM stands behind it
}

// parseClock reads hh:mm:ss, hh:mm:ss.fff, hh:mm:ss:fff, mm:ss, mm:ss.f and
// hh:mm, with a decimal comma too and AM or PM behind.
func parseClock(s string) (c clockTime, ok bool) {
	low := strings.ToLower(s)
	noon := -1.0
	for suffix, h := range map[string]float64{"am": 0, "a.m.": 0, "pm": 12, "p.m.": 12} {
		if cut, found := strings.CutSuffix(low, suffix); found {
			low, noon = strings.TrimSpace(cut), h
		}
	}
	p := strings.Split(low, ":")
	if len(p) == 4 && len(p[3]) == 3 && digits(p[3]) {
		p = append(p[:2], p[2]+"."+p[3])
	}
	if len(p) != 2 && len(p) != 3 {
		return c, false
	}
	var x [3]float64
	for i, w := range p {
		w = strings.TrimSpace(w)
		if i == len(p)-1 {
			c.frac = strings.ContainsAny(w, ".,")
			w = strings.Replace(w, ",", ".", 1)
		} else if !digits(w) {
			return c, false
		}
		if w == "" || w[0] < '0' || w[0] > '9' || strings.ContainsAny(w, "eE") {
			return c, false
		}
		if x[i], ok = plain(w); !ok || len(w) > 12 {
			return c, false
		}
		if i > 0 && x[i] >= 60 && !(i == 2 && x[i] < 61) {
			return c, false
		}
	}
	if noon >= 0 {
		if x[0] < 1 || x[0] > 12 {
			return c, false
		}
		if x[0] == 12 {
			x[0] = 0
		}
		x[0] += noon
	}
	if x[0] > 100000 {
		return c, false
	}
	c.parts, c.first, c.half = len(p), x[0], noon >= 0
	c.s = x[0]*3600 + x[1]*60 + x[2]
	return c, true
}

func digits(s string) bool {
	for _, c := range []byte(s) {
		if c < '0' || c > '9' {
			return false
		}
	}
	return s != "" && len(s) < 10
}

// day is a date as it stands, before the order of its parts is known.
type day struct {
	p     [3]int
	fixed bool // the order is year, month, day
}

var months = map[string]int{"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12}

// parseDay reads 2026-05-01, 2026/5/1, 01.05.2026, 1/5/26, 1 May 2026,
// 01-May-2026, May 1, 2026.
func parseDay(s string) (d day, ok bool) {
	p := strings.FieldsFunc(s, func(c rune) bool { return c == '-' || c == '/' || c == '.' || c == ' ' || c == ',' })
	if len(p) != 3 || len(s) > 24 || strings.ContainsAny(s, ":;") || s[0] == '-' {
		return d, false
	}
	for i := range p {
		if digits(p[i]) && len(p[i]) <= 4 {
			for _, c := range []byte(p[i]) {
				d.p[i] = d.p[i]*10 + int(c-'0')
			}
			continue
		}
		w := strings.ToLower(p[i])
		m := 0
		if len(w) >= 3 && i < 2 {
			m = months[w[:3]]
		}
		if m == 0 || d.fixed {
			return d, false
		}
		d.p[i], d.fixed = m, true
		if i == 0 { // May 1, 2026
			p[0], p[1] = p[1], p[0]
			if !digits(p[0]) || len(p[0]) > 2 || !digits(p[2]) {
				return d, false
			}
			x, y := 0, 0
			for _, c := range []byte(p[0]) {
				x = x*10 + int(c-'0')
			}
			for _, c := range []byte(p[2]) {
				y = y*10 + int(c-'0')
			}
			d.p = [3]int{y, m, x}
			d.p[0] = century(d.p[0], len(p[2]))
			return d, d.valid()
		}
	}
	switch {
	case d.fixed: // 1 May 2026
		d.p[0], d.p[2] = century(d.p[2], len(p[2])), d.p[0]
		return d, d.valid()
	case len(p[0]) == 4:
		d.fixed = true
		return d, d.valid()
	case len(p[2]) != 4 && len(p[2]) != 2 || len(p[0]) > 2 || len(p[1]) > 2:
		return d, false
	}
	d.p[2] = century(d.p[2], len(p[2]))
	return d, d.p[0] >= 1 && d.p[1] >= 1 && d.p[0] <= 31 && d.p[1] <= 31 && (d.p[0] <= 12 || d.p[1] <= 12)
}

func century(y, letters int) int {
	if letters <= 2 {
		return 2000 + y
	}
	return y
}

// valid reports whether a fixed date exists and a logger can have written it.
func (d day) valid() bool {
	t := time.Date(d.p[0], time.Month(d.p[1]), d.p[2], 0, 0, 0, 0, time.UTC)
	return d.p[0] >= 1970 && d.p[0] < 2200 && d.p[1] >= 1 && d.p[1] <= 12 && t.Day() == d.p[2]
}

// order turns a date of open order into a fixed one.
func (d day) order(monthFirst bool) (day, bool) {
	if d.fixed {
		return d, true
	}
	o := day{[3]int{d.p[2], d.p[1], d.p[0]}, true}
	if monthFirst {
		o.p[1], o.p[2] = d.p[0], d.p[1]
	}
	return o, o.valid()
}

// seconds since 1970, of a fixed date.
func (d day) seconds() float64 {
	return float64(time.Date(d.p[0], time.Month(d.p[1]), d.p[2], 0, 0, 0, 0, time.UTC).Unix())
}

// stamp is a date with a clock.
type stamp struct {
	d    day
	c    clockTime
	zone float64 // s east of Greenwich
}

// parseStamp reads a date and a clock in one cell, in either order, with Z or
// +01:00 behind, and the basic form 20260501T101530.
func parseStamp(s string) (st stamp, ok bool) {
	if len(s) > 48 || len(s) < 10 {
		return st, false
	}
	s = strings.TrimSpace(s)
	if len(s) >= 15 && s[8] == 'T' && digits(s[:8]) && digits(s[9:15]) {
		s = s[:4] + "-" + s[4:6] + "-" + s[6:8] + "T" + s[9:11] + ":" + s[11:13] + ":" + s[13:]
	}
	if !strings.Contains(s, ":") {
		return st, false
	}
	s, st.zone = zone(s)
	try := func(date, clock string) bool {
		var ok1, ok2 bool
		if st.c, ok1 = parseClock(strings.TrimSpace(clock)); !ok1 {
			return false
		}
		st.d, ok2 = parseDay(strings.TrimSpace(strings.TrimRight(date, ", ")))
		return ok2
	}
	for i := 1; i < len(s); i++ {
		if c := s[i]; c != ' ' && c != 'T' && c != '_' && c != ',' {
			continue
		}
		date, clock := s[:i], s[i+1:]
		if strings.TrimSpace(date) == "" || strings.TrimSpace(clock) == "" {
			continue
		}
		if try(date, clock) || try(clock, date) {
			return st, true
		}
	}
	return st, false
}

// zone cuts Z, UTC, GMT or +hh:mm off the end of a stamp.
func zone(s string) (string, float64) {
	for _, w := range []string{"Z", "UTC", "GMT", "utc", "z"} {
		if cut, found := strings.CutSuffix(s, w); found {
			return strings.TrimSpace(cut), 0
		}
	}
	i := strings.LastIndexAny(s, "+-")
	if i < 8 || !strings.Contains(s[:i], ":") { // a minus inside the date
		return s, 0
	}
	z := strings.ReplaceAll(s[i+1:], ":", "")
	if len(z) != 2 && len(z) != 4 || !digits(z) {
		return s, 0
	}
	sec := float64(z[0]-'0')*36000 + float64(z[1]-'0')*3600
	if len(z) == 4 {
		sec += float64(z[2]-'0')*600 + float64(z[3]-'0')*60
	}
	if s[i] == '-' {
		sec = -sec
	}
	return strings.TrimSpace(s[:i]), sec
}
