package pockets

import (
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/voxel"
)

// view is the body seen along the pull: columns cast once, the thickness at
// each of their stretches, and the outline of the shadow. It judges any
// direction across the pull in about a millisecond.
type view struct {
	b     *Body
	o     Options
	frame vec.Frame // z along the pull, about the body's centre
	c     *voxel.Columns
	h     float64
	ends  []int32   // first span of each column
	col   []int32   // column of each span
	long  []float64 // length of each span along the pull
	thick []float64 // least of that and the widths across
	knife []bool    // corners on the parting line
	nick  []bool    // the parting line passes the span
	hull  []vec.V2  // outline of the shadow
	turn  float64   // angle of the longer side of the least rectangle
	least float64   // area of the smallest block
	total float64
	ref   float64 // volume-weighted median thickness
}

func newView(b *Body, pull vec.V3, o Options) (*view, error) {
	v := &view{b: b, o: o, frame: turned(pull)}
	v.c, v.h = columns(b.m, pull, 96)
	v.ends = make([]int32, v.c.Len()+1)
	for q := range v.c.Len() {
		v.ends[q+1] = v.ends[q] + int32(len(v.c.Of(q)))
		for _, s := range v.c.Of(q) {
			v.col = append(v.col, int32(q))
			v.long = append(v.long, s.Hi-s.Lo)
			v.total += s.Hi - s.Lo
		}
	}
	if len(v.col) == 0 {
		return nil, fault.New(fault.Input, "mesh", "repair the mesh, or turn its faces outward", "the mesh encloses nothing")
	}
	v.widths()
	v.outline()
	v.rectangle()
	v.nick = make([]bool, len(v.col))
	v.line()
	return v, nil
}

// line marks the corners, and the spans, at which both halves touch the body.
func (v *view) line() {
	if len(v.o.Label) != len(v.b.m.F) {
		return
	}
	seen := make([]uint8, len(v.b.m.V))
	for i, t := range v.b.m.F {
		for _, c := range t {
			seen[c] |= 1 << (v.o.Label[i] & 7)
		}
	}
	v.knife = make([]bool, len(seen))
	for c, s := range seen {
		if v.knife[c] = s&(s-1) != 0; v.knife[c] {
			v.mark(v.frame.To(v.b.m.V[c]))
		}
	}
}

// mark notes that a point of the parting line passes the spans beside it.
func (v *view) mark(p vec.V3) {
	i, j := int(math.Round((p.X-v.c.X0)/v.h)), int(math.Round((p.Y-v.c.Y0)/v.h))
	for y := max(0, j-1); y <= min(v.c.NY-1, j+1); y++ {
		for x := max(0, i-1); x <= min(v.c.NX-1, i+1); x++ {
			q := y*v.c.NX + x
			for k, s := range v.c.Of(q) {
				if p.Z > s.Lo-v.h && p.Z < s.Hi+v.h {
					v.nick[int(v.ends[q])+k] = true
				}
			}
		}
	}
}

// widths measures how far metal reaches from each span along rows, files and
// both diagonals, at the height of the span's middle, and takes the least of
// these and of the span's length.
func (v *view) widths() {
	n := len(v.col)
	v.thick = make([]float64, n)
	par.For(n, 2048, func(lo, hi int) {
		for s := lo; s < hi; s++ {
			q := int(v.col[s])
			sp := v.c.Of(q)[s-int(v.ends[q])]
			mid, best := (sp.Lo+sp.Hi)/2, sp.Hi-sp.Lo
			for d := range 4 {
				dx, dy := [4]int{1, 0, 1, 1}[d], [4]int{0, 1, 1, -1}[d]
				step := v.h * math.Hypot(float64(dx), float64(dy))
				w := step
				for _, sign := range [2]int{1, -1} {
					x, y := q%v.c.NX, q/v.c.NX
					for w < best {
						x, y = x+sign*dx, y+sign*dy
						if x < 0 || y < 0 || x >= v.c.NX || y >= v.c.NY || !holds(v.c.At(x, y), mid) {
							break
						}
						w += step
					}
				}
				best = min(best, w)
			}
			v.thick[s] = best
		}
	})
	v.spread()
	ix := make([]int32, n)
	for i := range ix {
		ix[i] = int32(i)
	}
	slices.SortFunc(ix, func(a, b int32) int {
		switch {
		case v.thick[a] < v.thick[b]:
			return -1
		case v.thick[a] > v.thick[b]:
			return 1
		}
		return int(a - b)
	})
	sum := 0.0
	for _, s := range ix {
		if sum += v.long[s]; sum >= v.total/2 {
			v.ref = v.thick[s]
			break
		}
	}
}

// spread gives every span the greatest width of those spans whose own width
// reaches it, so that the rim and corners of a thick part do not count as thin
// (local thickness after Hildebrand & Ruegsegger 1997, J. Microscopy 185).
func (v *view) spread() {
	n := len(v.col)
	out := make([]float64, n)
	par.For(n, 1024, func(lo, hi int) {
		for s := lo; s < hi; s++ {
			q := int(v.col[s])
			sp := v.c.Of(q)[s-int(v.ends[q])]
			i, j, best := q%v.c.NX, q/v.c.NX, v.thick[s]
			const r = 6
			for y := max(0, j-r); y <= min(v.c.NY-1, j+r); y++ {
				for x := max(0, i-r); x <= min(v.c.NX-1, i+r); x++ {
					w := y*v.c.NX + x
					for k, o := range v.c.Of(w) {
						t := v.thick[int(v.ends[w])+k]
						if t > best && o.Lo <= sp.Hi && sp.Lo <= o.Hi && math.Hypot(float64(x-i), float64(y-j))*v.h <= t {
							best = t
						}
					}
				}
			}
			out[s] = best
		}
	})
	v.thick = out
}

func holds(s []voxel.Span, z float64) bool {
	for _, p := range s {
		if p.Lo <= z && z <= p.Hi {
			return true
		}
	}
	return false
}

// outline finds the convex hull of the shadow (Andrew 1979, Another efficient
// algorithm for convex hulls in two dimensions, Inf. Proc. Lett. 9), of the
// extreme corners in 1024 strips.
func (v *view) outline() {
	const n = 1024
	x := make([]float64, len(v.b.m.V))
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, p := range v.b.m.V {
		if v.b.start[i] == v.b.start[i+1] {
			continue
		}
		x[i] = p.Dot(v.frame.X)
		lo, hi = min(lo, x[i]), max(hi, x[i])
	}
	var least, most [n]vec.V2
	for i := range n {
		least[i].Y, most[i].Y = math.Inf(1), math.Inf(-1)
	}
	scale := 0.0
	if hi > lo {
		scale = n / (hi - lo)
	}
	for i, p := range v.b.m.V {
		if v.b.start[i] == v.b.start[i+1] {
			continue
		}
		q := vec.V2{X: x[i], Y: p.Dot(v.frame.Y)}
		k := min(n-1, int((x[i]-lo)*scale))
		if q.Y < least[k].Y {
			least[k] = q
		}
		if q.Y > most[k].Y {
			most[k] = q
		}
	}
	var pts []vec.V2
	for i := range n {
		if most[i].Y >= least[i].Y {
			pts = append(pts, least[i], most[i])
		}
	}
	slices.SortFunc(pts, func(a, b vec.V2) int {
		switch {
		case a.X < b.X || a.X == b.X && a.Y < b.Y:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	half := func(p []vec.V2) []vec.V2 {
		var h []vec.V2
		for _, q := range p {
			for len(h) > 1 && h[len(h)-1].Sub(h[len(h)-2]).Cross(q.Sub(h[len(h)-1])) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, q)
		}
		return h[:len(h)-1]
	}
	v.hull = half(pts)
	slices.Reverse(pts)
	v.hull = append(v.hull, half(pts)...)
}

// rectangle finds the direction of the longer side of the smallest rectangle
// round the shadow; one of its sides runs along a side of the hull (Freeman &
// Shapira 1975, Comm. ACM 18).
func (v *view) rectangle() {
	least := math.Inf(1)
	for i, p := range v.hull {
		d := v.hull[(i+1)%len(v.hull)].Sub(p)
		if d.Len() < 1e-6*v.b.size {
			continue
		}
		a := math.Atan2(d.Y, d.X)
		w, h := v.span(a)
		if w*h < least*(1-1e-9) {
			least = w * h
			if h > w {
				a += math.Pi / 2
			}
			v.turn = a
		}
	}
	// Of the two senses take the one that looks the frame's way.
	if s, c := math.Sincos(v.turn - 0.3); c < -1e-9 || math.Abs(c) <= 1e-9 && s < 0 {
		v.turn += math.Pi
	}
	v.least = math.Inf(1)
	for k := range 36 {
		w, h := v.span(v.turn + float64(k)*math.Pi/36)
		v.least = min(v.least, v.block(w, h))
	}
}

// span returns the extent of the shadow along the direction at an angle, and
// across it.
func (v *view) span(a float64) (along, across float64) {
	s, c := math.Sincos(a)
	lo, hi := vec.V2{X: math.Inf(1), Y: math.Inf(1)}, vec.V2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range v.hull {
		x, y := p.X*c+p.Y*s, p.Y*c-p.X*s
		lo = vec.V2{X: min(lo.X, x), Y: min(lo.Y, y)}
		hi = vec.V2{X: max(hi.X, x), Y: max(hi.Y, y)}
	}
	return hi.X - lo.X, hi.Y - lo.Y
}

// block is the face of the block round a shadow: a margin on three sides, two
// and a half on the side of the cup.
func (v *view) block(up, across float64) float64 {
	return (up + 3.5*v.o.Margin) * (across + 2*v.o.Margin)
}

// at returns the direction across the pull at an angle from the longer side.
func (v *view) at(a float64) vec.V3 {
	s, c := math.Sincos(v.turn + a)
	return v.frame.X.Mul(c).Add(v.frame.Y.Mul(s)).Unit()
}

// angle is the inverse of at.
func (v *view) angle(up vec.V3) float64 {
	return math.Atan2(up.Dot(v.frame.Y), up.Dot(v.frame.X)) - v.turn
}

// shape returns the terms that do not hang on air: thin parts should lie low,
// thick ones high, the block small.
func (v *view) shape(up vec.V3) Terms {
	ux, uy := up.Dot(v.frame.X), up.Dot(v.frame.Y)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range v.hull {
		z := p.X*ux + p.Y*uy
		lo, hi = min(lo, z), max(hi, z)
	}
	var thin, thinHigh, heavy, heavyHigh, area float64
	top := 0.0
	for s, q := range v.col {
		x, y := v.c.X0+float64(int(q)%v.c.NX)*v.h, v.c.Y0+float64(int(q)/v.c.NX)*v.h
		z := (x*ux + y*uy - lo) / (hi - lo)
		w := max(0, 1-v.thick[s]/(0.5*v.ref))
		thin += w
		thinHigh += w * z
		area++
		m := v.thick[s] * v.thick[s] * v.long[s]
		heavy += m
		heavyHigh += m * z
		if z > 0.9 {
			top = max(top, v.thick[s])
		}
	}
	t := Terms{}
	if thin > 0 {
		t.Thin = perThin * thinHigh / thin * min(1, 10*thin/area)
	}
	if heavy > 0 {
		// A thin top carries no ingate that could feed what is below it.
		t.Heavy = perHeavy * (0.6*(1-heavyHigh/heavy) + 0.4*max(0, 1-top/v.ref))
	}
	w, h := v.span(math.Atan2(uy, ux))
	t.Block = perBlock * (v.block(w, h)/v.least - 1)
	return t
}

// scar is the cost of an ingate at p: near points that must show it is high,
// near points that may be hidden it is low.
func (v *view) scar(p vec.V3) float64 {
	r := 0.15 * v.b.size
	near := func(list []vec.V3) float64 {
		best := 0.0
		for _, q := range list {
			d := p.Sub(q).Len() / r
			best = max(best, math.Exp(-d*d/2))
		}
		return best
	}
	return perShow*near(v.o.Show) - perHide*near(v.o.Hide)
}

// judge scores directions across the pull on the columns.
func (v *view) judge(ups []vec.V3) []Attitude {
	out := make([]Attitude, len(ups))
	par.For(len(ups), 1, func(a, b int) {
		for i := a; i < b; i++ {
			out[i] = v.coarse(ups[i])
		}
	})
	return out
}

// coarse sweeps the spans: all points of one lie at one height along up.
func (v *view) coarse(up vec.V3) Attitude {
	ux, uy := up.Dot(v.frame.X), up.Dot(v.frame.Y)
	high := make([]float64, v.c.Len())
	for q := range high {
		high[q] = (v.c.X0+float64(q%v.c.NX)*v.h)*ux + (v.c.Y0+float64(q/v.c.NX)*v.h)*uy
	}
	seq := order(high, func(a, b int32) int { return int(a) - int(b) })
	t := newTree(len(v.col))
	for _, q := range seq {
		i, j := int(q)%v.c.NX, int(q)/v.c.NX
		for k, s := range v.c.Of(int(q)) {
			n := v.ends[q] + int32(k)
			for d := range 8 {
				x, y := i+[8]int{-1, 1, 0, 0, -1, 1, -1, 1}[d], j+[8]int{0, 0, -1, 1, -1, -1, 1, 1}[d]
				if x < 0 || y < 0 || x >= v.c.NX || y >= v.c.NY {
					continue
				}
				w := y*v.c.NX + x
				for l, o := range v.c.Of(w) {
					if m := v.ends[w] + int32(l); t.par[m] >= 0 && o.Lo <= s.Hi && s.Lo <= o.Hi {
						t.touch(n, m, high[q])
					}
				}
			}
			if t.par[n] < 0 {
				t.birth(n, high[q])
			}
			if v.nick[n] {
				t.vent(n, high[q], true)
			}
		}
	}
	sum := func(slot []int32, cut []float64) (volume, area []float64) {
		volume = make([]float64, len(cut))
		for n, r := range t.rec {
			if s := slot[r]; s >= 0 && high[v.col[n]] >= cut[s] {
				volume[s] += v.long[n]
			}
		}
		return volume, make([]float64, len(cut))
	}
	eps := 1e-6 * v.b.size
	found, parts := t.solve(true, false, math.Inf(-1), eps, sum)
	terms := v.shape(up)
	listed := func(list []held) (volume float64, n int) {
		for _, p := range list {
			// The steps of a level edge that runs askew to the grid are no pockets.
			if p.volume > Least*v.total && high[v.col[p.top]]-p.saddle > 2*v.h {
				volume += p.volume
				n++
			}
		}
		return volume, n
	}
	trapped, n := listed(found)
	left := trapped
	if v.knife != nil && n > 0 {
		after, _ := t.solve(true, true, math.Inf(-1), eps, sum)
		left, _ = listed(after)
	}
	terms.Air = air(trapped/v.total, left/v.total, n)
	best := parts[0]
	for _, p := range parts {
		if p.volume > best.volume {
			best = p
		}
	}
	q := int(v.col[best.top])
	s := v.c.Of(q)[int(best.top)-int(v.ends[q])]
	terms.Scar = v.scar(v.frame.From(vec.V3{X: v.c.X0 + float64(q%v.c.NX)*v.h, Y: v.c.Y0 + float64(q/v.c.NX)*v.h, Z: (s.Lo + s.Hi) / 2}).Add(v.b.centre))
	return Attitude{Up: up, Trapped: trapped * v.h * v.h, Score: terms.sum(), Terms: terms}
}
