package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// cupRoom is the height above the block where the cup is named.
const cupRoom = 7

// halfItem draws the face of a half at full size: borders hatched, outlines,
// keys, cuts, names. What finds no place inside is named in a column at the
// right, where that still fits into room mm.
func (in *Input) halfItem(half int, room, high float64) *item {
	v := in.look()
	i := &item{name: "half " + grouped(float64(half+1), 0)}
	i.w, i.h = v.size.X, v.size.Y+cupRoom
	m := faceMap{half: half, scale: 1, oy: cupRoom, size: v.size}
	s := newSpace(0, cupRoom, v.size.X, v.size.Y)
	in.border(&i.page, m, half, s)
	in.faceCuts(&i.page, m, half, s)
	in.faceInserts(&i.page, m, s)
	in.faceLines(&i.page, m, half, s)
	in.faceKeys(&i.page, m, s, false)
	s.channels(m.loops(v.face[half]), m.loops(v.piece[half]))
	if outside := in.faceNames(&i.page, m, s, v.size.X+namesWide <= room); len(outside) > 0 {
		n := len(i.ops)
		i.leaders(outside, v.size.X+5, v.size.X+namesWide-1, cupRoom+2, cupRoom+v.size.Y-2)
		for _, o := range i.ops[n:] {
			if o.kind == opStroke {
				s.lines(false, o.loops...)
			}
		}
		i.w += namesWide
	}
	look, turn := "you look into the mould, this face up", "seen from half 2"
	if half == 1 {
		turn = "mirrored: seen from half 1"
	}
	lines := []styled{{wordsBold, 20, "HALF " + grouped(float64(half+1), 0)}, {label, 8, look}, {label, 8, turn}}
	if in.alone(half) {
		lines = append(lines, styled{label, 8, "plain face: the piece lies in the other half"})
	}
	name := lines[0].s
	for _, l := range [][]styled{lines, {{wordsBold, 18, name}, {label, 8, "you look into"}, {label, 8, "the mould,"}, {label, 8, "this face up"}}, {{wordsBold, 12, name}, {label, 7.2, "this face up"}}, {{wordsBold, 9, name}}} {
		if q := nameSpot(v.size.X, v.size.Y+cupRoom, room, high); s.block(&i.page, q.X, q.Y, l) {
			break
		}
	}
	in.cupWord(&i.page, m)
	return i
}

// namesWide is the room for names at the right of a face, mm.
const namesWide = 25

// alone reports that a half shows next to nothing of the pieces.
func (in *Input) alone(half int) bool {
	v := in.look()
	a, b := math.Abs(areaOf(v.piece[half])), math.Abs(areaOf(v.piece[1-half]))
	return a < 0.05*b
}

// plain reports that no metal lies in the face of a half, neither piece nor
// channel.
func (in *Input) plain(half int) bool {
	v := in.look()
	return math.Abs(areaOf(v.face[half])) < 0.02*math.Abs(areaOf(v.face[1-half]))
}

// border draws the block's edge and 5 mm of the half's hatch inside it, open
// where channels and cuts run out.
func (in *Input) border(p *page, m faceMap, half int, s *space) {
	const rim = 5
	w, h := m.size.X, m.size.Y
	outer, inner := box(m.ox, m.oy, w, h), box(m.ox+rim, m.oy+rim, w-2*rim, h-2*rim)
	loops := [][]vec.V2{outer, inner}
	win := window{m.ox, m.oy, m.ox + w, m.oy + h}
	for _, l := range m.loops(in.look().face[half]) {
		if c := win.cutLoop(l); len(c) > 2 {
			loops = append(loops, c)
			// the part of the channel inside the rim is counted twice by the inner box
			if d := (window{m.ox + rim, m.oy + rim, m.ox + w - rim, m.oy + h - rim}).cutLoop(l); len(d) > 2 {
				loops = append(loops, d)
			}
		}
	}
	t := toneHalf1
	if half == 1 {
		t = toneHalf2
	}
	p.hatch(t, loops)
	p.stroke(frameLine, nil, true, outer)
	if s != nil {
		s.lines(true, outer)
		for _, r := range [4][4]float64{{m.ox, m.oy, w, rim}, {m.ox, m.oy + h - rim, w, rim}, {m.ox, m.oy, rim, h}, {m.ox + w - rim, m.oy, rim, h}} {
			s.take(r[0], r[1], r[2]-0.01, r[3]-0.01)
		}
	}
}

// faceLines draws the pieces by the knife line and the channels by the broken
// line of what rods form.
func (in *Input) faceLines(p *page, m faceMap, half int, s *space) {
	v := in.look()
	piece := m.loops(v.piece[half])
	for _, l := range in.channelLines(half) {
		q := m.loops([][]vec.V2{l})[0]
		p.stroke(frameLine, []float64{2, 0.8}, false, q)
		s.lines(false, q)
	}
	p.stroke(cutLine, nil, true, piece...)
	s.lines(true, piece...)
}

// channelLines returns the stretches of the metal's outline in the face of a
// half that do not run along a piece, in block coordinates.
func (in *Input) channelLines(half int) [][]vec.V2 {
	v := in.look()
	piece := v.piece[half]
	if len(piece) == 0 {
		piece = v.shadow
	}
	near := newNear(piece, 0.15)
	var out [][]vec.V2
	for _, l := range v.face[half] {
		var cur []vec.V2
		flush := func() {
			if len(cur) > 1 {
				out = append(out, cur)
			}
			cur = nil
		}
		for i := range l {
			a, b := l[i], l[(i+1)%len(l)]
			n := max(1, int(math.Ceil(b.Sub(a).Len()/1.0)))
			for k := range n {
				q, r := a.Add(b.Sub(a).Mul(float64(k)/float64(n))), a.Add(b.Sub(a).Mul(float64(k+1)/float64(n)))
				if near.has(q.Add(r).Mul(0.5)) {
					flush()
					continue
				}
				if len(cur) == 0 {
					cur = append(cur, q)
				}
				cur = append(cur, r)
			}
		}
		flush()
	}
	return out
}

// nearness answers whether a point lies within reach of some loops, by a grid
// of cells that hold their segments.
type nearness struct {
	x0, y0, h float64
	nx, ny    int
	cell      [][]int32
	a, b      []vec.V2
	reach     float64
}

func newNear(loops [][]vec.V2, reach float64) *nearness {
	n := &nearness{reach: reach}
	lo, hi, ok := bounds(loops)
	if !ok {
		return n
	}
	n.h = max(4*reach, (hi.X-lo.X)/200, (hi.Y-lo.Y)/200)
	n.x0, n.y0 = lo.X-n.h, lo.Y-n.h
	n.nx, n.ny = int((hi.X-lo.X)/n.h)+3, int((hi.Y-lo.Y)/n.h)+3
	n.cell = make([][]int32, n.nx*n.ny)
	for _, l := range loops {
		for i, a := range l {
			b := l[(i+1)%len(l)]
			k := int32(len(n.a))
			n.a, n.b = append(n.a, a), append(n.b, b)
			i0, i1 := n.index(min(a.X, b.X)-reach, n.x0, n.nx), n.index(max(a.X, b.X)+reach, n.x0, n.nx)
			j0, j1 := n.index(min(a.Y, b.Y)-reach, n.y0, n.ny), n.index(max(a.Y, b.Y)+reach, n.y0, n.ny)
			for j := j0; j <= j1; j++ {
				for i := i0; i <= i1; i++ {
					n.cell[j*n.nx+i] = append(n.cell[j*n.nx+i], k)
				}
			}
		}
	}
	return n
}

func (n *nearness) index(x, x0 float64, m int) int {
	return min(max(int(math.Floor((x-x0)/n.h)), 0), m-1)
}

func (n *nearness) has(q vec.V2) bool {
	if len(n.a) == 0 || q.X < n.x0 || q.Y < n.y0 || q.X > n.x0+n.h*float64(n.nx) || q.Y > n.y0+n.h*float64(n.ny) {
		return false
	}
	for _, k := range n.cell[n.index(q.Y, n.y0, n.ny)*n.nx+n.index(q.X, n.x0, n.nx)] {
		if toSegment(q, n.a[k], n.b[k]) <= n.reach {
			return true
		}
	}
	return false
}

func (in *Input) faceCuts(p *page, m faceMap, half int, s *space) {
	cuts := in.cutsOf(half)
	for _, c := range cuts {
		p.strokeIn(white, 2, nil, false, m.path(c.Path))
	}
	for _, c := range cuts {
		l := m.path(c.Path)
		p.stroke(outlineLine, cutDash(c), false, l)
		s.lines(false, l)
	}
}

// faceKeys draws the keys with their names: inside the ring where it is wide
// enough, with what to make of them on the bed, else beside it.
func (in *Input) faceKeys(p *page, m faceMap, s *space, bed bool) {
	for i, k := range in.Plan.Block.Keys {
		q := m.point(k.At)
		r := k.Diameter / 2 * m.scale
		p.fill(white, disc(q.X, q.Y, r))
		p.circle(frameLine, q.X, q.Y, r)
		for _, d := range [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			p.line(hairLine, q.X+d[0]*(r-1), q.Y+d[1]*(r-1), q.X+d[0]*(r+1.5), q.Y+d[1]*(r+1.5))
		}
		p.line(hairLine, q.X-1, q.Y, q.X+1, q.Y)
		p.line(hairLine, q.X, q.Y-1, q.X, q.Y+1)
		s.take(q.X-r-1.5, q.Y-r-1.5, 2*r+3, 2*r+3)
		name, what := "key "+grouped(float64(i+1), 0), "pit "
		if k.Depth > 0 {
			what = "bump "
		}
		what += Length(math.Abs(k.Depth))
		chord := 2*math.Sqrt(math.Max(0, r*r-3.3*3.3)) - 0.6
		switch {
		case widthOf(label, 7.2, name) < chord:
			p.print(label, 7.2, q.X, q.Y-1.5, middle, name)
			if bed && widthOf(label, 7.2, what) < chord {
				p.print(label, 7.2, q.X, q.Y+3.2, middle, what)
			}
		case s.beside(p, label, 7.2, q.X, q.Y, r+1.8, name):
		case r > 2.4:
			p.print(label, 7.2, q.X+0.5, q.Y-1.2, left, grouped(float64(i+1), 0))
		}
	}
}

// faceNames names findings, cuts, flow-offs, feeders, inserts, the ingate and
// the pieces beside their things. What finds no place there is returned for a
// column outside where column is set; else it is led across the drawing.
func (in *Input) faceNames(p *page, m faceMap, s *space, column bool) []tag {
	b, v := in.Plan.Block, in.look()
	var outside []tag
	name := func(h hand, pt, gap float64, q vec.V2, t string) bool {
		if s.beside(p, h, pt, q.X, q.Y, gap, t) {
			return true
		}
		if !column {
			return s.label(p, h, pt, q.X, q.Y, gap, t)
		}
		outside = append(outside, tag{at: q, text: t, strong: h == wordsBold})
		return true
	}
	for _, k := range v.marks {
		s.mark(m.at(k.at.X, k.at.Y))
	}
	placed := map[[2]int]bool{}
	for _, k := range v.marks {
		q := m.at(k.at.X, k.at.Y)
		cell := [2]int{int(math.Round(q.X)), int(math.Round(q.Y))}
		if !inside(m.block(), q) || placed[cell] {
			continue
		}
		placed[cell] = true
		t := ""
		for _, o := range v.marks {
			if r := m.at(o.at.X, o.at.Y); int(math.Round(r.X)) == cell[0] && int(math.Round(r.Y)) == cell[1] {
				if t != "" {
					t += ", "
				}
				t += grouped(float64(o.no), 0)
			}
		}
		p.fill(black, disc(q.X, q.Y, 0.55))
		n := len(p.ops)
		name(wordsBold, 11, 2, q, t)
		for j := n; j < len(p.ops); j++ {
			if p.ops[j].kind == opText {
				p.ops[j].col = accent
			}
		}
	}
	cuts := in.cutsOf(m.half)
	lines := make([][]vec.V2, len(cuts))
	for i, c := range cuts {
		lines[i] = m.path(c.Path)
	}
	s.avoid = s.within(m.loops(v.piece[m.half])) // a vent's name does not stand in the piece
	for i, c := range cuts {
		t := "vent " + grouped(float64(c.No), 0)
		q := apart(lines, i)
		done := s.beside(p, label, 8, q.X, q.Y, 1.5, t)
		if !done { // else from where a leader meets the least of the piece
			name(label, 8, 1.5, clearOf(lines, i, m.loops(v.piece[m.half])), t)
		}
	}
	s.avoid = nil
	if in.plain(m.half) {
		return outside
	}
	for _, f := range b.FlowOffs {
		name(label, 8, f.Diameter/2+1, m.at(f.To[0], f.To[1]-14), "flow-off")
	}
	for _, f := range b.Feeders {
		name(label, 8, 2, m.point(f.At), "feeder")
	}
	for _, f := range b.Inserts {
		name(label, 8, 2, m.point(f.At), clean(f.Kind)+" "+trimmed(f.Diameter)+nb+"mm")
	}
	if len(b.Ingates) > 0 {
		in.nameIngate(p, m, s, name)
	}
	if len(v.masters) > 1 {
		for c := range v.masters {
			in.namePiece(p, m, s, c, name)
		}
	}
	return outside
}

// namePiece names a piece inside or near it: from its middle, else from the
// middle of its lower or upper side.
func (in *Input) namePiece(p *page, m faceMap, s *space, c int, name func(hand, float64, float64, vec.V2, string) bool) {
	b := in.look().masters[c].Box()
	q := b.Centre()
	text := cavityName(in, c)
	mid := m.at(q.X, q.Y)
	if s.beside(p, label, 8, mid.X, mid.Y, 1, text) {
		return
	}
	for _, y := range [2]float64{b.Min.Y, b.Max.Y} {
		if w := m.at(q.X, y); s.beside(p, label, 8, w.X, w.Y, 1.5, text) {
			return
		}
	}
	if !s.label(p, label, 8, mid.X, mid.Y, 1, text) {
		name(label, 8, 1, mid, text)
	}
}

// nameIngate names the first ingate that has room beside it, once.
func (in *Input) nameIngate(p *page, m faceMap, s *space, name func(hand, float64, float64, vec.V2, string) bool) {
	for _, g := range in.Plan.Block.Ingates {
		q := m.point(g.At)
		if s.beside(p, label, 8, q.X, q.Y, 3, "ingate") {
			return
		}
	}
	name(label, 8, 3, m.point(in.Plan.Block.Ingates[0].At), "ingate")
}

// cupWord writes CUP over the edge where it opens, with an arrow into it.
func (in *Input) cupWord(p *page, m faceMap) {
	y := m.oy
	places := in.cupPlaces()
	for _, c := range places {
		x := (m.at(c[0], 0).X + m.at(c[1], 0).X) / 2
		p.line(frameLine, x, y-5, x, y-1)
		p.fill(black, []vec.V2{{X: x - 1, Y: y - 2.2}, {X: x + 1, Y: y - 2.2}, {X: x, Y: y}})
		w := widthOf(labelBold, 9, "CUP")
		switch room := m.ox + m.size.X - x - 2.5 - w; {
		case room < 0:
			p.print(labelBold, 9, x-2.5, y-2, right, "CUP")
		case room > 28 && len(places) == 1:
			p.print(labelBold, 9, x+2.5, y-2, left, "CUP")
			p.print(label, 7.6, x+3.5+w, y-2, left, "this edge up")
		default:
			p.print(labelBold, 9, x+2.5, y-2, left, "CUP")
		}
	}
}
