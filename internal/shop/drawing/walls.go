package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// wallItems draws the strips for the four walls of the box, seen from inside:
// where the clay ends and how high the rubber goes.
func (in *Input) wallItems() []*item {
	v := in.look()
	if in.Surface == nil || len(in.Surface.Z) == 0 {
		return nil
	}
	hx, hy := v.size.X/2, v.size.Y/2
	walls := []struct {
		name string
		long float64
		at   func(u float64) (x, y float64) // u from the left, seen from inside
	}{
		{"wall at the cup", 2 * hx, func(u float64) (float64, float64) { return u - hx, hy }},
		{"wall at the right", 2 * hy, func(u float64) (float64, float64) { return hx, hy - u }},
		{"wall at the lower edge", 2 * hx, func(u float64) (float64, float64) { return hx - u, -hy }},
		{"wall at the left", 2 * hy, func(u float64) (float64, float64) { return -hx, u - hy }},
	}
	var out []*item
	for n, w := range walls {
		i := &item{name: w.name}
		i.w, i.h = w.long, v.size.Z
		p := &i.page
		p.stroke(frameLine, nil, true, box(0, 0, i.w, i.h))
		var clay []vec.V2
		k := int(w.long/0.5) + 2
		low := 0.0
		for j := range k {
			u := w.long * float64(j) / float64(k-1)
			x, y := w.at(u)
			z := v.size.Z/2 - in.Surface.At(x, y)
			low = max(low, z)
			clay = append(clay, vec.V2{X: u, Y: z})
		}
		clay = thinLineOf(clay, 0.02)
		p.stroke(outlineLine, nil, false, clay)
		if n == 0 {
			in.openings(p)
		}
		top := math.Inf(1)
		for _, q := range clay {
			top = min(top, q.Y)
		}
		wallWords(p, w.name, w.long, top, low, v.size.Z)
		cupEnd(p, n, w.long, top, low, v.size.Z)
		out = append(out, i)
	}
	return out
}

// wallWords names a wall strip: rubber above the line, clay below it.
func wallWords(p *page, name string, long, top, low, high float64) {
	y := 4.4
	name = string(name[0]-'a'+'A') + name[1:]
	if t := name + ", from inside"; widthOf(label, 8, t) <= long-6 {
		name = t
	}
	for i, t := range []string{name, "rubber of half 1 up to the upper edge"} {
		pt := 8 - 0.8*float64(i)
		if y+2 < top {
			// a former may reach up here: the words stand on white
			p.fill(white, box(2.6, y-2.6, min(long-6, widthOf(label, pt, t))+0.8, 3.4))
			p.print(label, pt, 3, y, left, cutTo(label, pt, long-6, t))
		}
		y += 3.6
	}
	if high-low > 8 {
		p.print(label, 7.2, 3, high-5, left, cutTo(label, 7.2, long-6, "clay up to the line"))
		p.print(label, 7.2, 3, high-1.6, left, cutTo(label, 7.2, long-6, "lowest "+Length(high-low)+nb+"mm, board below"))
	}
}

// cupEnd says on the walls at the right and the left which end stands at the
// cup, and marks the cup on its wall: above the line where there is room, else
// below it.
func cupEnd(p *page, wall int, long, top, low, high float64) {
	y := 12.0
	if y+2 > top {
		if y = low + 4; y > high-9 {
			return
		}
	}
	const text = "this end at the cup"
	switch {
	case wall == 1:
		p.print(label, 7.2, 3, y, left, cutTo(label, 7.2, long-6, text))
	case wall == 3:
		p.print(label, 7.2, long-3, y, right, cutTo(label, 7.2, long-6, text))
	}
}

// openings draws where formers meet the wall at the cup.
func (in *Input) openings(p *page) {
	v := in.look()
	y := v.size.Y/2 - 0.2
	var loops [][]vec.V2
	for _, l := range levelSet(in.Metal, func(q vec.V3) float64 { return q.Y - y }) {
		var o []vec.V2
		for _, q := range l {
			o = append(o, vec.V2{X: q.X + v.size.X/2, Y: v.size.Z/2 - q.Z})
		}
		loops = append(loops, o)
	}
	loops = thinned(loops, 0.02, 0.5)
	p.stroke(frameLine, []float64{2, 0.8}, true, loops...)
	for _, l := range loops {
		if lo, hi, ok := bounds([][]vec.V2{l}); ok && hi.X-lo.X > 8 && hi.Y-lo.Y > 9 {
			p.print(label, 7.2, (lo.X+hi.X)/2, (lo.Y+hi.Y)/2-1.2, middle, "cup")
		}
	}
}

// boardItem draws one of the two boards: the block on it, the seats of the
// clamps to drill.
func (in *Input) boardItem(room, high float64) *item {
	v, c := in.look(), in.Plan.Block.Clamps
	w, h := c.Board.Size[0], c.Board.Size[1]
	if !(w > 0 && h > 0) {
		w, h = v.size.X, v.size.Y
	}
	i := &item{name: "board"}
	i.w, i.h = w, h+cupRoom
	p := &i.page
	m := faceMap{half: 1, scale: 1, ox: (w - v.size.X) / 2, oy: cupRoom + (h-v.size.Y)/2, size: v.size}
	p.stroke(cutLine, nil, true, box(0, cupRoom, w, h))
	if w > v.size.X+1 || h > v.size.Y+1 {
		p.stroke(thinLine, []float64{2, 0.8}, true, m.block())
	}
	s := newSpace(0, cupRoom, w, h)
	s.lines(true, box(0, cupRoom, w, h), m.block())
	seats := clampSeats(v.size, c.Count)
	for _, q := range seats {
		a := m.at(q.X, q.Y)
		p.circle(frameLine, a.X, a.Y, 4)
		p.line(hairLine, a.X-6, a.Y, a.X+6, a.Y)
		p.line(hairLine, a.X, a.Y-6, a.X, a.Y+6)
		s.take(a.X-6, a.Y-6, 12, 12)
	}
	thick := ""
	if t := c.Board.Size[2]; t > 0 {
		thick = ", " + Built(t) + nb + "mm thick"
	}
	lines := []styled{{wordsBold, 16, "BOARD"}, {label, 8, "two of these" + thick}}
	if n := clean(c.Board.Material); n != "" {
		lines = append(lines, styled{label, 8, n + ", rough side inwards"})
	}
	lines = append(lines, styled{label, 8, Built(w) + " × " + Built(h) + nb + "mm, block dashed inside"})
	if !(w > v.size.X+1 || h > v.size.Y+1) {
		lines[len(lines)-1].s = Built(w) + " × " + Built(h) + nb + "mm, the block rounded up"
	}
	if len(seats) > 0 {
		lines = append(lines, styled{label, 8, "clamp seats: drill 8" + nb + "mm, 3" + nb + "mm deep"})
	}
	q := nameSpot(w, h+cupRoom, room, high)
	s.block(p, q.X, q.Y, lines)
	for n, q := range seats {
		a := m.at(q.X, q.Y)
		s.label(p, label, 7.6, a.X, a.Y, 6.5, "clamp "+grouped(float64(n+1), 0))
	}
	in.cupWord(p, faceMap{half: 1, scale: 1, ox: m.ox, oy: cupRoom, size: vec.V3{X: v.size.X, Y: h}})
	return i
}

// clampSeats are the places where clamps press: with two, one at the middle of
// each short side, else half of them on each long side in the middle of equal
// parts; 10 mm from the edge, or a quarter of the side where that is less.
func clampSeats(size vec.V3, n int) []vec.V2 {
	if n < 1 {
		return nil
	}
	w, h := size.X, size.Y
	swap := h > w
	if swap {
		w, h = h, w
	}
	var out []vec.V2
	switch {
	case n == 1:
		out = []vec.V2{{}}
	case n < 4:
		e := w/2 - min(10, w/4)
		out = []vec.V2{{X: -e}, {X: e}}
		if n == 3 {
			out = append(out, vec.V2{})
		}
	default:
		per := n / 2
		e := h/2 - min(10, h/4)
		for k := range per {
			x := w * ((float64(k)+0.5)/float64(per) - 0.5)
			out = append(out, vec.V2{X: x, Y: e}, vec.V2{X: x, Y: -e})
		}
		if n%2 == 1 {
			out = append(out, vec.V2{})
		}
	}
	if swap {
		for i, q := range out {
			out[i] = vec.V2{X: q.Y, Y: q.X}
		}
	}
	return out
}
