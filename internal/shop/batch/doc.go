// Package batch answers what to weigh, how long things take and what they
// cost: the sheet of figures, closed formulas all of them, labelled as
// estimates.
//
// Main function: Make goes from an Input (volumes and areas of the layout, the
// job with its materials) to a Sheet. Before the layout, Heats chooses the two
// temperatures and FreezeConstant gives the seconds per mm2 of (V/A)^2 that
// the layout wants. Every figure is a plain function that returns its value
// with unit, formula, inputs and source.
//
// Units: mm, mm2, mm3, g, degC, s, mbar, litres where the unit says so; the
// material rows are SI. Shares 0..1.
//
// Methods and references: freezing against an insulating mould (Flemings,
// Solidification Processing, 1974; Chvorinov's V/A), Boyle, the barometric
// formula of the standard atmosphere (ISO 2533), circular plates (Timoshenko;
// Roark), Stokes' rise of a bubble, Newton cooling of the block with its own
// resistance, grades of ISO 8062-3:2007 table 2. Rules without a published
// source say "common practice, no source" or "own figure".
//
// Limits: the freezing time is that of a plane and too long for small curved
// parts (a rod of 6 mm: about 1.5 times); the block cools as one lump; the cure
// law holds between 18 and 30 degC; a lid is refused or not, never approved.
package batch

import (
	"math"

	"pourwright/internal/book/plan"
)

// Names of sources used in the figures.
const (
	craft    = "common practice, no source"
	own      = "own figure, no source: correct it from the logbook"
	law      = "definition"
	flemings = "Flemings, Solidification Processing (1974), insulating mould; Chvorinov's V/A"
)

// in is one named input of a figure.
type in struct {
	name string
	x    float64
}

// figure makes a plan.Figure. The formula names the inputs as they are listed.
func figure(name string, value float64, unit, formula, source string, inputs ...in) plan.Figure {
	m := map[string]float64{}
	for _, i := range inputs {
		m[i.name] = i.x
	}
	return plan.Figure{Name: name, Value: value, Unit: unit, Formula: formula, Inputs: m, Source: source}
}

// up rounds x up to whole steps, with a whisker for round-off.
func up(x, step float64) float64 { return tidy(math.Ceil(x/step-1e-9) * step) }

// near rounds x to the nearest step.
func near(x, step float64) float64 { return tidy(math.Round(x/step) * step) }

// tidy takes the round-off of decimal steps out of x.
func tidy(x float64) float64 { return math.Round(x*1e9) / 1e9 }
