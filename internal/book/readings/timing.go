package readings

import (
	"math"
	"sort"
	"strings"
)

// timing says where the times stand and how they are written.
type timing struct {
	form   kind // number, clock, date (a date and a clock in two columns), dateClock; blank: no times, Options.Step
	col    int
	second int     // the clock beside a date
	factor float64 // s of one, for numbers
	pair   float64 // what the 3600 of a clock of two parts is worth: 60 for mm:ss
	month  bool    // month first
}

// pickTime finds the times and leaves in rows only the lines that have one.
func (r *reader) pickTime() error {
	r.survey()
	if err := r.header(r.firstLine()); err != nil {
		return err
	}
	if r.sep == ',' && r.width >= 4 && r.width%2 == 0 && !r.named() && r.allWhole() {
		return r.commas(r.firstLine())
	}
	if err := r.chooseTime(); err != nil {
		return err
	}
	r.used = map[int]bool{r.time.col: true}
	if r.time.form == date {
		r.used[r.time.second] = true
	}
	if r.time.form == blank {
		r.used = map[int]bool{}
	}
	if err := r.dropOthers(); err != nil {
		return err
	}
	switch r.time.form {
	case number:
		return r.numberTimes()
	case clock:
		return r.clockTimes()
	case date, dateClock:
		return r.stampTimes()
	}
	for i := range r.rows {
		r.sec = append(r.sec, float64(i)*r.o.Step)
	}
	return nil
}

// allWhole reports whether every column holds whole numbers only.
func (r *reader) allWhole() bool {
	for _, k := range r.kinds {
		if k != number {
			return false
		}
	}
	return !r.anyPoint()
}

// firstLine returns the line of the first row of which more than half of the
// cells fit the kinds of their columns.
func (r *reader) firstLine() int {
	for _, w := range r.rows {
		if len(w.cells) != r.width {
			continue
		}
		fits, full := 0, 0
		for j, c := range w.cells {
			if r.kinds[j] == text || r.kinds[j] == blank {
				continue
			}
			full++
			if k := kindOf(c.text); k == r.kinds[j] || k == blank {
				fits++
			}
		}
		if 2*fits > full {
			return w.line
		}
	}
	return 1
}

// chooseTime ranks the columns: one whose header names a unit of time, a date
// with a clock, a date beside a clock, a clock, a header that names a time, and
// last a first column of numbers that rise.
func (r *reader) chooseTime() error {
	has := func(k kind, from int) int {
		best := -1
		for j := from; j < r.width; j++ {
			if r.kinds[j] == k && (best < 0 || nameOfTime(r.head[j]) && !nameOfTime(r.head[best])) {
				best = j
			}
		}
		return best
	}
	for j := range r.width {
		if u := timeUnit(r.head[j]); r.kinds[j] == number && u > 0 && (nameOfTime(r.head[j]) || j == 0) && r.rising(j) >= 0.9 {
			r.time = timing{form: number, col: j, factor: u}
			return nil
		}
	}
	if j := has(dateClock, 0); j >= 0 {
		r.time = timing{form: dateClock, col: j}
		return nil
	}
	if d, c := has(date, 0), has(clock, 0); d >= 0 && c >= 0 {
		r.time = timing{form: date, col: d, second: c}
		return nil
	} else if c >= 0 {
		r.time = timing{form: clock, col: c}
		return nil
	}
	for j := range r.width {
		_, unit, _ := nameAndUnit(r.head[j])
		if r.kinds[j] == number && nameOfTime(r.head[j]) && (unit == "" || timeUnit(r.head[j]) > 0) {
			r.time = timing{form: number, col: j, factor: timeUnit(r.head[j])}
			return nil
		}
	}
	if r.o.Step > 0 {
		r.time = timing{form: blank, col: -1}
		return nil
	}
	for j := range r.width {
		_, unit, _ := nameAndUnit(r.head[j])
		if r.kinds[j] != number || nameOfIndex(r.head[j]) || unit != "" || r.rising(j) < 0.95 {
			continue
		}
		if next := j + 1; r.counts(j) && next < r.width && r.kinds[next] == number && r.rising(next) == 1 {
			continue // a number of the row before the times
		}
		r.time = timing{form: number, col: j}
		return nil
	}
	return r.fail(r.firstLine(), 0, "write a header that names the times, as in Time (s);T1 (°C), or give the seconds between two rows",
		"no column of times found")
}

// rising returns the share of steps of a column of numbers that do not fall,
// or do not rise where that is more: newest first.
func (r *reader) rising(j int) float64 {
	up, down, n, last := 0, 0, 0, math.NaN()
	for _, w := range r.rows {
		if j >= len(w.cells) {
			continue
		}
		num, _, _ := bare(w.cells[j].text)
		x, ok := style{comma: strings.Contains(num, ",")}.parse(num)
		if !ok {
			continue
		}
		if !math.IsNaN(last) {
			n++
			if x > last {
				up++
			} else if x < last {
				down++
			}
		}
		last = x
	}
	if n == 0 || up+down == 0 {
		return 0
	}
	return 1 - float64(min(up, down))/float64(n)
}

// counts reports whether a column goes up by one from row to row.
func (r *reader) counts(j int) bool {
	last, n := math.NaN(), 0
	for _, w := range r.rows {
		if j >= len(w.cells) {
			continue
		}
		if x, ok := plain(w.cells[j].text); ok {
			if !math.IsNaN(last) && x != last+1 {
				return false
			}
			last = x
			n++
		}
	}
	return n > 2
}

// dropOthers leaves in rows those with a time. A few lines between the
// readings may hold something else; many are an error.
func (r *reader) dropOthers() error {
	fits := func(w row) bool {
		ok := func(j int, k kind) bool { return j < len(w.cells) && kindOf(w.cells[j].text) == k }
		switch r.time.form {
		case blank:
			return len(w.cells) == r.width && r.anyReading(w)
		case date:
			return ok(r.time.col, date) && ok(r.time.second, clock)
		}
		return ok(r.time.col, r.time.form)
	}
	first := r.firstLine()
	kept := r.rows[:0]
	var bad []int
	badCol := 1
	for _, w := range r.rows {
		switch {
		case w.line < first:
		case len(w.cells) > r.width:
			return r.fail(w.line, w.column(r.width), "look for a separator inside a text or a number",
				"%d cells where the other rows have %d", len(w.cells), r.width)
		case fits(w):
			kept = append(kept, w)
		default:
			if len(bad) == 0 && r.time.col >= 0 && r.time.col < len(w.cells) {
				badCol = w.cells[r.time.col].col
			}
			bad = append(bad, w.line)
		}
	}
	r.rows = kept
	if len(bad) > max(3, len(kept)/20) {
		return r.fail(bad[0], badCol, "mend or remove these lines, or mark them with #", "no time here, nor in %d more lines", len(bad)-1)
	}
	if len(bad) > 0 {
		r.note(bad[0], len(bad), "lines without a time were left out")
	}
	if n := len(r.rows); n > 0 && len(r.rows[n-1].cells) < r.width && len(r.rows) > 1 && len(r.rows[n-2].cells) == r.width {
		r.note(r.rows[n-1].line, 1, "the last row is cut off and was left out")
		r.rows = r.rows[:n-1]
	}
	if len(r.rows) < leastRows {
		return r.fail(first, 0, "log from before the pour until the casting is cold, at least once a second", "%d rows of readings, fewer than %d", len(r.rows), leastRows)
	}
	return nil
}

func (r *reader) anyReading(w row) bool {
	for _, c := range w.cells {
		if kindOf(c.text) == number {
			return true
		}
	}
	return false
}

// texts returns a column.
func (r *reader) texts(j int) []string {
	out := make([]string, len(r.rows))
	for i, w := range r.rows {
		if j < len(w.cells) {
			out[i] = w.cells[j].text
		}
	}
	return out
}

// numberTimes reads a column of numbers. Without a unit in the header, days
// are told from seconds by the step: no logger of a pour writes a thousand rows
// a second.
func (r *reader) numberTimes() error {
	col := r.texts(r.time.col)
	st, at := styleOf(col)
	if at >= 0 {
		w := r.rows[at]
		return r.fail(w.line, w.column(r.time.col), "use one decimal mark in the whole file", "%.30q has another decimal mark than the times before it", col[at])
	}
	x := make([]float64, len(col))
	for i, s := range col {
		num, _, _ := bare(s)
		var ok bool
		if x[i], ok = st.parse(num); !ok || math.Abs(x[i]) > 1e17 {
			w := r.rows[i]
			return r.fail(w.line, w.column(r.time.col), "mend the number or remove the row", "%.30q is not a time", s)
		}
	}
	factor := r.time.factor
	switch r.o.Time {
	case "s", "ms", "min", "h", "day":
		factor = map[string]float64{"s": 1, "ms": 1e-3, "min": 60, "h": 3600, "day": 86400}[r.o.Time]
	}
	if factor == 0 {
		factor = timeUnit(col[0]) // "12 ms" in the cell
	}
	if factor == 0 {
		var what string
		factor, what = guessUnit(x)
		r.note(r.rows[0].line, 0, "the header names no unit of time: taken as %s", what)
	}
	const serial = 25569 // days from 30 December 1899 to 1970
	if least := lowest(x); factor == 86400 && least > 20000 && least < 80000 {
		for i := range x {
			x[i] -= serial
		}
		r.log.Start = "?"
	} else if factor <= 1 && least*factor > 1e9 && least*factor < 4e9 {
		r.log.Start = "?"
	}
	r.sec = x
	for i := range x {
		x[i] *= factor
		if factor == 86400 { // a fraction of a day has 15 digits: keep the microsecond
			x[i] = math.Round(x[i]*1e6) / 1e6
		}
	}
	return nil
}

func lowest(x []float64) float64 {
	m := x[0]
	for _, v := range x {
		m = min(m, v)
	}
	return m
}

// guessUnit returns the seconds of the unit that plain numbers must be in.
func guessUnit(x []float64) (float64, string) {
	y := append([]float64(nil), x...)
	sort.Float64s(y)
	var steps []float64
	for i := 1; i < len(y); i++ {
		if d := y[i] - y[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 1, "seconds"
	}
	sort.Float64s(steps)
	step, span, least := steps[len(steps)/2], y[len(y)-1]-y[0], y[0]
	switch {
	case least > 20000 && least < 80000 && span < 30 && step < 0.002, span < 1.5 && step < 0.0008:
		return 86400, "days"
	case least > 1e15 && least < 4e15:
		return 1e-6, "microseconds since 1970"
	case least > 1e12 && least < 4e12:
		return 1e-3, "milliseconds since 1970"
	}
	return 1, "seconds"
}
