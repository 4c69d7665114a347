package drawing

import (
	"math"
	"sort"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// faceMap takes block coordinates to the page. One looks into half 1 along +z,
// so x runs to the left there; into half 2, and down on the bed, x runs to the
// right. The cup edge is up on both.
type faceMap struct {
	half   int // 0 or 1
	scale  float64
	ox, oy float64 // upper left corner of the block on the page
	size   vec.V3
}

func (m faceMap) at(x, y float64) vec.V2 {
	if m.half == 0 {
		x = -x
	}
	return vec.V2{X: m.ox + (x+m.size.X/2)*m.scale, Y: m.oy + (m.size.Y/2-y)*m.scale}
}

func (m faceMap) point(p plan.P3) vec.V2 { return m.at(p[0], p[1]) }

func (m faceMap) loops(l [][]vec.V2) [][]vec.V2 {
	return moved(l, func(q vec.V2) vec.V2 { return m.at(q.X, q.Y) })
}

func (m faceMap) block() []vec.V2 {
	return box(m.ox, m.oy, m.size.X*m.scale, m.size.Y*m.scale)
}

// cups returns where the metal meets the upper edge of the block as wide
// openings, in block x: the widest, and those at least 0.6 as wide, but for the
// flow-offs.
func (in *Input) cups() [][2]float64 {
	v := in.look()
	y := v.size.Y/2 - 0.4
	var all [][2]float64
	for _, f := range v.face {
		for _, l := range rulingAt(f, y) {
			joined := false
			for i := range all {
				if l[0] < all[i][1] && l[1] > all[i][0] {
					all[i] = [2]float64{min(l[0], all[i][0]), max(l[1], all[i][1])}
					joined = true
					break
				}
			}
			if !joined {
				all = append(all, l)
			}
		}
	}
	widest := 0.0
	for _, l := range all {
		widest = max(widest, l[1]-l[0])
	}
	var out [][2]float64
	for _, l := range all {
		off := false
		for _, f := range in.Plan.Block.FlowOffs {
			off = off || (f.To[0] > l[0] && f.To[0] < l[1] && l[1]-l[0] < 0.95*widest)
		}
		if !off && l[1]-l[0] >= 0.6*widest {
			out = append(out, l)
		}
	}
	return out
}

// rulingAt returns the stretches of the level line at y inside the loops.
func rulingAt(loops [][]vec.V2, y float64) [][2]float64 {
	var hit []float64
	for _, l := range loops {
		for i, a := range l {
			b := l[(i+1)%len(l)]
			if (a.Y > y) != (b.Y > y) {
				hit = append(hit, a.X+(b.X-a.X)*(y-a.Y)/(b.Y-a.Y))
			}
		}
	}
	sort.Float64s(hit)
	var out [][2]float64
	for i := 0; i+1 < len(hit); i += 2 {
		out = append(out, [2]float64{hit[i], hit[i+1]})
	}
	return out
}

// tag is a label at the end of a leader.
type tag struct {
	at     vec.V2
	text   string
	strong bool
}

// drawFace draws half m.half as a picture: hatch of the half, metal washed,
// keys, cuts, and labels on leaders in the column from x to the right.
func (in *Input) drawFace(p *page, m faceMap, labelX, labelRight float64) {
	v, b := in.look(), in.Plan.Block
	metal := m.loops(v.face[m.half])
	piece := m.loops(v.piece[m.half])
	t := toneHalf1
	if m.half == 1 {
		t = toneHalf2
	}
	clear := [][]vec.V2{}
	for _, k := range b.Keys {
		q := m.point(k.At)
		clear = append(clear, disc(q.X, q.Y, k.Diameter/2*m.scale))
	}
	p.hatch(t, append(append([][]vec.V2{m.block()}, metal...), clear...))
	if len(metal) > 0 {
		p.fill(wash2, metal...)
		p.stroke(frameLine, nil, true, metal...)
	}
	p.stroke(outlineLine, nil, true, piece...)
	in.faceInserts(p, m, nil)
	p.stroke(frameLine, nil, true, m.block())
	for _, k := range b.Keys {
		q := m.point(k.At)
		r := k.Diameter / 2 * m.scale
		p.fill(white, disc(q.X, q.Y, r))
		p.circle(ruleLine, q.X, q.Y, r)
		p.circle(hairLine, q.X, q.Y, 0.45*r)
	}
	tags := in.cutTags(p, m)
	tags = append(tags, in.otherTags(m)...)
	p.leaders(tags, labelX, labelRight, m.oy+2, m.oy+m.size.Y*m.scale-1)
	in.cupMark(p, m, labelRight)
}

// cutTags draws the cuts of this half and returns their labels.
func (in *Input) cutTags(p *page, m faceMap) []tag {
	var tags []tag
	cuts := in.cutsOf(m.half)
	lines := make([][]vec.V2, len(cuts))
	for i, c := range cuts {
		lines[i] = m.path(c.Path)
		p.strokeIn(white, 1.6, nil, false, lines[i])
	}
	for i, c := range cuts {
		p.stroke(outlineLine, cutDash(c), false, lines[i])
		tags = append(tags, tag{at: clearOf(lines, i, m.loops(in.look().face[m.half])), text: "vent " + grouped(float64(c.No), 0)})
	}
	return tags
}

// cutsOf returns the cuts in the face of half 0 or 1.
func (in *Input) cutsOf(half int) []plan.Cut {
	var out []plan.Cut
	for _, c := range in.Plan.Block.Cuts {
		if c.Half == half+1 && len(c.Path) > 0 {
			out = append(out, c)
		}
	}
	return out
}

// apart returns the point of line i, away from its ends, that lies farthest
// from the other lines, so that a leader names one of them only.
func apart(lines [][]vec.V2, i int) vec.V2 {
	var others [][]vec.V2
	for j, l := range lines {
		if j != i {
			others = append(others, l)
		}
	}
	best, at := -1.0, along(lines[i], 0.5)
	if len(others) == 0 {
		return at
	}
	for _, t := range []float64{0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9} {
		q := along(lines[i], t)
		d := math.Inf(1)
		for _, l := range others {
			for k := 1; k < len(l); k++ {
				d = min(d, toSegment(q, l[k-1], l[k]))
			}
		}
		if d = min(d, 8); d > best+0.01 {
			best, at = d, q
		}
	}
	return at
}

// clearOf is apart for a leader that runs to the right: among the points of
// line i it also looks for one from which a level line to the right meets as
// little of the metal as can be.
func clearOf(lines [][]vec.V2, i int, metal [][]vec.V2) vec.V2 {
	best, at := math.Inf(-1), apart(lines, i)
	for t := 0.05; t < 0.96; t += 0.05 {
		q := along(lines[i], t)
		d := 4.0
		for j, l := range lines {
			for k := 1; k < len(l) && j != i; k++ {
				d = min(d, toSegment(q, l[k-1], l[k]))
			}
		}
		hits := 0
		for _, r := range rulingAt(metal, q.Y) {
			if r[1] > q.X {
				hits++
			}
		}
		// a point on another cut is worse than any crossing
		score := d - 1.5*float64(hits)
		if d < 1.5 {
			score -= 20
		}
		if score > best+0.01 {
			best, at = score, q
		}
	}
	return at
}

// toSegment is the distance from q to the segment from a to b.
func toSegment(q, a, b vec.V2) float64 {
	d := b.Sub(a)
	t := 0.0
	if dd := d.Dot(d); dd > 0 {
		t = min(1, max(0, q.Sub(a).Dot(d)/dd))
	}
	return q.Sub(a.Add(d.Mul(t))).Len()
}

// cutDash is the line of a cut: full where it is cut now, dashed where only if
// the casting stays short.
func cutDash(c plan.Cut) []float64 {
	if c.When == "now" {
		return nil
	}
	return []float64{1.6, 0.8}
}

func (m faceMap) path(l []plan.P3) []vec.V2 {
	out := make([]vec.V2, len(l))
	for i, q := range l {
		out[i] = m.point(q)
	}
	return out
}

// along returns the point at share t of a line's length.
func along(l []vec.V2, t float64) vec.V2 {
	total := 0.0
	for i := 1; i < len(l); i++ {
		total += l[i].Sub(l[i-1]).Len()
	}
	rest := t * total
	for i := 1; i < len(l); i++ {
		d := l[i].Sub(l[i-1])
		if n := d.Len(); n > 0 && (rest <= n || i == len(l)-1) {
			return l[i-1].Add(d.Mul(min(1, rest/n)))
		} else {
			rest -= n
		}
	}
	return l[0]
}

// otherTags names the numbered findings, flow-offs, feeders, inserts and one
// key.
func (in *Input) otherTags(m faceMap) []tag {
	v, b := in.look(), in.Plan.Block
	var tags []tag
	byPlace := map[[2]int]int{}
	for _, k := range v.marks {
		q := m.at(k.at.X, k.at.Y)
		if !inside(m.block(), q) {
			continue
		}
		cell := [2]int{int(math.Round(q.X)), int(math.Round(q.Y))}
		if i, ok := byPlace[cell]; ok {
			tags[i].text += ", " + grouped(float64(k.no), 0)
			continue
		}
		byPlace[cell] = len(tags)
		tags = append(tags, tag{at: q, text: grouped(float64(k.no), 0), strong: true})
	}
	for _, f := range b.FlowOffs {
		// its upper end stands upright on the edge
		tags = append(tags, tag{at: m.at(f.To[0], f.To[1]-5), text: "flow-off"})
	}
	for _, f := range b.Feeders {
		tags = append(tags, tag{at: m.point(f.At), text: "feeder"})
	}
	for _, f := range b.Inserts {
		tags = append(tags, tag{at: m.point(f.At), text: clean(f.Kind)})
	}
	if len(b.Keys) > 0 {
		best := 0
		for i, k := range b.Keys {
			if m.point(k.At).X > m.point(b.Keys[best].At).X {
				best = i
			}
		}
		tags = append(tags, tag{at: m.point(b.Keys[best].At), text: "key"})
	}
	return tags
}

func inside(loop []vec.V2, q vec.V2) bool { return within([][]vec.V2{loop}, q) }

// leaders sets labels in a column, in the order of their heights so that the
// leaders cross as little as can be, and draws the leaders with a dot on the
// thing.
func (p *page) leaders(tags []tag, x, xEnd, top, bottom float64) {
	const pitch = 4.6
	if most := int((bottom-top)/pitch) + 1; len(tags) > most {
		// numbers are told in words elsewhere and need their places most
		sort.SliceStable(tags, func(i, j int) bool { return tags[i].strong && !tags[j].strong })
		tags = tags[:max(0, most)]
	}
	sort.SliceStable(tags, func(i, j int) bool { return tags[i].at.Y < tags[j].at.Y })
	y := make([]float64, len(tags))
	for i, t := range tags {
		y[i] = max(t.at.Y, top)
		if i > 0 {
			y[i] = max(y[i], y[i-1]+pitch)
		}
	}
	for i := len(tags) - 1; i >= 0; i-- {
		limit := bottom - float64(len(tags)-1-i)*pitch
		y[i] = min(y[i], limit)
	}
	uncross(tags, y, x-1)
	for i, t := range tags {
		p.line(thinLine, t.at.X, t.at.Y, x-1, y[i])
		p.fill(black, disc(t.at.X, t.at.Y, 0.55))
		f, pt := label, 8.0
		if t.strong {
			f, pt = wordsBold, 10.5
		}
		p.printIn(colourOf(t), f, pt, x, y[i]+capHeight(pt)/2, left, cutTo(f, pt, xEnd-x, t.text))
	}
}

// colourOf is the accent for the number of a finding, ink else.
func colourOf(t tag) colour {
	if t.strong {
		return accent
	}
	return black
}

// uncross swaps neighbours in the column of labels while their leaders cross.
func uncross(tags []tag, y []float64, x float64) {
	for range len(tags) {
		swapped := false
		for i := 0; i+1 < len(tags); i++ {
			a, b := tags[i].at, tags[i+1].at
			pa, pb := vec.V2{X: x, Y: y[i]}, vec.V2{X: x, Y: y[i+1]}
			if crossed(a, pa, b, pb) && !crossed(a, pb, b, pa) {
				tags[i], tags[i+1] = tags[i+1], tags[i]
				swapped = true
			}
		}
		if !swapped {
			return
		}
	}
}

// crossed reports whether two segments cross.
func crossed(a, b, c, d vec.V2) bool {
	side := func(p, q, r vec.V2) float64 { return q.Sub(p).Cross(r.Sub(p)) }
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}

// cupMark draws the openings of the cups and the arrows into them.
func (in *Input) cupMark(p *page, m faceMap, labelRight float64) {
	y := m.oy
	last := 0.0
	for _, c := range in.cupPlaces() {
		a, b := m.at(c[0], m.size.Y/2), m.at(c[1], m.size.Y/2)
		x := (a.X + b.X) / 2
		if c[1] > c[0] {
			p.strokeIn(white, 0.5, nil, false, []vec.V2{a, b})
			p.stroke(hairLine, []float64{1.2, 0.8}, false, []vec.V2{a, b})
		}
		p.line(frameLine, x, y-3.4, x, y+2.6)
		p.fill(black, []vec.V2{{X: x - 1, Y: y + 2}, {X: x + 1, Y: y + 2}, {X: x, Y: y + 4.6}})
		last = max(last, x)
	}
	const text = "cup, this edge up"
	if w := widthOf(label, 8, text); last+3+w < labelRight {
		p.print(label, 8, last+3, y-1.4, left, text)
	} else {
		p.print(label, 8, max(m.ox, last-w), y-4.6, left, text)
	}
}

// cupPlaces is cups, or the middle of the upper edge where none is open.
func (in *Input) cupPlaces() [][2]float64 {
	if c := in.cups(); len(c) > 0 {
		return c
	}
	return [][2]float64{{0, 0}}
}
