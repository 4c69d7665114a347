package drawing

import (
	"math"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// seen is what the two pictures of a pour share: the sections and their fields.
type seen struct {
	h     *Heat
	size  vec.V3  // of the block
	at    vec.V3  // where the castings freeze last
	after float64 // s; below 0 where it is not solid in the end
	cut   [2]*plane
	solid [2][]float32
	peak  [2][]float32
}

// see cuts the fields; nil where there are none or no metal in them.
func (h *Heat) see() *seen {
	if len(h.Dist) == 0 {
		return nil
	}
	at, after, ok := h.last()
	if !ok {
		return nil
	}
	s := &seen{h: h, at: at, after: after, size: h.Grid.Box().Size()}
	if b := h.blockPlan(); b != nil && b.Size[0] > 0 && b.Size[1] > 0 && b.Size[2] > 0 {
		s.size = vec.FromArray(b.Size)
	}
	s.cut = [2]*plane{h.cut(0, at.X, s.size), h.cut(2, at.Z, s.size)}
	top := float32(0)
	for _, t := range h.Solid {
		top = max(top, t)
	}
	// metal cells at the wall hold the peak of the rubber's face
	air := float32(h.Doc.Setting.Room + 0.5)
	for k, c := range s.cut {
		s.solid[k] = c.sample(func(q int) (float32, bool) {
			if h.Solid[q] < 0 {
				return top, h.Dist[q] < 0
			}
			return h.Solid[q], h.Dist[q] < 0
		})
		s.peak[k] = c.sample(func(q int) (float32, bool) { return h.Peak[q], h.Dist[q] >= 0 || h.Peak[q] > air })
		c.spread(s.solid[k])
		c.smooth(s.solid[k], 1)
		c.spread(s.peak[k])
	}
	return s
}

// reach is the range of the fields on both sections, in the metal or the rubber.
func (s *seen) reach(f [2][]float32, inMetal bool) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for k, c := range s.cut {
		for q, v := range f[k] {
			if (c.dist[q] < 0) == inMetal && v == v {
				lo, hi = math.Min(lo, float64(v)), math.Max(hi, float64(v))
			}
		}
	}
	return lo, hi
}

// The places on a picture, mm.
const (
	heatTop   = 25.0
	heatLabel = 48.0 // the column of labels at the right
	heatFoot  = 29.0 // the names of the views and the bar of the bands
	heatSide  = 8.0  // round each view, for the values of the lines
)

// lay places the section across at the left and that along the parting beside it
// in a box on the page, with the cup's arrow above and the names below outside it.
// x is where the labels begin.
func (s *seen) lay(x0, y0, wide, high, labels float64) (g [2]sight, x float64) {
	wide -= labels + 4*heatSide
	k := math.Min(wide/(s.size.X+s.size.Z), high/s.size.Y)
	rest := (wide - k*(s.size.X+s.size.Z)) / 4
	g[0] = sight{s: s.cut[0], k: k, ox: x0 + heatSide + rest, oy: y0 + (high-k*s.size.Y)/2}
	g[1] = sight{s: s.cut[1], k: k, ox: g[0].ox + g[0].wide() + 2*heatSide + rest, oy: g[0].oy}
	return g, g[1].ox + g[1].wide() + heatSide
}

// onPicture is lay on a page that is a picture.
func (s *seen) onPicture(p *page) ([2]sight, float64) {
	return s.lay(6, heatTop, p.w-10, p.h-heatTop-heatFoot-2, heatLabel)
}

// solidPage draws the time to solid.
func (s *seen) solidPage() *page {
	p := blankPicture()
	p.caption("Time to solid", s.h.poured())
	g, x := s.onPicture(p)
	sc := s.solidViews(p, g, x, p.w-4, p.h-heatFoot-4)
	sc.draw(p, 6+heatSide, p.h-heatFoot+7, p.w-heatSide-16, solidWords(sc)+s.h.errorWords(false)+" Broken line: where the halves meet."+s.channelWords())
	return p
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

// solidViews draws the time to solid on both sections, with labels from x to xEnd
// and down to bottom, and returns its bands.
func (s *seen) solidViews(p *page, g [2]sight, x, xEnd, bottom float64) scale {
	lo, hi := s.reach(s.solid, true)
	sc := timeBands(lo, hi, s.after)
	for k := range g {
		g[k].bands(p, sc, s.solid[k], true)
		g[k].outlines(p)
		g[k].nameLines(p, g[k].room(heatSide-2), sc, s.solid[k], true)
	}
	s.frame(p, g)
	tags := []noteTag{{at: g[1].at(vec.V2{X: s.at.X, Y: s.at.Y}), lines: s.lastWords()}}
	for _, i := range s.h.cutOff() {
		t := noteTag{at: g[1].at(vec.V2{X: i.At[0], Y: i.At[1]}), no: s.h.numberAt(vec.FromArray(i.At), "feeder", i.Unfed), lines: islandWords(i)}
		if o := s.offPlane(i); o != "" {
			t.lines = append(t.lines, o)
		}
		if same := &tags[0]; same.at.Sub(t.at).Len() < 2 {
			same.lines = append(append(same.lines[:len(same.lines):len(same.lines)], ";"), t.lines...)
			same.no = max(same.no, t.no)
			continue
		}
		tags = append(tags, t)
	}
	q := g[0].at(vec.V2{X: s.at.Z, Y: s.at.Y})
	p.fill(black, disc(q.X, q.Y, 0.55))
	p.noteTags(tags, x, xEnd, g[1].oy, bottom)
	return sc
}

// peakPage draws the hottest that the rubber gets.
func (s *seen) peakPage() *page {
	p := blankPicture()
	p.caption("Hottest the rubber gets", s.h.poured())
	lo, hi := s.reach(s.peak, false)
	sc := bandsOf(lo, hi, 1, "°C", 7)
	g, x := s.onPicture(p)
	rating := s.h.Doc.Setting.Rubber.Rating
	over := rating > 0 && hi > rating
	for k := range g {
		g[k].bands(p, sc, s.peak[k], false)
		if over {
			p.stroke(cutLine, nil, false, g[k].lines(g[k].s.inside(g[k].s.level(s.peak[k], float32(rating)), 1))...)
		}
		g[k].outlines(p)
		g[k].nameLines(p, g[k].room(heatSide-2), sc, s.peak[k], false)
	}
	s.frame(p, g)
	var tags []noteTag
	if a, t := s.h.Doc.Rubber.PeakAt, s.h.Doc.Rubber.Peak; a != nil && t != nil {
		q := vec.FromArray(*a)
		n := noteTag{at: g[1].at(vec.V2{X: q.X, Y: q.Y}), no: s.h.numberAt(q, "too-hot", *t), lines: []string{"hottest rubber,", grouped(math.Ceil(*t-slack), 0) + nb + "°C at its face"}}
		if o := aside(q.Z-s.at.Z, 1.5*s.h.Grid.H); o != "" {
			n.lines = append(n.lines, o)
		}
		tags = append(tags, n)
	}
	p.noteTags(tags, x, p.w-4, heatTop, p.h-heatFoot-4)
	words0 := "The bands: hottest in the first shot and while its heat runs on into the rubber, °C. White: metal. Broken line: where the halves meet. " + s.h.ratingWords()
	sc.draw(p, 6+heatSide, p.h-heatFoot+7, p.w-heatSide-16, words0)
	return p
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

// frame names the views, the halves and the cup, and draws in each where the
// other one cuts.
func (s *seen) frame(p *page, g [2]sight) {
	y := g[0].oy - 2
	z := g[0]
	p.print(label, 8, z.at(vec.V2{X: s.size.Z / 4}).X, y, middle, "half 1")
	p.print(label, 8, z.at(vec.V2{X: -s.size.Z / 4}).X, y, middle, "half 2")
	low := g[0].oy + g[0].high()
	p.print(label, 8, z.ox+z.wide()/2, low+5, middle, "cut across")
	p.print(label, 8, g[1].ox+g[1].wide()/2, low+5, middle, "cut along, half 1 behind")
	mark := []float64{2.5, 0.8, 0.5, 0.8}
	a := z.at(vec.V2{X: s.at.Z}).X
	b := g[1].at(vec.V2{X: s.at.X}).X
	for _, x := range []float64{a, b} {
		p.stroke(thinLine, mark, false, []vec.V2{{X: x, Y: low}, {X: x, Y: low + 2.2}})
	}
	for k, x := range g[1].mouths() {
		p.line(ruleLine, x, g[1].oy-6.5, x, g[1].oy-2.5)
		p.fill(black, []vec.V2{{X: x - 0.9, Y: g[1].oy - 2.6}, {X: x + 0.9, Y: g[1].oy - 2.6}, {X: x, Y: g[1].oy - 0.4}})
		if k == 0 {
			p.print(label, 8, x+2.2, g[1].oy-4, left, "cup, this edge up")
		}
	}
}

// mouths are the middles of the wide stretches of metal at the upper edge, on the
// page: the widest and those at least 0.6 as wide, from right to left.
func (g sight) mouths() []float64 {
	s := g.s
	type stretch struct{ from, n int }
	var all []stretch
	widest, from := 0, -1
	for i := range s.nu + 1 {
		in := i < s.nu && s.dist[(s.nv-1)*s.nu+i] < 0
		if in && from < 0 {
			from = i
		}
		if !in && from >= 0 {
			all = append(all, stretch{from, i - from})
			widest, from = max(widest, i-from), -1
		}
	}
	var out []float64
	for _, m := range all {
		if float64(m.n) >= 0.6*float64(widest) {
			out = append(out, g.at(vec.V2{X: s.u0 + (float64(m.from)+float64(m.n-1)/2)*s.du}).X)
		}
	}
	return out
}

// runsOn reports whether the metal that opens at the upper edge does not reach, in
// the plane of this cut, the place q.
func (s *plane) runsOn(q vec.V2) bool {
	in := make([]bool, len(s.dist))
	var queue []int
	try := func(k int) {
		if s.dist[k] < 0 && !in[k] {
			in[k] = true
			queue = append(queue, k)
		}
	}
	for i := range s.nu {
		try((s.nv-1)*s.nu + i)
	}
	if len(queue) == 0 {
		return false
	}
	for len(queue) > 0 {
		k := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		s.around(k, try)
	}
	i, _ := split((q.X-s.u0)/s.du+0.5, s.nu)
	j, _ := split((q.Y-s.v0)/s.dv+0.5, s.nv)
	return !in[j*s.nu+i] && !in[j*s.nu+min(i+1, s.nu-1)]
}

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
	return "(" + Built(-dz) + nb + "mm before this cut)"
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

// timeBands lays the bands over the times of the castings; what freezes later, as
// the cup does, is one band.
func timeBands(lo, hi, casting float64) scale {
	top := hi
	if casting > lo && casting < hi {
		top = casting
	}
	div, unit := 1.0, "s"
	switch {
	case top > 4*3600:
		div, unit = 3600, "h"
	case top > 300:
		div, unit = 60, "min"
	}
	s := bandsOf(lo, top, div, unit, 6)
	if hi > s.edge(s.n) {
		s.above = true
		return s
	}
	return bandsOf(lo, top, div, unit, 7)
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

// noteTag is a label of several lines at the end of a leader, with the number of
// its finding where it has one.
type noteTag struct {
	at    vec.V2
	no    int
	lines []string
}

// noteTags sets labels in a column from x on, each as near the height of its thing
// as those above it allow.
func (p *page) noteTags(tags []noteTag, x, xEnd, top, bottom float64) {
	const pt, line, gap = 8.0, 3.8, 2.6
	order := make([]noteTag, 0, len(tags))
	for _, t := range tags { // by height, few
		k := len(order)
		for k > 0 && order[k-1].at.Y > t.at.Y {
			k--
		}
		order = append(order[:k], append([]noteTag{t}, order[k:]...)...)
	}
	y := make([]float64, len(order))
	text := make([][][]span, len(order))
	high := make([]float64, len(order))
	for i, t := range order {
		indent := 0.0
		if t.no > 0 {
			indent = 6
		}
		text[i] = wrapIn(label, labelBold, pt, xEnd-x-indent, strings.ReplaceAll(strings.Join(t.lines, " "), " ;", ";"))
		high[i] = line*float64(len(text[i])-1) + gap
		y[i] = math.Max(t.at.Y, top)
		if i > 0 {
			y[i] = math.Max(y[i], y[i-1]+high[i-1]+line)
		}
	}
	limit := bottom
	for i := len(order) - 1; i >= 0; i-- {
		limit -= high[i]
		y[i] = math.Max(top, math.Min(y[i], limit))
		limit = y[i] - line
	}
	for i, t := range order {
		p.line(thinLine, t.at.X, t.at.Y, x-1, y[i])
		p.fill(black, disc(t.at.X, t.at.Y, 0.55))
		tx := x
		if t.no > 0 {
			w := p.printIn(accent, wordsBold, 10.5, x, y[i]+capHeight(10.5)/2, left, grouped(float64(t.no), 0))
			tx += math.Max(w+1.2, 4)
		}
		for k, l := range text[i] {
			p.putLine(label, labelBold, pt, tx, y[i]+capHeight(pt)/2+line*float64(k), l)
		}
	}
}
