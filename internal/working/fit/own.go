package fit

import (
	"math"
	"strconv"

	"pourwright/internal/book/material"
	"pourwright/internal/ground/fault"
)

// Own turns what the recording told into a row of the workshop: parameters whose
// names are properties of a rubber (conductivity, heat, interface), each with its
// limits. A coefficient without an upper limit is kept with its lower one; what
// is not told is left out. It is an error where nothing may be kept. Name, base,
// date (2026-05-12) and log (a file name) are as material.OwnRubber has them.
func (r *Result) Own(name, base, date, log string) (material.OwnRubber, error) {
	row := material.OwnRubber{Name: name, Base: base}
	if r.Usable() {
		for k, e := range r.Params {
			if !e.Told && !(e.HighOpen && !e.LowOpen && r.scale[k] == Inverse) {
				continue
			}
			v := material.OwnValue{Property: e.Name, Value: four(e.Value), Low: four(e.Low), High: four(e.High), Level: r.Level, Date: date, Log: log}
			if e.HighOpen {
				v.High = 0
			}
			row.Values = append(row.Values, v)
		}
	}
	if len(row.Values) == 0 {
		hint := "log again with two beads at depths measured to 0.2 mm"
		for _, f := range r.Findings {
			if f.Severity == "must" {
				hint = f.Say + ": " + f.Do
				break
			}
		}
		return row, fault.New(fault.Input, log, hint, "the recording tells nothing that may be kept")
	}
	return row, nil
}

// four rounds to four digits.
func four(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 3, 64), 64)
	if err != nil || math.IsInf(y, 0) {
		return x
	}
	return y
}
