package cells

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// graph is the open parts of a box of cells, before slivers are given away. A cell
// that a thin wall cuts in two has a node for each part. Nodes stand in the order
// of their places, the larger of a place first.
type graph struct {
	h       float64
	origin  vec.V3
	dim     [3]int
	place   []int32
	own     []float64 // share of the volume
	v       []float64 // with what was given to the node beforehand
	normal  []vec.V3
	skin    []skin // of the wall; nil where the sides say all
	edges   []edge
	mouths  []mouth
	dropped float64

	start []int32 // of each node's edges in list
	list  []int32
	dead  []bool
	to    []int32   // the node that a dead one was given to
	mouth []float64 // the widest mouth of a node
	gate  []int8    // 1 + 2 d + high of a node's mouth; 0 none, -1 several
}

// edge is an open side: hi lies above lo along d.
type edge struct {
	lo, hi int32
	d      int8
	a      float64
}

type mouth struct {
	node int32
	d    int
	high bool
	a    float64
}

// where returns the place of node i along each axis.
func (g *graph) where(i int32) [3]int {
	q := int(g.place[i])
	return [3]int{q % g.dim[0], q / g.dim[0] % g.dim[1], q / (g.dim[0] * g.dim[1])}
}

// prepare lays the edges by node.
func (g *graph) prepare() {
	n := len(g.place)
	g.start = make([]int32, n+1)
	g.mouth, g.to, g.dead, g.gate = make([]float64, n), make([]int32, n), make([]bool, n), make([]int8, n)
	for _, e := range g.edges {
		g.start[e.lo+1]++
		g.start[e.hi+1]++
	}
	for i := range n {
		g.start[i+1] += g.start[i]
		g.to[i] = int32(i)
	}
	g.list = make([]int32, 2*len(g.edges))
	next := append([]int32{}, g.start[:n]...)
	for k, e := range g.edges {
		g.list[next[e.lo]], g.list[next[e.hi]] = int32(k), int32(k)
		if e.lo != e.hi {
			next[e.lo]++
			next[e.hi]++
		}
	}
	for _, m := range g.mouths {
		g.mouth[m.node] = max(g.mouth[m.node], m.a)
		k := int8(1 + 2*m.d)
		if m.high {
			k++
		}
		if g.gate[m.node] != 0 && g.gate[m.node] != k {
			k = -1
		}
		g.gate[m.node] = k
	}
}

// beside returns the node at the other end of edge k.
func (g *graph) beside(i, k int32) int32 {
	if e := &g.edges[k]; e.lo == i {
		return e.hi
	}
	return g.edges[k].lo
}

// second reports whether a larger part stands at the same place.
func (g *graph) second(i int32) bool { return i > 0 && g.place[i-1] == g.place[i] }

// sliver reports whether a node should be given away: its volume is small beside its
// sides, or small beside a fuller neighbour, or it shares its place with a larger part.
func (g *graph) sliver(i int32) bool {
	if g.second(i) || g.v[i] < Least && g.alone(i) {
		return true
	}
	if g.v[i] >= Least*1.01 { // sides are at most 1
		return false
	}
	widest, fuller := g.mouth[i], false
	for _, k := range g.list[g.start[i]:g.start[i+1]] {
		if o := g.beside(i, k); !g.dead[o] {
			widest = max(widest, g.edges[k].a)
			fuller = fuller || g.v[o] >= Least
		}
	}
	return g.v[i] < Least*widest || g.v[i] < Least && fuller
}

// alone reports whether a node has no open side at all.
func (g *graph) alone(i int32) bool { return g.start[i] == g.start[i+1] && g.gate[i] == 0 }

// merge gives slivers, smallest first, to the neighbour over their widest side, as
// long as all else that they join stays joined round them by sides at least half as
// wide. So thin parts, which consist of slivers, keep their chain.
func (g *graph) merge() {
	g.prepare()
	var order []int32
	for i := range int32(len(g.place)) {
		if g.sliver(i) {
			order = append(order, i)
		}
	}
	// Rounded, so that cells that are alike go the same way.
	size := make([]float32, len(g.v))
	for _, i := range order {
		size[i] = float32(math.Round(g.v[i]*1e5) / 1e5)
	}
	slices.SortFunc(order, func(a, b int32) int {
		switch {
		case size[a] < size[b]:
			return -1
		case size[a] > size[b]:
			return 1
		}
		return int(a - b)
	})
	for _, i := range order {
		if !g.sliver(i) {
			continue
		}
		if g.alone(i) {
			g.dead[i], g.to[i] = true, -1
			g.dropped += g.v[i]
			continue
		}
		if to := g.host(i); to >= 0 && g.spare(i, to) {
			g.dead[i], g.to[i] = true, to
			g.v[to] += g.v[i]
			if g.skin != nil {
				for k, x := range g.skin[i] {
					g.skin[to][k] += x
				}
			}
		}
	}
}

// host returns the node that i would be given to, or -1.
func (g *graph) host(i int32) int32 {
	best, to, full := 0.0, int32(-1), false
	for _, k := range g.list[g.start[i]:g.start[i+1]] {
		o := g.beside(i, k)
		if g.dead[o] || g.gate[i] != 0 && g.gate[o] != g.gate[i] {
			continue
		}
		f := g.v[o] >= Least
		if f && !full || f == full && g.edges[k].a > best*(1+1e-5) {
			best, to, full = g.edges[k].a, o, f
		}
	}
	if g.gate[i] < 0 {
		return -1
	}
	return to
}

// spare reports whether the other neighbours of i reach its host without it, among
// the 26 places round i.
func (g *graph) spare(i, host int32) bool {
	for _, k := range g.list[g.start[i]:g.start[i+1]] {
		o := g.beside(i, k)
		if o != host && !g.dead[o] && !g.reaches(o, host, i, g.edges[k].a/2) {
			return false
		}
	}
	return true
}

func (g *graph) reaches(from, to, without int32, width float64) bool {
	var queue [64]int32
	queue[0] = from
	n := 1
	mid := g.where(without)
	for at := 0; at < n; at++ {
		i := queue[at]
		for _, k := range g.list[g.start[i]:g.start[i+1]] {
			o := g.beside(i, k)
			if g.edges[k].a < width || o == without || g.dead[o] || slices.Contains(queue[:n], o) {
				continue
			}
			if o == to {
				return true
			}
			p := g.where(o)
			near := true
			for d := range 3 {
				near = near && p[d] >= mid[d]-1 && p[d] <= mid[d]+1
			}
			if near && n < len(queue) {
				queue[n] = o
				n++
			}
		}
	}
	return false
}

// root returns the living node that holds what was i, or -1.
func (g *graph) root(i int32) int32 {
	for i >= 0 && g.dead[i] {
		i = g.to[i]
	}
	return i
}
