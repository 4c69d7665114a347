package drawing

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// poured says what was poured into what.
func (h *Heat) poured() string {
	s := &h.Doc.Setting
	t := "first shot, metal of " + grouped(s.Metal, 0) + nb + "°C into a mould of " + grouped(s.Mould, 0) + nb + "°C; computed"
	if h.Grid.H > 0 && len(h.Dist) > 0 {
		t += ", cells of " + plain(h.Grid.H) + nb + "mm"
	}
	return t
}

func (s *seen) lastWords() []string {
	l := []string{"freezes last in the casting:"}
	if s.all {
		l[0] = "freezes last:"
	}
	if s.after < 0 {
		return append(l, "not solid in the time computed")
	}
	return append(l, "solid "+exactly(s.after)+" after the pour")
}

// Islands worth a word: those whose shortfall or growth makes a pore of 2 mm, and
// no more than mostNamed.
const (
	poreLeast = 5.0 // mm3
	mostNamed = 4
)

// cutOff lists the islands worth a word.
func (h *Heat) cutOff() []pour.Island {
	var l []pour.Island
	for _, i := range h.Doc.Islands {
		if math.Abs(i.Unfed) >= poreLeast && len(l) < mostNamed {
			l = append(l, i)
		}
	}
	return l
}

func islandWords(i pour.Island) []string {
	l := []string{volume(i.Liquid) + " liquid cut off", "from its feed after " + exactly(i.After) + ":"}
	if i.Unfed < 0 {
		return append(l, "grows by "+volume(-i.Unfed))
	}
	return append(l, "short by "+volume(i.Unfed))
}

// volume says mm3 to two figures, from half a cm3 on in cm3.
func volume(mm3 float64) string {
	if mm3 >= 99.5 && mm3 < 495 {
		return grouped(math.Round(mm3/10)*10, 0) + nb + "mm³"
	}
	if mm3 < 99.5 {
		return plain(math.Round(mm3)) + nb + "mm³"
	}
	return Cubic(mm3)
}

// offPlane says on which side of the section along the parting an island's place
// lies, if it lies farther off than the island is thick.
func (s *seen) offPlane(i pour.Island) string {
	return aside(i.At[2]-s.at.Z, math.Max(1.5*s.h.Grid.H, math.Cbrt(i.Liquid)/2))
}

// aside says that a place lies dz mm off the section along the parting, which is
// seen from half 2.
func aside(dz, least float64) string {
	switch {
	case math.Abs(dz) <= least:
		return ""
	case dz > 0:
		return "(" + Built(dz) + nb + "mm behind this cut)"
	}
	return "(" + Built(-dz) + nb + "mm in front of this cut)"
}

// exactly says a computed time as it is: seconds whole under 2 min, then
// minutes to a half, from 90 min hours to a tenth.
func exactly(s float64) string {
	switch {
	case s < 9.95:
		return trimmed(s) + nb + "s"
	case s < 120:
		return grouped(s, 0) + nb + "s"
	case s < 5400:
		return trimmed(math.Round(s/30)/2) + nb + "min"
	}
	return trimmed(s/3600) + nb + "h"
}

// numberAt is the number of the finding with this code, and this figure where it
// is not zero, at a place in the block; 0 where the plan has none.
func (h *Heat) numberAt(at vec.V3, code string, figure float64) int {
	if h.Plan == nil || code == "" {
		return 0
	}
	in := &Input{Plan: h.Plan}
	v := &view{}
	v.number(in)
	frames := in.placements()
	for i, f := range h.Plan.Findings {
		if v.numbers[i] == 0 || f.At == nil || f.Code != code || len(frames) == 0 {
			continue
		}
		if figure != 0 && (f.Computed == nil || math.Abs(*f.Computed-figure) > 1e-3*math.Abs(figure)) {
			continue
		}
		if p := frames[placeOf(f, len(frames))].To(vec.FromArray(*f.At)); p.Dist(at) < math.Max(h.Grid.H, 0.5) {
			return v.numbers[i]
		}
	}
	return 0
}

func placeOf(f plan.Finding, n int) int {
	if f.Cavity == nil {
		return 0
	}
	return min(max(*f.Cavity-1, 0), n-1)
}

func solidWords(sc scale) string {
	return "The bands: when the metal is solid, " + map[string]string{"s": "seconds", "min": "minutes", "h": "hours"}[sc.unit] + " after the end of the pour."
}

// channelWords warns where a channel seems to end.
func (s *seen) channelWords() string {
	if s.cut[1].runsOn(vec.V2{X: s.at.X, Y: s.at.Y}) {
		return " Where the channel seems to end it runs on beside the cut."
	}
	return ""
}

// errorWords says how far the time is off, with the time itself where whole.
func (h *Heat) errorWords(whole bool) string {
	f := &h.Doc.Freeze
	if f.Error == nil {
		return ""
	}
	if whole && f.OpenAfter != nil {
		return "The first casting may be lifted after " + exactly(*f.OpenAfter) + ", give or take " + exactly(math.Ceil(f.Error.OpenAfter)) + " for the size of the cells."
	}
	if f.SolidAfter == nil {
		return ""
	}
	return " All is solid after " + exactly(*f.SolidAfter) + ", give or take " + exactly(math.Ceil(f.Error.SolidAfter)) + "."
}

// ratingWords says how the rubber fares against its rating.
func (h *Heat) ratingWords() string {
	r, d := h.Doc.Setting.Rubber.Rating, h.Doc
	if !(r > 0) || d.Rubber.Peak == nil {
		return ""
	}
	if *d.Rubber.Peak <= r {
		return "The rubber is rated to " + grouped(r, 0) + nb + "°C and stays under it."
	}
	t := "Heavy line: its rating, " + grouped(r, 0) + nb + "°C"
	if o := d.Rubber.OverFor; o != nil && *o > 0 {
		t += ", passed for up to " + exactly(*o)
	}
	return t + "."
}
