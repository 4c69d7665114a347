package block

import (
	"fmt"
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// Sources that figures name.
const (
	practice = "common practice, no source"
	ours     = "our own default; correct it by the logbook"
	youngLap = "Young and Laplace (capillary pressure of a slot and of a tube)"
)

func (l *Layout) figure(name string, value float64, unit, formula, source string, inputs map[string]float64) {
	if inputs == nil {
		inputs = map[string]float64{}
	}
	l.Figures = append(l.Figures, plan.Figure{Name: name, Value: value, Unit: unit, Formula: formula, Inputs: inputs, Source: source})
}

// finding adds one finding; at is in the master frame of its cavity, or nil.
func (l *Layout) finding(code, severity string, at *vec.V3, say, do string) *plan.Finding {
	f := plan.Finding{Code: code, Severity: severity, Say: say, Do: do}
	if at != nil {
		f.At = plan.Ptr(at.Array())
	}
	l.Findings = append(l.Findings, f)
	return &l.Findings[len(l.Findings)-1]
}

func limited(f *plan.Finding, computed, limit float64) *plan.Finding {
	f.Computed, f.Limit = plan.Ptr(computed), plan.Ptr(limit)
	return f
}

// pair says two volumes given in mm3 in one unit, cm3 where either is 1000 mm3 or
// more; digits are those after the point of mm3.
func pair(a, b float64, format string, digits int) string {
	unit := "mm3"
	if math.Max(a, b) >= 999.5 {
		a, b, unit, digits = a/1e3, b/1e3, "cm3", 2
	}
	say := func(x float64) string { return fmt.Sprintf("%.*f %s", digits, x, unit) }
	return fmt.Sprintf(format, say(a), say(b))
}
