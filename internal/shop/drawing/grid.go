package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// grid is the division of a drawing into tiles.
type grid struct {
	nx, ny int
	cw, ch float64 // a cell, mm
	over   float64 // mm that a tile shows beyond its cell on the inner sides
}

// What a tile takes of a sheet beside its share of the drawing, mm: the crop
// marks, the overlap on either side, the words over it.
const (
	tileCrop = 9.0
	tileOver = 5.0
	tileHead = 10.0
)

// tilesFor is the number of tiles that a length of a drawing too large for its
// sheet takes in the given room, less what marks and words need.
func tilesFor(length, room, less float64) int {
	return max(1, int(math.Ceil(length/(room-2*tileCrop-2*tileOver-less))))
}

// nameSpot is where the name of a drawing on a sheet of w by h mm stands best:
// its middle, or the middle of its first tile.
func nameSpot(wide, high, w, h float64) vec.V2 {
	q := vec.V2{X: wide / 2, Y: high / 2}
	if wide > w || high > h {
		q.X = wide / float64(2*tilesFor(wide, w, 0))
		q.Y = high / float64(2*tilesFor(high, h, tileHead))
	}
	return q
}

// cell is the share of tile (r, c), window what it shows.
func (g *grid) cell(r, c int) window {
	return window{float64(c) * g.cw, float64(r) * g.ch, float64(c+1) * g.cw, float64(r+1) * g.ch}
}

func (g *grid) window(r, c int) window {
	w := g.cell(r, c)
	if c > 0 {
		w.x0 -= g.over
	}
	if r > 0 {
		w.y0 -= g.over
	}
	if c < g.nx-1 {
		w.x1 += g.over
	}
	if r < g.ny-1 {
		w.y1 += g.over
	}
	return w
}

// settle moves every text that no tile shows whole into the tile that holds
// its middle, where that is wide enough; texts that run off the drawing's own
// edges stay as they are.
func (g *grid) settle(p *page) {
	for k := range p.ops {
		o := &p.ops[k]
		if o.kind != opText {
			continue
		}
		lo, hi := textBox(o)
		whole := false
		for r := range g.ny {
			for c := range g.nx {
				w := g.window(r, c)
				whole = whole || (w.has(lo) && w.has(hi))
			}
		}
		if whole {
			continue
		}
		c := min(max(int((lo.X+hi.X)/2/g.cw), 0), g.nx-1)
		r := min(max(int((lo.Y+hi.Y)/2/g.ch), 0), g.ny-1)
		w := g.window(r, c)
		o.at.X += shift(lo.X, hi.X, w.x0+0.5, w.x1-0.5)
		o.at.Y += shift(lo.Y, hi.Y, w.y0+0.5, w.y1-0.5)
	}
}

// shift is the least move that brings a stretch between two bounds.
func shift(lo, hi, from, to float64) float64 {
	switch {
	case hi-lo > to-from:
		return 0
	case lo < from:
		return from - lo
	case hi > to:
		return to - hi
	}
	return 0
}

// jointName is the letter of joint k: A to Z, then AA and so on.
func jointName(k int) string {
	if k < 26 {
		return string(rune('A' + k))
	}
	return string(rune('A'+k/26-1)) + string(rune('A'+k%26))
}

// joints sets the letter pairs across the inner edges of tile (r, c) of a
// drawing, the same letter on the two tiles that meet there, one half on
// either side of the cut, where the drawing leaves most room for them.
func (g *grid) joints(p, drawing *page, dx, dy float64, r, c int) {
	w := g.cell(r, c)
	across := func(k int, x float64) {
		q := quiet(drawing, vec.V2{X: x, Y: w.y0}, vec.V2{X: x, Y: w.y1}, 4.6, 3.2)
		q.X, q.Y = q.X+dx, q.Y+dy
		p.fill(white, box(q.X-4.3, q.Y-1.6, 8.6, 3.2))
		p.line(ruleLine, q.X, q.Y-3, q.X, q.Y+3)
		p.print(labelBold, 9, q.X-0.9, q.Y+1.1, right, jointName(k))
		p.print(labelBold, 9, q.X+0.9, q.Y+1.1, left, jointName(k))
	}
	down := func(k int, y float64) {
		q := quiet(drawing, vec.V2{X: w.x0, Y: y}, vec.V2{X: w.x1, Y: y}, 3.4, 4.4)
		q.X, q.Y = q.X+dx, q.Y+dy
		p.fill(white, box(q.X-1.8, q.Y-3.8, 3.6, 7.6))
		p.line(ruleLine, q.X-3, q.Y, q.X+3, q.Y)
		p.print(labelBold, 9, q.X, q.Y-1, middle, jointName(k))
		p.print(labelBold, 9, q.X, q.Y+3.4, middle, jointName(k))
	}
	// joints between columns first, row by row, then between rows
	if c > 0 {
		across(r*(g.nx-1)+c-1, w.x0)
	}
	if c < g.nx-1 {
		across(r*(g.nx-1)+c, w.x1)
	}
	n := g.ny * (g.nx - 1)
	if r > 0 {
		down(n+(r-1)*g.nx+c, w.y0)
	}
	if r < g.ny-1 {
		down(n+r*g.nx+c, w.y1)
	}
}

// quiet returns the point of the segment from a to b, away from its ends,
// round which a box of half sizes hx and hy meets no text and as few lines as
// can be; of equal ones that nearest to 0.3 of the way.
func quiet(p *page, a, b vec.V2, hx, hy float64) vec.V2 {
	best, at := math.Inf(1), a
	for _, t := range []float64{0.3, 0.35, 0.25, 0.4, 0.2, 0.45, 0.15, 0.5, 0.55, 0.1, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9} {
		q := a.Add(b.Sub(a).Mul(t))
		w := window{q.X - hx, q.Y - hy, q.X + hx, q.Y + hy}
		if n := busy(p, w); n < best {
			best, at = n, q
		}
		if best == 0 {
			break
		}
	}
	return at
}

// busy counts what a window of a drawing holds: 100 for each text, 1 for each
// line or filled place.
func busy(p *page, w window) float64 {
	n := 0.0
	for k := range p.ops {
		o := &p.ops[k]
		if o.kind == opText {
			lo, hi := textBox(o)
			if lo.X < w.x1 && hi.X > w.x0 && lo.Y < w.y1 && hi.Y > w.y0 {
				n += 100
			}
			continue
		}
		for _, l := range o.loops {
			if lo, hi, ok := bounds([][]vec.V2{l}); !ok || lo.X > w.x1 || hi.X < w.x0 || lo.Y > w.y1 || hi.Y < w.y0 {
				continue
			}
			if o.kind == opFill {
				n++
				continue
			}
			if o.closed {
				l = append(append([]vec.V2{}, l...), l[0])
			}
			if len(w.cutLine(l)) > 0 {
				n++
			}
		}
	}
	return n
}
