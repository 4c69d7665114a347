package solid

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// piece is a triangle of the arrangement: an uncut triangle or a part of a cut
// one. cut holds, for each side, the constraint of cdt (0: nothing crosses
// there).
type piece struct {
	v    [3]int32
	src  int32 // its triangle
	part bool  // of a cut triangle
	cut  [3]int32
}

// side is one of the two partners of an arrangement.
type side struct {
	v     []Point
	t     [][3]int32
	off   int32 // added to its corner ids in the common numbering
	isB   bool
	thin  []bool // triangles to be tested: so thin that rounding may turn them over, or touching
	cells []piece
}

// block makes the six sides of a box, each in cells no longer than about twice
// the box's shortest side: what is cut into a long side would leave a fan of
// slivers from end to end.
func block(b vec.Box, l Label) *Complex {
	lo, hi := pointOf(b.Min), pointOf(b.Max)
	size := diff(hi, lo)
	least := max(1, min(size[0], size[1], size[2]))
	var n [3]int
	for k := range 3 {
		n[k] = int(min(max(1, (size[k]+least)/(2*least)), 64))
	}
	c := &Complex{}
	id := newPointIndex(64)
	corner := func(i [3]int) int32 {
		var p Point
		for k := range 3 {
			p[k] = lo[k] + int32(size[k]*int64(i[k])/int64(n[k]))
		}
		q, fresh := id.put(p, int32(len(c.V)))
		if fresh {
			c.V = append(c.V, p)
		}
		return q
	}
	for k := range 3 {
		x, y := (k+1)%3, (k+2)%3
		for side := range 2 {
			for i := range n[x] {
				for j := range n[y] {
					at := func(di, dj int) int32 {
						var q [3]int
						q[k], q[x], q[y] = side*n[k], i+di, j+dj
						return corner(q)
					}
					q := [4]int32{at(0, 0), at(1, 0), at(1, 1), at(0, 1)}
					if side == 0 {
						q[1], q[3] = q[3], q[1]
					}
					c.T = append(c.T,
						Tri{V: [3]int32{q[0], q[1], q[2]}, Front: Outside, Back: l},
						Tri{V: [3]int32{q[0], q[2], q[3]}, Front: Outside, Back: l})
				}
			}
		}
	}
	return c
}

// errRetry marks a special position that the rounding could not settle: the
// body is moved by a few lattice steps and inserted again.
var errRetry = errors.New("special position")

// nudges are the moves tried in turn, in lattice steps: 2 thousandths of a
// millimetre, more than near, which is enough where faces lie in one plane, to
// 25 thousandths; downwards, so that a flat back stays sunk in its slab.
var nudges = []Point{{0, 0, 0}, {5, -7, -29}, {61, -47, -37}, {-113, 89, -71}, {211, -173, -109}, {401, 359, -197}}

func (c *Complex) insert(body *Body, relabel func(Label) Label) error {
	for _, b := range body.shells {
		if err := c.insertShell(b, relabel); err != nil {
			return err
		}
	}
	return nil
}

func (c *Complex) insertShell(b side, relabel func(Label) Label) error {
	if len(b.t) == 0 {
		return nil
	}
	var last error
	var kept *Complex
	for _, n := range nudges {
		moved := side{v: make([]Point, len(b.v)), t: b.t, isB: true, thin: b.thin}
		for i, p := range b.v {
			moved.v[i] = Point{p[0] + n[0], p[1] + n[1], p[2] + n[2]}
		}
		r, err := c.arrange(&moved, relabel)
		if err == nil && r.touches <= c.touches {
			*c = *r
			return nil
		}
		if err == nil && (kept == nil || r.touches < kept.touches) {
			kept = r
		}
		if err != nil {
			last = err
		}
	}
	if kept != nil { // the body touches itself
		*c = *kept
		return nil
	}
	return fault.New(fault.Input, "", "check the mesh for open edges and faces that run through each other; another pull may avoid the place",
		"the solids could not be cut: %v", last)
}

// shells takes a body apart where outward shells may overlap, so that each is
// inserted alone and their union counts once. A body with one shell, with
// shells that keep clear of each other, or with a shell that faces inward (a
// void belongs to the shell round it) stays whole.
func shells(b side) []side {
	up := sets.New(len(b.v))
	for _, t := range b.t {
		for k := range 2 {
			up.Join(t[k], t[k+1])
		}
	}
	up.Roots()
	if len(b.t) > 0 && !slices.ContainsFunc(b.t, func(t [3]int32) bool { return up[t[0]] != up[b.t[0][0]] }) {
		return []side{b}
	}
	number := make([]int32, len(b.v))
	var parts []side
	var boxes []ibox
	var volume []float64
	for i, t := range b.t {
		r := up[t[0]]
		if number[r] == 0 {
			parts = append(parts, side{v: b.v, isB: true})
			boxes = append(boxes, ibox{b.v[t[0]], b.v[t[0]]})
			volume = append(volume, 0)
			number[r] = int32(len(parts))
		}
		k := number[r] - 1
		p := &parts[k]
		p.t, p.thin = append(p.t, t), append(p.thin, b.thin[i])
		boxes[k] = boxes[k].join(boxOf(b.v[t[0]], b.v[t[1]], b.v[t[2]]))
		o := b.v[0]
		volume[k] += diff(b.v[t[0]], o).cross(diff(b.v[t[1]], o)).dot(diff(b.v[t[2]], o))
	}
	apart := true
	for i := range parts {
		if volume[i] <= 0 {
			return []side{b}
		}
		for j := range i {
			apart = apart && !boxes[i].meets(&boxes[j])
		}
	}
	if apart {
		return []side{b}
	}
	return parts
}

// snapBody puts a body on the lattice, joins corners that fall together and
// drops triangles without area.
func snapBody(m *mesh.Mesh) side {
	b := side{v: make([]Point, 0, len(m.V)), t: make([][3]int32, 0, len(m.F))}
	id := newPointIndex(len(m.V))
	to := make([]int32, len(m.V))
	for i, p := range m.V {
		q := pointOf(p)
		k, fresh := id.put(q, int32(len(b.v)))
		if fresh {
			b.v = append(b.v, q)
		}
		to[i] = k
	}
	for _, t := range m.F {
		q := [3]int32{to[t[0]], to[t[1]], to[t[2]]}
		if q[0] != q[1] && q[1] != q[2] && q[2] != q[0] {
			b.t = append(b.t, q)
		}
	}
	b.t = dropFlat(&b)
	b.thin = make([]bool, len(b.t))
	par.For(len(b.t), 8192, func(lo, hi int) {
		for i, q := range b.t[lo:hi] {
			b.thin[lo+i] = thin(b.v[q[0]], b.v[q[1]], b.v[q[2]])
		}
	})
	return b
}

// arrange cuts the complex and the body by each other and relabels.
func (c *Complex) arrange(b *side, relabel func(Label) Label) (*Complex, error) {
	a := &side{v: c.V, t: make([][3]int32, len(c.T))}
	for i, t := range c.T {
		a.t[i] = t.V
	}
	b.off = int32(len(a.v))
	segs, hits, touching := crossings(a.v, a.t, b.v, b.t, shift{1, 1, -1})
	a.thin, b.thin = make([]bool, len(a.t)), slices.Clone(b.thin)
	for _, p := range touching {
		a.thin[p[0]], b.thin[p[1]] = true, true
	}
	points := make([]Point, 0, len(a.v)+len(b.v)+len(hits))
	points = append(append(points, a.v...), b.v...)
	points = numberHits(points, a, b, segs, hits)
	for _, s := range []*side{a, b} {
		if err := s.cut(points, segs, hits); err != nil {
			return nil, err
		}
	}
	inA, inB, err := c.locate(points, a, b, segs)
	if err != nil {
		return nil, err
	}
	r := &Complex{V: points, T: make([]Tri, 0, len(a.cells)+len(b.cells))}
	for i, p := range a.cells {
		t := c.T[p.src]
		f, k := t.Front, t.Back
		if inB[i] {
			f, k = relabel(f), relabel(k)
		}
		if f != k {
			r.T = append(r.T, Tri{p.v, f, k, p.part || a.thin[p.src]})
		}
	}
	for i, p := range b.cells {
		f, k := inA[i], relabel(inA[i])
		if f != k {
			r.T = append(r.T, Tri{p.v, f, k, p.part || b.thin[p.src]})
		}
	}
	r.join()
	r.dropNeedles()
	var open, crossed error // tidy moves corners, closed asks for edges only
	par.Do(func() { open = r.closed() }, func() { crossed = r.tidy() })
	if open != nil {
		return nil, open
	}
	if crossed != nil {
		return nil, crossed
	}
	return r, nil
}

// numberHits gives every hit a corner of the result: an old corner or an
// earlier hit within near, else a new one. Joining what lies so close together
// leaves out the needles that rounding would turn over; the cut itself is made
// with the hits where they are.
func numberHits(points []Point, a, b *side, segs []segment, hits []hit) []Point {
	box := boxPoints(a.v)
	n := newNearest(box)
	seen := make([]bool, len(points))
	for _, s := range segs {
		for k := range 3 {
			for _, v := range [2]int32{a.t[s.a][k], b.t[s.b][k] + b.off} {
				if !seen[v] {
					seen[v] = true
					n.add(points[v], v)
				}
			}
		}
	}
	for i := range hits {
		if h := &hits[i]; h.corner() {
			h.id = h.lo
			continue
		}
		p := round(hits[i].pos)
		id := n.find(p)
		if id < 0 {
			id = int32(len(points))
			points = append(points, p)
			n.add(p, id)
		}
		hits[i].id = id
	}
	return points
}

// cut divides the triangles that segments cross; the others stay whole.
func (s *side) cut(points []Point, segs []segment, hits []hit) error {
	first := make([]int32, len(s.t)+1)
	of := func(g *segment) int32 {
		if s.isB {
			return g.b
		}
		return g.a
	}
	for i := range segs {
		first[of(&segs[i])+1]++
	}
	for i := range s.t {
		first[i+1] += first[i]
	}
	list := make([]int32, len(segs))
	fill := slices.Clone(first[:len(s.t)])
	for i := range segs {
		q := of(&segs[i])
		list[fill[q]] = int32(i)
		fill[q]++
	}
	const chunk = 512
	out := make([][]piece, (len(s.t)+chunk-1)/chunk)
	errs := make([]error, len(out))
	par.For(len(s.t), chunk, func(lo, hi int) {
		l := make([]piece, 0, chunk)
		for i := lo; i < hi; i++ {
			mine := list[first[i]:first[i+1]]
			if len(mine) == 0 {
				t := s.t[i]
				l = append(l, piece{v: [3]int32{t[0] + s.off, t[1] + s.off, t[2] + s.off}, src: int32(i)})
				continue
			}
			ps, err := s.divide(int32(i), mine, points, segs, hits)
			if err != nil {
				errs[lo/chunk] = err
				return
			}
			l = append(l, ps...)
		}
		out[lo/chunk] = l
	})
	n := 0
	for k, l := range out {
		if errs[k] != nil {
			return errs[k]
		}
		n += len(l)
	}
	s.cells = make([]piece, 0, n)
	for _, l := range out {
		s.cells = append(s.cells, l...)
	}
	return nil
}

// divide triangulates one triangle along its segments.
func (s *side) divide(ti int32, mine []int32, points []Point, segs []segment, hits []hit) ([]piece, error) {
	t := s.t[ti]
	g := [3]int32{t[0] + s.off, t[1] + s.off, t[2] + s.off}
	flat := flatten(points[g[0]], points[g[1]], points[g[2]])
	var hs []int32
	for _, q := range mine {
		hs = append(hs, segs[q].from, segs[q].to)
	}
	slices.Sort(hs)
	hs = slices.Compact(hs)
	local := make([]int32, len(hs)) // hit -> point of the triangulation
	ids := []int32{g[0], g[1], g[2]}
	var on [3][][2]float64
	var corner [3][2]float64
	for k := range 3 {
		p := points[g[k]]
		corner[k] = flat([3]float64{float64(p[0]), float64(p[1]), float64(p[2])})
	}
	type mark struct {
		t float64
		k int
	}
	for k := range 3 {
		for i, h := range hs {
			if q := &hits[h]; q.corner() && q.lo == g[k] {
				local[i] = int32(k) + 1
			}
		}
		u, v := g[k], g[(k+1)%3]
		lo, hi, back := u, v, false
		if lo > hi {
			lo, hi, back = v, u, true
		}
		var ms []mark
		long := length(points[u], points[v])
		for i, h := range hs {
			q := &hits[h]
			if q.onB != s.isB || q.lo != lo || q.hi != hi {
				continue
			}
			x := q.t
			if back {
				x = 1 - x
			}
			switch {
			case q.id == u && x*long < nearPoint:
				local[i] = int32(k) + 1
			case q.id == v && (1-x)*long < nearPoint:
				local[i] = int32((k+1)%3) + 1
			default:
				ms = append(ms, mark{x, i})
			}
		}
		slices.SortFunc(ms, func(a, b mark) int {
			if a.t != b.t {
				if a.t < b.t {
					return -1
				}
				return 1
			}
			return a.k - b.k
		})
		for n, m := range ms {
			q := &hits[hs[m.k]]
			if n > 0 && hits[hs[ms[n-1].k]].id == q.id && (m.t-ms[n-1].t)*long < nearPoint {
				local[m.k] = int32(len(ids))
				continue
			}
			ids = append(ids, q.id)
			on[k] = append(on[k], flat(q.pos))
			local[m.k] = int32(len(ids))
		}
	}
	d := newCDT(corner, on)
	for i, h := range hs {
		if local[i] != 0 {
			continue
		}
		n := len(d.p)
		w, err := d.insert(flat(hits[h].pos))
		if err != nil {
			return nil, fmt.Errorf("%w: %w", errRetry, err)
		}
		if int(w) == n {
			ids = append(ids, hits[h].id)
		}
		local[i] = w + 1
	}
	for _, q := range mine {
		i, _ := slices.BinarySearch(hs, segs[q].from)
		j, _ := slices.BinarySearch(hs, segs[q].to)
		if err := d.constrain(local[i]-1, local[j]-1, q); err != nil {
			return nil, fmt.Errorf("%w: %w", errRetry, err)
		}
	}
	d.finish()
	ps := make([]piece, 0, len(d.t))
	for _, x := range d.t {
		ps = append(ps, piece{v: [3]int32{ids[x.v[0]], ids[x.v[1]], ids[x.v[2]]}, src: ti, part: true, cut: x.c})
	}
	return ps, nil
}

func length(a, b Point) float64 {
	d := diff(a, b)
	return math.Sqrt(float64(d[0]*d[0] + d[1]*d[1] + d[2]*d[2]))
}

// flatten returns the projection of the plane of a triangle on the coordinate
// plane it faces most, turned so that the triangle stays counter-clockwise.
func flatten(a, b, c Point) func([3]float64) [2]float64 {
	n := normal(a, b, c)
	k := 0
	for i := 1; i < 3; i++ {
		if abs64(n[i]) > abs64(n[k]) {
			k = i
		}
	}
	x, y := (k+1)%3, (k+2)%3
	if n[k] < 0 {
		x, y = y, x
	}
	ox, oy := float64(a[x]), float64(a[y])
	return func(p [3]float64) [2]float64 { return [2]float64{p[x] - ox, p[y] - oy} }
}

// thin tells whether a height of the triangle is under 8 lattice steps.
func thin(a, b, c Point) bool {
	n := normal(a, b, c)
	area2 := float64(n[0])*float64(n[0]) + float64(n[1])*float64(n[1]) + float64(n[2])*float64(n[2])
	long := 0.0
	for _, e := range [3]ivec{diff(b, a), diff(c, b), diff(a, c)} {
		long = max(long, float64(e[0]*e[0]+e[1]*e[1]+e[2]*e[2]))
	}
	return area2 < 64*long
}

// dropFlat removes triangles whose corners lie on a line after rounding. The
// triangle is the sum of its neighbours' edges: its longest edge is split at
// the middle corner in the triangle across, so that nothing opens.
func dropFlat(b *side) [][3]int32 {
	t := b.t
	for range 8 {
		flat := make([]int32, 0)
		for i, q := range t {
			if normal(b.v[q[0]], b.v[q[1]], b.v[q[2]]).zero() {
				flat = append(flat, int32(i))
			}
		}
		if len(flat) == 0 {
			return t
		}
		e := newEdgeIndex(len(t) * 2)
		for i, q := range t { // directed edges: key (a, b) with a < b twice would clash, so keep the last of each way
			for k := range 3 {
				if q[k] > q[(k+1)%3] {
					e.put(q[k], q[(k+1)%3], int32(i))
				}
			}
		}
		up := newEdgeIndex(len(t) * 2)
		for i, q := range t {
			for k := range 3 {
				if q[k] < q[(k+1)%3] {
					up.put(q[k], q[(k+1)%3], int32(i))
				}
			}
		}
		gone := make([]bool, len(t))
		busy := make([]bool, len(t))
		var more [][3]int32
		for _, i := range flat {
			if busy[i] {
				continue
			}
			q := t[i]
			// The corner between the two others along the line.
			m := -1
			for k := range 3 {
				x, y := diff(b.v[q[(k+1)%3]], b.v[q[k]]), diff(b.v[q[(k+2)%3]], b.v[q[k]])
				if x.dot(y) < 0 {
					m = k
				}
			}
			if m < 0 {
				gone[i] = true
				continue
			}
			p, r := q[(m+1)%3], q[(m+2)%3] // the long edge p-r runs forward in q
			var o int32
			if p < r {
				o = e.put(r, p, -1)
			} else {
				o = up.put(r, p, -1)
			}
			if o < 0 || o == i || busy[o] || gone[o] {
				continue
			}
			for k := range 3 {
				if t[o][k] == r && t[o][(k+1)%3] == p {
					x := t[o][(k+2)%3]
					busy[o], busy[i], gone[i] = true, true, true
					more = append(more, [3]int32{q[m], p, x})
					t[o] = [3]int32{r, q[m], x}
					break
				}
			}
		}
		kept := t[:0:0]
		for i, q := range t {
			if !gone[i] && q[0] != q[1] && q[1] != q[2] && q[2] != q[0] {
				kept = append(kept, q)
			}
		}
		for _, q := range more {
			if q[0] != q[1] && q[1] != q[2] && q[2] != q[0] {
				kept = append(kept, q)
			}
		}
		t = kept
	}
	return t
}
