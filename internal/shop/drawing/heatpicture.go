package drawing

import (
	"math"
	"strings"

	"pourwright/internal/ground/vec"
)

// seen is what the two pictures of a pour share: the sections and their fields.
type seen struct {
	h     *Heat
	size  vec.V3  // of the block
	at    vec.V3  // where the castings freeze last
	after float64 // s; below 0 where it is not solid in the end
	all   bool    // that is of all metal, for the castings are not told apart
	cut   [2]*plane
	solid [2][]float32
	peak  [2][]float32
}

// see cuts the fields; nil where there are none or no metal in them.
func (h *Heat) see() *seen {
	if len(h.Dist) == 0 {
		return nil
	}
	at, after, all, ok := h.last()
	if !ok {
		return nil
	}
	s := &seen{h: h, at: at, after: after, all: all, size: h.Grid.Box().Size()}
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

// solidViews draws the time to solid on both sections, with labels from x to xEnd
// and down to bottom, and returns its bands.
func (s *seen) solidViews(p *page, g [2]sight, x, xEnd, bottom float64) scale {
	lo, hi := s.reach(s.solid, true)
	sc := timeBands(lo, hi, s.after)
	for k := range g {
		g[k].bands(p, sc, s.solid[k], true)
		g[k].outlines(p)
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
	for k := range g { // over the leaders
		g[k].nameLines(p, g[k].room(heatSide-2), sc, s.solid[k], true)
	}
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
	var own []namedLevel
	if over {
		own = append(own, namedLevel{rating, "rating " + grouped(rating, 0) + nb + "°C"})
	}
	for k := range g {
		g[k].bands(p, sc, s.peak[k], false)
		if over {
			p.stroke(cutLine, nil, false, g[k].lines(g[k].s.inside(g[k].s.level(s.peak[k], float32(rating)), 1))...)
		}
		g[k].outlines(p)
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
	for k := range g { // over the leaders
		g[k].nameLines(p, g[k].room(heatSide-2), sc, s.peak[k], false, own...)
	}
	words0 := "The bands: hottest in the first shot and while its heat runs on into the rubber, °C. White: metal. Broken line: where the halves meet. " + s.h.ratingWords()
	sc.draw(p, 6+heatSide, p.h-heatFoot+7, p.w-heatSide-16, words0)
	return p
}

// frame names the views, the halves and the cup, and draws in each where the
// other one cuts.
func (s *seen) frame(p *page, g [2]sight) {
	y := g[0].oy - 2
	z := g[0]
	off := math.Max(z.wide()/4, widthOf(label, 8, "half 1")/2+1)
	p.print(label, 8, z.ox+z.wide()/2-off, y, middle, "half 1")
	p.print(label, 8, z.ox+z.wide()/2+off, y, middle, "half 2")
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
