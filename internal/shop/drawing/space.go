package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// space keeps count of the room on a drawing, in squares of 1 mm, so that
// labels find a free place near their thing.
type space struct {
	x0, y0 float64
	nx, ny int
	used   []bool
	words  []bool // of them, those under words
	avoid  []bool // squares that the names being placed keep off, nil for none
}

func newSpace(x, y, w, h float64) *space {
	s := &space{x0: x, y0: y, nx: max(1, int(math.Ceil(w))), ny: max(1, int(math.Ceil(h)))}
	s.used, s.words = make([]bool, s.nx*s.ny), make([]bool, s.nx*s.ny)
	return s
}

// lines marks all squares along the lines as used.
func (s *space) lines(closed bool, lines ...[]vec.V2) {
	for _, l := range lines {
		n := len(l) - 1
		if closed {
			n = len(l)
		}
		for i := range n {
			a, b := l[i], l[(i+1)%len(l)]
			k := int(b.Sub(a).Len()/0.5) + 1
			for j := range k + 1 {
				s.mark(a.Add(b.Sub(a).Mul(float64(j) / float64(k))))
			}
		}
	}
}

// channels marks the squares inside the metal but outside the pieces, so that
// no name of another thing stands in a cup or a channel.
func (s *space) channels(metal, pieces [][]vec.V2) {
	for j := range s.ny {
		y := s.y0 + float64(j) + 0.5
		in := rulingAt(pieces, y)
		for _, r := range rulingAt(metal, y) {
			for i := max(0, int(r[0]-s.x0)); i <= min(s.nx-1, int(r[1]-s.x0)); i++ {
				x := s.x0 + float64(i) + 0.5
				free := x > r[0] && x < r[1]
				for _, q := range in {
					free = free && (x < q[0] || x > q[1])
				}
				if free {
					s.used[j*s.nx+i] = true
				}
			}
		}
	}
}

func (s *space) mark(q vec.V2) {
	i, j := int(math.Floor(q.X-s.x0)), int(math.Floor(q.Y-s.y0))
	if i >= 0 && j >= 0 && i < s.nx && j < s.ny {
		s.used[j*s.nx+i] = true
	}
}

// free reports whether the box lies in the space and no square of it is used.
func (s *space) free(x, y, w, h float64) bool {
	i0, j0 := int(math.Floor(x-s.x0)), int(math.Floor(y-s.y0))
	i1, j1 := int(math.Floor(x+w-s.x0)), int(math.Floor(y+h-s.y0))
	if i0 < 0 || j0 < 0 || i1 >= s.nx || j1 >= s.ny {
		return false
	}
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			if k := j*s.nx + i; s.used[k] || (s.avoid != nil && s.avoid[k]) {
				return false
			}
		}
	}
	return true
}

// within returns the squares inside some loops.
func (s *space) within(loops [][]vec.V2) []bool {
	t := &space{x0: s.x0, y0: s.y0, nx: s.nx, ny: s.ny, used: make([]bool, s.nx*s.ny)}
	t.channels(loops, nil)
	return t.used
}

func (s *space) take(x, y, w, h float64) {
	for j := int(math.Floor(y - s.y0)); j <= int(math.Floor(y+h-s.y0)); j++ {
		for i := int(math.Floor(x - s.x0)); i <= int(math.Floor(x+w-s.x0)); i++ {
			if i >= 0 && j >= 0 && i < s.nx && j < s.ny {
				s.used[j*s.nx+i] = true
			}
		}
	}
}

// near finds a free place for a box of w x h about (x, y), gap away from it,
// searching outwards up to reach; it takes the place and returns its upper left
// corner. A leader to it must cross nothing, with cross set no words.
func (s *space) near(x, y, w, h, gap, reach float64, cross bool) (px, py float64, ok bool) {
	for d := gap; d <= reach; d += 1.5 {
		for _, c := range [][2]float64{
			{x + d, y - h/2}, {x - d - w, y - h/2}, {x - w/2, y + d}, {x - w/2, y - d - h},
			{x + 0.7*d, y + 0.7*d}, {x - 0.7*d - w, y + 0.7*d}, {x + 0.7*d, y - 0.7*d - h}, {x - 0.7*d - w, y - 0.7*d - h},
		} {
			if !s.free(c[0], c[1], w, h) {
				continue
			}
			ex, ey := min(max(x, c[0]), c[0]+w), min(max(y, c[1]), c[1]+h)
			if (cross && clearWay(s, s.words, x, y, ex, ey, 0)) || (!cross && clearWay(s, s.used, x, y, ex, ey, gap+1)) {
				s.take(c[0], c[1], w, h)
				s.word(c[0], c[1], w, h)
				return c[0], c[1], true
			}
		}
	}
	return 0, 0, false
}

// word marks a box as being under words.
func (s *space) word(x, y, w, h float64) {
	used := s.used
	s.used = s.words
	s.take(x, y, w, h)
	s.used = used
}

// clearWay reports whether a leader from (x, y) to (ex, ey) meets none of the
// marked squares once it is off mm away from its start.
func clearWay(s *space, marked []bool, x, y, ex, ey, off float64) bool {
	n := math.Hypot(ex-x, ey-y)
	for d := off; d < n; d += 0.5 {
		q := vec.V2{X: x + (ex-x)*d/n, Y: y + (ey-y)*d/n}
		i, j := int(math.Floor(q.X-s.x0)), int(math.Floor(q.Y-s.y0))
		if i >= 0 && j >= 0 && i < s.nx && j < s.ny && marked[j*s.nx+i] {
			return false
		}
	}
	return true
}

// label prints t near (x, y) where there is room, with a leader where it stands
// off; it reports whether it found room.
func (s *space) label(p *page, h hand, pt, x, y, gap float64, t string) bool {
	return s.labelWithin(p, h, pt, x, y, gap, gap+24, t)
}

// beside is label for the nearest surroundings, with nothing between the name
// and its thing.
func (s *space) beside(p *page, h hand, pt, x, y, gap float64, t string) bool {
	w, high := widthOf(h, pt, t)+1, capHeight(pt)+1.6
	px, py, ok := s.near(x, y, w, high, gap, gap+4.5, false)
	if ok {
		p.print(h, pt, px+0.5, py+high-0.8, left, t)
		s.take(px-0.5, py-1.2, w+1, high+2.4) // names close above each other would read as one
	}
	return ok
}

// labelWithin is label with the farthest place that is still taken.
func (s *space) labelWithin(p *page, h hand, pt, x, y, gap, reach float64, t string) bool {
	w, high := widthOf(h, pt, t)+1, capHeight(pt)+1.6
	px, py, ok := s.near(x, y, w, high, gap, reach, false)
	if !ok && reach > gap+10 {
		px, py, ok = s.near(x, y, w, high, gap, reach, true)
	}
	if !ok {
		return false
	}
	cx, cy := px+w/2, py+high/2
	if math.Hypot(cx-x, cy-y) > gap+math.Hypot(w, high)/2+3 {
		ex := min(max(x, px), px+w)
		ey := min(max(y, py), py+high)
		p.line(thinLine, x, y, ex, ey)
		s.lines(false, []vec.V2{{X: x, Y: y}, {X: ex, Y: ey}})
		p.fill(black, disc(x, y, 0.55))
	}
	p.print(h, pt, px+0.5, py+high-0.8, left, t)
	return true
}

// block places several lines centred at the freest spot of the space: the one
// whose box is free and nearest to (x, y).
func (s *space) block(p *page, x, y float64, lines []styled) bool {
	w, h := 0.0, 0.0
	for _, l := range lines {
		w = max(w, widthOf(l.h, l.pt, l.s)+2)
		h += l.pt * mmPerPt * 1.25
	}
	h += 1
	best, bx, by := math.Inf(1), 0.0, 0.0
	for cy := s.y0 + h/2 + 1; cy < s.y0+float64(s.ny)-h/2-1; cy += 2 {
		for cx := s.x0 + w/2 + 1; cx < s.x0+float64(s.nx)-w/2-1; cx += 2 {
			if d := math.Hypot(cx-x, cy-y); d < best && s.free(cx-w/2, cy-h/2, w, h) {
				best, bx, by = d, cx, cy
			}
		}
	}
	if math.IsInf(best, 1) {
		return false
	}
	s.take(bx-w/2, by-h/2, w, h)
	s.word(bx-w/2, by-h/2, w, h)
	ty := by - h/2 + 0.5
	for _, l := range lines {
		ty += l.pt * mmPerPt * 1.25
		p.print(l.h, l.pt, bx, ty-l.pt*mmPerPt*0.3, middle, l.s)
	}
	return true
}

// styled is a line of a block with its type.
type styled struct {
	h  hand
	pt float64
	s  string
}
