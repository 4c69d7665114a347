package drawing

import (
	"math"
	"sort"
	"strings"

	"pourwright/internal/ground/vec"
)

// mostDrawn is how many shots the chart of the first shots shows.
const mostDrawn = 6

// moment is when a shot was poured and when it was opened, s since the first pour.
type moment struct{ pour, open float64 }

// moments returns the shots of the series, and the time at which the last one's
// successor would be poured. A shot lasts from pour to opening, then come rest,
// powder, and the time closed before the next pour.
func (h *Heat) moments() (list []moment, end float64) {
	s := &h.Doc.Setting
	rest := 0.0
	if r := h.Doc.Cycle.Rest; r != nil {
		rest = *r
	} else if s.Rest != nil {
		rest = *s.Rest
	}
	for _, x := range h.Doc.Shots {
		if !(x.Opened > 0) || !finite(x.Opened) {
			break
		}
		list = append(list, moment{end, end + x.Opened})
		end += x.Opened + math.Max(0, rest) + s.Powder + s.Close
	}
	return list, end
}

// chart takes time and temperature to the page.
type chart struct {
	x0, y0, x1, y1 float64 // left, upper, right, lower edge
	end            float64 // s at the right edge
	lo, hi         float64 // degrees C at the lower and the upper edge
	air            float64 // degrees C, of the room
}

func (c chart) at(t, temp float64) vec.V2 {
	return vec.V2{X: c.x0 + (c.x1-c.x0)*t/c.end, Y: c.y1 - (c.y1-c.y0)*(temp-c.lo)/(c.hi-c.lo)}
}

// penOf is the line of curve k, of the metal or the rubber: told apart by weight
// and dash, for the print is black.
func penOf(k int, metal bool) (width float64, dash []float64) {
	if metal {
		return []float64{0.7, 0.35, 0.2}[min(k, 2)], nil
	}
	return []float64{0.5, 0.4, 0.3, 0.25}[min(k, 3)], [][]float64{{2.8, 0.9}, {1.5, 0.9}, {0.6, 0.8}, {4, 0.8, 0.6, 0.8}}[min(k, 3)]
}

// curve is a probe's line and its name.
type curve struct {
	name  string
	metal bool
	pts   [][2]float64
	order int // among those of its kind
}

// curves returns the probes, those in the metal first.
func (h *Heat) curves() []curve {
	var list []curve
	for _, pr := range h.Doc.Probes {
		c := curve{name: strings.Replace(clean(pr.Name), "from there", "from the thickest metal", 1), pts: pr.Curve, metal: strings.HasPrefix(pr.Name, "the metal")}
		if i, j, k, ok := h.Grid.Find(vec.FromArray(pr.At)); ok && len(h.Dist) > 0 {
			c.metal = h.Dist[h.Grid.At(i, j, k)] < 0
		}
		if len(c.pts) > 1 {
			list = append(list, c)
		}
	}
	sort.SliceStable(list, func(a, b int) bool { return list[a].metal && !list[b].metal })
	// the thickest metal has the heaviest line
	sort.SliceStable(list, func(a, b int) bool {
		return list[a].metal && list[b].metal && strings.Contains(list[a].name, "thickest") && !strings.Contains(list[b].name, "thickest")
	})
	n := [2]int{}
	for i := range list {
		k := 0
		if list[i].metal {
			k = 1
		}
		list[i].order = n[k]
		n[k]++
	}
	return list
}

// seriesPage draws the temperatures at the probes over the first shots; nil where
// there are none.
func (h *Heat) seriesPage() *page {
	p := blankPicture()
	n := h.series(p, 22, 26, p.w-58, p.h-25, p.w-4)
	if n == 0 {
		return nil
	}
	p.caption("The first shots", h.seriesRemark(n))
	for i, s := range wrapIn(label, labelBold, 8, p.w-30, h.seriesWords()) {
		p.putLine(label, labelBold, 8, 22, p.h-8.5+3.8*float64(i), s)
	}
	return p
}

// seriesWords says what the chart shows and how far it is to be trusted.
func (h *Heat) seriesWords() string {
	w := "Computed"
	if g := h.Doc.Grids; len(g) > 0 {
		w += " on cells of " + plain(g[0].Cell) + nb + "mm: right for how the mould warms, coarse for thin metal"
	}
	return w + ". Metal is drawn while it is in the mould; each line ends where it was opened."
}

// series draws the chart between two corners, the names at the right up to xEnd,
// and returns how many shots it shows, 0 where there is nothing to draw.
func (h *Heat) series(p *page, x0, y0, x1, y1, xEnd float64) int {
	list := h.curves()
	if len(list) == 0 {
		return 0
	}
	shots, end := h.moments()
	if len(shots) > mostDrawn {
		end = shots[mostDrawn].pour
		shots = shots[:mostDrawn]
	}
	last := 0.0
	for _, c := range list {
		last = math.Max(last, c.pts[len(c.pts)-1][0])
	}
	if !(end > 0) || end > last {
		end = last
	}
	if !(end > 0) || !finite(end) {
		return 0
	}
	c := chart{x0: x0, y0: y0, x1: x1, y1: y1, end: end, air: h.Doc.Setting.Room}
	c.lo, c.hi = h.degrees(list, end)
	c.axes(p)
	c.ticks(p, shots)
	names := c.fixed(p, h)
	for _, l := range list {
		names = append(names, c.line(p, l, shots))
	}
	c.names(p, names, xEnd)
	return max(1, len(shots))
}

func (h *Heat) seriesRemark(n int) string {
	t := "temperatures at the probes"
	if all := len(h.Doc.Shots); n > 1 && n < all {
		t += ", shots 1 to " + grouped(float64(n), 0) + " of " + grouped(float64(all), 0) + " computed"
	}
	if y := h.Doc.Cycle; y.Rest != nil && y.How != nil {
		t += "; rest " + exactly(*y.Rest) + ", " + clean(*y.How)
	}
	return t
}

// degrees is the range of the axis, in whole fifties.
func (h *Heat) degrees(list []curve, end float64) (lo, hi float64) {
	s := &h.Doc.Setting
	lo, hi = s.Room, s.Metal
	for _, c := range list {
		for _, q := range c.pts {
			if q[0] <= end && finite(q[1]) {
				lo, hi = math.Min(lo, q[1]), math.Max(hi, q[1])
			}
		}
	}
	if r := s.Rubber.Rating; r > hi && r < hi+100 {
		hi = r
	}
	return math.Floor(lo/50) * 50, math.Max(math.Ceil((hi+5)/50)*50, math.Floor(lo/50)*50+50)
}

// axes draws the two scales.
func (c chart) axes(p *page) {
	p.rect(ruleLine, c.x0, c.y0, c.x1-c.x0, c.y1-c.y0)
	step := 50.0
	if c.hi-c.lo > 500 {
		step = 100
	}
	for t := c.lo; t <= c.hi+1; t += step {
		y := c.at(0, t).Y
		p.line(ruleLine, c.x0-1.5, y, c.x0, y)
		if t > c.lo && t < c.hi-1 {
			p.strokeIn(hairTint, hairLine, nil, false, []vec.V2{{X: c.x0, Y: y}, {X: c.x1, Y: y}})
		}
		p.print(label, 8, c.x0-2.5, y+capHeight(8)/2, right, grouped(t, 0))
	}
	p.print(label, 8, c.x0-2.5, c.y0-3, right, "°C")
	div, unit := 60.0, "min"
	if c.end > 4*3600 {
		div, unit = 3600, "h"
	}
	steps := []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120}
	step = steps[len(steps)-1]
	for k := len(steps) - 1; k >= 0 && c.end/div/steps[k] <= 11; k-- {
		step = steps[k]
	}
	d := 0
	if step < 1 {
		d = 1
	}
	for k := 0; float64(k)*step*div <= c.end*(1+1e-9); k++ {
		x := c.at(float64(k)*step*div, c.lo).X
		p.line(ruleLine, x, c.y1, x, c.y1+1.5)
		p.print(label, 8, x, c.y1+5, middle, grouped(float64(k)*step, d))
	}
	p.print(label, 8, c.x1, c.y1+9.3, right, map[string]string{"min": "minutes", "h": "hours"}[unit]+" since the first pour")
}

// ticks marks pours and openings over the upper edge.
func (c chart) ticks(p *page, shots []moment) {
	free := c.x0 - 10
	for k, m := range shots {
		x := c.at(m.pour, c.lo).X
		p.line(ruleLine, x, c.y0-3.6, x, c.y0)
		if k > 0 {
			p.strokeIn(hairTint, hairLine, nil, false, []vec.V2{{X: x, Y: c.y0}, {X: x, Y: c.y1}})
		}
		n := grouped(float64(k+1), 0)
		say := "pour " + n
		if w := widthOf(label, 8, say); k > 0 && c.at(m.open, 0).X-x < w+2 && c.at(shots[1].pour-shots[0].pour, 0).X-c.x0 < w+4 {
			say = n
		}
		if x > free {
			free = x + p.print(label, 8, x, c.y0-5, left, say) + 2
		}
		if m.open > c.end {
			continue
		}
		o := c.at(m.open, c.lo).X
		p.line(thinLine, o, c.y0-1.8, o, c.y0)
		p.strokeIn(ruleTint, hairLine, []float64{0.8, 0.8}, false, []vec.V2{{X: o, Y: c.y0}, {X: o, Y: c.y1}})
		if o-x > 4 {
			p.upright(label, 7.6, o-2.2, c.y1-6, "open")
		}
	}
}

// chartName is what a line is called, at the height of its end.
type chartName struct {
	from  vec.V2
	lines []string
}

// fixed draws the solidus and the rating and returns their names.
func (c chart) fixed(p *page, h *Heat) []chartName {
	var out []chartName
	add := func(t float64, name string) {
		if !finite(t) || t <= c.lo || t >= c.hi {
			return
		}
		y := c.at(0, t).Y
		p.line(thinLine, c.x0, y, c.x1, y)
		out = append(out, chartName{vec.V2{X: c.x1, Y: y}, []string{name + ", " + grouped(t, 0) + nb + "°C"}})
	}
	if l := h.Doc.Setting.Alloy.Liquid; len(l) > 0 {
		t := l[0][0]
		for _, q := range l {
			if q[1] <= 0 {
				t = q[0]
			}
		}
		add(t, "all solid (solidus)")
	}
	if r := h.Doc.Setting.Rubber.Rating; r > 0 {
		add(r, "rating of the rubber")
	}
	return out
}

// line draws a probe's curve and returns its name at its end.
func (c chart) line(p *page, l curve, shots []moment) chartName {
	w, dash := penOf(l.order, l.metal)
	var parts [][]vec.V2
	var cur []vec.V2
	flush := func() {
		if len(cur) > 1 {
			parts = append(parts, cur)
		}
		cur = nil
	}
	k := 0
	for _, q := range l.pts {
		if q[0] >= c.end || !finite(q[1]) {
			continue
		}
		if l.metal && len(shots) > 0 {
			for k+1 < len(shots) && q[0] >= shots[k+1].pour {
				k++
				flush()
			}
			if q[0] > shots[k].open {
				flush()
				continue
			}
		}
		if l.metal && math.Abs(q[1]-c.air) < 0.01 {
			continue // the cavity is still empty and reads the air
		}
		cur = append(cur, c.at(q[0], math.Max(c.lo, math.Min(c.hi, q[1]))))
	}
	flush()
	p.stroke(w, dash, false, parts...)
	n := chartName{from: vec.V2{X: c.x1, Y: c.y1}, lines: []string{l.name}}
	if len(parts) > 0 {
		e := parts[len(parts)-1]
		n.from = e[len(e)-1]
	}
	return n
}

// names sets the names in the column at the right, led to the ends of their lines.
func (c chart) names(p *page, list []chartName, xEnd float64) {
	const x, pt, line = 4.0, 8.0, 3.8
	sort.SliceStable(list, func(a, b int) bool { return list[a].from.Y < list[b].from.Y })
	y := make([]float64, len(list))
	text := make([][][]span, len(list))
	for i, n := range list {
		text[i] = wrapIn(label, labelBold, pt, xEnd-c.x1-x-3, strings.Join(n.lines, " "))
		y[i] = math.Max(n.from.Y, c.y0)
		if i > 0 {
			y[i] = math.Max(y[i], y[i-1]+line*float64(len(text[i-1]))+1)
		}
	}
	limit := c.y1
	for i := len(list) - 1; i >= 0; i-- {
		y[i] = math.Max(c.y0, math.Min(y[i], limit-line*float64(len(text[i])-1)))
		limit = y[i] - line - 1
	}
	for i, n := range list {
		p.line(thinLine, n.from.X, n.from.Y, c.x1+x+1.5, y[i])
		if n.from.X < c.x1-0.1 {
			p.fill(black, disc(n.from.X, n.from.Y, 0.55))
		}
		for k, l := range text[i] {
			p.putLine(label, labelBold, pt, c.x1+x+2.5, y[i]+capHeight(pt)/2+line*float64(k), l)
		}
	}
}
