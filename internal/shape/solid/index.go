package solid

// pointIndex maps lattice points to corner numbers: open addressing, linear
// probing, never more than half full.
type pointIndex struct {
	list []pointEntry
	mask uint64
	n    int
}

type pointEntry struct {
	key Point
	val int32 // plus one; 0: free
}

func newPointIndex(n int) *pointIndex {
	size := 16
	for size < 2*n+16 {
		size *= 2
	}
	return &pointIndex{list: make([]pointEntry, size), mask: uint64(size - 1)}
}

func hashPoint(p Point) uint64 {
	h := uint64(uint32(p[0]))*0x9e3779b97f4a7c15 ^ uint64(uint32(p[1]))*0xc2b2ae3d27d4eb4f ^ uint64(uint32(p[2]))*0x165667b19e3779f9
	h ^= h >> 29
	h *= 0xbf58476d1ce4e5b9
	return h ^ h>>32
}

// put stores val at p unless a value stands there, and returns the value that
// stands there now and whether it is the new one.
func (x *pointIndex) put(p Point, val int32) (int32, bool) {
	if 2*x.n > len(x.list) {
		x.grow()
	}
	i := hashPoint(p) & x.mask
	for x.list[i].val > 0 {
		if x.list[i].key == p {
			return x.list[i].val - 1, false
		}
		i = (i + 1) & x.mask
	}
	x.list[i] = pointEntry{p, val + 1}
	x.n++
	return val, true
}

// get returns the value at p.
func (x *pointIndex) get(p Point) (int32, bool) {
	i := hashPoint(p) & x.mask
	for x.list[i].val > 0 {
		if x.list[i].key == p {
			return x.list[i].val - 1, true
		}
		i = (i + 1) & x.mask
	}
	return 0, false
}

func (x *pointIndex) grow() {
	y := newPointIndex(len(x.list))
	for _, e := range x.list {
		if e.val > 0 {
			y.put(e.key, e.val-1)
		}
	}
	*x = *y
}

// edgeIndex maps undirected edges to a number in the same way. A stored -1
// stays.
type edgeIndex struct {
	key  []uint64 // 0: free; corners are stored plus one
	val  []int32
	mask uint64
	n    int
}

func newEdgeIndex(n int) *edgeIndex {
	size := 16
	for size < 2*n+16 {
		size *= 2
	}
	return &edgeIndex{key: make([]uint64, size), val: make([]int32, size), mask: uint64(size - 1)}
}

// put stores val on edge (a, b) unless a value stands there, and returns what
// stands there now.
func (x *edgeIndex) put(a, b, val int32) int32 {
	if 2*x.n > len(x.key) {
		x.grow()
	}
	if a > b {
		a, b = b, a
	}
	k := uint64(a+1)<<32 | uint64(b+1)
	i := x.slot(k)
	if x.key[i] == 0 {
		x.key[i], x.val[i] = k, val
		x.n++
	}
	return x.val[i]
}

// get returns what stands on edge (a, b).
func (x *edgeIndex) get(a, b int32) (int32, bool) {
	if a > b {
		a, b = b, a
	}
	i := x.slot(uint64(a+1)<<32 | uint64(b+1))
	return x.val[i], x.key[i] != 0
}

func (x *edgeIndex) slot(k uint64) uint64 {
	h := k * 0x9e3779b97f4a7c15
	i := (h ^ h>>31) & x.mask
	for x.key[i] != 0 && x.key[i] != k {
		i = (i + 1) & x.mask
	}
	return i
}

func (x *edgeIndex) grow() {
	y := newEdgeIndex(len(x.key))
	for i, k := range x.key {
		if k != 0 {
			j := y.slot(k)
			y.key[j], y.val[j] = k, x.val[i]
			y.n++
		}
	}
	*x = *y
}
