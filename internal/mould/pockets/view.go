package pockets

import (
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
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
	shown []vec.V3  // places on the faces that must not carry a scar
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
	v.faces()
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

// scar is the cost of an ingate at p: on the faces that must show it is high,
// near points that may be hidden it is low.
func (v *view) scar(p vec.V3) float64 {
	near := func(list []vec.V3, r float64) float64 {
		best := math.Inf(1)
		for _, q := range list {
			d := p.Sub(q)
			best = min(best, d.Dot(d))
		}
		return math.Exp(-best / (2 * r * r))
	}
	return perShow*near(v.shown, 0.06*v.b.size) - perHide*near(v.o.Hide, 0.15*v.b.size)
}

// faces lists places on the faces that must not carry a scar: the points
// themselves, and from the triangle next to each its neighbours, as far as they
// fold by less than 30 degrees, their normals stay within 60 degrees of the
// first and the way from the point is under 0.35 of the body's longest side.
func (v *view) faces() {
	m := v.b.m
	fold, wide := math.Cos(30*math.Pi/180), math.Cos(60*math.Pi/180)
	v.shown = append([]vec.V3{}, v.o.Show...)
	if len(v.o.Show) == 0 {
		return
	}
	next := mesh.Neighbours(m)
	on := make([]bool, len(m.F))
	var list []vec.V3
	for _, s := range v.o.Show {
		p := s.Sub(v.b.centre)
		seed, best := -1, math.Inf(1)
		for t := range m.F {
			a, b, c := m.Tri(t)
			if d := a.Add(b).Add(c).Mul(1. / 3).Dist(p); d < best {
				best, seed = d, t
			}
		}
		n := m.Normal(seed)
		todo := []int32{int32(seed)}
		on[seed] = true
		for len(todo) > 0 {
			t := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			a, b, c := m.Tri(int(t))
			list = append(list, a.Add(b).Add(c).Mul(1./3).Add(v.b.centre))
			w := m.Normal(int(t))
			for _, o := range next[t] {
				if o < 0 || on[o] {
					continue
				}
				q, _, _ := m.Tri(int(o))
				if f := m.Normal(int(o)); f.Dot(w) > fold && f.Dot(n) > wide && q.Dist(p) < 0.35*v.b.size {
					on[o] = true
					todo = append(todo, o)
				}
			}
		}
	}
	const most = 2000 // are near enough to each other
	for i := 0; i < len(list); i += len(list)/most + 1 {
		v.shown = append(v.shown, list[i])
	}
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
