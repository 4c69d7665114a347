package solid

import (
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/mesh"
)

// Crossings returns the pairs of triangles of the complex that meet anywhere
// but in the corners and edges they share, by exact signs, in rising order.
func (c *Complex) Crossings() [][2]int32 {
	t := make([][3]int32, len(c.T))
	for i, x := range c.T {
		t[i] = x.V
	}
	return selfCrossings(c.V, t, nil)
}

// SelfCrossings does the same for a mesh whose corners stand on the lattice.
func SelfCrossings(m *mesh.Mesh) [][2]int32 {
	l, _ := SomeCrossings(m, math.MaxInt)
	return l
}

// SomeCrossings is SelfCrossings with about so many pairs tested at most; whole
// says that all were. Corners are put on the lattice and must be within
// 1024 mm of the origin, or less: m may be scaled so that the lattice is as
// fine beside it as it can be.
func SomeCrossings(m *mesh.Mesh, tests int) (pairs [][2]int32, whole bool) {
	v := make([]Point, len(m.V))
	for i, p := range m.V {
		v[i] = pointOf(p)
	}
	return someCrossings(v, m.F, nil, tests)
}

// freshCrossings tests the triangles that the latest insertion cut, and those
// that it moved, against all.
func (c *Complex) freshCrossings() [][2]int32 {
	t := make([][3]int32, len(c.T))
	var only []int32
	for i, x := range c.T {
		t[i] = x.V
		if x.fresh {
			only = append(only, int32(i))
		}
	}
	return selfCrossings(c.V, t, only)
}

// selfCrossings tests all pairs, or only those with a triangle of only.
func selfCrossings(v []Point, t [][3]int32, only []int32) [][2]int32 {
	l, _ := someCrossings(v, t, only, math.MaxInt)
	return l
}

// someCrossings does so until most pairs are tested; complete says that all were.
func someCrossings(v []Point, t [][3]int32, only []int32, most int) (all [][2]int32, complete bool) {
	boxes := make([]ibox, len(t))
	par.For(len(t), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			boxes[i] = boxOf(v[t[i][0]], v[t[i][1]], v[t[i][2]])
		}
	})
	few := boxes
	if only != nil {
		few = make([]ibox, len(only))
		for q, i := range only {
			few[q] = boxes[i]
		}
	}
	tr := buildTree(few)
	// In waves of chunks, so that where it ends does not depend on the cores.
	const (
		chunk = 1024
		waves = 16 // chunks of one
		wave  = waves * chunk
		heavy = 100 // tests that a pair found counts for, so that the list stays short as well
	)
	tests, whole := 0, true
	for from := 0; from < len(t) && tests < most; from += wave {
		n := min(wave, len(t)-from)
		out := make([][][2]int32, (n+chunk-1)/chunk)
		done := make([]int, len(out))
		par.For(n, chunk, func(lo, hi int) {
			var l [][2]int32
			k := 0
			for q := from + lo; q < from+hi && k < most/waves; q++ {
				j := int32(q)
				tr.query(&boxes[j], func(i int32) {
					if only != nil {
						i = only[i]
					} else if i < j { // each pair once
						return
					}
					if k++; i != j && trianglesMeet(v, t[i], t[j]) {
						l = append(l, [2]int32{min(i, j), max(i, j)})
						k += heavy
					}
				})
			}
			out[lo/chunk], done[lo/chunk] = l, k
		})
		for i, l := range out {
			all = append(all, l...)
			tests += done[i]
			whole = whole && done[i] < most/waves
		}
	}
	slices.SortFunc(all, func(a, b [2]int32) int { return slices.Compare(a[:], b[:]) })
	return slices.Compact(all), whole && tests < most
}

// trianglesMeet tells whether two triangles share a point that is not a corner
// or edge both have.
func trianglesMeet(v []Point, a, b [3]int32) bool {
	shared := 0
	var ka, kb [3]int
	for i := range 3 {
		for j := range 3 {
			if a[i] == b[j] {
				ka[shared%3], kb[shared%3] = i, j
				shared++
			}
		}
	}
	pa := [3]Point{v[a[0]], v[a[1]], v[a[2]]}
	pb := [3]Point{v[b[0]], v[b[1]], v[b[2]]}
	switch shared {
	case 0:
		n := normal(pa[0], pa[1], pa[2])
		if beside(n, pa[0], &pb) || beside(normal(pb[0], pb[1], pb[2]), pb[0], &pa) || flatApart(n, &pa, &pb, -1, -1) {
			return false
		}
		for i := range 3 {
			if edgeMeets(pa[i], pa[(i+1)%3], &pb) || edgeMeets(pb[i], pb[(i+1)%3], &pa) {
				return true
			}
		}
		return false
	case 1:
		i, j := ka[0], kb[0]
		n := normal(pa[0], pa[1], pa[2])
		if sign(n.dot(diff(pb[(j+1)%3], pa[i])))*sign(n.dot(diff(pb[(j+2)%3], pa[i]))) > 0 || flatApart(n, &pa, &pb, i, j) {
			return false
		}
		n = normal(pb[0], pb[1], pb[2])
		if sign(n.dot(diff(pa[(i+1)%3], pb[j])))*sign(n.dot(diff(pa[(i+2)%3], pb[j]))) > 0 {
			return false
		}
		return edgeMeets(pa[(i+1)%3], pa[(i+2)%3], &pb) || edgeMeets(pb[(j+1)%3], pb[(j+2)%3], &pa)
	case 2:
		x, y := 3-ka[0]-ka[1], 3-kb[0]-kb[1]
		n := normal(pa[0], pa[1], pa[2])
		if n.dot(diff(pb[y], pa[0])) != 0 {
			return false
		}
		u, w := pa[ka[0]], pa[ka[1]]
		// Coplanar: on the same side of the shared edge they overlap.
		f := drop(n)
		return turnI(f(u), f(w), f(pa[x]))*turnI(f(u), f(w), f(pb[y])) > 0
	}
	return true
}

// beside tells whether all corners of b lie on one side of the plane through p
// with normal n.
func beside(n ivec, p Point, b *[3]Point) bool {
	s := sign(n.dot(diff(b[0], p)))
	return s != 0 && s == sign(n.dot(diff(b[1], p))) && s == sign(n.dot(diff(b[2], p)))
}

// flatApart tells of two triangles in the plane with normal n, that of a, whether
// the line of an edge of one has the other beyond it: then they share no more
// than the corner i of a and j of b (-1 where they have none in common). It is
// false where they do not lie in one plane.
func flatApart(n ivec, a, b *[3]Point, i, j int) bool {
	if n.zero() || n.dot(diff(b[0], a[0])) != 0 || n.dot(diff(b[1], a[0])) != 0 || n.dot(diff(b[2], a[0])) != 0 {
		return false
	}
	f := drop(n)
	c, d := [3][2]int64{f(a[0]), f(a[1]), f(a[2])}, [3][2]int64{f(b[0]), f(b[1]), f(b[2])}
	return beyond(&c, &d, j) || beyond(&d, &c, i)
}

// beyond tells whether an edge of a has all corners of b on its outer side, but
// for corner j, which may stand on it.
func beyond(a, b *[3][2]int64, j int) bool {
	turn := turnI(a[0], a[1], a[2])
	if turn == 0 {
		return false
	}
	for e := range 3 {
		out := true
		for k := range 3 {
			s := turn * turnI(a[e], a[(e+1)%3], b[k])
			out = out && (s < 0 || s == 0 && k == j)
		}
		if out {
			return true
		}
	}
	return false
}

// edgeMeets tells whether the closed edge pq meets the closed triangle t.
func edgeMeets(p, q Point, t *[3]Point) bool {
	n := normal(t[0], t[1], t[2])
	sp, sq := sign(n.dot(diff(p, t[0]))), sign(n.dot(diff(q, t[0])))
	if sp*sq > 0 {
		return false
	}
	if sp == 0 && sq == 0 {
		return flatMeets(p, q, t, n)
	}
	pos, neg := false, false
	d := diff(q, p)
	for i := range 3 {
		switch sign(d.cross(diff(t[i], p)).dot(diff(t[(i+1)%3], p))) {
		case 1:
			pos = true
		case -1:
			neg = true
		}
	}
	return !(pos && neg)
}

// drop returns the projection along the largest component of n.
func drop(n ivec) func(Point) [2]int64 {
	k := 0
	for i := 1; i < 3; i++ {
		if abs64(n[i]) > abs64(n[k]) {
			k = i
		}
	}
	x, y := (k+1)%3, (k+2)%3
	return func(p Point) [2]int64 { return [2]int64{int64(p[x]), int64(p[y])} }
}

func turnI(a, b, c [2]int64) int {
	x := (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

// flatMeets is edgeMeets for an edge in the triangle's plane.
func flatMeets(p, q Point, t *[3]Point, n ivec) bool {
	if n.zero() {
		return false
	}
	f := drop(n)
	a, b := f(p), f(q)
	c := [3][2]int64{f(t[0]), f(t[1]), f(t[2])}
	inside := func(x [2]int64) bool {
		pos, neg := false, false
		for i := range 3 {
			switch turnI(c[i], c[(i+1)%3], x) {
			case 1:
				pos = true
			case -1:
				neg = true
			}
		}
		return !(pos && neg)
	}
	if inside(a) || inside(b) {
		return true
	}
	for i := range 3 {
		u, w := c[i], c[(i+1)%3]
		if !overlap(a, b, u, w) {
			continue
		}
		if turnI(a, b, u)*turnI(a, b, w) <= 0 && turnI(u, w, a)*turnI(u, w, b) <= 0 {
			return true
		}
	}
	return false
}

// overlap tells whether the boxes of two edges meet: needed where all four
// corners lie on one line.
func overlap(a, b, u, w [2]int64) bool {
	for k := range 2 {
		if max(a[k], b[k]) < min(u[k], w[k]) || max(u[k], w[k]) < min(a[k], b[k]) {
			return false
		}
	}
	return true
}
