package pressure

// Solver keeps room for the cycle from one solve to the next. It is not safe for use by several at once.
type Solver struct {
	work  [4][]float64
	level []level
	order []int32 // of the finest level: row of each place
	place []int32 // the other way round
	stack []int32
	nb    [][6]int32 // of System, without gaps
	w     [][6]float64

	// Room while levels are made.
	ties        []int32 // places in System.Link
	first, next []int32 // by row: its first in ties, or in member; where its list goes on
	member      []int32 // rows of a level by their coarse row
	blocks      [][3]int32
	sum         []float32
}

// level is one grid of the cycle. Its red rows come first.
type level struct {
	at     [][3]int32
	red    int     // number of red rows
	start  []int32 // of row's links
	to     []int32
	w      []float32
	diag   []float32
	inv    []float32 // 0 where a row is known but for a constant
	x, b   []float32
	coarse []int32 // row in the next level, -1: none
	pure   bool    // no link between rows of one colour
	parent []int32 // while a level is made: its row before red came first
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

func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/4)
	}
	return s[:n]
}

// Solve improves s.X until the residual is at most what stop makes of the first one.
func (v *Solver) Solve(s *System, stop func(first float64) float64) (Report, error) {
	ready := false
	return s.iterate(&v.work, stop, most, func(x, out []float64) float64 { return v.apply(s, x, out) }, func(r, z []float64) float64 {
		if !ready {
			v.prepare(s)
			ready = true
		}
		sum := 0.0
		// float32 has no room for what is very small or large.
		scale := largest(r)
		if scale == 0 {
			clear(z)
			return sum
		}
		top := &v.level[0]
		per := 1 / scale
		b := top.b[:len(v.order)]
		for k, i := range v.order {
			b[k] = float32(r[i] * per)
		}
		v.cycle(0)
		x := top.x[:len(v.order)]
		for k, i := range v.order {
			y := float64(x[k]) * scale
			z[i] = y
			sum += y * r[i]
		}
		return sum
	})
}

// pack lays the links of the cells side by side, the cell itself with weight 0 where there is none.
func (v *Solver) pack(s *System) {
	n := len(s.Nb)
	v.nb, v.w = sized(v.nb, n), sized(v.w, n)
	for i := range s.Nb {
		nb, w := s.Nb[i], s.W[i]
		for k := range 6 {
			if nb[k] < 0 {
				nb[k], w[k] = int32(i), 0
			}
		}
		v.nb[i], v.w[i] = nb, w
	}
}

// apply is System.apply without tests for missing neighbours, and returns x . out.
func (v *Solver) apply(s *System, x, out []float64) float64 {
	sum := 0.0
	d := s.Diag
	out, x = out[:len(d)], x[:len(d)]
	for i := range v.nb {
		nb, w := &v.nb[i], &v.w[i]
		t := d[i]*x[i] - (w[0]*x[nb[0]] + w[1]*x[nb[1]]) - (w[2]*x[nb[2]] + w[3]*x[nb[3]]) - (w[4]*x[nb[4]] + w[5]*x[nb[5]])
		out[i] = t
		sum += t * x[i]
	}
	if len(d) == len(v.nb) {
		return sum
	}
	for i := len(v.nb); i < len(d); i++ {
		out[i] = d[i] * x[i]
	}
	for _, l := range s.Link {
		out[l.Row] -= l.W * x[l.Pocket]
		out[l.Pocket] -= l.W * x[l.Row]
	}
	return dot(x, out)
}

// odd is the colour of a place.
func odd(p [3]int32) bool { return (p[0]+p[1]+p[2])&1 != 0 }

// prepare makes the levels for a system.
func (v *Solver) prepare(s *System) {
	v.pack(s)
	cells, m := len(s.Nb), len(s.Diag)
	v.order, v.place = sized(v.order, m), sized(v.place, m)
	// Pockets are red rows far from all others and from each other, so that none is ever joined.
	where := func(i int) [3]int32 {
		if i < cells {
			return s.Place[i]
		}
		return [3]int32{1 << 29, int32(i-cells) << 12, 0}
	}
	red := 0
	for i := range m {
		if !odd(where(i)) {
			red++
		}
	}
	r, b := 0, red
	for i := range m {
		if odd(where(i)) {
			v.order[b], v.place[i] = int32(i), int32(b)
			b++
		} else {
			v.order[r], v.place[i] = int32(i), int32(r)
			r++
		}
	}
	top := v.at(0)
	top.resize(m)
	top.red = red
	unit := 0.0 // float32 has no room for weights of 1e-12 squared
	for _, d := range s.Diag {
		if d > 0 && (unit == 0 || d < unit) {
			unit = d
		}
	}
	if unit == 0 {
		unit = 1
	}
	top.to, top.w = top.to[:0], top.w[:0]
	v.tie(s)
	for k, i := range v.order {
		top.at[k] = where(int(i))
		top.start[k] = int32(len(top.to))
		if int(i) < cells {
			for e, j := range s.Nb[i] {
				if j >= 0 {
					top.to = append(top.to, v.place[j])
					top.w = append(top.w, float32(s.W[i][e]/unit))
				}
			}
		}
		for _, l := range v.ties[v.first[i]:v.first[i+1]] {
			j := s.Link[l].Row
			if int(i) < cells {
				j = s.Link[l].Pocket
			}
			top.to = append(top.to, v.place[j])
			top.w = append(top.w, float32(s.Link[l].W/unit))
		}
		top.diag[k] = float32(s.Diag[i] / unit)
	}
	top.start[m] = int32(len(top.to))
	top.invert(top.diag)
	top.look()
	for n := 0; ; n++ {
		if len(v.level[n].at) <= smallest || !v.coarsen(n) {
			v.level = v.level[:n+1]
			return
		}
	}
}

// tie lists the links of each row to pockets, and of pockets to rows.
func (v *Solver) tie(s *System) {
	n := len(s.Diag)
	v.first, v.ties = sized(v.first, n+1), sized(v.ties, 2*len(s.Link))
	clear(v.first)
	for _, l := range s.Link {
		v.first[l.Row+1]++
		v.first[l.Pocket+1]++
	}
	for i := range n {
		v.first[i+1] += v.first[i]
	}
	next := append(v.next[:0], v.first[:n]...)
	v.next = next
	for k, l := range s.Link {
		v.ties[next[l.Row]], v.ties[next[l.Pocket]] = int32(k), int32(k)
		next[l.Row]++
		next[l.Pocket]++
	}
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

func (l *level) resize(n int) {
	l.at, l.start = sized(l.at, n), sized(l.start, n+1)
	l.diag, l.inv, l.x, l.b, l.coarse = sized(l.diag, n), sized(l.inv, n), sized(l.x, n), sized(l.b, n), sized(l.coarse, n)
}

// look finds out whether red rows link to black ones only: cells that took in slivers may have neighbours
// that are not beside them.
func (l *level) look() {
	l.pure = true
	for i := range l.at {
		for _, j := range l.to[l.start[i]:l.start[i+1]] {
			if (i < l.red) == (int(j) < l.red) {
				l.pure = false
				return
			}
		}
	}
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

// coarsen makes level n+1, and reports whether it is any coarser.
func (v *Solver) coarsen(n int) bool {
	v.at(n + 1)
	f, c := &v.level[n], &v.level[n+1]
	m := len(f.at)
	for i := range m {
		f.coarse[i] = -2
	}
	for i := range m { // rows that need no correction
		t := float32(0)
		for e := f.start[i]; e < f.start[i+1]; e++ {
			t += f.w[e]
		}
		if f.diag[i] > held*t {
			f.coarse[i] = -1
		}
	}
	count := 0
	c.at = c.at[:0]
	block := func(i int32) [3]int32 { p := f.at[i]; return [3]int32{p[0] >> 1, p[1] >> 1, p[2] >> 1} }
	for i := range int32(m) {
		if f.coarse[i] != -2 {
			continue
		}
		own := block(i)
		f.coarse[i] = int32(count)
		v.stack = append(v.stack[:0], i)
		for len(v.stack) > 0 {
			q := v.stack[len(v.stack)-1]
			v.stack = v.stack[:len(v.stack)-1]
			for e := f.start[q]; e < f.start[q+1]; e++ {
				if j := f.to[e]; f.coarse[j] == -2 && f.w[e] > 0 && block(j) == own {
					f.coarse[j] = int32(count)
					v.stack = append(v.stack, j)
				}
			}
		}
		c.at = append(c.at, own)
		count++
	}
	if count == 0 || count > m*9/10 {
		return false
	}
	// Red first.
	c.parent = sized(c.parent, count)
	red := 0
	for _, p := range c.at {
		if !odd(p) {
			red++
		}
	}
	r, b := int32(0), int32(red)
	for k, p := range c.at {
		if odd(p) {
			c.parent[k] = b
			b++
		} else {
			c.parent[k] = r
			r++
		}
	}
	at := append(v.blocks[:0], c.at...)
	v.blocks = at
	c.resize(count)
	c.red = red
	for k, p := range at {
		c.at[c.parent[k]] = p
	}
	for i, k := range f.coarse {
		if k >= 0 {
			f.coarse[i] = c.parent[k]
		}
	}
	// Members of each coarse row, then its links.
	v.first, v.member, v.next, v.sum = sized(v.first, count+1), sized(v.member, m), sized(v.next, count), sized(v.sum, count)
	first, member, next, sum := v.first, v.member, v.next, v.sum
	clear(first)
	for _, k := range f.coarse {
		if k >= 0 {
			first[k+1]++
		}
	}
	for k := range count {
		first[k+1] += first[k]
	}
	copy(next, first)
	for i, k := range f.coarse {
		if k >= 0 {
			member[next[k]] = int32(i)
			next[k]++
		}
	}
	c.to, c.w = c.to[:0], c.w[:0]
	for k := range count {
		c.start[k] = int32(len(c.to))
		var d, all float64
		for _, i := range member[first[k]:first[k+1]] {
			d += float64(f.diag[i])
			all += float64(f.diag[i])
			for e := f.start[i]; e < f.start[i+1]; e++ {
				j := f.coarse[f.to[e]]
				switch {
				case j == int32(k):
					d -= float64(f.w[e])
				case j >= 0:
					at := int(c.start[k])
					for at < len(c.to) && c.to[at] != j {
						at++
					}
					if at == len(c.to) {
						c.to, c.w = append(c.to, j), append(c.w, 0)
					}
					c.w[at] += f.w[e]
				}
			}
		}
		c.diag[k], sum[k] = float32(d), float32(all)
	}
	c.start[count] = int32(len(c.to))
	c.invert(sum)
	c.look()
	return true
}

// relax is one sweep over the rows from .. to, in order; back the same from the last to the first.
func (l *level) relax(from, to int) {
	for i := from; i < to; i++ {
		l.x[i] = (l.b[i] + l.links(i)) * l.inv[i]
	}
}

func (l *level) back(from, to int) {
	for i := to - 1; i >= from; i-- {
		l.x[i] = (l.b[i] + l.links(i)) * l.inv[i]
	}
}

// links is the sum over the links of a row.
func (l *level) links(i int) float32 {
	t := float32(0)
	lo, hi := l.start[i], l.start[i+1]
	w, to := l.w[lo:hi], l.to[lo:hi]
	for e, j := range to {
		t += w[e] * l.x[j]
	}
	return t
}

// cycle puts into x of level n about what solves it for b.
func (v *Solver) cycle(n int) {
	l := &v.level[n]
	m := len(l.at)
	if l.pure { // from nothing, red needs no neighbours
		for i := range l.red {
			l.x[i] = l.b[i] * l.inv[i]
		}
	} else {
		clear(l.x)
		l.relax(0, l.red)
	}
	l.relax(l.red, m)
	if n == len(v.level)-1 {
		for range sweeps {
			l.relax(0, l.red)
			l.relax(l.red, m)
		}
		for range sweeps + 1 {
			l.back(l.red, m)
			l.back(0, l.red)
		}
		return
	}
	c := &v.level[n+1]
	clear(c.b)
	// What is left. Pure: nothing in black rows, in red ones what black added.
	if l.pure {
		for i := range l.red {
			if k := l.coarse[i]; k >= 0 {
				t := l.links(i)
				if l.inv[i] == 0 {
					t += l.b[i]
				}
				c.b[k] += t
			}
		}
	} else {
		for i, k := range l.coarse {
			if k >= 0 {
				c.b[k] += l.b[i] + l.links(i) - l.diag[i]*l.x[i]
			}
		}
	}
	v.cycle(n + 1)
	for i, k := range l.coarse {
		if k >= 0 {
			l.x[i] += over * c.x[k]
		}
	}
	l.back(l.red, m)
	l.back(0, l.red)
}
