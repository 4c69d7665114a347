package pockets

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// Widest is the bore, mm, up to which a hanging dead end is listed: twice what
// the metals of this trade bridge.
const Widest = 10

// Bond is the critical Bond number rho g r^2/sigma of a long gas bubble in a
// closed upright tube of radius r: below it the bubble does not rise
// (Bretherton 1961, The motion of long bubbles in tubes, J. Fluid Mech. 10,
// 166-188). There the liquid wets the wall; metal on rubber does not, so for a
// bore this is an analogy.
const Bond = 0.842

// CriticalBore returns 2 sqrt(Bond sigma/(rho g)) in mm for a surface tension
// in N/m and a density in kg/m3: 5.1 mm for pewter (0.54 N/m, 7100 kg/m3).
func CriticalBore(sigma, rho float64) float64 {
	return 2e3 * math.Sqrt(Bond*sigma/(rho*9.80665))
}

// Bridged reports whether metal of surface tension sigma, N/m, and density
// rho, kg/m3, closes a hanging bore of the given diameter, mm, and leaves the
// air below it.
func Bridged(bore, sigma, rho float64) bool { return bore < CriticalBore(sigma, rho) }

// section is one level cut through one branch that grows up from a tip.
type section struct {
	z, area, round float64 // height, area, perimeter
	x, y           float64 // centroid
	xx, xy, yy     float64 // second moments of area about it
	outer, inner   int     // pieces, and holes in them
}

// bore is the hydraulic diameter 4 A/P, infinite where the branch has a second
// way up.
func (s section) bore() float64 {
	if s.outer != 1 || s.round <= 0 {
		return math.Inf(1)
	}
	return 4 * s.area / s.round
}

// safeLess is the |cos| of the contact angle of metal that draws back, 1 that of
// metal that enters: the two ends of the range of the trade's rules.
const safeLess = 0.77

// What stands for the diameter of a bore that bridges in a slot and a ring, see fill.
var (
	slotLong = 2 * math.Sqrt(Bond) / math.Pi        // 0.584 of the length
	ringLong = math.Sqrt(Bond) / math.Pi            // 0.292 of the middle line
	slotDeep = 2 * math.Sqrt(Bond/(2*(1-safeLess))) // 2.71 sqrt(gap x depth)
)

// fill returns the diameter of the round bore that keeps its air as this section
// with a depth below it does.
//
// Metal above air in a narrow section turns over where a wave along the section
// grows. Across the gap w the meniscus has the same curvature everywhere, so
// only the wave's own length counts: it grows where k < 1/l, l = sqrt(sigma/(rho g))
// (Rayleigh 1883; Saffman & Taylor 1958 for a gap). In a slot L long half a
// wave has room, in a ring whose middle line is C long a whole one: L > pi l, C > 2 pi l. Then
// metal sinks at one place while air rises at another, against the difference
// of the capillary pressures 2 sigma |cos|/w of metal that enters and of metal that
// draws back, which the depth h must outweigh: rho g h > 2 sigma (1 - 0.77)/w. A
// bore bridges under D = 2 sqrt(0.842) l (Bretherton), so that each length has its bore,
// whatever the metal: D = 0.584 L or 0.292 C, and 2.71 sqrt(w h). A slot whose
// capillary pressure 2 sigma/w is no more than the 4 sigma/D of such a bore lets air
// pass in any case: the result is no less than 4 A/P, which is 2 w of a slot.
//
// L is that of the rectangle with the section's largest second moment, on the safe side
// for crosses and bent slots.
func (s section) fill(depth float64) float64 {
	d := s.bore()
	if math.IsInf(d, 1) {
		return d
	}
	w := d / 2
	long := ringLong * s.round / 2
	if s.inner == 0 {
		most := (s.xx+s.yy)/2 + math.Hypot((s.xx-s.yy)/2, s.xy)
		long = slotLong * math.Sqrt(12*max(0, most)/s.area)
	}
	return max(d, min(long, slotDeep*math.Sqrt(w*depth)))
}

// Hanging lists the blind ends that hang below a narrow entry when metal comes
// from above: everything below a level section of bore D that has no other way
// up, where it reaches deeper than D (and 2 % of the body's size) below that
// section, D is at most widest, and the cavity widens by half a bore within half a bore above it, or ends in
// a wider part. Of a tip's entries the narrowest counts. A slender point
// without a shoulder is cut where it reaches widest, and the bore is that of
// the narrowest section in the upper half of the depth. Slots and rings count by
// the bore that keeps its air as they do (fill). Exact sections on up
// to 240 levels; an open or overlapping mesh yields none.
func (b *Body) Hanging(up vec.V3, widest float64) []DeadEnd {
	up, err := direction(up)
	if err != nil || !b.closed {
		return nil
	}
	c := newCutter(b, up)
	t, _, ok := b.sweep(up.Mul(-1), Outlets{}, c.levels, c.at)
	if !ok {
		return nil
	}
	main := make(map[int32]bool)
	for _, r := range t.recs {
		if r.up < 0 {
			main[r.top] = true
		}
	}
	var list []DeadEnd
	for _, tip := range c.tips {
		low := b.m.V[tip].Dot(up)
		if d, ok := deadEnd(c.chains[c.chain[tip]], low, widest, 0.02*b.size, !main[tip]); ok {
			d.At = b.m.V[tip].Add(b.centre)
			d.Entry = c.frame.From(d.Entry).Add(b.centre)
			list = append(list, d)
		}
	}
	slices.SortStableFunc(list, func(p, q DeadEnd) int {
		switch {
		case p.Bore < q.Bore:
			return -1
		case p.Bore > q.Bore:
			return 1
		}
		return 0
	})
	return list
}

// deadEnd looks for the narrowest entry along the sections above a tip at
// height low. Shallower ones than least are the roughness of a scan. joins says
// that the branch ends in another one.
func deadEnd(s []section, low, widest, least float64, joins bool) (DeadEnd, bool) {
	best, found := DeadEnd{Bore: math.Inf(1)}, false
	for i, e := range s {
		d := e.bore()
		if d > widest || e.z-low <= d || e.z-low < least {
			continue
		}
		// The entry is the last level before the cavity widens. A piece that
		// splits without growing is a rough end, no second way up.
		last, wide := i, false
		for j := i + 1; j < len(s) && (j == i+1 || s[j].z <= e.z+0.5*d); j++ {
			if q := s[j].bore(); s[j].area > 1.2*e.area && q > 1.5*d && q-d > s[j].z-e.z || d < widest && q > widest && s[j].area > e.area {
				wide = true
				break
			}
			last = j
		}
		wide = wide || joins && last == len(s)-1
		if !wide {
			continue
		}
		depth := s[last].z - low
		bore, at := d, i
		for k := last; k >= 0 && s[k].z-low >= depth/2; k-- {
			if q := s[k].bore(); q < bore {
				bore, at = q, k
			}
		}
		if !slices.ContainsFunc(s[:last], func(q section) bool { return q.outer > 1 }) {
			bore = s[at].fill(depth)
		} // else a frame: metal comes down all its legs at once, and no end of a slot is left to the air
		if bore > widest { // a slot or a ring: air and metal pass each other
			continue
		}
		if bore < 0.9*best.Bore {
			best, found = DeadEnd{Bore: bore, Depth: depth, Entry: vec.V3{X: s[at].x, Y: s[at].y, Z: s[at].z}}, true
		}
	}
	return best, found
}

// cutter cuts a body at levels while the merge tree grows from below.
type cutter struct {
	b      *Body
	frame  vec.Frame
	x, y   []float64
	levels []float64 // along -up, descending
	start  []int32   // triangles that cross each level
	tri    []int32
	tips   []int32 // in the order in which they first appear
	chain  []int32 // per corner: its place in chains, -1 for none
	chains [][]section
	slot   []int32 // per corner, as root: place in now, valid where stamp says so
	stamp  []int32
	edges  edgeTable
}

func newCutter(b *Body, up vec.V3) *cutter {
	n := len(b.m.V)
	c := &cutter{b: b, frame: vec.AlongZ(up), x: make([]float64, n), y: make([]float64, n),
		chain: make([]int32, n), slot: make([]int32, n), stamp: make([]int32, n)}
	lo, hi := math.Inf(1), math.Inf(-1)
	z := make([]float64, n)
	for i, p := range b.m.V {
		c.x[i], c.y[i], z[i] = p.Dot(c.frame.X), p.Dot(c.frame.Y), -p.Dot(up)
		lo, hi = min(lo, z[i]), max(hi, z[i])
		c.chain[i], c.stamp[i] = -1, -1
	}
	// Long triangles cross many levels: fewer levels keep the work bounded.
	count := 240
	sum := 0.0
	for _, t := range b.m.F {
		sum += max(z[t[0]], z[t[1]], z[t[2]]) - min(z[t[0]], z[t[1]], z[t[2]])
	}
	if hi > lo {
		count = min(count, max(60, int(3e6*(hi-lo)/sum)))
	}
	step := (hi - lo) / float64(count)
	for k := range count {
		c.levels = append(c.levels, hi-(float64(k)+0.4871)*step)
	}
	c.start = make([]int32, count+1)
	each := func(f func(k, i int)) {
		if step <= 0 {
			return
		}
		for i, t := range b.m.F {
			top, low := max(z[t[0]], z[t[1]], z[t[2]]), min(z[t[0]], z[t[1]], z[t[2]])
			k := max(0, int((hi-top)/step-0.4871)-1)
			for ; k < count && c.levels[k] > low; k++ {
				if top >= c.levels[k] {
					f(k, i)
				}
			}
		}
	}
	each(func(k, _ int) { c.start[k+1]++ })
	for k := range count {
		c.start[k+1] += c.start[k]
	}
	c.tri = make([]int32, c.start[count])
	fill := slices.Clone(c.start)
	each(func(k, i int) { c.tri[fill[k]] = int32(i); fill[k]++ })
	return c
}

// at cuts level k: its segments are tied to loops over the edges they share,
// each loop goes to the branch that its lower corners belong to.
func (c *cutter) at(k int, t *tree, h []float64) {
	level := c.levels[k]
	tris := c.tri[c.start[k]:c.start[k+1]]
	type segment struct{ area, round, mx, my, xx, xy, yy float64 }
	loops := make([]segment, len(tris))
	root := make([]int32, len(tris))
	branch := make([]int32, len(tris))
	c.edges.reset(2 * len(tris))
	find := func(i int32) int32 {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for s, i := range tris {
		f := c.b.m.F[i]
		root[s] = int32(s)
		var from, to [2]float64
		for e := range 3 {
			p, q := f[e], f[(e+1)%3]
			in, out := h[p] >= level, h[q] >= level // at or below the level along up
			if in == out {
				continue
			}
			// Both triangles of an edge reckon from the same end.
			lo, hi := min(p, q), max(p, q)
			w := (level - h[lo]) / (h[hi] - h[lo])
			at := [2]float64{c.x[lo] + w*(c.x[hi]-c.x[lo]), c.y[lo] + w*(c.y[hi]-c.y[lo])}
			if in {
				to = at // the edge rises out of the part below
				branch[s] = p
			} else {
				from = at
			}
			if o := c.edges.meet(lo, hi, int32(s)); o >= 0 {
				a, b := find(int32(s)), find(o)
				root[max(a, b)] = min(a, b)
			}
		}
		a := (from[0]*to[1] - to[0]*from[1]) / 2
		u, v, p, q := from[0], from[1], to[0], to[1] // moments of the triangle with the origin
		loops[s] = segment{a, math.Hypot(p-u, q-v), a * (u + p) / 3, a * (v + q) / 3,
			a * (u*u + u*p + p*p) / 6, a * (2*u*v + u*q + p*v + 2*p*q) / 12, a * (v*v + v*q + q*q) / 6}
	}
	for s := len(tris) - 1; s >= 0; s-- {
		if r := find(int32(s)); int(r) != s {
			p, q := &loops[r], loops[s]
			p.area += q.area
			p.round += q.round
			p.mx += q.mx
			p.my += q.my
			p.xx += q.xx
			p.xy += q.xy
			p.yy += q.yy
		}
	}
	now := make([]section, 0, 8)
	var tip []int32
	for s, l := range loops {
		if int(root[s]) != s {
			continue
		}
		r := t.find(branch[s])
		if c.stamp[r] != int32(k) {
			c.stamp[r], c.slot[r] = int32(k), int32(len(now))
			now = append(now, section{z: -level})
			tip = append(tip, t.recs[t.cur[r]].top)
		}
		n := &now[c.slot[r]]
		n.area += l.area
		n.round += l.round
		n.x += l.mx
		n.y += l.my
		n.xx += l.xx
		n.xy += l.xy
		n.yy += l.yy
		if l.area > 0 {
			n.outer++
		} else if l.area < 0 {
			n.inner++
		}
	}
	for i, n := range now {
		if n.area > 0 {
			n.x /= n.area
			n.y /= n.area
			n.xx -= n.area * n.x * n.x
			n.xy -= n.area * n.x * n.y
			n.yy -= n.area * n.y * n.y
		}
		v := tip[i]
		if c.chain[v] < 0 {
			c.chain[v] = int32(len(c.chains))
			c.chains = append(c.chains, nil)
			c.tips = append(c.tips, v)
		}
		c.chains[c.chain[v]] = append(c.chains[c.chain[v]], n)
	}
}

// edgeTable pairs the segments that share an edge.
type edgeTable struct {
	key  []uint64
	seg  []int32
	mask uint64
}

func (e *edgeTable) reset(n int) {
	size := 16
	for size < 2*n {
		size *= 2
	}
	if size > len(e.key) {
		e.key, e.seg = make([]uint64, size), make([]int32, size)
	}
	e.mask = uint64(size - 1)
	clear(e.key[:size])
}

// meet notes that segment s ends on the edge between corners lo < hi and
// returns the segment noted there before, or -1.
func (e *edgeTable) meet(lo, hi, s int32) int32 {
	k := uint64(lo)<<32 | uint64(hi) // never 0, since lo < hi
	q := (k * 0x9e3779b97f4a7c15) >> 20 & e.mask
	for e.key[q] != 0 {
		if e.key[q] == k {
			return e.seg[q]
		}
		q = (q + 1) & e.mask
	}
	e.key[q], e.seg[q] = k, s
	return -1
}
