package cells

import (
	"pourwright/internal/ground/vec"
)

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
