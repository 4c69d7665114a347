package cells

import (
	"math"
	"math/bits"

	"pourwright/internal/ground/par"
)

// web is the open part of a cell as 8 x 8 x 8 points, which are joined where the
// line between them stays inside: a mask of 64 bits (8 y + x) for each height. x, y, z hold the
// links to the next point upwards along that axis, across the cell's side too.
type web struct{ in, x, y, z [sub]uint64 }

// webs lays the webs of the cells in list; number holds their place in it, -1 elsewhere.
func (s *samples) webs(list []int32, number []int32) []web {
	w := make([]web, len(list))
	for d := range 3 {
		e, f := (d+1)%3, (d+2)%3
		par.For(s.dim[f], 1, func(j, _ int) {
			for b := range sub {
				for i := range s.dim[e] * sub {
					for _, span := range s.cols[d].At(i, j*sub+b) {
						n0 := max(int(math.Ceil(sub*span.Lo-0.5)), 0)
						n1 := min(int(math.Floor(sub*span.Hi-0.5)), s.dim[d]*sub-1)
						if n0 <= n1 {
							mark(w, number, d, n0, n1, i/sub*s.step[e]+j*s.step[f], s.step[d], i%sub, b)
						}
					}
				}
			}
		})
	}
	return w
}

// mark sets the points n0 .. n1 of a line along d, which stands at a, b along the
// two axes that follow d, in the cells from at on.
func mark(w []web, number []int32, d, n0, n1, at, step, a, b int) {
	for k := n0 / sub; k <= n1/sub; k++ {
		c := number[at+k*step]
		if c < 0 {
			continue
		}
		x := &w[c]
		lo, hi := max(n0-k*sub, 0), min(n1-k*sub, sub-1)
		links := hi // the last point with a link upwards
		if n1 == k*sub+hi {
			links = hi - 1
		}
		switch d {
		case 0: // a = y, b = z
			if links >= lo {
				x.x[b] |= (1<<(links-lo+1) - 1) << (8*a + lo)
			}
		case 1: // a = z, b = x
			for y := lo; y <= links; y++ {
				x.y[a] |= 1 << (8*y + b)
			}
		default: // a = x, b = y
			for z := lo; z <= hi; z++ {
				x.in[z] |= 1 << (8*b + a)
			}
			for z := lo; z <= links; z++ {
				x.z[z] |= 1 << (8*b + a)
			}
		}
	}
}

const (
	lowX  = 0x0101010101010101 // the points at a cell's low side along x
	highX = lowX << 7
	lowY  = 0xff
)

// pieces returns the parts of a web that hang together within the cell, largest
// first.
func (w *web) pieces() [][sub]uint64 {
	left := w.in
	var r [][sub]uint64
	for z := range sub {
		for left[z] != 0 {
			var m [sub]uint64
			m[z] = left[z] & -left[z]
			for changed := true; changed; {
				changed = false
				for k := range sub {
					x := m[k]
					x |= (x & w.x[k] &^ highX) << 1
					x |= (x >> 1) & w.x[k] &^ highX
					x |= (x & w.y[k]) << 8
					x |= (x >> 8) & w.y[k]
					if k > 0 {
						x |= m[k-1] & w.z[k-1]
					}
					if k < sub-1 {
						x |= m[k+1] & w.z[k]
					}
					x &= w.in[k]
					changed = changed || x != m[k]
					m[k] = x
				}
			}
			for k := range sub {
				left[k] &^= m[k]
			}
			r = append(r, m)
		}
	}
	for i := 1; i < len(r); i++ {
		for k := i; k > 0 && count(&r[k]) > count(&r[k-1]); k-- {
			r[k], r[k-1] = r[k-1], r[k]
		}
	}
	return r
}

// count returns the points of a mask.
func count(m *[sub]uint64) int {
	n := 0
	for _, x := range m {
		n += bits.OnesCount64(x)
	}
	return n
}

// links returns how many points of lo, in web w, are joined along d with points of
// hi in the next cell upwards. Nil stands for a whole cell.
func links(lo *[sub]uint64, w *web, hi *[sub]uint64, d int) int {
	n := 0
	for k := range sub {
		a, b := ^uint64(0), ^uint64(0)
		if lo != nil {
			a = lo[k]
			switch d {
			case 0:
				a &= w.x[k]
			case 1:
				a &= w.y[k]
			}
		}
		if hi != nil {
			b = hi[k]
		}
		switch d {
		case 0:
			n += bits.OnesCount64(a >> 7 & b & lowX)
		case 1:
			n += bits.OnesCount64(a >> 56 & b & lowY)
		}
	}
	if d == 2 {
		a, b := ^uint64(0), ^uint64(0)
		if lo != nil {
			a = lo[sub-1] & w.z[sub-1]
		}
		if hi != nil {
			b = hi[0]
		}
		n = bits.OnesCount64(a & b)
	}
	return n
}
