package pressure

// Solver keeps room for the cycle from one solve to the next. It is not safe for use by several at once.
//
// It works on a copy of the system in the order of the finest level: cells of one colour, cells of the
// other, pockets; each cell with six links side by side, itself with weight 0 where there is none.
type Solver struct {
	room  room
	order []int32 // row of the system of each place
	place []int32 // the other way round
	cells int
	nb    [][6]int32
	w     [][6]float64
	link  []Link // by place
	diag  []float64
	x, b  []float64

	level []level
	make  making
}

// Solve improves s.X until the residual is at most what stop makes of the first one.
func (v *Solver) Solve(s *System, stop func(first float64) float64) (Report, error) {
	v.sort(s)
	ready := false
	rep, err := v.room.iterate(v.x, v.b, stop, most, v.apply, func(r, z []float64, largest float64) float64 {
		if !ready {
			v.prepare()
			ready = true
		}
		// float32 has no room for what is very small or large.
		if largest == 0 {
			clear(z)
			return 0
		}
		top := &v.level[0]
		per := 1 / largest
		b, x := top.b, top.x
		each(0, len(r), func(lo, hi int) {
			b, r := b[lo:hi], r[lo:hi]
			for i, y := range r {
				b[i] = float32(y * per)
			}
		})
		v.cycle(0)
		v.room.part = parts(v.room.part, len(r), func(lo, hi int) float64 {
			x, r, z := x[lo:hi], r[lo:hi], z[lo:hi]
			sum := 0.0
			for i, y := range r {
				c := float64(x[i]) * largest
				z[i] = c
				sum += c * y
			}
			return sum
		})
		return total(v.room.part)
	})
	for k, i := range v.order {
		s.X[i] = v.x[k]
	}
	return rep, err
}

// sort copies the system in the order of the finest level.
func (v *Solver) sort(s *System) {
	n, m := len(s.Nb), len(s.Diag)
	v.cells = n
	v.order, v.place = sized(v.order, m), sized(v.place, m)
	red := 0
	for _, p := range s.Place[:n] {
		if !odd(pack(p)) {
			red++
		}
	}
	r, b := 0, red
	for i, p := range s.Place[:n] {
		if odd(pack(p)) {
			v.order[b], v.place[i] = int32(i), int32(b)
			b++
		} else {
			v.order[r], v.place[i] = int32(i), int32(r)
			r++
		}
	}
	for i := n; i < m; i++ {
		v.order[i], v.place[i] = int32(i), int32(i)
	}
	top := v.at(0)
	top.resize(n, m)
	top.red = red
	v.nb, v.w = sized(v.nb, n), sized(v.w, n)
	v.diag, v.x, v.b = sized(v.diag, m), sized(v.x, m), sized(v.b, m)
	for k, i := range v.order {
		v.diag[k], v.x[k], v.b[k] = s.Diag[i], s.X[i], s.B[i]
	}
	for k, i := range v.order[:n] {
		top.at[k] = pack(s.Place[i])
		nb, w := &s.Nb[i], &s.W[i]
		to, by := &v.nb[k], &v.w[k]
		for e := range 6 {
			if j := nb[e]; j >= 0 {
				to[e], by[e] = v.place[j], w[e]
			} else {
				to[e], by[e] = int32(k), 0
			}
		}
	}
	v.link = sized(v.link, len(s.Link))
	for e, l := range s.Link {
		v.link[e] = Link{v.place[l.Row], l.Pocket, l.W}
	}
}

// apply puts A x into out and returns x . out: the fast version of System.apply.
func (v *Solver) apply(x, out []float64) float64 {
	n, m := v.cells, len(v.diag)
	v.room.part = parts(v.room.part, n, func(lo, hi int) float64 {
		sum := 0.0
		out, own, d, w := out[lo:hi], x[lo:hi], v.diag[lo:hi], v.w[lo:hi]
		for i := range v.nb[lo:hi] {
			nb, w := &v.nb[lo+i], &w[i]
			t := d[i]*own[i] - (w[0]*x[nb[0]] + w[1]*x[nb[1]]) - (w[2]*x[nb[2]] + w[3]*x[nb[3]]) - (w[4]*x[nb[4]] + w[5]*x[nb[5]])
			out[i] = t
			sum += t * own[i]
		}
		return sum
	})
	sum := total(v.room.part)
	if n == m {
		return sum
	}
	for i := n; i < m; i++ {
		out[i] = v.diag[i] * x[i]
	}
	for _, l := range v.link {
		a, b := l.W*x[l.Pocket], l.W*x[l.Row]
		out[l.Row] -= a
		out[l.Pocket] -= b
		sum -= a * x[l.Row]
	}
	for i := n; i < m; i++ {
		sum += out[i] * x[i]
	}
	return sum
}
