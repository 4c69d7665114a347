package bvh

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Build settings. A node costs as much as one triangle test.
const (
	maxBins = 16
	maxLeaf = 3
	allAxes = 2048 // larger parts are split along their widest axis only
	chunk   = 8192 // triangles per parallel piece

	// While it is built the tree counts in whole steps of 1/fine tree units:
	// minima and maxima of whole numbers need no branches.
	fine = 1 << 28
	pad  = 2e-6 // widening of every box, in tree units (half the longest edge)
)

// ref is the box of one triangle in steps, while the tree is built.
type ref struct {
	lo, hi [3]int32
	id     int32
}

type bound struct{ lo, hi [3]int32 }

func noBound() bound {
	const i = math.MaxInt32
	return bound{[3]int32{i, i, i}, [3]int32{-i, -i, -i}}
}

func (b *bound) add(lo, hi *[3]int32) {
	b.lo[0], b.hi[0] = min(b.lo[0], lo[0]), max(b.hi[0], hi[0])
	b.lo[1], b.hi[1] = min(b.lo[1], lo[1]), max(b.hi[1], hi[1])
	b.lo[2], b.hi[2] = min(b.lo[2], lo[2]), max(b.hi[2], hi[2])
}

// half returns half of the surface area in steps squared; the bound must not
// be empty.
func (b *bound) half() float64 {
	x, y, z := float64(b.hi[0]-b.lo[0]), float64(b.hi[1]-b.lo[1]), float64(b.hi[2]-b.lo[2])
	return x*y + y*z + z*x
}

// real returns the bound in tree units, padded.
func (b *bound) real() (lo, hi [3]float32) {
	for k := range 3 {
		lo[k] = float32(float64(b.lo[k])/fine - pad)
		hi[k] = float32(float64(b.hi[k])/fine + pad)
	}
	return lo, hi
}

// Build makes the tree of m. The same mesh gives the same tree on any number
// of cores. An empty mesh gives a tree that answers every query with nothing.
func Build(m *mesh.Mesh) *Tree {
	t := &Tree{box: vec.Empty()}
	n := len(m.F)
	boxes := make([]vec.Box, (n+chunk-1)/chunk)
	bad := make([]bool, len(boxes))
	par.For(n, chunk, func(lo, hi int) {
		b := vec.Empty()
		for i := lo; i < hi; i++ {
			p, q, r := m.Tri(i)
			if !p.Finite() || !q.Finite() || !r.Finite() {
				bad[lo/chunk] = true
				continue
			}
			b.Min.X, b.Max.X = min(b.Min.X, p.X, q.X, r.X), max(b.Max.X, p.X, q.X, r.X)
			b.Min.Y, b.Max.Y = min(b.Min.Y, p.Y, q.Y, r.Y), max(b.Max.Y, p.Y, q.Y, r.Y)
			b.Min.Z, b.Max.Z = min(b.Min.Z, p.Z, q.Z, r.Z), max(b.Max.Z, p.Z, q.Z, r.Z)
		}
		boxes[lo/chunk] = b
	})
	anyBad := false
	for k, b := range boxes {
		t.box = t.box.Join(b)
		anyBad = anyBad || bad[k]
	}
	refs := make([]ref, n)
	if anyBad {
		refs = refs[:0]
		for i := range n {
			if finite(m, i) {
				refs = append(refs, ref{id: int32(i)})
			}
		}
	} else {
		for i := range refs {
			refs[i].id = int32(i)
		}
	}
	if len(refs) == 0 {
		t.root = leafCode(0, 0)
		return t
	}
	t.mid, t.inv = t.box.Centre(), scaleOf(t.box)
	wide := t.box.Grow(4 * pad / t.inv)
	t.lo, t.hi = wide.Min.Array(), wide.Max.Array()
	par.For(len(refs), chunk, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			r := &refs[k]
			a, b, c := m.Tri(int(r.id))
			t.steps(a, &r.lo)
			r.hi = r.lo
			var q [3]int32
			t.steps(b, &q)
			t.steps(c, &r.hi)
			for x := range 3 {
				u, v, w := r.lo[x], q[x], r.hi[x]
				r.lo[x], r.hi[x] = min(u, v, w), max(u, v, w)
			}
		}
	})
	t.grow(refs)
	t.tri = make([]tri, len(refs))
	t.id = make([]int32, len(refs))
	par.For(len(refs), chunk, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			i := refs[k].id
			a, b, c := m.Tri(int(i))
			t.tri[k], t.id[k] = tri{a.Array(), b.Array(), c.Array()}, i
		}
	})
	return t
}

// steps takes a point into whole steps; rounding is covered by the padding.
func (t *Tree) steps(p vec.V3, q *[3]int32) {
	s := t.inv * fine
	q[0], q[1], q[2] = int32((p.X-t.mid.X)*s), int32((p.Y-t.mid.Y)*s), int32((p.Z-t.mid.Z)*s)
}

// task is a subtree that is built on its own and joined later.
type task struct {
	lo, hi, depth int
	node          []node
	root          int32
	parent        int32 // node of the top whose child it is, -1 for the root
	side          int
	g             binned
}

// grow splits refs from the top until the pieces are small, builds the pieces
// in parallel and appends their nodes in order.
func (t *Tree) grow(refs []ref) {
	small := max(4096, len(refs)/32)
	var tasks []task
	var g binned
	var top func(lo, hi, depth int, parent int32, side int)
	top = func(lo, hi, depth int, parent int32, side int) {
		if hi-lo <= small || depth >= maxSplitDepth {
			tasks = append(tasks, task{lo: lo, hi: hi, depth: depth, parent: parent, side: side})
			return
		}
		mid, b0, b1 := split(&g, refs, lo, hi, depth)
		me := int32(len(t.node))
		t.node = append(t.node, nodeOf(&b0, &b1))
		t.hang(parent, side, me)
		top(lo, mid, depth+1, me, 0)
		top(mid, hi, depth+1, me, 1)
	}
	top(0, len(refs), 0, -1, 0)
	par.For(len(tasks), 1, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			s := &tasks[k]
			s.node = make([]node, 0, (s.hi-s.lo)/2)
			s.root = s.build(refs, s.lo, s.hi, s.depth)
		}
	})
	total := len(t.node)
	for k := range tasks {
		total += len(tasks[k].node)
	}
	t.node = append(make([]node, 0, total), t.node...)
	for k := range tasks {
		s := &tasks[k]
		base := int32(len(t.node))
		if s.root >= 0 {
			s.root += base
		}
		t.hang(s.parent, s.side, s.root)
		for _, n := range s.node {
			if n.c0 >= 0 {
				n.c0 += base
			}
			if n.c1 >= 0 {
				n.c1 += base
			}
			t.node = append(t.node, n)
		}
	}
}

func nodeOf(b0, b1 *bound) node {
	var n node
	*n.lo0(), *n.hi0() = b0.real()
	*n.lo1(), *n.hi1() = b1.real()
	return n
}

// hang stores code as child side of parent.
func (t *Tree) hang(parent int32, side int, code int32) {
	switch {
	case parent < 0:
		t.root = code
	case side == 0:
		t.node[parent].c0 = code
	default:
		t.node[parent].c1 = code
	}
}

// build returns the child code of refs[lo:hi], with its nodes appended to s.
func (s *task) build(refs []ref, lo, hi, depth int) int32 {
	if hi-lo <= maxLeaf {
		return leafCode(lo, hi-lo)
	}
	mid, b0, b1 := split(&s.g, refs, lo, hi, depth)
	me := int32(len(s.node))
	s.node = append(s.node, nodeOf(&b0, &b1))
	c0 := s.build(refs, lo, mid, depth+1)
	c1 := s.build(refs, mid, hi, depth+1)
	s.node[me].c0, s.node[me].c1 = c0, c1
	return me
}
