package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// bedItem draws the bed as one looks down on it: where the master lies, the
// line with its heights over the board, pads, keys, formers.
func (in *Input) bedItem(room, high float64) *item {
	v := in.look()
	i := &item{name: "bed"}
	i.w, i.h = v.size.X, v.size.Y+cupRoom
	m := faceMap{half: 1, scale: 1, oy: cupRoom, size: v.size}
	s := newSpace(0, cupRoom, v.size.X, v.size.Y)
	p := &i.page
	p.stroke(frameLine, nil, true, m.block())
	s.lines(true, m.block())
	shadow := m.loops(v.shadow)
	p.stroke(cutLine, nil, true, shadow...)
	s.lines(true, shadow...)
	for _, l := range in.channelLines(1) {
		q := m.loops([][]vec.V2{l})[0]
		p.stroke(frameLine, []float64{2, 0.8}, false, q)
		s.lines(false, q)
	}
	s.channels(m.loops(v.face[1]), shadow)
	in.faceInserts(p, m, s)
	in.faceKeys(p, m, s, true)
	for _, k := range in.pads() {
		q := m.at(k.at.X, k.at.Y)
		p.stroke(frameLine, nil, true, []vec.V2{{X: q.X, Y: q.Y - 3}, {X: q.X + 2.6, Y: q.Y + 1.5}, {X: q.X - 2.6, Y: q.Y + 1.5}})
		p.fill(black, disc(q.X, q.Y, 0.4))
		s.take(q.X-2.8, q.Y-3, 5.6, 4.6)
	}
	for n, k := range in.pads() {
		q := m.at(k.at.X, k.at.Y)
		name := "pad " + grouped(float64(n+1), 0) + ": "
		if len(in.pads()) > 3 {
			name = grouped(float64(n+1), 0) + ": "
		}
		s.label(p, labelBold, 8, q.X, q.Y, 3.4, name+Length(k.high))
	}
	lines := []styled{{wordsBold, 16, "BED"}, {label, 8, "half 1 is cast over this, seen from above"}}
	narrow := []styled{{wordsBold, 14, "BED"}, {label, 7.2, "seen from above"}}
	for _, l := range [][]styled{lines, narrow, {{wordsBold, 12, "BED"}}} {
		if q := nameSpot(v.size.X, v.size.Y+cupRoom, room, high); s.block(p, q.X, q.Y, l) {
			break
		}
	}
	in.heights(p, m, s)
	in.cupWord(p, m)
	return i
}

// heights writes the height of the line over the board round the pieces, and
// of the clay at the block's corners and edges.
func (in *Input) heights(p *page, m faceMap, s *space) {
	v := in.look()
	if in.Surface == nil || len(in.Surface.Z) == 0 {
		return
	}
	write := func(x, y, gap float64) {
		q := m.at(x, y)
		if s.labelWithin(p, label, 7.2, q.X, q.Y, gap, gap+5, Length(in.Surface.At(x, y)+v.size.Z/2)) {
			p.fill(black, disc(q.X, q.Y, 0.4))
		}
	}
	for _, l := range v.shadow {
		total := 0.0
		for i := range l {
			total += l[(i+1)%len(l)].Sub(l[i]).Len()
		}
		if total < 20 {
			continue
		}
		ring := append(append([]vec.V2{}, l...), l[0])
		n := int(min(24, max(4, math.Round(total/18))))
		for k := range n {
			q := along(ring, float64(k)/float64(n))
			write(q.X, q.Y, 1.2)
		}
	}
	hx, hy := v.size.X/2-4, v.size.Y/2-4
	for _, c := range [][2]float64{{-hx, -hy}, {hx, -hy}, {-hx, hy}, {hx, hy}, {-hx, 0}, {hx, 0}, {0, -hy}} {
		write(c[0], c[1], 1.2)
	}
}

// textMost is the widest text on a card to cut out, mm, so that it stays in
// one tile.
const textMost = 66

// maskItems draws the drop-over mask: a card with the shadow cut out. Pieces
// that lie the same way share one.
func (in *Input) maskItems() []*item {
	v := in.look()
	if len(v.masters) == 0 {
		return nil
	}
	var out []*item
	frames := in.placements()
	for c := range v.masters {
		if c > 0 && in.Masters == nil && sameWay(frames, c) {
			continue
		}
		e := in.envelopeOf(c)
		sh := e.shadow()
		lo, hi, ok := bounds(sh)
		if !ok {
			continue
		}
		const rim = 12
		i := &item{name: "mask"}
		i.w = hi.X - lo.X + 2*rim
		what := wrapIn(label, labelBold, 7.2, min(i.w-5, textMost), "This face up. Cut inside the line, take out the hatched part. It must settle on the line all round.")
		i.h = hi.Y - lo.Y + 2*rim + 2 + 3.4*float64(len(what))
		p := &i.page
		at := func(q vec.V2) vec.V2 { return vec.V2{X: q.X - lo.X + rim, Y: hi.Y - q.Y + rim} }
		cut := moved(sh, at)
		p.stroke(frameLine, nil, true, box(0, 0, i.w, i.h))
		p.hatch(toneOffcut, cut)
		p.stroke(cutLine, nil, true, cut...)
		x := i.w / 2
		p.line(frameLine, x, 9, x, 3)
		p.fill(black, []vec.V2{{X: x - 1, Y: 4}, {X: x + 1, Y: 4}, {X: x, Y: 2}})
		p.print(label, 7.2, x+2, 6, left, cutTo(label, 7.2, i.w-x-3, "cup edge"))
		y := hi.Y - lo.Y + 2*rim
		p.print(label, 9, 3, y-2.5, left, cutTo(label, 9, i.w-5, "Drop-over mask"))
		for _, l := range what {
			y += 3.4
			p.putLine(label, labelBold, 7.2, 3, y-1.5, l)
		}
		out = append(out, i)
	}
	return out
}

// sameWay reports whether placement c has the axes of the first.
func sameWay(f []vec.Frame, c int) bool {
	return c < len(f) && f[c].X.Dist(f[0].X) < 1e-9 && f[c].Y.Dist(f[0].Y) < 1e-9
}

// stripItems draws profile strips of the first piece: one lengthwise and two
// across, the lower edge along clay and master.
func (in *Input) stripItems() []*item {
	v := in.look()
	if len(v.masters) == 0 || in.Surface == nil || len(in.Surface.Z) == 0 {
		return nil
	}
	b := v.masters[0].Box()
	s := b.Size()
	c := b.Centre()
	type cut struct {
		a, b vec.V2
		name string
	}
	at := func(x, y float64) vec.V2 { return vec.V2{X: x, Y: y} }
	upright := cut{at(c.X, b.Min.Y-12), at(c.X, b.Max.Y+12), "from the lower end to the cup side, through the middle"}
	level := func(t float64, name string) cut {
		y := b.Min.Y + t*s.Y
		return cut{at(b.Min.X-12, y), at(b.Max.X+12, y), name + ", " + Built(v.size.Y/2-y) + nb + "mm from the cup edge, its left end at the left"}
	}
	cuts := []cut{upright, level(0.7, "across, upper part"), level(0.3, "across, lower part")}
	var out []*item
	for n, k := range cuts {
		if i := in.strip(n+1, k.a, k.b, k.name); i != nil {
			out = append(out, i)
		}
	}
	return out
}

// strip draws one profile strip along the line from a to b, in block
// coordinates.
func (in *Input) strip(no int, a, b vec.V2, name string) *item {
	v := in.look()
	hx, hy := v.size.X/2, v.size.Y/2
	clampTo := func(q vec.V2) vec.V2 {
		return vec.V2{X: min(max(q.X, -hx), hx), Y: min(max(q.Y, -hy), hy)}
	}
	a, b = clampTo(a), clampTo(b)
	d := b.Sub(a)
	length := d.Len()
	if !(length >= 5) {
		return nil
	}
	n := int(length/0.2) + 2
	edge, clay := make([]vec.V2, n), make([]vec.V2, n)
	hi, lo := math.Inf(-1), math.Inf(1)
	e := in.envelopeOf(0)
	for k := range n {
		t := float64(k) / float64(n-1)
		q := a.Add(d.Mul(t))
		z := in.Surface.At(q.X, q.Y)
		clay[k] = vec.V2{X: t * length, Y: z}
		if top, _, ok := e.at(q.X, q.Y); ok {
			z = max(z, top)
		}
		edge[k] = vec.V2{X: t * length, Y: z}
		hi, lo = max(hi, z), min(lo, z)
	}
	what := wrapIn(label, labelBold, 7.2, min(length-4, textMost), name+". Cut outside the line, stand it on the clay.")
	head := 7.5 + 3.3*float64(len(what))
	i := &item{name: "profile strip " + grouped(float64(no), 0)}
	i.w, i.h = length, hi-lo+head
	p := &i.page
	down := func(q vec.V2) vec.V2 { return vec.V2{X: q.X, Y: head + hi - q.Y} }
	line := thinLineOf(moved([][]vec.V2{edge}, down)[0], 0.02)
	ground := thinLineOf(moved([][]vec.V2{clay}, down)[0], 0.02)
	p.stroke(cutLine, nil, false, line)
	p.stroke(thinLine, []float64{4, 1, 0.6, 1}, false, ground)
	p.stroke(frameLine, nil, false, []vec.V2{line[0], {X: 0, Y: 0}, {X: length, Y: 0}, line[len(line)-1]})
	p.print(label, 9, 2, 4.2, left, cutTo(label, 9, length-4, "Profile strip "+grouped(float64(no), 0)))
	y := 7.8
	for _, l := range what {
		p.putLine(label, labelBold, 7.2, 2, y, l)
		y += 3.3
	}
	return i
}
