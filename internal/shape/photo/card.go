package photo

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/lens"
	"pourwright/internal/shape/outline"
	"pourwright/internal/shape/snapshot"
)

// The card, ISO/IEC 7810:2019, ID-1, mm.
const (
	cardLong   = 85.60
	cardShort  = 53.98
	cardRadius = 3.18
	cardThick  = 0.76
)

// side is one straight side of the card: its outward normal and where it lies
// along it.
type side struct {
	n    vec.V2
	at   float64
	half float64 // half its length between the corners' arcs
}

var sides = [4]side{
	{vec.V2{X: 1}, cardLong / 2, cardShort/2 - cardRadius}, {vec.V2{Y: 1}, cardShort / 2, cardLong/2 - cardRadius},
	{vec.V2{X: -1}, cardLong / 2, cardShort/2 - cardRadius}, {vec.V2{Y: -1}, cardShort / 2, cardLong/2 - cardRadius},
}

// point of a side at the share t (-1..1) of its straight part, d outside it.
func (s side) point(t, d, z float64) vec.V3 {
	a := vec.V2{X: -s.n.Y, Y: s.n.X}.Mul(t * s.half)
	p := s.n.Mul(s.at + d).Add(a)
	return vec.V3{X: p.X, Y: p.Y, Z: z}
}

// cardLoop returns the card's outline.
func cardLoop(grow float64) outline.Loop {
	var l outline.Loop
	for q := range 4 {
		sx, sy := [4]float64{1, -1, -1, 1}[q], [4]float64{1, 1, -1, -1}[q]
		for k := range 9 {
			s, c := math.Sincos(math.Pi/2*float64(q) + math.Pi/16*float64(k))
			l = append(l, vec.V2{X: sx*(cardLong/2-cardRadius) + (cardRadius+grow)*c, Y: sy*(cardShort/2-cardRadius) + (cardRadius+grow)*s})
		}
	}
	return l
}

// reference is what was found to measure by.
type reference struct {
	kind    string // card or sheet
	cam     lens.Fitted
	points  int
	blur    float64                           // standard deviation of its edges, px
	outline [][]vec.V2                        // in the picture
	holds   func(p vec.V2, grow float64) bool // on the table: the reference itself, not ground
}

// quads returns the four-sided flat regions of the picture, corners in the
// picture's order, the likeliest first.
func quads(s *small) [][4]vec.V2 {
	t := s.smoothed()
	w, h := s.w, s.h
	steep := make([]float32, w*h)
	for j := range h {
		for i := range w {
			a := t.c[j*w+min(w-1, i+1)].sub(t.c[j*w+max(0, i-1)])
			b := t.c[min(h-1, j+1)*w+i].sub(t.c[max(0, j-1)*w+i])
			steep[j*w+i] = float32(math.Sqrt(float64(a.dot(a) + b.dot(b))))
		}
	}
	type cand struct {
		q     [4]vec.V2
		score float64
	}
	var found []cand
	in := make([]bool, w*h)
	for _, limit := range []float32{3, 4.5, 6.5, 9, 13, 18, 26} {
		for q := range in {
			in[q] = steep[q] < limit
		}
		label, size := parts(in, w, h)
		for n, k := range size {
			if k < w*h/120 || k > w*h/2 {
				continue
			}
			hull := hullOf(label, int32(n), w, h)
			area := hull.Area()
			if area < 1 || float64(k)/area < 0.80 || len(hull) < 4 {
				continue
			}
			q, ok := fourOf(hull)
			if !ok {
				continue
			}
			qa := outline.Loop(q[:]).Area()
			fit := area / qa // a little under 1: the corners are round
			if fit < 0.93 || fit > 1.04 {
				continue
			}
			c := cand{score: float64(k) / area * (1 - math.Abs(fit-0.99))}
			for i, p := range q {
				c.q[i] = s.up(p.X, p.Y)
			}
			found = append(found, c)
		}
	}
	slices.SortStableFunc(found, func(a, b cand) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
	var out [][4]vec.V2
	for _, c := range found {
		same := false
		for _, o := range out {
			far := 0.0
			for i := range 4 {
				d := math.Inf(1)
				for k := range 4 {
					d = min(d, o[k].Sub(c.q[i]).Len())
				}
				far = max(far, d)
			}
			same = same || far < 4*float64(s.k)
		}
		if !same && len(out) < 8 {
			out = append(out, c.q)
		}
	}
	return out
}

// hullOf returns the convex hull of a region's pixels, counter-clockwise in
// x right, y down coordinates taken as a plane (Andrew 1979).
func hullOf(label []int32, n int32, w, h int) outline.Loop {
	var p []vec.V2
	for j := range h {
		lo, hi := -1, -1
		for i, l := range label[j*w : (j+1)*w] {
			if l == n {
				if lo < 0 {
					lo = i
				}
				hi = i
			}
		}
		if lo >= 0 {
			p = append(p, vec.V2{X: float64(lo), Y: float64(j)})
			if hi > lo {
				p = append(p, vec.V2{X: float64(hi), Y: float64(j)})
			}
		}
	}
	slices.SortFunc(p, func(a, b vec.V2) int {
		switch {
		case a.X < b.X || (a.X == b.X && a.Y < b.Y):
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	if len(p) < 3 {
		return nil
	}
	var out outline.Loop
	for pass := range 2 {
		base := len(out)
		for i := range p {
			q := p[i]
			if pass == 1 {
				q = p[len(p)-1-i]
			}
			for len(out) >= base+2 && out[len(out)-1].Sub(out[len(out)-2]).Cross(q.Sub(out[len(out)-2])) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		out = out[:len(out)-1]
	}
	return out
}

// fourOf fits four lines to a hull: the sides of the largest four-sided figure
// in it, each led through the hull's border along its middle.
func fourOf(hull outline.Loop) ([4]vec.V2, bool) {
	s := hull
	for tol := 0.6; len(s) > 36; tol *= 1.4 {
		s = hull.Simplify(tol)
	}
	if len(s) < 4 {
		return [4]vec.V2{}, false
	}
	best, pick := 0.0, [4]int{}
	for a := range s {
		for b := a + 1; b < len(s); b++ {
			for c := b + 1; c < len(s); c++ {
				ab := s[b].Sub(s[a]).Cross(s[c].Sub(s[a]))
				for d := c + 1; d < len(s); d++ {
					if x := ab + s[c].Sub(s[a]).Cross(s[d].Sub(s[a])); x > best {
						best, pick = x, [4]int{a, b, c, d}
					}
				}
			}
		}
	}
	var lines [4]line
	for k := range 4 {
		a, b := s[pick[k]], s[pick[(k+1)%4]]
		u := b.Sub(a)
		l := u.Len()
		if l < 8 {
			return [4]vec.V2{}, false
		}
		u = u.Mul(1 / l)
		var pts []vec.V2
		for i, p := range hull { // the hull's pieces, walked in steps of a pixel
			e := hull[(i+1)%len(hull)].Sub(p)
			n := int(e.Len()) + 1
			for t := range n {
				q := p.Add(e.Mul(float64(t) / float64(n)))
				along, off := q.Sub(a).Dot(u), u.Cross(q.Sub(a))
				if along > 0.15*l && along < 0.85*l && math.Abs(off) < 0.1*l {
					pts = append(pts, q)
				}
			}
		}
		var ok bool
		if lines[k], ok = lineOf(pts, nil); !ok {
			return [4]vec.V2{}, false
		}
	}
	var q [4]vec.V2
	for k := range 4 {
		var ok bool
		if q[k], ok = lines[(k+3)%4].cross(lines[k]); !ok {
			return q, false
		}
	}
	return q, true
}

// line is the points p with n.p = d.
type line struct {
	n vec.V2
	d float64
}

// lineOf fits a line by the least squares of the distances.
func lineOf(p []vec.V2, weight []float64) (line, bool) {
	if len(p) < 4 {
		return line{}, false
	}
	var m vec.V2
	sum := 0.0
	at := func(i int) float64 {
		if weight == nil {
			return 1
		}
		return weight[i]
	}
	for i, q := range p {
		m = m.Add(q.Mul(at(i)))
		sum += at(i)
	}
	m = m.Mul(1 / sum)
	var xx, xy, yy float64
	for i, q := range p {
		d := q.Sub(m)
		xx, xy, yy = xx+at(i)*d.X*d.X, xy+at(i)*d.X*d.Y, yy+at(i)*d.Y*d.Y
	}
	a := 0.5 * math.Atan2(2*xy, xx-yy)
	s, c := math.Sincos(a)
	n := vec.V2{X: -s, Y: c}
	return line{n, n.Dot(m)}, xx+yy > 1e-9
}

func (a line) cross(b line) (vec.V2, bool) {
	det := a.n.Cross(b.n)
	if math.Abs(det) < 0.05 {
		return vec.V2{}, false
	}
	return vec.V2{X: (a.d*b.n.Y - b.d*a.n.Y) / det, Y: (a.n.X*b.d - b.n.X*a.d) / det}, true
}

// profile is the picture across an edge: colours at steps of half a pixel from
// reach inside to reach outside, each the mean of five taps along the edge.
type profile struct {
	c     []rgb
	slope []float32 // change over a pixel, after a Gaussian of 0.8 px
	at    vec.V2
	out   vec.V2 // unit, outwards
	reach float64
}

func across(p *snapshot.Picture, at, out vec.V2, reach float64) profile {
	n := int(4*reach) + 1
	f := profile{at: at, out: out, reach: reach, c: make([]rgb, n), slope: make([]float32, n)}
	along := vec.V2{X: -out.Y, Y: out.X}
	for i := range f.c {
		q := at.Add(out.Mul(float64(i)/2 - reach))
		sum := sample(p, q)
		for t := 1.0; t <= 2; t++ {
			sum = sum.add(sample(p, q.Sub(along.Mul(t)))).add(sample(p, q.Add(along.Mul(t))))
		}
		f.c[i] = sum.mul(1.0 / 5)
	}
	for i := range f.slope {
		if i < 2 || i+2 >= n {
			continue
		}
		// Weights of a Gaussian's derivative at half pixels.
		d := f.c[i+1].sub(f.c[i-1]).mul(0.55).add(f.c[min(n-1, i+2)].sub(f.c[max(0, i-2)]).mul(0.225))
		f.slope[i] = d.len()
	}
	return f
}

// peak returns the place of the largest slope within d of off, by a parabola,
// and its height; edges of the window do not count.
func (f *profile) peak(off, d float64) (float64, float32) {
	best := -1
	for i := 1; i+1 < len(f.slope); i++ {
		if x := float64(i)/2 - f.reach; math.Abs(x-off) <= d && (best < 0 || f.slope[i] > f.slope[best]) {
			best = i
		}
	}
	if best < 0 {
		return off, 0
	}
	a, b, c := f.slope[best-1], f.slope[best], f.slope[best+1]
	x := float64(best)/2 - f.reach
	if b > a && b >= c {
		x += float64(0.25 * (a - c) / (a - 2*b + c))
	}
	return x, b
}

// seen is one point of a side of the card in the picture.
type seen struct {
	q    vec.V2
	side int
}

// cardIn fits the card to a four-sided region; ok is false where its sides
// are not those of a card.
func cardIn(p *snapshot.Picture, q [4]vec.V2, prior lens.Prior) (*reference, float64, bool) {
	centre := vec.V2{X: float64(p.W) / 2, Y: float64(p.H) / 2}
	corners := []vec.V2{{X: cardLong / 2, Y: cardShort / 2}, {X: -cardLong / 2, Y: cardShort / 2}, {X: -cardLong / 2, Y: -cardShort / 2}, {X: cardLong / 2, Y: -cardShort / 2}}
	var best *reference
	score := math.Inf(1)
	for turn := range 2 {
		// The world's y points up, the picture's down: the order turns.
		b := []vec.V2{q[(3+turn)%4], q[(2+turn)%4], q[(1+turn)%4], q[(0+turn)%4]}
		cam, ok := lens.Begin(corners, b, prior.F, centre)
		if !ok {
			continue
		}
		// The corners alone give the focal length where the tilt shows it.
		first, ok := lens.Fit(cam, prior, 8, 0.3, 5, func(c *lens.Camera, r []float64) {
			for i := range corners {
				w, ok := c.On(b[i], cardThick)
				if !ok {
					r[2*i] = math.NaN()
					continue
				}
				d := w.Sub(corners[i])
				r[2*i], r[2*i+1] = d.X, d.Y
			}
		})
		if !ok || first.RMS > 2 {
			continue
		}
		r, s, ok := refineCard(p, first.Camera, prior)
		if ok && s < score {
			best, score = r, s
		}
	}
	return best, score, best != nil
}

// refineCard leads the card's model to the edges of the picture. The visible
// border of a side is its upper edge where the side faces away; where it faces
// the camera its wall shows, and the border is the lower edge.
func refineCard(p *snapshot.Picture, cam lens.Camera, prior lens.Prior) (*reference, float64, bool) {
	const perSide = 60
	var fit lens.Fitted
	heights := [4]float64{cardThick, cardThick, cardThick, cardThick}
	var got []seen
	var blur []float64
	noise := 0.0 // of the slope on the card
	for round := range 5 {
		got, blur = got[:0], blur[:0]
		scale := cam.Scale(vec.V2{}, 0)
		if !(scale > 1.5) || scale > 200 {
			return nil, 0, false
		}
		reach := max(6, []float64{2.2, 1.4, 0.9, 0.7, 0.7}[round]*scale)
		if round < 1 {
			reach = max(reach, 10)
		}
		eye := cam.Centre()
		for k, s := range sides {
			faces := eye.X*s.n.X+eye.Y*s.n.Y > s.at+0.02*eye.Z
			if !faces {
				heights[k] = cardThick
			}
			var lines []profile
			var offs []float64
			for i := range perSide {
				t := (float64(i)+0.5)/perSide*2 - 1
				a, ok1 := cam.See(s.point(0.97*t, 0, heights[k]))
				b, ok2 := cam.See(s.point(0.97*t, 0.5, heights[k]))
				if !ok1 || !ok2 || a.X < reach || a.Y < reach || a.X > float64(p.W)-reach || a.Y > float64(p.H)-reach {
					continue
				}
				u, _ := cam.See(s.point(0.97*t+0.01, 0, heights[k]))
				e := u.Sub(a)
				n := vec.V2{X: -e.Y, Y: e.X}
				if n.Dot(b.Sub(a)) < 0 {
					n = n.Mul(-1)
				}
				if n.Len() == 0 {
					continue
				}
				lines = append(lines, across(p, a, n.Mul(1/n.Len()), reach+3))
			}
			if len(lines) < perSide*2/3 {
				return nil, 0, false // a card that is cut off
			}
			// The height of the step is judged by the side as a whole.
			var top []float64
			for i := range lines {
				_, h := lines[i].peak(0, reach)
				top = append(top, float64(h))
			}
			typical := quantile(top, 0.15) // the ground may be near the card's colour in parts
			if round == 0 && k == 0 {
				var calm []float64
				for i := range lines {
					for _, v := range lines[i].slope[2:int(reach)] {
						calm = append(calm, float64(v))
					}
				}
				noise = quantile(calm, 0.995)
			}
			if typical < 2.5 {
				return nil, 0, false
			}
			for i := range lines {
				offs = append(offs, firstStep(&lines[i], reach, float32(max(1.3*noise, 0.6*typical))))
			}
			base, ok := robustLine(lines, offs)
			if !ok {
				return nil, 0, false
			}
			if faces && round >= 1 {
				zero, _ := cam.See(s.point(0, 0, 0))
				high, _ := cam.See(s.point(0, 0, cardThick))
				wall := math.Abs(zero.Sub(high).Dot(lines[len(lines)/2].out))
				heights[k] = wallStep(lines, base, wall)
			}
			for i := range lines {
				x, h := lines[i].peak(base[i], 1.5)
				if float64(h) < 0.4*typical || math.Abs(x-base[i]) > 1.2 {
					continue
				}
				got = append(got, seen{lines[i].at.Add(lines[i].out.Mul(x)), k})
				blur = append(blur, lines[i].width(x))
			}
		}
		n := [4]int{}
		for _, g := range got {
			n[g.side]++
		}
		if slices.Min(n[:]) < perSide*2/5 {
			return nil, 0, false
		}
		var ok bool
		fit, ok = lens.Fit(cam, prior, len(got), 0.03, 0.08, func(c *lens.Camera, r []float64) {
			for i, g := range got {
				s := sides[g.side]
				w, ok := c.On(g.q, heights[g.side])
				if !ok {
					r[i] = math.NaN()
					continue
				}
				r[i] = s.n.Dot(w) - s.at
			}
		})
		if !ok {
			return nil, 0, false
		}
		cam = fit.Camera
	}
	if fit.RMS > 0.2 || !roundCorners(p, &cam) {
		return nil, 0, false
	}
	r := &reference{kind: "card", cam: fit, points: len(got), blur: quantile(blur, 0.5)}
	for _, z := range []float64{0, cardThick} {
		var l []vec.V2
		for _, w := range cardLoop(0) {
			q, _ := cam.See(vec.V3{X: w.X, Y: w.Y, Z: z})
			l = append(l, q)
		}
		r.outline = append(r.outline, l)
	}
	r.holds = func(w vec.V2, grow float64) bool {
		x := max(math.Abs(w.X)-cardLong/2+cardRadius, 0)
		y := max(math.Abs(w.Y)-cardShort/2+cardRadius, 0)
		return math.Hypot(x, y) < cardRadius+grow
	}
	return r, fit.RMS, true
}

// firstStep returns the place of the first step of at least the given height,
// from the inside out; the largest where there is none.
func firstStep(f *profile, reach float64, least float32) float64 {
	for i := 2; i+2 < len(f.slope); i++ {
		if x := float64(i)/2 - f.reach; math.Abs(x) <= reach && f.slope[i] >= least && f.slope[i] >= f.slope[i-1] && f.slope[i] > f.slope[i+1] {
			y, _ := f.peak(x, 0.1)
			return y
		}
	}
	x, _ := f.peak(0, reach)
	return x
}

// robustLine fits a parabola to the offsets along a side, dropping what lies
// far off, and returns it at each place. The bend takes up the distortion.
func robustLine(f []profile, off []float64) ([]float64, bool) {
	n := len(off)
	base := make([]float64, n)
	fitted := func(use []bool, bend bool) bool {
		var m [3][4]float64
		cnt := 0
		for i := range off {
			if !use[i] {
				continue
			}
			cnt++
			t := float64(i)/float64(n-1)*2 - 1
			b := [3]float64{1, t, t * t}
			for r := range 3 {
				for c := range 3 {
					m[r][c] += b[r] * b[c]
				}
				m[r][3] += b[r] * off[i]
			}
		}
		if cnt < n/3 {
			return false
		}
		if !bend {
			m[2] = [4]float64{0, 0, 1, 0}
			m[0][2], m[1][2] = 0, 0
		}
		for r := range 3 {
			if math.Abs(m[r][r]) < 1e-9 {
				return false
			}
			for k := range 3 {
				if k != r {
					f := m[k][r] / m[r][r]
					for c := r; c < 4; c++ {
						m[k][c] -= f * m[r][c]
					}
				}
			}
		}
		for i := range base {
			t := float64(i)/float64(n-1)*2 - 1
			base[i] = m[0][3]/m[0][0] + m[1][3]/m[1][1]*t + m[2][3]/m[2][2]*t*t
		}
		return true
	}
	// Begin with the pair of places whose line has the most points near it.
	most, use := 0, make([]bool, n)
	for a := 0; a < n/2; a += 2 {
		for b := n / 2; b < n; b += 2 {
			cnt := 0
			for i := range off {
				l := off[a] + (off[b]-off[a])*float64(i-a)/float64(b-a)
				if math.Abs(off[i]-l) < 1.2 {
					cnt++
				}
			}
			if cnt > most {
				most = cnt
				for i := range off {
					l := off[a] + (off[b]-off[a])*float64(i-a)/float64(b-a)
					use[i] = math.Abs(off[i]-l) < 1.6
				}
			}
		}
	}
	if most < n/3 {
		return nil, false
	}
	for k := range 3 {
		if !fitted(use, k > 0) {
			return nil, false
		}
		for i := range off {
			use[i] = math.Abs(off[i]-base[i]) < 1
		}
	}
	return base, true
}

// wallStep says which edge of a side that faces the camera was found, by the
// mean step along the whole side: a second step a wall's width inside makes it
// the lower one, a second step outside the upper one. Without a second step
// the wall is as bright as the top and the lower edge was found.
func wallStep(f []profile, base []float64, wall float64) float64 {
	if wall < 1.8 {
		return cardThick / 2
	}
	mean := func(d float64) float64 { // of the slope, d outside the found edge
		s, n := 0.0, 0.0
		for i := range f {
			x := (base[i] + d + f[i].reach) * 2
			k := int(math.Floor(x))
			if k < 0 || k+1 >= len(f[i].slope) {
				continue
			}
			t := x - float64(k)
			s += (1-t)*float64(f[i].slope[k]) + t*float64(f[i].slope[k+1])
			n++
		}
		if n == 0 {
			return 0
		}
		return s / n
	}
	top := func(c float64) float64 {
		m := 0.0
		for d := -0.25 * wall; d <= 0.25*wall; d += 0.25 {
			m = max(m, mean(c+d))
		}
		return m
	}
	main := mean(0)
	quiet := mean(-1.9 * wall)
	if in := top(-wall); in > quiet+0.12*(main-quiet) && in > 1.4*mean(-1.6*wall) {
		return 0
	}
	if out := top(wall); out > 1.6*mean(wall/2) && out > 0.12*main {
		return cardThick
	}
	return 0
}

// width returns the standard deviation of the blur of a step at x: a Gaussian
// step of height A has the steepest slope A/(sigma sqrt(2 pi)); what the slope's
// own filter adds is taken off.
func (f *profile) width(x float64) float64 {
	at := func(o float64) rgb {
		i := min(len(f.c)-1, max(0, int((o+f.reach)*2+0.5)))
		return f.c[i]
	}
	a := at(x + 6).sub(at(x - 6)).len()
	_, h := f.peak(x, 0.6)
	if h <= 0 {
		return math.Inf(1)
	}
	s := float64(a) / (float64(h) / 1.0 * math.Sqrt(2*math.Pi)) * slopeGain
	return math.Sqrt(max(0.04, s*s-0.5))
}

// slopeGain is the slope filter's answer to a ramp of one level a pixel: 0.55 x
// 1 + 0.225 x 2.
const slopeGain = 1.0

// roundCorners reports whether at least three corners are those of a card: the
// border crosses the diagonal where the arc of 3.18 mm does, to 0.6 mm.
func roundCorners(p *snapshot.Picture, c *lens.Camera) bool {
	good := 0
	for q := range 4 {
		sx, sy := [4]float64{1, -1, -1, 1}[q], [4]float64{1, 1, -1, -1}[q]
		mid := vec.V3{X: sx * (cardLong/2 - cardRadius), Y: sy * (cardShort/2 - cardRadius), Z: cardThick}
		at := func(d float64) vec.V2 {
			q, _ := c.See(vec.V3{X: mid.X + sx*d*math.Sqrt2/2, Y: mid.Y + sy*d*math.Sqrt2/2, Z: cardThick})
			return q
		}
		a, b := at(cardRadius), at(cardRadius+1)
		out := b.Sub(a)
		l := out.Len()
		if l < 1 {
			continue
		}
		f := across(p, a, out.Mul(1/l), 1.6*l+3)
		_, top := f.peak(0, 1.6*l)
		if x := firstStep(&f, 1.6*l, 0.4*top); math.Abs(x) < 0.75*l {
			good++
		}
	}
	return good >= 3
}

func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return math.Inf(1)
	}
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(len(s)-1, int(q*float64(len(s))))]
}
