package readings

import (
	"strings"
)

// clockTimes reads a column of clocks; a clock that falls by more than half a
// day has passed midnight.
func (r *reader) clockTimes() error {
	c, err := r.clocks(r.time.col)
	if err != nil {
		return err
	}
	r.sec = make([]float64, len(c))
	days := 0.0
	wraps := r.time.pair == 1 && c[0].parts >= 2
	for i := range c {
		r.sec[i] = c[i].s*r.time.pair + days
		if i > 0 && wraps && c[i].s-c[i-1].s < -43200 && c[i-1].s < 86400 && c[i-1].s > 64800 && c[i].s < 21600 {
			days += 86400
			r.sec[i] += 86400
			r.note(r.rows[i].line, 1, "the clock passed midnight")
		}
	}
	return nil
}

// clocks reads a column of clocks and decides what two parts are: mm:ss where a
// fraction or the header says so, where the first part passes 23 or where they
// start within a minute of nought; hh:mm where AM or PM or the header says so.
func (r *reader) clocks(col int) ([]clockTime, error) {
	out := make([]clockTime, len(r.rows))
	two, sure := 0, false
	for i, w := range r.rows {
		var ok bool
		if col < len(w.cells) {
			out[i], ok = parseClock(w.cells[col].text)
		}
		if !ok {
			return nil, r.fail(w.line, 0, "mend the clock or remove the row", "no clock in this row")
		}
		if out[i].parts == 2 {
			two++
			sure = sure || out[i].frac || out[i].first > 23
		}
	}
	r.time.pair = 1
	if two == 0 {
		return out, nil
	}
	if two < len(out) { // 59:59 then 1:00:00
		for i := range out {
			if out[i].parts == 2 {
				out[i].s /= 60
			}
		}
		return out, nil
	}
	h := strings.ToLower(r.head[col])
	switch {
	case r.o.Time == "hh:mm", r.o.Time == "" && (out[0].half || strings.Contains(h, "hh:mm") || strings.Contains(h, "h:m")):
		return out, nil
	case r.o.Time == "mm:ss", sure, strings.Contains(h, "mm:ss"), strings.Contains(h, "m:s"), strings.Contains(h, "min:s"), out[0].first == 0:
		r.time.pair = 1.0 / 60
		return out, nil
	}
	w := r.rows[0]
	return nil, r.fail(w.line, w.column(col), "write Time (mm:ss) or Time (hh:mm) into the header", "%.20q may be hours and minutes or minutes and seconds", w.cells[col].text)
}

// stampTimes reads dates with clocks, in one column or two.
func (r *reader) stampTimes() error {
	n := len(r.rows)
	days, clocks, zones := make([]day, n), make([]clockTime, n), make([]float64, n)
	for i, w := range r.rows {
		ok := true
		if r.time.form == dateClock {
			var s stamp
			s, ok = parseStamp(w.cells[r.time.col].text)
			days[i], clocks[i], zones[i] = s.d, s.c, s.zone
		} else {
			days[i], ok = parseDay(w.cells[r.time.col].text)
		}
		if !ok {
			return r.fail(w.line, w.column(r.time.col), "mend the date or remove the row", "%.40q is not a date", w.cells[r.time.col].text)
		}
	}
	if r.time.form == date {
		var err error
		if clocks, err = r.clocks(r.time.second); err != nil {
			return err
		}
	} else {
		r.time.pair = 1
	}
	if err := r.dayOrder(days); err != nil {
		return err
	}
	r.sec = make([]float64, n)
	open := false
	for i := range days {
		open = open || !days[i].fixed
		d, _ := days[i].order(r.time.month)
		r.sec[i] = d.seconds() + clocks[i].s*r.time.pair - zones[i]
	}
	r.log.Start = "?"
	r.backHour(zones)
	return nil
}

// dayOrder decides between day first and month first: the one under which all
// dates exist, and where both do, the one under which the log is shorter.
func (r *reader) dayOrder(days []day) error {
	var lo, hi [2]float64
	valid := [2]bool{true, true}
	badAt, open := -1, false
	for i, d := range days {
		open = open || !d.fixed
		for k := range 2 {
			o, ok := d.order(k == 1)
			if !ok {
				valid[k] = false
				if !valid[0] && !valid[1] && badAt < 0 {
					badAt = i
				}
				continue
			}
			s := o.seconds()
			if i == 0 {
				lo[k], hi[k] = s, s
			}
			lo[k], hi[k] = min(lo[k], s), max(hi[k], s)
		}
	}
	switch {
	case badAt >= 0:
		w := r.rows[badAt]
		return r.fail(w.line, w.column(r.time.col), "write the dates as 2026-05-31", "%.40q is a date neither day first nor month first with the rows above", w.cells[r.time.col].text)
	case !open || !valid[1]:
	case !valid[0]:
		r.time.month = true
		r.note(r.rows[0].line, 0, "dates are written month first")
	case hi[1]-lo[1] < hi[0]-lo[0]:
		r.time.month = true
		r.note(r.rows[0].line, 0, "dates taken as month first: the recording would be longer day first")
	case hi[0] > lo[0]:
		r.note(r.rows[0].line, 0, "dates taken as day first")
	}
	return nil
}

// backHour mends one step back by an hour where the clock was set to winter
// time within the recording.
func (r *reader) backHour(zones []float64) {
	at := -1
	for i := 1; i < len(r.sec); i++ {
		if d := r.sec[i] - r.sec[i-1]; d < 0 {
			if at >= 0 || d < -3600 || d > -3480 || zones[i] != 0 {
				return
			}
			at = i
		}
	}
	if at < 10 || len(r.sec)-at < 10 || r.sec[at-1]-r.sec[0] < 1 {
		return
	}
	for i := at; i < len(r.sec); i++ {
		r.sec[i] += 3600
	}
	r.note(r.rows[at].line, len(r.sec)-at, "the clock was set back by an hour here")
}
