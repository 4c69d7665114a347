package photo

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/lens"
	"pourwright/internal/shape/snapshot"
)

// Frame is the frame of marks on a check sheet: dots and rings round a white
// field, in a row whose every run of eleven marks, read either way, stands in
// only one place of all frames. So a part of the frame is enough to know where
// one is, which way up, and on which sheet.
type Frame struct {
	Name   string
	NX, NY int    // marks along x and y
	Code   string // from the lower left corner counter-clockwise, 1 a dot, 0 a ring
}

// Measures of the marks, mm.
const (
	Pitch    = 10.0 // from mark to mark
	MarkWide = 5.0  // diameter of a dot and of a ring
	RingHole = 2.2  // diameter of the white in a ring
	run      = 11   // marks that fix a place
)

// Frames are all frames that are printed and found. A frame once printed must
// be found by every later version: add to the list, change nothing.
var Frames = []Frame{
	{"A4", 18, 25, "1101110101100100100101000011101011110000101111000110100110011101000010101110001111"},
	{"Letter", 18, 23, "101110110011101111101011010000110000010110111011110100011000000111100110011010"},
	{"small", 12, 9, "11111100111011011110011011000101001101"},
}

// Mark is one mark of a frame, its middle from the middle of the frame, mm, y
// up.
type Mark struct {
	At   vec.V2
	Ring bool
}

// Marks returns the marks in the order of the code.
func (f Frame) Marks() []Mark {
	var m []Mark
	put := func(i, j int) {
		m = append(m, Mark{At: vec.V2{X: (float64(i) - float64(f.NX-1)/2) * Pitch, Y: (float64(j) - float64(f.NY-1)/2) * Pitch}, Ring: f.Code[len(m)] == '0'})
	}
	for i := range f.NX {
		put(i, 0)
	}
	for j := 1; j < f.NY; j++ {
		put(f.NX-1, j)
	}
	for i := f.NX - 2; i >= 0; i-- {
		put(i, f.NY-1)
	}
	for j := f.NY - 2; j >= 1; j-- {
		put(0, j)
	}
	return m
}

// Field returns half the width and height of the white field inside the marks.
func (f Frame) Field() (x, y float64) {
	return float64(f.NX-1)/2*Pitch - MarkWide/2, float64(f.NY-1)/2*Pitch - MarkWide/2
}

// blob is a dark round thing in the picture.
type blob struct {
	at         vec.V2 // px
	xx, xy, yy float64
	ring       bool
}

// away is the distance of a point in units of the blob's own standard
// deviations, which no affine map changes: a pitch is 8 of a whole dot's.
func (b *blob) away(p vec.V2) float64 {
	d := p.Sub(b.at)
	det := b.xx*b.yy - b.xy*b.xy
	return math.Sqrt(max(0, (b.yy*d.X*d.X-2*b.xy*d.X*d.Y+b.xx*d.Y*d.Y)/det))
}

// blobs finds ellipses darker than their surroundings, with or without a light
// hole in the middle.
func blobs(p *snapshot.Picture) []blob {
	s := reduce(p, max(1, (max(p.W, p.H)+1799)/1800))
	w, h := s.w, s.h
	grey := make([]float32, w*h)
	for q, c := range s.c {
		grey[q] = 0.3*c[0] + 0.59*c[1] + 0.11*c[2]
	}
	// Sums over all pixels above and to the left give means over any box.
	sum := make([]float64, (w+1)*(h+1))
	for j := range h {
		row := 0.0
		for i := range w {
			row += float64(grey[j*w+i])
			sum[(j+1)*(w+1)+i+1] = sum[j*(w+1)+i+1] + row
		}
	}
	r := max(12, max(w, h)/30)
	dark := make([]bool, w*h)
	for j := range h {
		for i := range w {
			x0, y0, x1, y1 := max(0, i-r), max(0, j-r), min(w, i+r+1), min(h, j+r+1)
			m := (sum[y1*(w+1)+x1] - sum[y0*(w+1)+x1] - sum[y1*(w+1)+x0] + sum[y0*(w+1)+x0]) / float64((x1-x0)*(y1-y0))
			dark[j*w+i] = float64(grey[j*w+i]) < 0.72*m
		}
	}
	label, size := parts(dark, w, h)
	type box struct{ x0, y0, x1, y1 int }
	bounds := make([]box, len(size))
	for n := range bounds {
		bounds[n] = box{w, h, -1, -1}
	}
	for q, l := range label {
		if l >= 0 {
			b := &bounds[l]
			b.x0, b.y0, b.x1, b.y1 = min(b.x0, q%w), min(b.y0, q/w), max(b.x1, q%w), max(b.y1, q/w)
		}
	}
	var out []blob
	for n, b := range bounds {
		bw, bh := b.x1-b.x0+3, b.y1-b.y0+3
		if size[n] < 30 || size[n] > w*h/300 || bw > 5*bh || bh > 5*bw || b.x0 == 0 || b.y0 == 0 || b.x1 == w-1 || b.y1 == h-1 {
			continue
		}
		outside := make([]bool, bw*bh)
		for q := range outside {
			outside[q] = label[(b.y0-1+q/bw)*w+b.x0-1+q%bw] != int32(n)
		}
		hole, _ := parts(outside, bw, bh)
		var a, x, y, xx, xy, yy, holes float64
		for q, l := range hole {
			if l == hole[0] {
				continue
			}
			if l >= 0 {
				holes++
			}
			u, v := float64(q%bw), float64(q/bw)
			a, x, y, xx, xy, yy = a+1, x+u, y+v, xx+u*u, xy+u*v, yy+v*v
		}
		x, y = x/a, y/a
		xx, xy, yy = xx/a-x*x, xy/a-x*y, yy/a-y*y
		det := xx*yy - xy*xy
		if !(det > 0) {
			continue
		}
		if f := a / (4 * math.Pi * math.Sqrt(det)); f < 0.93 || f > 1.04 {
			continue
		}
		share := holes / a
		if share > 0.45 || (share > 0.03 && share < 0.05) {
			continue
		}
		k := float64(s.k)
		o := blob{at: s.up(float64(b.x0-1)+x, float64(b.y0-1)+y), xx: xx * k * k, xy: xy * k * k, yy: yy * k * k, ring: share >= 0.05}
		centred(p, &o)
		out = append(out, o)
	}
	return out
}

// centred takes a blob's middle to parts of a pixel: the centroid of the
// darkness within 1.45 of its radii, against the light around it.
func centred(p *snapshot.Picture, b *blob) {
	rx, ry := 3*math.Sqrt(b.xx)+2, 3*math.Sqrt(b.yy)+2
	type px struct {
		x, y, v, d float64
	}
	var list []px
	var light []float64
	for j := int(b.at.Y - ry); j <= int(b.at.Y+ry); j++ {
		for i := int(b.at.X - rx); i <= int(b.at.X+rx); i++ {
			q := vec.V2{X: float64(i) + 0.5, Y: float64(j) + 0.5}
			d := b.away(q)
			if d > 2.9 {
				continue
			}
			c := at(p, i, j)
			v := float64(0.3*c[0] + 0.59*c[1] + 0.11*c[2])
			list = append(list, px{q.X, q.Y, v, d})
			if d > 2.5 {
				light = append(light, v)
			}
		}
	}
	if len(light) < 8 {
		return
	}
	base := quantile(light, 0.5)
	var m vec.V2
	sum := 0.0
	for _, q := range list {
		if k := base - q.v; q.d < 2.7 {
			m = m.Add(vec.V2{X: q.x, Y: q.y}.Mul(k))
			sum += k
		}
	}
	if c := m.Mul(1 / sum); sum > 0 && c.Sub(b.at).Len() < 2+0.3*math.Sqrt(b.xx+b.yy) {
		b.at = c
	}
}

// rows links blobs that stand a pitch apart into rows, round corners too.
func rows(b []blob) [][]int {
	next := make([][]int, len(b))
	for i := range b {
		for j := range b {
			if i == j {
				continue
			}
			if d, e := b[i].away(b[j].at), b[j].away(b[i].at); d > 6 && d < 10.2 && e > 6 && e < 10.2 {
				next[i] = append(next[i], j)
			}
		}
	}
	used := make([]bool, len(b))
	for i := range next {
		used[i] = len(next[i]) > 2 || len(next[i]) == 0
	}
	var out [][]int
	walk := func(i int) {
		r := []int{i}
		used[i] = true
		for {
			found := -1
			for _, j := range next[r[len(r)-1]] {
				if !used[j] {
					found = j
					break
				}
			}
			if found < 0 {
				break
			}
			used[found] = true
			r = append(r, found)
		}
		if len(r) >= run {
			out = append(out, r)
		}
	}
	for i := range next { // from the free ends first, then the closed rings
		free := 0
		for _, j := range next[i] {
			if len(next[j]) <= 2 {
				free++
			}
		}
		if !used[i] && free <= 1 {
			walk(i)
		}
	}
	for i := range next {
		if !used[i] {
			walk(i)
		}
	}
	return out
}

// place finds a row in the code of a frame; step is 1 or -1.
func (f Frame) place(b []blob, row []int) (start, step int, ok bool) {
	n := len(f.Code)
	if len(row) > n {
		return 0, 0, false
	}
	found := 0
	for s := range n {
		for _, d := range [2]int{1, -1} {
			wrong := 0
			for k, i := range row {
				if (f.Code[((s+d*k)%n+n)%n] == '0') != b[i].ring {
					if wrong++; wrong*(2*run) > len(row) {
						break
					}
				}
			}
			if wrong*(2*run) <= len(row) {
				start, step = s, d
				found++
			}
		}
	}
	return start, step, found == 1
}

// findSheet looks for the frame of a check sheet; nil where there is none.
func findSheet(p *snapshot.Picture, prior lens.Prior) *reference {
	b := blobs(p)
	if len(b) < run || len(b) > 4000 {
		return nil
	}
	rs := rows(b)
	var best *reference
	for _, f := range Frames {
		marks := f.Marks()
		var world, seen []vec.V2
		for _, r := range rs {
			s, d, ok := f.place(b, r)
			if !ok {
				continue
			}
			n := len(marks)
			for k, i := range r {
				world = append(world, marks[((s+d*k)%n+n)%n].At)
				seen = append(seen, b[i].at)
			}
		}
		if len(world) < run+1 {
			continue
		}
		cam, ok := lens.Begin(world, seen, prior.F, vec.V2{X: float64(p.W) / 2, Y: float64(p.H) / 2})
		if !ok {
			continue
		}
		fit, ok := lens.Fit(cam, prior, 2*len(world), 0.03, 0.1, func(c *lens.Camera, r []float64) {
			for i := range world {
				q, ok := c.On(seen[i], 0)
				if !ok {
					r[2*i] = math.NaN()
					continue
				}
				d := q.Sub(world[i])
				r[2*i], r[2*i+1] = d.X, d.Y
			}
		})
		if !ok || fit.RMS > 0.25 || (best != nil && best.points >= len(world)) {
			continue
		}
		hx, hy := f.Field()
		r := &reference{kind: "sheet", cam: fit, points: len(world)}
		r.holds = func(w vec.V2, grow float64) bool { return math.Abs(w.X) > hx-grow || math.Abs(w.Y) > hy-grow }
		for i := range seen {
			a := 3.0 // a cross on each mark that was used
			r.outline = append(r.outline, []vec.V2{seen[i].Sub(vec.V2{X: a}), seen[i].Add(vec.V2{X: a})}, []vec.V2{seen[i].Sub(vec.V2{Y: a}), seen[i].Add(vec.V2{Y: a})})
		}
		r.blur = markBlur(p, &fit.Camera, world)
		best = r
	}
	return best
}

// markBlur is the blur of the marks' borders, px.
func markBlur(p *snapshot.Picture, c *lens.Camera, used []vec.V2) float64 {
	var out []float64
	for _, m := range used {
		for k := range 6 {
			s, co := math.Sincos(math.Pi / 3 * float64(k))
			a, ok1 := c.See(vec.V3{X: m.X + co*MarkWide/2, Y: m.Y + s*MarkWide/2})
			b, ok2 := c.See(vec.V3{X: m.X + co*(MarkWide/2+0.2), Y: m.Y + s*(MarkWide/2+0.2)})
			if !ok1 || !ok2 || b == a {
				continue
			}
			out1 := b.Sub(a)
			f := across(p, a, out1.Mul(1/out1.Len()), 6)
			x, _ := f.peak(0, 2.5)
			if v := f.width(x); !math.IsInf(v, 1) {
				out = append(out, v)
			}
		}
	}
	slices.Sort(out)
	return quantile(out, 0.5)
}
