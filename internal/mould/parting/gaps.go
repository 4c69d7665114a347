package parting

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/voxel"
)

// gap is one stretch of a column between two stretches of metal. The column
// stands in the square of the coarse column cell; lattice.place says where. A
// sponge has millions of them, so that a gap holds no more than it must.
type gap struct {
	lo, hi    float64
	cell      int32
	tile, col int32
}

// hollow is one connected body of gaps: intervals of neighbouring columns that
// overlap.
type hollow struct {
	l        *lattice
	gaps     []gap
	volume   float64
	level    float64 // half of its volume has its gaps' middles lower
	enclosed bool    // no way out over its columns
	mouths   int     // separate stretches of its outline that open to the outside
}

// hollows gathers the gaps of all columns into connected bodies, largest
// first.
func hollows(l *lattice) []hollow {
	g, start := l.all()
	l.drop() // the list is put into another order below
	up := make([]int32, len(g))
	for i := range up {
		up[i] = int32(i)
	}
	root := func(i int32) int32 {
		for up[i] != i {
			up[i] = up[up[i]]
			i = up[i]
		}
		return i
	}
	for i := range g {
		l.beside(g, start, i, func(_ int, k int32) {
			a, b := root(int32(i)), root(k)
			up[max(a, b)] = min(a, b)
		})
	}
	// The gaps of each hollow together, in the order of the columns, within the list.
	at := make([]int32, len(g)) // the hollow, of each root
	var r []hollow
	var next []int32 // where the next gap of each hollow goes
	for i := range g {
		up[i] = up[up[i]] // what comes before i has its root already
		if k := up[i]; k == int32(i) {
			at[i] = int32(len(r))
			r, next = append(r, hollow{l: l}), append(next, 0)
		}
		n := at[up[i]]
		r[n].volume += l.volume(&g[i])
		next[n]++
	}
	from := int32(0)
	for n, k := range next {
		r[n].gaps = g[from : from+k : from+k]
		next[n], from = from, from+k
	}
	for i := range g {
		n := at[up[i]]
		up[i] = next[n]
		next[n]++
	}
	for i := range g {
		for k := up[i]; k != int32(i); k = up[i] {
			g[i], g[k] = g[k], g[i]
			up[i], up[k] = up[k], k
		}
	}
	slices.SortStableFunc(r, func(a, b hollow) int { return cmp.Compare(b.volume, a.volume) })
	return r
}

// middle sets the level: the median height, so that slivers along which the
// hollow reaches elsewhere do not move it.
func (h *hollow) middle() {
	type height struct {
		mid float64
		gap int32
	}
	order := make([]height, len(h.gaps))
	for i := range order {
		order[i] = height{h.gaps[i].lo + h.gaps[i].hi, int32(i)}
	}
	slices.SortFunc(order, func(a, b height) int {
		switch {
		case a.mid < b.mid:
			return -1
		case a.mid > b.mid:
			return 1
		}
		return int(a.gap - b.gap)
	})
	below := 0.0
	for _, o := range order {
		if below += h.l.volume(&h.gaps[o.gap]); below >= h.volume/2 {
			h.level = o.mid / 2
			return
		}
	}
}

// open reports whether the outside reaches the stretch lo..hi of a column with
// spans s: no metal there, or metal only above or only below a part of it.
func open(s []voxel.Span, lo, hi float64) bool {
	return len(s) == 0 || lo < s[0].Lo || hi > s[len(s)-1].Hi
}

// countMouths counts the separate stretches of a hollow's outline that are open
// to the outside, in steps over its own columns.
func (h *hollow) countMouths() {
	l := h.l
	c := l.c
	mark := make(map[int32]bool) // of coarse columns; only looked up, never ranged over
	var list []int32
	for i := range h.gaps {
		g := &h.gaps[i]
		if mark[g.cell] {
			continue
		}
		for _, d := range four {
			t, q, ok := l.next(int(g.tile), int(g.col), d)
			if !ok || open(l.of(t, q), g.lo, g.hi) {
				mark[g.cell] = true
				list = append(list, g.cell)
				break
			}
		}
	}
	h.enclosed = len(list) == 0
	h.mouths = 0
	for _, q := range list {
		if !mark[q] {
			continue
		}
		n := 0
		todo := []int32{q}
		mark[q] = false
		for len(todo) > 0 {
			p := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			n++
			x, y := int(p)%c.NX, int(p)/c.NX
			for dy := -2; dy <= 2; dy++ { // a gap of one column does not part a mouth
				for dx := -2; dx <= 2; dx++ {
					i, j := x+dx, y+dy
					if i < 0 || j < 0 || i >= c.NX || j >= c.NY {
						continue
					}
					if e := int32(j*c.NX + i); mark[e] {
						mark[e] = false
						todo = append(todo, e)
					}
				}
			}
		}
		if n >= 4 {
			h.mouths++
		}
	}
	if h.mouths == 0 && len(list) > 0 {
		h.mouths = 1
	}
}

// reachOut returns the overhang across the pull that the hollow's rubber must
// pass to leave with half 1 (up) or half 2: the largest distance from one of
// its columns (those of in) to a column where the way out is free, that is no metal beyond
// the hollow's level. Exact distance transform (Felzenszwalb &
// Huttenlocher 2012) in a window that grows until it holds the answer.
func (h *hollow) reachOut(in []bool, upward bool) float64 {
	c := h.l.c
	x0, x1, y0, y1 := c.NX, -1, c.NY, -1
	for _, g := range h.gaps {
		x, y := int(g.cell)%c.NX, int(g.cell)/c.NX
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	for pad := 8 + max(x1-x0, y1-y0)/4; ; pad *= 2 {
		a, b := max(-1, x0-pad), max(-1, y0-pad)
		w, d := min(c.NX, x1+pad)-a+1, min(c.NY, y1+pad)-b+1
		free := make([]bool, w*d)
		for j := range d {
			for i := range w {
				x, y := a+i, b+j
				if x < 0 || y < 0 || x >= c.NX || y >= c.NY {
					free[j*w+i] = true
					continue
				}
				s := c.Of(y*c.NX + x)
				free[j*w+i] = len(s) == 0 || upward && s[len(s)-1].Hi <= h.level || !upward && s[0].Lo >= h.level
			}
		}
		dist := squares(free, w, d)
		most := 0.0
		for i, g := range h.gaps {
			if !in[i] {
				continue
			}
			x, y := int(g.cell)%c.NX-a, int(g.cell)/c.NX-b
			most = max(most, dist[y*w+x])
		}
		r := math.Sqrt(most)
		if r <= float64(pad) || w >= c.NX+2 && d >= c.NY+2 {
			return r * c.H
		}
	}
}

// squares returns the squared distance of each cell to the nearest free cell.
func squares(free []bool, nx, ny int) []float64 {
	const far = 1e12
	d := make([]float64, nx*ny)
	for q := range d {
		if !free[q] {
			d[q] = far
		}
	}
	n := max(nx, ny)
	f, v, z := make([]float64, n), make([]int, n), make([]float64, n+1)
	line := func(n, at, step int) {
		for i := range n {
			f[i] = d[at+i*step]
		}
		k := 0
		v[0], z[0], z[1] = 0, math.Inf(-1), math.Inf(1)
		for q := 1; q < n; q++ {
			for {
				p := v[k]
				s := (f[q] + float64(q*q) - f[p] - float64(p*p)) / float64(2*(q-p))
				if s > z[k] || k == 0 {
					if s > z[k] {
						k++
					}
					v[k], z[k], z[k+1] = q, s, math.Inf(1)
					if k == 0 {
						z[0] = math.Inf(-1)
					}
					break
				}
				k--
			}
		}
		k = 0
		for q := range n {
			for z[k+1] < float64(q) {
				k++
			}
			e := float64(q - v[k])
			d[at+q*step] = e*e + f[v[k]]
		}
	}
	for i := range nx {
		line(ny, i, nx)
	}
	for j := range ny {
		line(nx, j*nx, 1)
	}
	return d
}

// ring returns the diameter of the ring of metal over which the hollow's
// rubber must stretch, 0 where it is no ring: its columns enclose other columns
// and the outline that opens to the outside is in one piece, all round.
func (h *hollow) ring() float64 {
	c := h.l.c
	x0, x1, y0, y1 := c.NX, -1, c.NY, -1
	for _, g := range h.gaps {
		x, y := int(g.cell)%c.NX, int(g.cell)/c.NX
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	w, d := x1-x0+3, y1-y0+3
	in := make([]uint8, w*d)
	area := 0
	for _, g := range h.gaps {
		q := (int(g.cell)/c.NX-y0+1)*w + int(g.cell)%c.NX - x0 + 1
		if in[q] == 0 {
			area++
		}
		in[q] = 1
	}
	todo := []int{0}
	in[0] = 2
	outer := 1
	for len(todo) > 0 {
		q := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		x, y := q%w, q/w
		for _, e := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			i, j := x+e[0], y+e[1]
			if i < 0 || j < 0 || i >= w || j >= d || in[j*w+i] != 0 {
				continue
			}
			in[j*w+i] = 2
			outer++
			todo = append(todo, j*w+i)
		}
	}
	hole := w*d - outer - area
	if h.mouths != 1 || hole*20 < area {
		return 0
	}
	return 2 * math.Sqrt(float64(hole+area)*c.H*c.H/math.Pi)
}

// bounded says of each gap of a hollow whether it counts for the box, so that
// any grid about as fine as the coarse columns finds the box within two of its
// own cells, and so does the truth. Squares of coarse columns that the hollow fills by less than
// a half do not count (half the median where it is a slit all over): tails
// thinner than that hold next to nothing, and where they end is a matter of
// chance. Of a finer tile the middle of each square counts where there is
// anything in it: on a steep face its corners lie several cells higher and
// lower.
func (h *hollow) bounded() []bool {
	c := h.l.c
	type square struct {
		share float64
		mid   bool
	}
	at := make(map[int32]int32) // looked up only
	var list []square
	middle := func(g *gap) bool {
		x, y := c.X0+c.H*float64(int(g.cell)%c.NX), c.Y0+c.H*float64(int(g.cell)/c.NX)
		gx, gy, _ := h.l.place(int(g.tile), int(g.col))
		return max(math.Abs(gx-x), math.Abs(gy-y)) < c.H/4
	}
	for i := range h.gaps {
		g := &h.gaps[i]
		n, ok := at[g.cell]
		if !ok {
			n = int32(len(list))
			at[g.cell] = n
			list = append(list, square{})
		}
		e := h.l.step(int(g.tile))
		list[n].share += e * e / (c.H * c.H)
		list[n].mid = list[n].mid || middle(g)
	}
	share := make([]float64, len(list))
	for i := range list {
		share[i] = list[i].share
	}
	slices.Sort(share)
	least := min(0.5, share[len(share)/2]/2)
	in := make([]bool, len(h.gaps))
	for i := range h.gaps {
		g := &h.gaps[i]
		s := &list[at[g.cell]]
		in[i] = s.share >= least && (!s.mid || middle(g))
	}
	return in
}

// ends returns how far down and up each gap of in counts for the box: no farther
// than the farthest of the squares round its own. Along a steep wall one column
// in many may run far up a crevice that the next misses; where it ends is a
// matter of chance.
func (h *hollow) ends(in []bool) [][2]float64 {
	c := h.l.c
	at := make(map[int32][2]float64) // looked up only
	for i := range h.gaps {
		if g := &h.gaps[i]; in[i] {
			e, ok := at[g.cell]
			if !ok {
				e = [2]float64{g.lo, g.hi}
			}
			at[g.cell] = [2]float64{min(e[0], g.lo), max(e[1], g.hi)}
		}
	}
	r := make([][2]float64, len(h.gaps))
	for i := range h.gaps {
		g := &h.gaps[i]
		r[i] = [2]float64{g.lo, g.hi}
		if !in[i] {
			continue
		}
		lo, hi := math.Inf(1), math.Inf(-1)
		x, y := int(g.cell)%c.NX, int(g.cell)/c.NX
		for b := max(0, y-1); b <= min(c.NY-1, y+1); b++ {
			for a := max(0, x-1); a <= min(c.NX-1, x+1); a++ {
				if e, ok := at[int32(b*c.NX+a)]; ok && (a != x || b != y) && e[0] < g.hi && g.lo < e[1] {
					lo, hi = min(lo, e[0]), max(hi, e[1])
				}
			}
		}
		if lo <= hi {
			r[i] = [2]float64{max(g.lo, lo), min(g.hi, hi)}
		}
	}
	return r
}

// A hollow is listed for its depth from two columns of overhang on, 0.8 % of the
// longest side: of less the columns cannot tell an undercut from a steep wall
// that the mesh's facets make wavy. It holds a millionth of the body or more.
const (
	twoColumns = 2.0
	leastDeep  = 1e-6
)

// stands reports whether the hollow overhangs by twoColumns or more both ways.
func (h *hollow) stands() bool {
	in := h.bounded()
	least := (twoColumns - 1e-6) * h.l.c.H
	return h.reachOut(in, true) >= least && h.reachOut(in, false) >= least
}

// places turns hollows into the list of undercuts, until what is left out is
// under 1 % of the locked volume and 0.02 % of the body's. Where deep is set,
// smaller ones are listed too that overhang by twoColumns or more either way:
// what little they hold tears or is torn all the same.
func (b *body) places(l *lattice, f vec.Frame, deep bool) (list []Place, held []hollow) {
	all := hollows(l)
	rest := 0.0
	for _, h := range all {
		rest += h.volume
	}
	wide := vec.V3{X: math.Abs(f.X.X) + math.Abs(f.Y.X), Y: math.Abs(f.X.Y) + math.Abs(f.Y.Y), Z: math.Abs(f.X.Z) + math.Abs(f.Y.Z)} // of a column's square
	enough := 0.01*rest + 2e-4*math.Abs(b.volume)
	for i := range all {
		h := &all[i]
		if len(list) == 400 || rest <= enough && (!deep || h.volume < leastDeep*math.Abs(b.volume)) {
			break
		}
		small := rest <= enough
		rest -= h.volume
		h.middle()
		if small && !h.stands() {
			continue
		}
		h.countMouths()
		p := Place{Volume: h.volume, Box: vec.Empty(), Enclosed: h.enclosed, Through: h.mouths > 1}
		best := math.Inf(1)
		in := h.bounded()
		ends := h.ends(in)
		var mid vec.V3
		for i := range h.gaps {
			g := &h.gaps[i]
			x, y, step := l.place(int(g.tile), int(g.col))
			mid = mid.Add(vec.V3{X: x, Y: y, Z: (g.lo + g.hi) / 2}.Mul(l.volume(g) / h.volume))
			if !in[i] {
				continue
			}
			e := wide.Mul(step / 2)
			for _, z := range ends[i] {
				q := f.From(vec.V3{X: x, Y: y, Z: z})
				p.Box = p.Box.Add(q.Sub(e)).Add(q.Add(e))
			}
		}
		for _, g := range h.gaps { // the point of the hollow next to its centre
			x, y, _ := l.place(int(g.tile), int(g.col))
			q := vec.V3{X: x, Y: y, Z: min(max(mid.Z, g.lo), g.hi)}
			if d := q.Dist(mid); d < best {
				best, p.At = d, f.From(q)
			}
		}
		p.depth = [2]float64{h.reachOut(in, true), h.reachOut(in, false)}
		p.Ring = h.ring()
		list, held = append(list, p), append(held, *h)
	}
	return list, held
}
