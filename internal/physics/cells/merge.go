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

// link is a pair of cells over a side, while the sides are gathered.
type link struct {
	lo, hi int32
	d      int8
	a      float64
}

// cells makes the list; the second result is the cell of each node, -1 where it was dropped.
func (g *graph) cells() (*Cells, []int32) {
	g.merge()
	c := &Cells{H: g.h, Origin: g.origin, Dim: g.dim, at: make([]int32, g.dim[0]*g.dim[1]*g.dim[2])}
	of := make([]int32, len(g.place))
	for i := range of {
		of[i] = -1
		if !g.dead[i] {
			of[i] = int32(c.N)
			c.N++
		}
	}
	for i := range of {
		if r := g.root(int32(i)); r >= 0 {
			of[i] = of[r]
		}
	}
	ports := g.ports(of)
	c.Ports = len(ports)
	c.Wall = c.N + c.Ports
	c.lay()
	for i, k := range of {
		if g.dead[i] {
			continue
		}
		p := g.where(int32(i))
		c.I[k] = [3]int32{int32(p[0]), int32(p[1]), int32(p[2])}
		c.V[k], c.Own[k] = g.v[i], min(g.own[i], 1)
		if g.own[i] < 1 {
			c.Normal[k] = g.normal[i]
		}
		if g.skin != nil {
			c.skin[k] = g.skin[i]
		}
		if q := g.place[i]; int(c.at[q]) == c.Wall {
			c.at[q] = k
		}
	}
	g.join(c, of)
	for k, m := range ports {
		i, p := int32(c.N+k), c.I[m.node]
		if m.high {
			p[m.d]++
			c.Nb[2*m.d][i], c.Nb[2*m.d+1][m.node], c.A[m.d][i] = m.node, i, m.a
		} else {
			p[m.d]--
			c.Nb[2*m.d+1][i], c.Nb[2*m.d][m.node], c.A[m.d][m.node] = m.node, i, m.a
		}
		c.I[i] = p
	}
	c.borrow()
	c.cut()
	if g.skin == nil {
		c.skins()
	}
	return c, of
}

// lay makes the arrays, all sides shut.
func (c *Cells) lay() {
	size := c.Wall + 1
	c.I = make([][3]int32, size)
	c.V, c.Own = make([]float64, size), make([]float64, size)
	c.skin = make([]skin, size)
	c.Normal, c.Offset = make([]vec.V3, size), make([]float64, size)
	for k := range c.Nb {
		c.Nb[k] = make([]int32, size)
		for i := range c.Nb[k] {
			c.Nb[k][i] = int32(c.Wall)
		}
	}
	for d := range c.A {
		c.A[d] = make([]float64, size)
	}
	for i := range c.V {
		c.V[i], c.Own[i] = 1, 1
	}
	for q := range c.at {
		c.at[q] = int32(c.Wall)
	}
}

// ports gathers the mouths by cell and side, in the order of the mouths; node
// becomes the cell.
func (g *graph) ports(of []int32) []mouth {
	var r []mouth
	first := map[[3]int32]int{}
	for _, m := range g.mouths {
		if of[m.node] < 0 {
			continue
		}
		m.node = of[m.node]
		key := [3]int32{m.node, int32(m.d)}
		if m.high {
			key[2] = 1
		}
		if k, ok := first[key]; ok {
			r[k].a += m.a
			continue
		}
		first[key] = len(r)
		r = append(r, m)
	}
	return r
}

// join sets the sides between cells. Slivers that lay side by side and went the
// same way bring their side along. Where two parts of one place would share a side with one
// cell the wider keeps it.
func (g *graph) join(c *Cells, of []int32) {
	var late []link
	for _, e := range g.edges {
		l := link{of[e.lo], of[e.hi], e.d, e.a}
		if l.lo < 0 || l.hi < 0 || l.lo == l.hi {
			continue
		}
		p, q := c.I[l.lo], c.I[l.hi]
		p[e.d]++
		if p != q {
			continue
		}
		switch now := c.Nb[2*e.d][l.hi]; {
		case int(now) == c.Wall:
			c.Nb[2*e.d][l.hi], c.A[e.d][l.hi] = l.lo, l.a
		case now == l.lo:
			c.A[e.d][l.hi] += l.a
		default:
			late = append(late, l)
		}
	}
	for i := range late { // further parts of one place
		for k := range i {
			if late[k].lo == late[i].lo && late[k].hi == late[i].hi && late[k].d == late[i].d {
				late[i].a += late[k].a
				late[k].a = 0
			}
		}
	}
	for _, l := range late {
		if l.a > c.A[l.d][l.hi] {
			c.Nb[2*l.d][l.hi], c.A[l.d][l.hi] = l.lo, l.a
		}
	}
	for d := range 3 {
		for hi := range int32(c.N) {
			lo := c.Nb[2*d][hi]
			if int(lo) == c.Wall {
				continue
			}
			other := c.Nb[2*d+1][lo]
			if int(other) != c.Wall && c.A[d][other] >= c.A[d][hi] {
				c.Nb[2*d][hi], c.A[d][hi] = int32(c.Wall), 0
				continue
			}
			if int(other) != c.Wall {
				c.Nb[2*d][other], c.A[d][other] = int32(c.Wall), 0
			}
			c.Nb[2*d+1][lo] = hi
		}
	}
}

// widest returns the widest open side of a cell.
func (c *Cells) widest(i int32) float64 {
	a := 0.0
	for d := range 3 {
		a = max(a, c.A[d][i])
		if o := c.Nb[2*d+1][i]; int(o) != c.Wall {
			a = max(a, c.A[d][o])
		}
	}
	return a
}

// borrow lets cells whose volume is under Least of their widest side, and which had to stay
// to keep a chain, take the rest from neighbours that have more; where
// those have none, their sides are narrowed.
func (c *Cells) borrow() {
	for i := range int32(c.N) {
		need := Least*c.widest(i) - c.V[i]
		for range 6 {
			if !(need > 0) {
				break
			}
			most, from := 0.0, int32(-1)
			for k := range c.Nb {
				if o := c.Nb[k][i]; int(o) < c.N {
					if x := c.V[o] - Least*c.widest(o); x > most {
						most, from = x, o
					}
				}
			}
			if from < 0 {
				break
			}
			x := min(need, most/2)
			if most/2 < 1e-3*need {
				x = min(need, most)
			}
			c.V[from] -= x
			c.V[i] += x
			need -= x
		}
		if need > 1e-12 {
			c.narrow(i, c.V[i]/Least)
		}
	}
}

// narrow holds the sides of a cell to at most a.
func (c *Cells) narrow(i int32, a float64) {
	for d := range 3 {
		c.A[d][i] = min(c.A[d][i], a)
		if o := c.Nb[2*d+1][i]; int(o) != c.Wall {
			c.A[d][o] = min(c.A[d][o], a)
		}
	}
}
