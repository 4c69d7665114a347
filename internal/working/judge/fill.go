package judge

import (
	"fmt"
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
)

// Limits of a filling.
const (
	airTell    = 5.0   // mm3 of air worth a word: a bubble of 2 mm
	airShare   = 0.002 // of the open volume; from here on air is a fault, not a mark
	airMuch    = 0.02  // of the open volume; from here on the piece is short
	shortTell  = 2.0   // mm3 not filled
	shortMuch  = 0.005 // of the open volume
	sure       = 0.5   // share of the pours above which a place is taken as certain
	spillTell  = 0.05  // share of the poured metal that runs over the cup
	meetTell   = 5.0   // mm of a line where fronts meet
	balance    = 1e-6  // share by which a balance may be open
	mostPlaces = 6     // of one kind that are named
	castLeast  = 0.92  // share of the castings that fills, under which it is said where no place says why
)

// Fill returns what a computed filling has to say, in the words of the bench. Places are taken
// to the master's frame by place. liquidus is degC. Statements rest on medians of the ensemble:
// air is told with its spread, and what only some hands do is called so. Nothing
// is said where nothing was computed.
func Fill(f *pour.Filling, liquidus float64, place func(plan.P3) plan.P3) []plan.Finding {
	if f == nil || !f.Computed || !(f.Open > 0) {
		return nil
	}
	w := &flow{f: f, liquidus: liquidus, place: place}
	w.air()
	w.short()
	w.spread()
	w.meetings()
	w.bridged()
	w.overflow()
	w.balances()
	if n := len(f.Broken); n > 0 {
		w.find("not-computed", plan.Note, nil, float64(n), 0, fmt.Sprintf("%d of the computed pours broke down; the figures are those of the other %d.", n, len(f.Runs)), "Report the job.")
	}
	return w.out
}

type flow struct {
	f        *pour.Filling
	liquidus float64
	place    func(plan.P3) plan.P3
	out      []plan.Finding
}

func (w *flow) find(code, severity string, at *plan.P3, computed, limit float64, say, do string) {
	x := plan.Finding{Code: code, Severity: severity, Computed: plan.Known(computed), Limit: plan.Known(limit), Say: say, Do: do}
	if at != nil {
		x.At = plan.Ptr(w.place(*at))
	}
	w.out = append(w.out, x)
}

// range3 writes a median with its spread.
func range3(s pour.Spread) string {
	if s.High-s.Low < 0.1*s.Median {
		return cubic(s.Median)
	}
	return cubic(s.Median) + " (" + cubic(s.Low) + " to " + cubic(s.High) + ")"
}

func (w *flow) air() {
	n, limit := len(w.f.Runs), math.Max(airTell, airShare*w.f.Open)
	for i, a := range w.f.Air {
		v := a.Volume
		if i == mostPlaces || v.High < airTell {
			break
		}
		at := a.At
		switch {
		case float64(a.Runs) <= sure*float64(n):
			if v.High >= limit {
				w.find("pocket", plan.Note, &at, v.High, limit,
					fmt.Sprintf("Computed, air stays here in %d of %d pours, up to %s: by the hand that pours.", a.Runs, n, cubic(v.High)), "Cut a vent here if the first shots show it.")
			}
		case v.Median >= airMuch*w.f.Open:
			w.find("pocket", plan.Must, &at, v.Median, limit,
				fmt.Sprintf("Computed, %s of air stays here: the piece comes out short.", range3(v)), "Vent this place before the first shot, or stand the block so that it is not the top of a dead end.")
		case v.Median >= limit:
			w.find("pocket", plan.Should, &at, v.Median, limit,
				fmt.Sprintf("Computed, %s of air stays here.", range3(v)), "Cut a vent here, or pour slower so that the air gets out; tap the mould as it fills.")
		case v.Median >= airTell:
			w.find("pocket", plan.Note, &at, v.Median, limit,
				fmt.Sprintf("Computed, a bubble of %s stays here.", range3(v)), "Powder and a tap on the mould often free it; cut a vent if it shows.")
		}
	}
}

// short tells of ends that metal did not reach for cold.
func (w *flow) short() {
	for i, p := range w.f.Short {
		if i == mostPlaces || p.Volume < shortTell {
			break
		}
		severity, limit := plan.Should, math.Max(shortTell, shortMuch*w.f.Open)
		if p.Volume >= limit {
			severity = plan.Must
		}
		do := "In this order: warm the mould, powder it, tap it as it fills, pour faster, widen the ingate; hotter metal last, within the rubber's rating."
		if !w.f.Pouring.Tap {
			do = "In this order: warm the mould, powder it, tap it as it fills (try it computed), pour faster, widen the ingate; hotter metal last, within the rubber's rating."
		}
		at := p.At
		say := fmt.Sprintf("Computed, %s here stays empty: the metal freezes on its way.", cubic(p.Volume))
		if !p.Frozen {
			say = fmt.Sprintf("Computed, %s here stays empty: the metal's head does not push it in.", cubic(p.Volume))
			do = "Raise the cup, lean the block so that this end lies lower, powder it, tap it."
		}
		w.find("misrun", severity, &at, p.Volume, limit, say, do)
	}
}

// spread tells of castings that lack more than the places named explain: void finer than the cells.
func (w *flow) spread() {
	c := w.f.Middle.Castings.Median
	for _, x := range w.out {
		if x.Severity == plan.Must {
			return
		}
	}
	if c < castLeast {
		w.find("misrun", plan.Should, nil, c, castLeast,
			fmt.Sprintf("Computed, the castings fill to %.0f %% only; what lacks is spread through them in voids finer than the cells of %.1f mm.", 100*c, w.f.Runs[0].Cell),
			"Compute it on finer cells (pour --fine) before you trust this plan.")
	}
}

func (w *flow) meetings() {
	n := 0
	for _, m := range w.f.Meetings {
		if n == mostPlaces || m.Length < meetTell && !m.Cold && !m.Ladle {
			continue
		}
		n++
		at := m.At
		switch {
		case m.Ladle && m.Cold:
			w.find("cold-shut", plan.Must, &at, m.Coldest, w.liquidus,
				fmt.Sprintf("Computed, the second ladle does not become one with the first here: %.0f mm of cold shut at %.0f °C.", m.Length, m.Coldest), "Fill from one ladle that holds the whole charge.")
		case m.Cold:
			w.find("cold-shut", plan.Should, &at, m.Coldest, w.liquidus,
				fmt.Sprintf("Computed, two fronts meet here at %.0f °C over %.0f mm and do not become one.", m.Coldest, m.Length), "Warm the mould, pour faster, or move the ingate so that the fronts meet where it does not show; a flow-off at this place carries the cold metal out.")
		case m.Ladle:
			w.find("cold-shut", plan.Should, &at, m.Coldest, w.liquidus,
				fmt.Sprintf("Computed, the pause leaves a line of %.0f mm here.", m.Length), "Fill from one ladle, or shorten the pause.")
		case m.Coldest < w.liquidus+pour.WarmMargin:
			w.find("cold-shut", plan.Note, &at, m.Coldest, w.liquidus+pour.WarmMargin,
				fmt.Sprintf("Computed, two fronts meet here at %.0f °C over %.0f mm; a line may show.", m.Coldest, m.Length), "Look here on the first castings; a warmer mould takes it away.")
		}
	}
}

func (w *flow) bridged() {
	for i, p := range w.f.Bridged {
		if i == mostPlaces {
			break
		}
		at := p.At
		w.find("dead-end", plan.Should, &at, p.Volume, 0,
			fmt.Sprintf("Computed, the metal lies over this hanging bore and shuts in %s of air.", cubic(p.Volume)), "Vent its tip, or stand the block so that it fills from below.")
	}
}

func (w *flow) overflow() {
	over, poured := w.f.Middle.Overflow.Median, 0.0
	for _, r := range w.f.Runs {
		poured = math.Max(poured, r.Poured)
	}
	if poured > 0 && over > spillTell*poured {
		w.find("ladle", plan.Should, nil, over, spillTell*poured,
			fmt.Sprintf("Computed, %s of metal runs over the cup at this rate: hot metal on the block and the bench.", cubic(over)),
			"Pour slower, or stop when the cup stands full. Keep a tray under the block, sleeves and shoes covered, and no water near.")
	}
}

// balances tells where the solver did not keep what it was given.
func (w *flow) balances() {
	m := w.f.Middle
	if x := math.Max(math.Abs(m.Volume), math.Abs(m.Energy)); !(x <= balance) {
		w.find("not-computed", plan.Note, nil, x, balance, "The computed filling lost or won volume or heat beyond its limit.", "Take its figures as estimates and report the job.")
	}
}
