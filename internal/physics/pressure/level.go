package pressure

import "slices"

// level is one grid of the cycle: rows of red cells, of black cells, of pockets.
//
// A cell's links to cells of the other colour stand six side by side; what is more than six, a cell of its
// own colour (where a sliver was taken in, and where a block fell into parts) or a pocket, stands in a list
// of its own.
type level struct {
	red, cells int
	at         []uint64     // of cells: their place in the grid, packed
	nb         [][6]int32   // of cells, at low and high x, y, z; the row itself where there is none
	w          [][6]float32 // 0 there
	diag       []float32
	inv        []float32 // 0 where a row is known but for a constant
	x, b       []float32
	left       []float32 // of red cells: what is left of b
	coarse     []int32   // row in the next level, -1: none

	extra []int32 // cells with more links, in order
	black int     // the first of them that is black
	more  list    // their links, in the order of extra
	kept  []float32
	sum   []float32

	pocket list    // links of pockets, in their order
	first  []int32 // of rows of the next level: where its cells begin in member
	member []int32 // cells of this level by their row in the next
}

// list is the links of some rows, one after another.
type list struct {
	start []int32
	to    []int32
	w     []float32
}

func (l *list) reset() { l.start, l.to, l.w = append(l.start[:0], 0), l.to[:0], l.w[:0] }

func (l *list) add(to int32, w float32) { l.to, l.w = append(l.to, to), append(l.w, w) }

func (l *list) end() { l.start = append(l.start, int32(len(l.to))) }

func (l *list) sum(k int, x []float32) float32 {
	t := float32(0)
	for e := l.start[k]; e < l.start[k+1]; e++ {
		t += l.w[e] * x[l.to[e]]
	}
	return t
}

// making is room while levels are made.
type making struct {
	stack  []int32
	extras []int32 // by row: place in extra, -1
	next   []int32
	blocks []uint64
	parent []int32
	sums   []float32
	rows   [2][]int32 // first and link, by row, of links to pockets
}

// Of the cycle: how much the coarse correction counts, the rows under which there is no
// coarser level, the sweeps there, and how much larger than its links a diagonal is that a
// pressure close by holds, so that no correction is needed.
const (
	over     = 1.8
	smallest = 24
	sweeps   = 4
	held     = 20
	noise    = 1e-5
)

// A place is packed into three fields of 21 bits; low are the last bits of each.
const (
	field = 21
	low   = 1 | 1<<field | 1<<(2*field)
)

func pack(p [3]int32) uint64 {
	const m = 1<<field - 1
	return uint64(p[0])&m | uint64(p[1])&m<<field | uint64(p[2])&m<<(2*field)
}

// odd is the colour of a place.
func odd(p uint64) bool { return (p^p>>field^p>>(2*field))&1 != 0 }

// block is the place of the block of 2 x 2 x 2 places in the next level.
func block(p uint64) uint64 { return (p &^ low) >> 1 }

func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/4)
	}
	return s[:n]
}

// at returns level n, which may be that of an earlier solve.
func (v *Solver) at(n int) *level {
	if n < cap(v.level) {
		v.level = v.level[:max(n+1, len(v.level))]
	} else {
		v.level = append(v.level, level{})
	}
	return &v.level[n]
}

func (l *level) resize(cells, all int) {
	l.cells = cells
	l.at, l.nb, l.w = sized(l.at, cells), sized(l.nb, cells), sized(l.w, cells)
	l.diag, l.inv, l.x, l.b, l.coarse = sized(l.diag, all), sized(l.inv, all), sized(l.x, all), sized(l.b, all), sized(l.coarse, all)
	l.left = sized(l.left, cells)
	clear(l.x) // what is left of an earlier solve may be no number, and weights of 0 do not take that away
}

// invert finds 1/diag; sum is what each diagonal came from: a difference that is noise of it is
// nothing.
func (l *level) invert(sum []float32) {
	for i, d := range l.diag {
		l.inv[i] = 0
		if d > noise*sum[i] {
			l.inv[i] = 1 / d
		}
	}
}

// room for the lists of extra links.
func (l *level) close() {
	l.kept, l.sum = sized(l.kept, len(l.extra)), sized(l.sum, len(l.extra))
	l.black, _ = slices.BinarySearch(l.extra, int32(l.red))
}

// prepare makes the levels for the system as it was sorted.
func (v *Solver) prepare() {
	top := &v.level[0]
	cells, all := v.cells, len(v.diag)
	unit := 0.0 // float32 has no room for weights of 1e-12 squared
	for _, d := range v.diag {
		if d > 0 && (unit == 0 || d < unit) {
			unit = d
		}
	}
	if unit == 0 {
		unit = 1
	}
	per := 1 / unit
	for i, d := range v.diag {
		top.diag[i] = float32(d * per)
	}
	top.invert(top.diag)
	// Links to pockets by row, both ways.
	m := &v.make
	m.rows[0], m.rows[1] = sized(m.rows[0], all+1), sized(m.rows[1], 2*len(v.link))
	first := m.rows[0]
	clear(first)
	for _, l := range v.link {
		first[l.Row+1]++
		first[l.Pocket+1]++
	}
	for i := range all {
		first[i+1] += first[i]
	}
	m.next = append(m.next[:0], first[:all]...)
	for k, l := range v.link {
		m.rows[1][m.next[l.Row]], m.rows[1][m.next[l.Pocket]] = int32(k), int32(k)
		m.next[l.Row]++
		m.next[l.Pocket]++
	}
	top.extra = top.extra[:0]
	top.more.reset()
	red := int32(top.red)
	for k := range int32(cells) {
		from := &v.nb[k]
		to, w := &top.nb[k], &top.w[k]
		*to = *from
		was := len(top.more.to)
		for e, y := range &v.w[k] {
			w[e] = float32(y * per)
			if j := from[e]; (j < red) == (k < red) && j != k {
				top.more.add(j, w[e])
				to[e], w[e] = k, 0
			}
		}
		for _, e := range m.rows[1][first[k]:first[k+1]] {
			top.more.add(v.link[e].Pocket, float32(v.link[e].W*per))
		}
		if len(top.more.to) > was {
			top.extra = append(top.extra, k)
			top.more.end()
		}
	}
	top.close()
	top.pocket.reset()
	for i := cells; i < all; i++ {
		for _, e := range m.rows[1][first[i]:first[i+1]] {
			top.pocket.add(v.link[e].Row, float32(v.link[e].W*per))
		}
		top.pocket.end()
	}
	for n := 0; ; n++ {
		if len(v.level[n].diag) <= smallest || !v.coarsen(n) {
			v.level = v.level[:n+1]
			return
		}
	}
}

// coarsen makes level n+1, and reports whether it is any coarser. Its cells are the parts of the blocks of
// 2 x 2 x 2 places that are linked within them, so that a correction is never carried through a wall; pockets
// stay as they are.
func (v *Solver) coarsen(n int) bool {
	v.at(n + 1)
	f, c, m := &v.level[n], &v.level[n+1], &v.make
	cells, all := f.cells, len(f.diag)
	m.extras = sized(m.extras, cells)
	for i := range m.extras {
		m.extras[i] = -1
	}
	for e, i := range f.extra {
		m.extras[i] = int32(e)
	}
	// Rows whose diagonal is all but their own need no correction.
	for i := range cells {
		w := &f.w[i]
		t := w[0] + w[1] + w[2] + w[3] + w[4] + w[5]
		if e := m.extras[i]; e >= 0 {
			for k := f.more.start[e]; k < f.more.start[e+1]; k++ {
				t += f.more.w[k]
			}
		}
		f.coarse[i] = -2
		if f.diag[i] > held*t {
			f.coarse[i] = -1
		}
	}
	count, red := 0, 0
	at := m.blocks[:0]
	stack := m.stack
	for i := range int32(cells) {
		if f.coarse[i] != -2 {
			continue
		}
		own := block(f.at[i])
		f.coarse[i] = int32(count)
		stack = append(stack[:0], i)
		for len(stack) > 0 {
			q := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			nb, w, p := &f.nb[q], &f.w[q], f.at[q]
			for d := range 3 { // within the block: up from an even place, down from an odd one
				e := 2*d + int(^p>>(field*d)&1)
				if j := nb[e]; w[e] > 0 && f.coarse[j] == -2 && block(f.at[j]) == own {
					f.coarse[j] = int32(count)
					stack = append(stack, j)
				}
			}
			if e := m.extras[q]; e >= 0 {
				for k := f.more.start[e]; k < f.more.start[e+1]; k++ {
					if j := f.more.to[k]; int(j) < cells && f.more.w[k] > 0 && f.coarse[j] == -2 && block(f.at[j]) == own {
						f.coarse[j] = int32(count)
						stack = append(stack, j)
					}
				}
			}
		}
		at = append(at, own)
		if !odd(own) {
			red++
		}
		count++
	}
	m.stack, m.blocks = stack, at
	// Pockets behind them.
	total := count
	for i := cells; i < all; i++ {
		t := float32(0)
		for k := f.pocket.start[i-cells]; k < f.pocket.start[i-cells+1]; k++ {
			t += f.pocket.w[k]
		}
		f.coarse[i] = -1
		if f.diag[i] <= held*t {
			f.coarse[i] = int32(total)
			total++
		}
	}
	if total == 0 || total > all*9/10 {
		return false
	}
	// Red first.
	c.resize(count, total)
	c.red = red
	m.parent = sized(m.parent, count)
	r, b := int32(0), int32(red)
	for k, p := range at {
		to := &r
		if odd(p) {
			to = &b
		}
		m.parent[k], c.at[*to] = *to, p
		*to++
	}
	for i, k := range f.coarse[:cells] {
		if k >= 0 {
			f.coarse[i] = m.parent[k]
		}
	}
	// Members of each coarse row.
	f.first, f.member = sized(f.first, count+1), sized(f.member, cells)
	clear(f.first)
	for _, k := range f.coarse[:cells] {
		if k >= 0 {
			f.first[k+1]++
		}
	}
	for k := range count {
		f.first[k+1] += f.first[k]
	}
	m.next = append(m.next[:0], f.first[:count]...)
	for i, k := range f.coarse[:cells] {
		if k >= 0 {
			f.member[m.next[k]] = int32(i)
			m.next[k]++
		}
	}
	m.sums = sized(m.sums, total)
	v.join(f, c)
	c.invert(m.sums)
	return true
}

// join makes the links of the rows of c from those of f. A cell's link at one of its six sides leads into its own row or out
// of it at that side.
func (v *Solver) join(f, c *level) {
	m := &v.make
	c.extra = c.extra[:0]
	c.more.reset()
	red := int32(c.red)
	for k := range int32(c.cells) {
		nb, w := [6]int32{k, k, k, k, k, k}, [6]float32{}
		was := len(c.more.to)
		var d, all float64
		more := func(j int32, y float32) {
			for e := was; e < len(c.more.to); e++ {
				if c.more.to[e] == j {
					c.more.w[e] += y
					return
				}
			}
			c.more.add(j, y)
		}
		for _, i := range f.member[f.first[k]:f.first[k+1]] {
			d += float64(f.diag[i])
			all += float64(f.diag[i])
			fn, fw := &f.nb[i], &f.w[i]
			for e := range 6 {
				y := fw[e]
				if y == 0 {
					continue
				}
				switch j := f.coarse[fn[e]]; {
				case j == k:
					d -= float64(y)
				case j < 0:
				case nb[e] == j:
					w[e] += y
				case nb[e] == k && (j < red) != (k < red):
					nb[e], w[e] = j, y
				default:
					more(j, y)
				}
			}
			if e := m.extras[i]; e >= 0 {
				for q := f.more.start[e]; q < f.more.start[e+1]; q++ {
					switch j := f.coarse[f.more.to[q]]; {
					case j == k:
						d -= float64(f.more.w[q])
					case j >= 0:
						more(j, f.more.w[q])
					}
				}
			}
		}
		c.nb[k], c.w[k] = nb, w
		c.diag[k], m.sums[k] = float32(d), float32(all)
		if len(c.more.to) > was {
			c.extra = append(c.extra, k)
			c.more.end()
		}
	}
	c.close()
	c.pocket.reset()
	for i := f.cells; i < len(f.diag); i++ {
		k := f.coarse[i]
		if k < 0 {
			continue
		}
		c.diag[k], m.sums[k] = f.diag[i], f.diag[i]
		was := len(c.pocket.to)
		m.next = sized(m.next, c.cells)
		for q := f.pocket.start[i-f.cells]; q < f.pocket.start[i-f.cells+1]; q++ {
			j := f.coarse[f.pocket.to[q]]
			if j < 0 {
				continue
			}
			// where row j stands in this pocket's list, if it does
			if e := m.next[j]; int(e) >= was && int(e) < len(c.pocket.to) && c.pocket.to[e] == j {
				c.pocket.w[e] += f.pocket.w[q]
				continue
			}
			m.next[j] = int32(len(c.pocket.to))
			c.pocket.add(j, f.pocket.w[q])
		}
		c.pocket.end()
	}
}
