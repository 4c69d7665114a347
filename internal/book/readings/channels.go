package readings

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// pickChannels reads every column of temperatures.
func (r *reader) pickChannels() error {
	r.log.Time = r.sec
	type column struct {
		j          int
		name, unit string
		sure       bool
	}
	var list []column
	common := ""
	for j := range r.width {
		if r.used[j] || r.kinds[j] == clock || r.kinds[j] == date || r.kinds[j] == dateClock || r.kinds[j] == text {
			continue
		}
		name, unit, sure := nameAndUnit(r.head[j])
		switch {
		case r.kinds[j] == blank:
			if r.head[j] != "" {
				r.note(0, 0, "column %d, %.40q, holds no reading", j+1, r.head[j])
			}
			continue
		case unit == "x":
			r.note(0, 0, "column %d, %.40q, is no temperature", j+1, r.head[j])
			continue
		case nameOfIndex(r.head[j]) && r.rising(j) > 0.9, r.head[j] == "" && r.counts(j), unit == "" && r.saysTime(j):
			continue
		}
		if sure && unit != "" && common != "mixed" {
			if common != "" && common != unit {
				common = "mixed"
			} else {
				common = unit
			}
		}
		list = append(list, column{j, name, unit, sure})
	}
	for _, c := range list {
		ch := Channel{Name: c.name, Column: c.j + 1}
		if ch.Name == "" {
			ch.Name = fmt.Sprintf("T%d", len(r.log.Channels)+1)
		}
		if err := r.channel(&ch, c.unit, c.sure, common); err != nil {
			return err
		}
		if n := len(ch.T) - ch.Missing - ch.Open; n < leastRows {
			r.note(0, n, "channel %.40q holds only %d readings and was left out", ch.Name, n)
			continue
		}
		r.log.Channels = append(r.log.Channels, ch)
	}
	if len(r.log.Channels) == 0 {
		return r.fail(r.rows[0].line, 0, "check plugs and wires, and log at least one column of temperatures in °C, °F or K",
			"no channel with %d readings between %g and %g °C", leastRows, coldest, hottest)
	}
	return nil
}

// channel fills the readings of one column.
func (r *reader) channel(ch *Channel, unit string, sure bool, common string) error {
	j := ch.Column - 1
	col := r.texts(j)
	st, at := styleOf(col)
	if at >= 0 {
		w := r.rows[at]
		return r.fail(w.line, w.column(j), "use one decimal mark in the whole file", "%.30q has another decimal mark than the numbers before it", col[at])
	}
	raw, own, err := r.numbers(ch, col, st)
	if err != nil {
		return err
	}
	for _, u := range own {
		if unit == "" && u != "" {
			unit, sure = u, true
		}
	}
	unit, err = r.unit(ch, raw, unit, sure, common)
	if err != nil {
		return err
	}
	ch.Unit, ch.T = unit, raw
	broken, firstAt := 0, -1
	for i, x := range raw {
		if math.IsNaN(x) {
			continue
		}
		u := unit
		if own[i] != "" {
			u = own[i]
		}
		t := celsius(x, u)
		if stuck(x) || t < coldest || t > hottest {
			if t = math.NaN(); broken == 0 {
				firstAt = i
			}
			broken++
		}
		raw[i] = t
	}
	ch.Open += broken
	if broken > 0 {
		r.note(r.rows[firstAt].line, broken, "readings of %q outside %g to %g °C were taken as an open circuit", ch.Name, coldest, hottest)
	}
	return nil
}

// numbers reads the cells of a column, NaN where there is no reading, and the
// unit that stands beside a number.
func (r *reader) numbers(ch *Channel, col []string, st style) (raw []float64, own []string, err error) {
	j := ch.Column - 1
	raw = make([]float64, len(col))
	own = make([]string, len(col))
	bad, badAt := 0, -1
	for i, s := range col {
		raw[i] = math.NaN()
		switch {
		case isMissing(s):
			ch.Missing++
			continue
		case isOpen(s):
			ch.Open++
			continue
		}
		num, u, ok := bare(s)
		x, good := st.parse(num)
		if !ok || !good || u == "x" {
			if bad == 0 {
				badAt = i
			}
			bad++
			ch.Missing++
			continue
		}
		raw[i], own[i] = x, u
	}
	if bad > max(2, len(col)/20) {
		w := r.rows[badAt]
		return nil, nil, r.fail(w.line, w.column(j), "mend the cells, or empty them", "%.30q is not a temperature, nor are %d more cells of %q", col[badAt], bad-1, ch.Name)
	}
	if bad > 0 {
		r.note(r.rows[badAt].line, bad, "cells of %q that are no number were taken as missing", ch.Name)
	}
	return raw, own, nil
}

// stuck reports whether a number is one that loggers show without a probe
// (common practice, no source); 9999 and the like are outside the range anyway.
func stuck(x float64) bool {
	switch math.Abs(x) {
	case 999, 999.9, 999.99, 888.8, 888.88, 1999, 3276.7, 6553.5:
		return true
	}
	return false
}

func celsius(x float64, unit string) float64 {
	switch unit {
	case "F":
		return (x - 32) / 1.8
	case "K":
		return x - 273.15
	}
	return x
}

// unit decides in what a channel is written: header or cells, then the call,
// then the other channels, then degC where the first readings allow it.
func (r *reader) unit(ch *Channel, raw []float64, unit string, sure bool, common string) (string, error) {
	start := middle(raw, leastRows)
	if unit == "K" && start < 200 {
		r.note(0, 0, "K of %q taken as the kind of thermocouple: it starts at %g", r.head[ch.Column-1], start)
		unit = ""
	}
	if unit != "" && (sure || start > 200 || unit != "K") {
		if !sure {
			r.note(0, 0, "%q read in °%s, as its name ends", ch.Name, unit)
		}
		return unit, nil
	}
	if r.o.Unit != "" {
		return r.o.Unit, nil
	}
	if common != "" && common != "mixed" {
		return common, nil
	}
	if start > 150 {
		return "", r.fail(r.rows[0].line, 0, "write °C, °F or K behind the channel's name in the header, or name the unit in the call",
			"channel %.40q starts at %g and names no unit", ch.Name, start)
	}
	if start > 55 {
		r.note(0, 0, "%q names no unit: read in °C, which makes the mould %.0f °C warm at the start. If it is °F, say so in the header", ch.Name, start)
	} else {
		r.note(0, 0, "%q names no unit: read in °C", ch.Name)
	}
	return "C", nil
}

// middle returns the median of the first n numbers.
func middle(x []float64, n int) float64 {
	var v []float64
	for _, a := range x {
		if !math.IsNaN(a) && math.Abs(a) < 9000 {
			if v = append(v, a); len(v) == n {
				break
			}
		}
	}
	if len(v) == 0 {
		return 0
	}
	sort.Float64s(v)
	return v[len(v)/2]
}

// String is the note as a person reads it.
func (n Note) String() string {
	var b strings.Builder
	if n.Line > 0 {
		fmt.Fprintf(&b, "line %d: ", n.Line)
	}
	b.WriteString(n.Text)
	if n.Count > 1 {
		fmt.Fprintf(&b, " (%d)", n.Count)
	}
	return b.String()
}
