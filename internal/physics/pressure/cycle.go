package pressure

import "pourwright/internal/ground/par"

// each runs f over the rows from .. to, in chunks side by side where there are many.
func each(from, to int, f func(lo, hi int)) {
	if to-from <= chunk {
		if to > from {
			f(from, to)
		}
		return
	}
	par.For(to-from, chunk, func(lo, hi int) { f(from+lo, from+hi) })
}

// sweep solves each cell of the rows from .. to for itself, e0 .. e1 those of them that have more links. Links within
// one colour take the values from before the sweep, so that the order within it does not matter.
func (l *level) sweep(from, to, e0, e1 int) {
	for e := e0; e < e1; e++ {
		i := l.extra[e]
		l.sum[e], l.kept[e] = l.more.sum(e, l.x), l.b[i]
		l.b[i] += l.sum[e]
	}
	each(from, to, func(lo, hi int) {
		x := l.x
		b, inv, w, nb := l.b[lo:hi], l.inv[lo:hi], l.w[lo:hi], l.nb[lo:hi]
		for i := range nb {
			nb, w := &nb[i], &w[i]
			x[lo+i] = (b[i] + (w[0]*x[nb[0]] + w[1]*x[nb[1]]) + (w[2]*x[nb[2]] + w[3]*x[nb[3]]) + (w[4]*x[nb[4]] + w[5]*x[nb[5]])) * inv[i]
		}
	})
	for e := e0; e < e1; e++ {
		l.b[l.extra[e]] = l.kept[e]
	}
}

func (l *level) reds()   { l.sweep(0, l.red, 0, l.black) }
func (l *level) blacks() { l.sweep(l.red, l.cells, l.black, len(l.extra)) }

func (l *level) pockets() {
	for i := l.cells; i < len(l.diag); i++ {
		l.x[i] = (l.b[i] + l.pocket.sum(i-l.cells, l.x)) * l.inv[i]
	}
}

// cycle puts into x of level n about what solves it for b: red, black, pockets on the way down, from nothing, and
// the other way round on the way up, so that it is symmetric.
func (v *Solver) cycle(n int) {
	l := &v.level[n]
	if len(l.extra) > 0 || len(l.diag) > l.cells {
		clear(l.x[l.red:])
	}
	each(0, l.red, func(lo, hi int) { // from nothing, red needs no neighbours
		x, b, inv := l.x[lo:hi], l.b[lo:hi], l.inv[lo:hi]
		for i, y := range b {
			x[i] = y * inv[i]
		}
	})
	l.blacks()
	l.pockets()
	if n == len(v.level)-1 {
		for range sweeps {
			l.reds()
			l.blacks()
			l.pockets()
		}
		for range sweeps + 1 {
			l.pockets()
			l.blacks()
			l.reds()
		}
		return
	}
	c := &v.level[n+1]
	l.restrict(c)
	v.cycle(n + 1)
	each(0, len(l.diag), func(lo, hi int) {
		x, coarse := l.x[lo:hi], l.coarse[lo:hi]
		for i, k := range coarse {
			if k >= 0 {
				x[i] += over * c.x[k]
			}
		}
	})
	l.pockets()
	l.blacks()
	l.reds()
}

// restrict puts what is left into b of the next level: of red cells what black ones and pockets added since; of black
// ones what more links have changed since; of pockets nothing.
func (l *level) restrict(c *level) {
	each(0, l.red, func(lo, hi int) {
		x := l.x
		left, b, inv, w, nb := l.left[lo:hi], l.b[lo:hi], l.inv[lo:hi], l.w[lo:hi], l.nb[lo:hi]
		for i := range nb {
			nb, w := &nb[i], &w[i]
			t := (w[0]*x[nb[0]] + w[1]*x[nb[1]]) + (w[2]*x[nb[2]] + w[3]*x[nb[3]]) + (w[4]*x[nb[4]] + w[5]*x[nb[5]])
			if inv[i] == 0 {
				t += b[i]
			}
			left[i] = t
		}
	})
	clear(c.b)
	for i, k := range l.coarse[:l.red] {
		if k >= 0 {
			c.b[k] += l.left[i]
		}
	}
	for e, i := range l.extra {
		if k := l.coarse[i]; k >= 0 {
			t := l.more.sum(e, l.x)
			if e >= l.black {
				t -= l.sum[e]
			}
			c.b[k] += t
		}
	}
}
