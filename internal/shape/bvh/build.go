package bvh

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Build settings. Bins: 12 is within 2 % of 32 in visited nodes and builds
// faster. Leaves of at most maxLeaf triangles; a node costs as much as one
// triangle test.
const (
	bins    = 12
	maxLeaf = 4
	pad     = 2e-6 // widening of every box in tree units (half the longest edge)
	chunk   = 8192 // triangles per parallel piece
)

// ref is the box of one triangle in tree units, while the tree is built.
type ref struct {
	lo, hi [3]float32
	id     int32
}

type bound struct{ lo, hi [3]float32 }

func noBound() bound {
	i := float32(math.Inf(1))
	return bound{[3]float32{i, i, i}, [3]float32{-i, -i, -i}}
}

func (b *bound) add(lo, hi *[3]float32) {
	for k := range 3 {
		if lo[k] < b.lo[k] {
			b.lo[k] = lo[k]
		}
		if hi[k] > b.hi[k] {
			b.hi[k] = hi[k]
		}
	}
}

// half returns half of the surface area, 0 for an empty bound.
func (b *bound) half() float32 {
	x, y, z := b.hi[0]-b.lo[0], b.hi[1]-b.lo[1], b.hi[2]-b.lo[2]
	if x < 0 {
		return 0
	}
	return x*y + y*z + z*x
}

// Build makes the tree of m. The same mesh gives the same tree on any number
// of cores. An empty mesh gives a tree that answers every query with nothing.
func Build(m *mesh.Mesh) *Tree {
	t := &Tree{box: vec.Empty()}
	refs := make([]ref, 0, len(m.F))
	for i := range m.F {
		if finite(m, i) {
			refs = append(refs, ref{id: int32(i)})
			a, b, c := m.Tri(i)
			t.box = t.box.Add(a).Add(b).Add(c)
		}
	}
	if len(refs) == 0 {
		t.root = leafCode(0, 0)
		return t
	}
	t.mid, t.inv = t.box.Centre(), scaleOf(t.box)
	par.For(len(refs), chunk, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			r := &refs[k]
			a, b, c := m.Tri(int(r.id))
			a, b, c = t.local(a), t.local(b), t.local(c)
			l, h := a.Min(b).Min(c), a.Max(b).Max(c)
			r.lo = [3]float32{float32(l.X - pad), float32(l.Y - pad), float32(l.Z - pad)}
			r.hi = [3]float32{float32(h.X + pad), float32(h.Y + pad), float32(h.Z + pad)}
		}
	})
	t.grow(refs)
	t.tri = make([]tri, len(refs))
	t.id = make([]int32, len(refs))
	par.For(len(refs), chunk, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			i := refs[k].id
			a, b, c := m.Tri(int(i))
			t.tri[k], t.id[k] = tri{a, b, c}, i
		}
	})
	return t
}

// task is a subtree that is built on its own and joined later.
type task struct {
	lo, hi, depth int
	node          []node
	root          int32
	parent        int32 // node of the top whose child it is, -1 for the root
	side          int
}

// grow splits refs from the top until the pieces are small, builds the pieces
// in parallel and appends their nodes in order.
func (t *Tree) grow(refs []ref) {
	small := max(4096, len(refs)/32)
	var tasks []task
	var top func(lo, hi, depth int, parent int32, side int)
	top = func(lo, hi, depth int, parent int32, side int) {
		if hi-lo <= small || depth >= maxSplitDepth {
			tasks = append(tasks, task{lo: lo, hi: hi, depth: depth, parent: parent, side: side})
			return
		}
		mid, b0, b1 := split(refs, lo, hi, depth)
		me := int32(len(t.node))
		t.node = append(t.node, node{lo0: b0.lo, hi0: b0.hi, lo1: b1.lo, hi1: b1.hi})
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
	mid, b0, b1 := split(refs, lo, hi, depth)
	me := int32(len(s.node))
	s.node = append(s.node, node{lo0: b0.lo, hi0: b0.hi, lo1: b1.lo, hi1: b1.hi})
	c0 := s.build(refs, lo, mid, depth+1)
	c1 := s.build(refs, mid, hi, depth+1)
	s.node[me].c0, s.node[me].c1 = c0, c1
	return me
}

// bin gathers the triangles whose centres fall into one slice of an axis.
type bin struct {
	bound
	n int32
}

type binned [3][bins]bin

// split parts refs[lo:hi] in place at the cheapest of the bins' borders:
// minimise area(left) n(left) + area(right) n(right) over all three axes. It
// returns the border and the boxes of both parts, neither of them empty.
func split(refs []ref, lo, hi, depth int) (mid int, b0, b1 bound) {
	part := refs[lo:hi]
	cb := centres(part)
	var scale, from [3]float32
	for k := range 3 {
		if w := cb.hi[k] - cb.lo[k]; w > 0 {
			from[k], scale[k] = cb.lo[k], bins*0.9999/w
		}
	}
	axis, at := -1, 0
	if depth < maxSplitDepth {
		axis, at, b0, b1 = cheapest(fill(part, &from, &scale), &scale)
	}
	if axis < 0 { // all centres equal, or too deep: halve by number
		mid = lo + len(part)/2
		b0, b1 = noBound(), noBound()
		for i := range part {
			b := &b0
			if lo+i >= mid {
				b = &b1
			}
			b.add(&part[i].lo, &part[i].hi)
		}
		return mid, b0, b1
	}
	f, s := from[axis], scale[axis]
	i, j := 0, len(part)-1
	for {
		for i <= j && int(((part[i].lo[axis]+part[i].hi[axis])-f)*s) <= at {
			i++
		}
		for i <= j && int(((part[j].lo[axis]+part[j].hi[axis])-f)*s) > at {
			j--
		}
		if i >= j {
			break
		}
		part[i], part[j] = part[j], part[i]
	}
	return lo + i, b0, b1
}

// centres returns the bound of the doubled box centres.
func centres(part []ref) bound {
	b := noBound()
	for i := range part {
		r := &part[i]
		c := [3]float32{r.lo[0] + r.hi[0], r.lo[1] + r.hi[1], r.lo[2] + r.hi[2]}
		b.add(&c, &c)
	}
	return b
}

func fill(part []ref, from, scale *[3]float32) *binned {
	if len(part) <= 4*chunk {
		g := new(binned)
		g.clear()
		g.fill(part, from, scale)
		return g
	}
	n := (len(part) + chunk - 1) / chunk
	all := make([]binned, n)
	par.For(len(part), chunk, func(lo, hi int) {
		g := &all[lo/chunk]
		g.clear()
		g.fill(part[lo:hi], from, scale)
	})
	g := &all[0]
	for k := 1; k < n; k++ {
		for a := range 3 {
			for i := range bins {
				o := &all[k][a][i]
				g[a][i].add(&o.lo, &o.hi)
				g[a][i].n += o.n
			}
		}
	}
	return g
}

func (g *binned) clear() {
	for a := range 3 {
		for i := range bins {
			g[a][i] = bin{bound: noBound()}
		}
	}
}

func (g *binned) fill(part []ref, from, scale *[3]float32) {
	for i := range part {
		r := &part[i]
		for a := range 3 {
			if scale[a] == 0 {
				continue
			}
			k := int(((r.lo[a] + r.hi[a]) - from[a]) * scale[a])
			if uint(k) >= bins {
				k = bins - 1
			}
			b := &g[a][k]
			b.add(&r.lo, &r.hi)
			b.n++
		}
	}
}

// cheapest returns the axis and the last bin of the left part; axis -1 where
// no border parts the triangles.
func cheapest(g *binned, scale *[3]float32) (axis, at int, b0, b1 bound) {
	axis = -1
	best := float32(math.Inf(1))
	for a := range 3 {
		if scale[a] == 0 {
			continue
		}
		var cost [bins]float32
		var right [bins]bound
		r, n := noBound(), int32(0)
		for i := bins - 1; i > 0; i-- {
			r.add(&g[a][i].lo, &g[a][i].hi)
			n += g[a][i].n
			right[i] = r
			cost[i] = r.half() * float32(n)
			if n == 0 {
				cost[i] = -1
			}
		}
		l, n := noBound(), int32(0)
		for i := range bins - 1 {
			l.add(&g[a][i].lo, &g[a][i].hi)
			n += g[a][i].n
			if n == 0 || cost[i+1] < 0 {
				continue
			}
			if c := l.half()*float32(n) + cost[i+1]; c < best {
				best, axis, at, b0, b1 = c, a, i, l, right[i+1]
			}
		}
	}
	return axis, at, b0, b1
}
