package solid

import (
	"slices"

	"pourwright/internal/ground/par"
)

// ibox is an axis-aligned box on the lattice.
type ibox struct{ lo, hi Point }

func boxOf(a, b, c Point) ibox {
	var r ibox
	for k := range 3 {
		r.lo[k] = min(a[k], b[k], c[k])
		r.hi[k] = max(a[k], b[k], c[k])
	}
	return r
}

func (a ibox) join(b ibox) ibox {
	for k := range 3 {
		a.lo[k] = min(a.lo[k], b.lo[k])
		a.hi[k] = max(a.hi[k], b.hi[k])
	}
	return a
}

func (a *ibox) meets(b *ibox) bool {
	return a.lo[0] <= b.hi[0] && b.lo[0] <= a.hi[0] && a.lo[1] <= b.hi[1] && b.lo[1] <= a.hi[1] &&
		a.lo[2] <= b.hi[2] && b.lo[2] <= a.hi[2]
}

// tree is a box tree over triangles sorted along a Morton curve: a complete
// binary tree over leaves of leafSize triangles, node i over 2i+1 and 2i+2.
type tree struct {
	order  []int32
	boxes  []ibox // of the triangles, in order
	node   []ibox
	leaves int
}

const leafSize = 4

func buildTree(boxes []ibox) *tree {
	n := len(boxes)
	t := &tree{order: make([]int32, n), boxes: make([]ibox, n)}
	if n == 0 {
		return t
	}
	all := boxes[0]
	for _, b := range boxes {
		all = all.join(b)
	}
	type keyed struct {
		key uint64
		i   int32
	}
	ks := make([]keyed, n)
	var shiftBits uint
	for k := range 3 {
		for (int64(all.hi[k])-int64(all.lo[k]))>>shiftBits >= 1<<20 {
			shiftBits++
		}
	}
	for i, b := range boxes {
		var c [3]uint64
		for k := range 3 {
			c[k] = uint64((int64(b.lo[k])+int64(b.hi[k]))/2-int64(all.lo[k])) >> shiftBits
		}
		ks[i] = keyed{spread(c[0]) | spread(c[1])<<1 | spread(c[2])<<2, int32(i)}
	}
	slices.SortFunc(ks, func(a, b keyed) int {
		if a.key != b.key {
			if a.key < b.key {
				return -1
			}
			return 1
		}
		return int(a.i - b.i)
	})
	for q, k := range ks {
		t.order[q] = k.i
		t.boxes[q] = boxes[k.i]
	}
	need := (n + leafSize - 1) / leafSize
	t.leaves = 1
	for t.leaves < need {
		t.leaves *= 2
	}
	t.node = make([]ibox, 2*t.leaves-1)
	empty := ibox{Point{1 << 30, 1 << 30, 1 << 30}, Point{-1 << 30, -1 << 30, -1 << 30}}
	for l := range t.leaves {
		b := empty
		for q := l * leafSize; q < min(n, (l+1)*leafSize); q++ {
			b = b.join(t.boxes[q])
		}
		t.node[t.leaves-1+l] = b
	}
	for i := t.leaves - 2; i >= 0; i-- {
		t.node[i] = t.node[2*i+1].join(t.node[2*i+2])
	}
	return t
}

func spread(x uint64) uint64 {
	x &= 0x1fffff
	x = (x | x<<32) & 0x1f00000000ffff
	x = (x | x<<16) & 0x1f0000ff0000ff
	x = (x | x<<8) & 0x100f00f00f00f00f
	x = (x | x<<4) & 0x10c30c30c30c30c3
	x = (x | x<<2) & 0x1249249249249249
	return x
}

// query calls f with every triangle whose box meets b.
func (t *tree) query(b *ibox, f func(i int32)) {
	if len(t.node) == 0 || !t.node[0].meets(b) {
		return
	}
	var stack [64]int32
	n := 1
	stack[0] = 0
	for n > 0 {
		n--
		i := int(stack[n])
		if i >= t.leaves-1 {
			q0 := (i - t.leaves + 1) * leafSize
			for q := q0; q < min(len(t.order), q0+leafSize); q++ {
				if t.boxes[q].meets(b) {
					f(t.order[q])
				}
			}
			continue
		}
		if t.node[2*i+2].meets(b) {
			stack[n] = int32(2*i + 2)
			n++
		}
		if t.node[2*i+1].meets(b) {
			stack[n] = int32(2*i + 1)
			n++
		}
	}
}

// pairs calls f for every pair of boxes of as and bs that meet, in chunks on
// all cores; out[c] collects what chunk c found, so the order is fixed.
func pairs(as, bs []ibox) [][2]int32 {
	swap := len(as) < len(bs)
	small, large := bs, as
	if swap {
		small, large = as, bs
	}
	t := buildTree(small)
	const chunk = 2048
	out := make([][][2]int32, (len(large)+chunk-1)/chunk)
	par.For(len(large), chunk, func(lo, hi int) {
		var l [][2]int32
		for i := lo; i < hi; i++ {
			t.query(&large[i], func(j int32) {
				if swap {
					l = append(l, [2]int32{j, int32(i)})
				} else {
					l = append(l, [2]int32{int32(i), j})
				}
			})
		}
		out[lo/chunk] = l
	})
	var all [][2]int32
	for _, l := range out {
		all = append(all, l...)
	}
	return all
}
