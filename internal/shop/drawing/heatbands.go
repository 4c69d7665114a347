package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// washes are the even steps of the one hue, light to dark.
var washes = [7]colour{{0xe2, 0xe9, 0xef}, {0xbb, 0xc8, 0xd5}, {0x94, 0xa8, 0xba}, {0x70, 0x89, 0x9f}, {0x4e, 0x6b, 0x83}, {0x33, 0x4e, 0x63}, {0x1f, 0x32, 0x41}}

// scale is a row of bands of equal height: from, from + step, ... in the unit of
// what is said. Where below is true the lowest band holds all that is lower.
type scale struct {
	from, step float64
	n          int
	below      bool
	above      bool    // one more band holds all that is higher
	div        float64 // of the field's unit to the unit said
	unit       string
}

// bandsOf lays 5 to most bands of 1, 2 or 5 x 10^n over lo..hi. Where one step
// gives more and the next fewer than five, the small step is taken and the lowest
// bands are one; a short or an empty range may have fewer.
func bandsOf(lo, hi, div float64, unit string, most int) scale {
	lo, hi = lo/div, hi/div
	s := scale{div: div, unit: unit, n: 1, step: 1}
	if !finite(lo) || !finite(hi) {
		return s
	}
	if hi-lo < 1e-6*math.Max(1e-6, math.Abs(hi)) {
		s.step = math.Pow(10, math.Floor(math.Log10(math.Max(1e-6, math.Abs(hi)))))
		s.from = math.Floor(lo/s.step) * s.step
		return s
	}
	count := func(step float64) (from, n float64) {
		from = math.Floor(lo/step + 1e-9)
		return from, math.Max(1, math.Ceil(hi/step-1e-9)-from)
	}
	small := 0.0
	e := math.Floor(math.Log10((hi - lo) / float64(most)))
	for k := 0; k < 9; k++ {
		step := []float64{1, 2, 5}[k%3] * math.Pow(10, e+float64(k/3))
		from, n := count(step)
		if int(n) > most {
			small = step
			continue
		}
		s.from, s.step, s.n = from*step, step, int(n)
		if n < 5 && small > 0 {
			if from, n = count(small); n <= 10 {
				s.step, s.n, s.below = small, most, true
				s.from = (from + n - float64(most)) * small
			}
		}
		break
	}
	return s
}

// bands is how many washes there are.
func (s scale) bands() int {
	if s.above {
		return s.n + 1
	}
	return s.n
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

// edge is the lower edge of band k, in the unit of the field.
func (s scale) edge(k int) float64 { return (s.from + float64(k)*s.step) * s.div }

// wash is the colour of band k.
func (s scale) wash(k int) colour { return washes[min(max(k, 0), 6)] }

// say writes an edge without its unit.
func (s scale) say(k int) string {
	d := max(0, -int(math.Floor(math.Log10(s.step)+1e-9)))
	return grouped(s.from+float64(k)*s.step, min(d, 6))
}

// draw sets the bands as a bar with ticks, the figures under it with the unit at
// the last, and words below, at most wide mm wide; it returns the y below.
func (s scale) draw(p *page, x, y, wide float64, words0 string) float64 {
	const high = 4.5
	w := min(wide-10, 18*float64(s.bands())) / float64(s.bands())
	for k := range s.bands() {
		p.fill(s.wash(k), box(x+float64(k)*w, y, w, high))
	}
	p.rect(ruleLine, x, y, w*float64(s.bands()), high)
	for k := range s.n + 1 {
		t := x + float64(k)*w
		if k == 0 && s.below {
			p.print(label, 8, t, y+high+5, left, "under")
			continue
		}
		p.line(ruleLine, t, y, t, y+high+1.5)
		say := s.say(k)
		if k == s.n {
			p.print(label, 8, t-widthOf(label, 8, say)/2, y+high+5, left, say+nb+s.unit)
			continue
		}
		p.print(label, 8, t, y+high+5, middle, say)
	}
	if s.above {
		p.print(label, 8, x+w*(float64(s.n)+0.98), y+high+5, right, "later")
	}
	y += high + 9.5
	for _, l := range wrapIn(label, labelBold, 8, wide, words0) {
		p.putLine(label, labelBold, 8, x, y, l)
		y += 3.8
	}
	return y
}

// sight takes places on a plane to the page: v up, u to the left, for one looks
// at the face of half 1, and half 1 is at the left where the mould is cut across.
type sight struct {
	s      *plane
	k      float64
	ox, oy float64 // upper left corner of the block on the page
}

func (g sight) wide() float64 { return g.s.wide * g.k }
func (g sight) high() float64 { return g.s.high * g.k }

func (g sight) at(q vec.V2) vec.V2 {
	return vec.V2{X: g.ox + (g.s.u0+g.s.wide-q.X)*g.k, Y: g.oy + (g.s.v0+g.s.high-q.Y)*g.k}
}

// back is the place on the plane of a place on the page.
func (g sight) back(q vec.V2) vec.V2 {
	return vec.V2{X: g.s.u0 + g.s.wide - (q.X-g.ox)/g.k, Y: g.s.v0 + g.s.high - (q.Y-g.oy)/g.k}
}

func (g sight) lines(l [][]vec.V2) [][]vec.V2 { return moved(l, g.at) }

// block is the outline of the block on the page, grown by d.
func (g sight) block(d float64) []vec.V2 {
	return box(g.ox-d, g.oy-d, g.wide()+2*d, g.high()+2*d)
}

// bands fills the bands of a field, in the metal or in the rubber, and draws the
// lines between them; every fifth is heavier.
func (g sight) bands(p *page, sc scale, f []float32, inMetal bool) {
	metal := turned(g.lines(g.s.metal))
	p.fill(sc.wash(0), g.block(0))
	for k := 1; k < sc.bands(); k++ {
		e := float32(sc.edge(k))
		if l := g.s.region(f, func(v float32) float32 { return v - e }); len(l) > 0 {
			p.fill(sc.wash(k), turned(g.lines(l))...)
		}
	}
	sign := 1.0
	if inMetal {
		sign = -1
		// all that is not metal is covered again
		rim := 2*g.s.step*g.k + 0.5
		p.fill(white, turned(append([][]vec.V2{g.block(rim)}, metal...))...)
	} else {
		p.fill(white, metal...)
		g.trim(p)
	}
	for k := 1; k < sc.bands(); k++ {
		w := ruleLine
		if int(math.Round(sc.from/sc.step)+float64(k))%5 == 0 {
			w = outlineLine
		}
		w *= math.Max(0.5, math.Min(1, g.k/0.5)) // thinner where a large block makes them crowd
		p.stroke(w, nil, false, g.lines(g.s.inside(g.s.level(f, float32(sc.edge(k))), sign))...)
	}
}

// trim covers what the last nodes of the lattice fill beyond the block.
func (g sight) trim(p *page) {
	rim := 2*g.s.step*g.k + 0.5
	p.fill(white, turned([][]vec.V2{g.block(rim), g.block(0)})...)
}

// jointDash is the line along which the halves meet.
var jointDash = []float64{2.4, 0.9}

// hairTint and ruleTint are the screen's colours for what need not be seen and for
// quiet edges.
var (
	hairTint = colour{0xc3, 0xc6, 0xc8}
	ruleTint = colour{0x7a, 0x82, 0x8c}
)

// outlines draws the cavity, the block and the joint of the halves.
func (g sight) outlines(p *page) {
	p.stroke(thinLine, jointDash, false, g.lines(g.s.joint())...)
	p.stroke(outlineLine, nil, true, g.lines(g.s.metal)...)
	p.stroke(frameLine, nil, true, g.block(0))
}

// room returns the free room round the view: squares in the metal and under its
// outline are taken.
func (g sight) room(rim float64) *space {
	r := newSpace(g.ox-rim, g.oy-rim, g.wide()+2*rim, g.high()+2*rim)
	for j := range r.ny {
		for i := range r.nx {
			q := vec.V2{X: r.x0 + float64(i) + 0.5, Y: r.y0 + float64(j) + 0.5}
			if inside(g.block(0), q) && g.s.read(g.s.dist, g.back(q)) < 0 {
				r.used[j*r.nx+i] = true
			}
		}
	}
	r.lines(true, g.lines(g.s.metal)...)
	r.lines(true, g.block(0))
	return r
}

// labelGap is the least between two labels of lines, mm.
const labelGap = 12

// namedLevel is a line with a name of its own.
type namedLevel struct {
	at  float64
	say string
}

// nameLines sets the value of each line between the bands once: outside the
// metal beside the end of a line in the metal, or on a line in the rubber. Lines
// without room keep their place in the bar of the bands alone.
func (g sight) nameLines(p *page, r *space, sc scale, f []float32, inMetal bool, extra ...namedLevel) {
	var set []vec.V2
	far := func(q vec.V2) bool {
		for _, o := range set {
			if o.Sub(q).Len() < labelGap {
				return false
			}
		}
		return true
	}
	sign := 1.0
	if inMetal {
		sign = -1
	}
	for i := range extra {
		lines := g.lines(g.s.inside(g.s.level(f, float32(extra[i].at)), sign))
		sortByLength(lines)
		for _, l := range lines {
			if g.nameLine(p, r, l, extra[i].say, inMetal, far, &set) || g.nameBeside(p, r, l, extra[i].say, far, &set) {
				break
			}
		}
	}
	for k := sc.bands() - 1; k > 0; k-- {
		say := sc.say(k) + nb + sc.unit
		lines := g.lines(g.s.inside(g.s.level(f, float32(sc.edge(k))), sign))
		sortByLength(lines)
		for _, l := range lines {
			if g.nameLine(p, r, l, say, inMetal, far, &set) || !inMetal && g.nameBeside(p, r, l, say, far, &set) {
				break
			}
		}
	}
}

func (g sight) nameLine(p *page, r *space, l []vec.V2, say string, inMetal bool, far func(vec.V2) bool, set *[]vec.V2) bool {
	const pt = 7.6
	w, h := widthOf(label, pt, say), capHeight(pt)
	try := func(c vec.V2) bool {
		x, y := c.X-w/2, c.Y-h/2
		if !far(c) || !r.free(x-0.6, y-0.6, w+1.2, h+1.2) {
			return false
		}
		p.fill(white, box(x-0.6, y-0.6, w+1.2, h+1.2))
		p.print(label, pt, c.X, y+h, middle, say)
		r.take(x-0.6, y-0.6, w+1.2, h+1.2)
		*set = append(*set, c)
		return true
	}
	if !inMetal {
		for k := range 41 { // from the middle to both ends
			t := 0.5 + 0.023*float64((k+1)/2)*float64(1-2*(k%2))
			if try(along(l, t)) {
				return true
			}
		}
		return false
	}
	if l[0] == l[len(l)-1] {
		return g.nameRing(p, l, w, h, try)
	}
	for _, e := range []vec.V2{l[0], l[len(l)-1]} {
		n := g.outward(e)
		if n == (vec.V2{}) {
			continue
		}
		// the nearest place at which the words clear the outline
		d := math.Abs(n.X)*w/2 + math.Abs(n.Y)*h/2
		for _, gap := range []float64{1.6, 2.4, 3.2} {
			if try(e.Add(n.Mul(d + gap))) {
				return true
			}
		}
	}
	return false
}

// nameBeside names a line in the rubber that runs too near to the metal for words,
// at the end of a leader away from the metal.
func (g sight) nameBeside(p *page, r *space, l []vec.V2, say string, far func(vec.V2) bool, set *[]vec.V2) bool {
	const pt = 7.6
	w, h := widthOf(label, pt, say), capHeight(pt)
	for _, gap := range []float64{4, 7, 10} {
		for k := range 16 {
			e := along(l, (float64(k)+0.5)/16)
			n := g.outward(e)
			end := e.Add(n.Mul(gap))
			c := end.Add(n.Mul(math.Abs(n.X)*w/2 + math.Abs(n.Y)*h/2 + 1))
			x, y := c.X-w/2-0.6, c.Y-h/2-0.6
			if n == (vec.V2{}) || !inside(g.block(0), c) || !far(c) || !r.free(x, y, w+1.2, h+1.2) {
				continue
			}
			p.line(thinLine, e.X, e.Y, c.X, c.Y)
			p.fill(white, box(x, y, w+1.2, h+1.2))
			p.print(label, pt, c.X, c.Y+h/2, middle, say)
			r.take(x, y, w+1.2, h+1.2)
			*set = append(*set, c)
			return true
		}
	}
	return false
}

// nameRing names a line that closes in the metal, at the end of a leader across the
// nearest wall.
func (g sight) nameRing(p *page, l []vec.V2, w, h float64, try func(c vec.V2) bool) bool {
	const most = 9.0 // mm of leader in the metal
	for _, t := range []float64{0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875} {
		e := along(l, t)
		n := g.outward(e)
		deep := -g.s.read(g.s.dist, g.back(e)) * g.k
		if n == (vec.V2{}) || !(deep < most) {
			continue
		}
		// distances are only known near the wall: go on until it is passed
		for deep < most && g.s.read(g.s.dist, g.back(e.Add(n.Mul(deep)))) < 0 {
			deep += 0.25
		}
		edge := deep + 1.2
		if deep < most && try(e.Add(n.Mul(edge+math.Abs(n.X)*w/2+math.Abs(n.Y)*h/2+0.4))) {
			p.line(thinLine, e.X, e.Y, e.X+n.X*edge, e.Y+n.Y*edge)
			return true
		}
	}
	return false
}

// outward is the direction on the page that leaves the metal at q, zero inside.
func (g sight) outward(q vec.V2) vec.V2 {
	s := g.s
	b, e := g.back(q), s.step
	d := vec.V2{X: s.read(s.dist, vec.V2{X: b.X + e, Y: b.Y}) - s.read(s.dist, vec.V2{X: b.X - e, Y: b.Y}),
		Y: s.read(s.dist, vec.V2{X: b.X, Y: b.Y + e}) - s.read(s.dist, vec.V2{X: b.X, Y: b.Y - e})}
	if !(d.Len() > 1e-9) {
		return vec.V2{}
	}
	d = d.Mul(1 / d.Len())
	return vec.V2{X: -d.X, Y: -d.Y}
}
