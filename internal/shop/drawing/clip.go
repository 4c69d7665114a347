package drawing

import (
	"pourwright/internal/ground/vec"
)

// window is a rectangle of a drawing.
type window struct{ x0, y0, x1, y1 float64 }

func (w window) has(q vec.V2) bool {
	return q.X >= w.x0 && q.X <= w.x1 && q.Y >= w.y0 && q.Y <= w.y1
}

// clipped returns the marks of p that lie in the window, moved by (dx, dy).
// Lines and fills are cut at its edge; a text is kept where it fits wholly.
func clipped(p *page, w window, dx, dy float64) []op {
	var out []op
	move := func(q vec.V2) vec.V2 { return vec.V2{X: q.X + dx, Y: q.Y + dy} }
	for _, o := range p.ops {
		switch o.kind {
		case opText:
			lo, hi := textBox(&o)
			if w.has(lo) && w.has(hi) {
				o.at = move(o.at)
				out = append(out, o)
			}
		case opFill:
			var loops [][]vec.V2
			for _, l := range o.loops {
				if c := w.cutLoop(l); len(c) > 2 {
					loops = append(loops, c)
				}
			}
			if len(loops) > 0 {
				o.loops = moved(loops, move)
				out = append(out, o)
			}
		case opStroke:
			whole := true
			for _, l := range o.loops {
				for _, q := range l {
					whole = whole && w.has(q)
				}
			}
			if !whole {
				var lines [][]vec.V2
				for _, l := range o.loops {
					if o.closed && len(l) > 0 {
						l = append(append([]vec.V2{}, l...), l[0])
					}
					lines = append(lines, w.cutLine(l)...)
				}
				o.loops, o.closed = lines, false
			}
			if len(o.loops) > 0 {
				o.loops = moved(o.loops, move)
				out = append(out, o)
			}
		}
	}
	return out
}

// cutLine returns the pieces of a line inside the window (Liang & Barsky).
func (w window) cutLine(l []vec.V2) [][]vec.V2 {
	var out [][]vec.V2
	var cur []vec.V2
	for i := 0; i+1 < len(l); i++ {
		a, b := l[i], l[i+1]
		t0, t1 := 0.0, 1.0
		d := b.Sub(a)
		ok := true
		for _, e := range [4][2]float64{{-d.X, a.X - w.x0}, {d.X, w.x1 - a.X}, {-d.Y, a.Y - w.y0}, {d.Y, w.y1 - a.Y}} {
			p, q := e[0], e[1]
			switch {
			case p == 0 && q < 0:
				ok = false
			case p < 0:
				t0 = max(t0, q/p)
			case p > 0:
				t1 = min(t1, q/p)
			}
		}
		if !ok || t0 > t1 {
			if len(cur) > 1 {
				out = append(out, cur)
			}
			cur = nil
			continue
		}
		if t0 > 0 || len(cur) == 0 {
			if len(cur) > 1 {
				out = append(out, cur)
			}
			cur = []vec.V2{a.Add(d.Mul(t0))}
		}
		cur = append(cur, a.Add(d.Mul(t1)))
		if t1 < 1 {
			out = append(out, cur)
			cur = nil
		}
	}
	if len(cur) > 1 {
		out = append(out, cur)
	}
	return out
}

// cutLoop clips a closed loop to the window (Sutherland & Hodgman).
func (w window) cutLoop(l []vec.V2) []vec.V2 {
	for side := range 4 {
		in := func(q vec.V2) float64 {
			switch side {
			case 0:
				return q.X - w.x0
			case 1:
				return w.x1 - q.X
			case 2:
				return q.Y - w.y0
			}
			return w.y1 - q.Y
		}
		var out []vec.V2
		for i, a := range l {
			b := l[(i+1)%len(l)]
			da, db := in(a), in(b)
			if da >= 0 {
				out = append(out, a)
			}
			if (da >= 0) != (db >= 0) {
				out = append(out, a.Add(b.Sub(a).Mul(da/(da-db))))
			}
		}
		l = out
	}
	return l
}

// textBox returns the box of a text on the page, from a little under the
// baseline to the height of the capitals.
func textBox(o *op) (lo, hi vec.V2) {
	up, down := 0.74*o.pt*mmPerPt, 0.2*o.pt*mmPerPt
	if o.angle == 90 {
		return vec.V2{X: o.at.X - up, Y: o.at.Y - o.wide}, vec.V2{X: o.at.X + down, Y: o.at.Y}
	}
	return vec.V2{X: o.at.X, Y: o.at.Y - up}, vec.V2{X: o.at.X + o.wide, Y: o.at.Y + down}
}
