package solid

import (
	"errors"
	"math"
	"math/big"
)

// cdt is a constrained Delaunay triangulation of one triangle with points on
// its sides and inside it, in plane coordinates (lattice units, not rounded).
// Triangles turn counter-clockwise. Edge i of a triangle runs from v[i] to
// v[i+1]; n[i] is the triangle across it, -1 outside; c[i] is the constraint
// on it: 0 none, s+1 where the triangle lies left of segment s, -(s+1) where
// it lies right.
type cdt struct {
	p    [][2]float64
	side []uint8 // sides of the outer triangle on which a point lies, as bits
	t    []ctri
	at   []int32 // a triangle at each point
	last int32
}

type ctri struct{ v, n, c [3]int32 }

var (
	errCross  = errors.New("segments cross in a triangle")
	errLocate = errors.New("a point has no place in its triangle")
)

// newCDT starts with the outer triangle and the points on its three sides, in
// order from corner k to corner k+1. Points are numbered 0..2 for the corners,
// then side 0, 1, 2.
func newCDT(corner [3][2]float64, on [3][][2]float64) *cdt {
	d := &cdt{p: corner[:], side: []uint8{0b101, 0b011, 0b110}}
	d.t = []ctri{{v: [3]int32{0, 1, 2}, n: [3]int32{-1, -1, -1}}}
	d.at = []int32{0, 0, 0}
	hull := [3]int32{0, 0, 0} // the triangle that holds the rest of side k
	for k := range 3 {
		end := int32((k + 1) % 3)
		for _, q := range on[k] {
			w := int32(len(d.p))
			d.p = append(d.p, q)
			d.side = append(d.side, 1<<k)
			ti := hull[k]
			i := d.edgeTo(ti, end)
			nt := int32(len(d.t))
			d.at = append(d.at, nt)
			t := d.t[ti]
			a, b, c := t.v[i], t.v[(i+1)%3], t.v[(i+2)%3]
			nb, nc := t.n[(i+1)%3], t.n[(i+2)%3]
			d.t[ti] = ctri{v: [3]int32{a, w, c}, n: [3]int32{-1, nt, nc}}
			d.t = append(d.t, ctri{v: [3]int32{w, b, c}, n: [3]int32{-1, nb, ti}})
			d.relink(nb, ti, nt)
			d.at[a], d.at[b], d.at[c] = ti, nt, ti
			hull[k] = nt
			for m := k + 1; m < 3; m++ {
				if hull[m] == ti && !d.hasSide(ti, m) {
					hull[m] = nt
				}
			}
		}
	}
	return d
}

// edgeTo returns the hull edge of triangle ti that ends in corner v.
func (d *cdt) edgeTo(ti, v int32) int {
	for i := range 3 {
		if d.t[ti].n[i] < 0 && d.t[ti].v[(i+1)%3] == v {
			return i
		}
	}
	return 0
}

// hasSide tells whether ti holds a hull edge that ends in corner m+1.
func (d *cdt) hasSide(ti int32, m int) bool {
	for i := range 3 {
		if d.t[ti].n[i] < 0 && d.t[ti].v[(i+1)%3] == int32((m+1)%3) && d.side[d.t[ti].v[i]]&(1<<m) != 0 {
			return true
		}
	}
	return false
}

func (d *cdt) relink(at, from, to int32) {
	if at < 0 {
		return
	}
	for i := range 3 {
		if d.t[at].n[i] == from {
			d.t[at].n[i] = to
			return
		}
	}
}

// turn is the exact sign of the double area of three points, 0 where they lie
// on one side of the outer triangle by construction.
func (d *cdt) turn(a, b, c int32) int {
	if d.side[a]&d.side[b]&d.side[c] != 0 {
		return 0
	}
	return turn2(d.p[a], d.p[b], d.p[c])
}

func turn2(a, b, c [2]float64) int {
	l := (b[0] - a[0]) * (c[1] - a[1])
	r := (b[1] - a[1]) * (c[0] - a[0])
	x := l - r
	if math.Abs(x) > 4e-16*(math.Abs(l)+math.Abs(r)) {
		return sign(x)
	}
	if l == 0 && r == 0 {
		return 0
	}
	f := func(x float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(x) }
	sub := func(x, y float64) *big.Float { return new(big.Float).SetPrec(300).Sub(f(x), f(y)) }
	mul := func(x, y *big.Float) *big.Float { return new(big.Float).SetPrec(600).Mul(x, y) }
	u := mul(sub(b[0], a[0]), sub(c[1], a[1]))
	v := mul(sub(b[1], a[1]), sub(c[0], a[0]))
	return u.Cmp(v)
}

const nearPoint = 1e-4 // lattice units: two points closer than this are one

// insert puts a point inside and returns its number (an old one where a point
// stands there already).
func (d *cdt) insert(q [2]float64) (int32, error) {
	ti, hull, err := d.locate(q)
	if err != nil {
		return 0, err
	}
	for _, v := range d.t[ti].v {
		if math.Hypot(d.p[v][0]-q[0], d.p[v][1]-q[1]) < nearPoint {
			return v, nil
		}
	}
	w := int32(len(d.p))
	d.p = append(d.p, q)
	d.side = append(d.side, 0)
	d.at = append(d.at, ti)
	t := d.t[ti]
	if !hull {
		for i := range 3 {
			if t.n[i] >= 0 && turn2(d.p[t.v[i]], d.p[t.v[(i+1)%3]], q) == 0 {
				d.splitEdge(ti, i, w)
				return w, nil
			}
		}
	}
	n1, n2 := int32(len(d.t)), int32(len(d.t)+1)
	d.t[ti] = ctri{v: [3]int32{t.v[0], t.v[1], w}, n: [3]int32{t.n[0], n1, n2}}
	d.t = append(d.t,
		ctri{v: [3]int32{t.v[1], t.v[2], w}, n: [3]int32{t.n[1], n2, ti}},
		ctri{v: [3]int32{t.v[2], t.v[0], w}, n: [3]int32{t.n[2], ti, n1}})
	d.relink(t.n[1], ti, n1)
	d.relink(t.n[2], ti, n2)
	d.at[t.v[0]], d.at[t.v[1]], d.at[t.v[2]], d.at[w] = ti, ti, n1, ti
	d.last = ti
	d.legalise([]int32{ti, n1, n2})
	return w, nil
}

// splitEdge puts point w on edge i of triangle ti, which has a neighbour.
func (d *cdt) splitEdge(ti int32, i int, w int32) {
	t := d.t[ti]
	tj := t.n[i]
	u := d.t[tj]
	j := 0
	for u.n[j] != ti {
		j++
	}
	a, b, c := t.v[i], t.v[(i+1)%3], t.v[(i+2)%3]
	e := u.v[(j+2)%3]
	n1, n2 := int32(len(d.t)), int32(len(d.t)+1)
	d.t[ti] = ctri{v: [3]int32{a, w, c}, n: [3]int32{n2, n1, t.n[(i+2)%3]}}
	d.t[tj] = ctri{v: [3]int32{b, w, e}, n: [3]int32{n1, n2, u.n[(j+2)%3]}}
	d.t = append(d.t,
		ctri{v: [3]int32{w, b, c}, n: [3]int32{tj, t.n[(i+1)%3], ti}},
		ctri{v: [3]int32{w, a, e}, n: [3]int32{ti, u.n[(j+1)%3], tj}})
	d.relink(t.n[(i+1)%3], ti, n1)
	d.relink(u.n[(j+1)%3], tj, n2)
	d.at[a], d.at[b], d.at[c], d.at[e], d.at[w] = ti, tj, ti, tj, ti
	d.last = ti
	d.legalise([]int32{ti, tj, n1, n2})
}

// locate walks to the triangle that holds q. hull tells that q lies on or,
// by rounding, beyond the outer border next to that triangle.
func (d *cdt) locate(q [2]float64) (ti int32, hull bool, err error) {
	ti = d.last
	from := int32(-1)
	for range 4*len(d.t) + 16 {
		t := &d.t[ti]
		next, out := int32(-1), false
		for i := range 3 {
			if from >= 0 && t.n[i] == from {
				continue
			}
			if turn2(d.p[t.v[i]], d.p[t.v[(i+1)%3]], q) < 0 {
				if t.n[i] >= 0 {
					next = t.n[i]
					break
				}
				out = true
			}
		}
		if next < 0 {
			return ti, out, nil
		}
		from, ti = ti, next
	}
	return d.search(q)
}

// search looks at every triangle, where the walk went round in circles. A
// point beyond the outer border, by rounding, belongs to the triangle at the
// border that it is least outside of.
func (d *cdt) search(q [2]float64) (int32, bool, error) {
	best, at := math.Inf(-1), int32(-1)
	for ti := range d.t {
		t := &d.t[ti]
		in, border, least := true, false, math.Inf(1)
		for i := range 3 {
			a, b := d.p[t.v[i]], d.p[t.v[(i+1)%3]]
			if turn2(a, b, q) >= 0 {
				continue
			}
			in = false
			border = border || t.n[i] < 0
			l := math.Hypot(b[0]-a[0], b[1]-a[1])
			least = min(least, ((b[0]-a[0])*(q[1]-a[1])-(b[1]-a[1])*(q[0]-a[0]))/l)
		}
		if in {
			return int32(ti), false, nil
		}
		if border && least > best {
			best, at = least, int32(ti)
		}
	}
	if at < 0 || best < -0.5 {
		return 0, false, errLocate
	}
	return at, true, nil
}

// legalise flips edges of the given triangles and of those they change until
// they are Delaunay or constrained.
func (d *cdt) legalise(stack []int32) {
	for n := 0; len(stack) > 0 && n < 50*len(d.t)+200; n++ {
		ti := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for i := range 3 {
			tj := d.t[ti].n[i]
			if tj < 0 || d.t[ti].c[i] != 0 || !d.badEdge(ti, i) || !d.flip(ti, i) {
				continue
			}
			stack = append(stack, ti, tj)
			break
		}
	}
}

// badEdge is the in-circle test with a margin, so that it never flips back.
// Where a triangle is lower than a lattice step the test drowns in rounding:
// there the flip must raise the lower of the two.
func (d *cdt) badEdge(ti int32, i int) bool {
	t := &d.t[ti]
	u := &d.t[t.n[i]]
	j := 0
	for u.n[j] != ti {
		j++
	}
	e := d.p[u.v[(j+2)%3]]
	a, b, c := d.p[t.v[i]], d.p[t.v[(i+1)%3]], d.p[t.v[(i+2)%3]]
	if h := min(least(a, b, c), least(b, a, e)); h < 1 {
		return min(least(a, e, c), least(e, b, c)) > 1.5*h+1e-6
	}
	var m [3][3]float64
	for k := range 3 {
		p := d.p[t.v[k]]
		x, y := p[0]-e[0], p[1]-e[1]
		m[k] = [3]float64{x, y, x*x + y*y}
	}
	det := 0.0
	sum := 0.0
	for k := range 3 {
		a, b := m[(k+1)%3], m[(k+2)%3]
		det += m[k][2] * (a[0]*b[1] - a[1]*b[0])
		sum += m[k][2] * (math.Abs(a[0]*b[1]) + math.Abs(a[1]*b[0]))
	}
	return det > 1e-12*sum
}

// least returns the least height of a triangle.
func least(a, b, c [2]float64) float64 {
	x1, y1, x2, y2 := b[0]-a[0], b[1]-a[1], c[0]-a[0], c[1]-a[1]
	l := max(x1*x1+y1*y1, x2*x2+y2*y2, (x2-x1)*(x2-x1)+(y2-y1)*(y2-y1))
	if l == 0 {
		return 0
	}
	return math.Abs(x1*y2-x2*y1) / math.Sqrt(l)
}

// flip turns the edge i of ti, if both new triangles turn left. The two
// triangles keep their numbers.
func (d *cdt) flip(ti int32, i int) bool {
	tj := d.t[ti].n[i]
	t, u := d.t[ti], d.t[tj]
	j := 0
	for u.n[j] != ti {
		j++
	}
	a, b, c, e := t.v[i], t.v[(i+1)%3], t.v[(i+2)%3], u.v[(j+2)%3]
	if d.turn(a, e, c) <= 0 || d.turn(e, b, c) <= 0 {
		return false
	}
	// t = (a b c), u = (b a e) become (a e c) and (e b c).
	d.t[ti] = ctri{v: [3]int32{a, e, c}, n: [3]int32{u.n[(j+1)%3], tj, t.n[(i+2)%3]}, c: [3]int32{u.c[(j+1)%3], 0, t.c[(i+2)%3]}}
	d.t[tj] = ctri{v: [3]int32{e, b, c}, n: [3]int32{u.n[(j+2)%3], t.n[(i+1)%3], ti}, c: [3]int32{u.c[(j+2)%3], t.c[(i+1)%3], 0}}
	d.relink(u.n[(j+1)%3], tj, ti)
	d.relink(t.n[(i+1)%3], ti, tj)
	d.at[a], d.at[b], d.at[c], d.at[e] = ti, tj, ti, tj
	return true
}

// find returns the triangle and edge that run from a to b.
func (d *cdt) find(a, b int32) (int32, int, bool) {
	ti, i, ok := int32(-1), 0, false
	d.around(a, func(t int32, k int) bool {
		if d.t[t].v[(k+1)%3] == b {
			ti, i, ok = t, k, true
		}
		return !ok
	})
	return ti, i, ok
}

// around calls f with every triangle at point a and a's place in it, until f
// returns false.
func (d *cdt) around(a int32, f func(t int32, k int) bool) {
	place := func(t int32) int {
		for k := range 3 {
			if d.t[t].v[k] == a {
				return k
			}
		}
		return -1
	}
	start := d.at[a]
	t := start
	for {
		k := place(t)
		if k < 0 {
			return
		}
		if !f(t, k) {
			return
		}
		t = d.t[t].n[(k+2)%3] // counter-clockwise
		if t == start {
			return
		}
		if t < 0 {
			break
		}
	}
	t = start
	for {
		k := place(t)
		if k < 0 {
			return
		}
		t = d.t[t].n[k] // clockwise
		if t < 0 || t == start {
			return
		}
		if k = place(t); k < 0 || !f(t, k) {
			return
		}
	}
}

// constrain forces the edge from a to b and marks it with segment s: what lies
// left of a-b gets s+1, what lies right -(s+1).
func (d *cdt) constrain(a, b, s int32) error {
	for range len(d.p) + 2 {
		if a == b {
			return nil
		}
		if ti, i, ok := d.find(a, b); ok {
			d.mark(ti, i, s+1)
			return nil
		}
		if ti, i, ok := d.find(b, a); ok { // only on the outer border
			d.mark(ti, i, -(s + 1))
			return nil
		}
		mid, err := d.force(a, b)
		if err != nil {
			return err
		}
		if mid >= 0 {
			if err := d.constrain(a, mid, s); err != nil {
				return err
			}
			a = mid
		}
	}
	return errCross
}

func (d *cdt) mark(ti int32, i int, m int32) {
	d.t[ti].c[i] = m
	tj := d.t[ti].n[i]
	if tj < 0 {
		return
	}
	for j := range 3 {
		if d.t[tj].n[j] == ti {
			d.t[tj].c[j] = -m
		}
	}
}

// force flips edges until a-b is one, or returns a point that lies on it.
func (d *cdt) force(a, b int32) (int32, error) {
	var cross [][2]int32
	ti, ei := int32(-1), 0
	mid := int32(-1)
	d.around(a, func(t int32, k int) bool {
		r, l := d.t[t].v[(k+1)%3], d.t[t].v[(k+2)%3]
		tr, tl := d.turn(a, b, r), d.turn(a, b, l)
		if tr == 0 && d.ahead(a, b, r) {
			mid = r
			return false
		}
		if tl == 0 && d.ahead(a, b, l) {
			mid = l
			return false
		}
		if tr < 0 && tl > 0 {
			ti, ei = t, (k+1)%3
			return false
		}
		return true
	})
	if mid >= 0 {
		return mid, nil
	}
	if ti < 0 {
		if mid = d.beside(a, b); mid < 0 {
			return -1, errLocate
		}
		return mid, nil
	}
	for range len(d.t) + 1 {
		t := &d.t[ti]
		if t.c[ei] != 0 {
			return -1, errCross
		}
		cross = append(cross, [2]int32{t.v[ei], t.v[(ei+1)%3]})
		tj := t.n[ei]
		if tj < 0 {
			return -1, errLocate
		}
		u := &d.t[tj]
		j := 0
		for u.n[j] != ti {
			j++
		}
		e := u.v[(j+2)%3]
		if e == b {
			break
		}
		switch d.turn(a, b, e) {
		case 0:
			b = e
		case 1:
			ei = (j + 1) % 3 // edge from v[j+1] (right) to e (left)
		case -1:
			ei = (j + 2) % 3
		}
		if e == b {
			break
		}
		ti = tj
	}
	for n := 0; len(cross) > 0; n++ {
		if n > 20*len(d.t)+100 {
			return -1, errCross
		}
		e := cross[0]
		cross = cross[1:]
		ti, i, ok := d.find(e[0], e[1])
		if !ok {
			return -1, errCross
		}
		tj := d.t[ti].n[i]
		if tj < 0 || !d.flip(ti, i) {
			cross = append(cross, e)
			continue
		}
		x, y := d.t[ti].v[1], d.t[ti].v[2] // the new edge, e-c of flip
		if x != a && x != b && y != a && y != b && d.turn(a, b, x)*d.turn(a, b, y) < 0 {
			cross = append(cross, [2]int32{x, y})
		}
	}
	return -1, d.check(a, b)
}

// beside returns the neighbour of a that lies on the way to b within half a
// lattice step, nearest to the line, or -1: needed along the outer border, past
// which rounding may put a point.
func (d *cdt) beside(a, b int32) int32 {
	p, q := d.p[a], d.p[b]
	l := math.Hypot(q[0]-p[0], q[1]-p[1])
	best, at := 0.5, int32(-1)
	d.around(a, func(t int32, k int) bool {
		for _, v := range [2]int32{d.t[t].v[(k+1)%3], d.t[t].v[(k+2)%3]} {
			r := d.p[v]
			x := ((q[0]-p[0])*(r[0]-p[0]) + (q[1]-p[1])*(r[1]-p[1])) / l
			y := math.Abs((q[0]-p[0])*(r[1]-p[1])-(q[1]-p[1])*(r[0]-p[0])) / l
			if x > 0 && x < l && y < best {
				best, at = y, v
			}
		}
		return true
	})
	return at
}

func (d *cdt) check(a, b int32) error {
	if _, _, ok := d.find(a, b); ok {
		return nil
	}
	if _, _, ok := d.find(b, a); ok {
		return nil
	}
	return errCross
}

func (d *cdt) ahead(a, b, c int32) bool {
	p, q, r := d.p[a], d.p[b], d.p[c]
	return (q[0]-p[0])*(r[0]-p[0])+(q[1]-p[1])*(r[1]-p[1]) > 0
}

// finish makes the triangulation Delaunay where no constraint forbids it.
func (d *cdt) finish() {
	all := make([]int32, len(d.t))
	for i := range all {
		all[i] = int32(i)
	}
	d.legalise(all)
}
