package solid

// A needle is a triangle without area whose middle corner stands in its
// longest side: three corners that the lattice put on one line. It is left out
// by dividing the triangles across its longest side at that corner: every
// border stays closed and nothing moves. (Leaving out triangles that are merely
// thin, one to six steps, was tried: in a fan of long triangles it makes more
// crossings than it mends.)

// dropNeedles removes needles among the triangles that the latest insertion
// cut, round by round: a row of corners on one line takes as many as it has.
func (c *Complex) dropNeedles() {
	for range 400 {
		if !c.dropSome() {
			return
		}
	}
}

// needle returns the place of the corner that stands in the longest side.
func (c *Complex) needle(t [3]int32) (int, bool) {
	if !normal(c.V[t[0]], c.V[t[1]], c.V[t[2]]).zero() {
		return 0, false
	}
	long, at := int64(-1), 0
	for k := range 3 {
		d := diff(c.V[t[(k+1)%3]], c.V[t[(k+2)%3]])
		if l := d[0]*d[0] + d[1]*d[1] + d[2]*d[2]; l > long {
			long, at = l, k
		}
	}
	a, b, e := c.V[t[(at+1)%3]], c.V[t[at]], c.V[t[(at+2)%3]]
	x, y := diff(b, a), diff(e, a)
	s := x.dot(y)
	return at, s > 0 && s < float64(long)
}

func (c *Complex) dropSome() bool {
	box := boxPoints(c.V)
	index := newEdgeIndex(64)
	var needles []int32
	var place []int
	for i, t := range c.T {
		if !t.fresh {
			continue
		}
		k, ok := c.needle(t.V)
		if !ok || !c.staysInSide(box, t.V[(k+1)%3], t.V[(k+2)%3], t.V[k]) {
			continue
		}
		a, b := t.V[(k+1)%3], t.V[(k+2)%3]
		if n := int32(len(needles)); index.put(a, b, n) == n { // one needle a side and round
			needles = append(needles, int32(i))
			place = append(place, k)
		}
	}
	if len(needles) == 0 {
		return false
	}
	// Who stands at the long sides.
	across := make([][]int32, len(needles))
	for i, t := range c.T {
		for k := range 3 {
			if n, ok := index.get(t.V[k], t.V[(k+1)%3]); ok && needles[n] != int32(i) {
				across[n] = append(across[n], int32(i))
			}
		}
	}
	busy := make([]bool, len(c.T))
	gone := make([]bool, len(c.T))
	did := false
	for n, i := range needles {
		free := !busy[i] && len(across[n]) > 0
		m := c.T[i].V[place[n]]
		for _, o := range across[n] {
			v := c.T[o].V
			free = free && !busy[o] && v[0] != m && v[1] != m && v[2] != m
		}
		if !free {
			continue
		}
		did = true
		busy[i], gone[i] = true, true
		a, b := c.T[i].V[(place[n]+1)%3], c.T[i].V[(place[n]+2)%3]
		for _, o := range across[n] {
			busy[o] = true
			c.divide(o, a, b, m)
		}
	}
	kept := c.T[:0]
	for i, t := range c.T {
		if i >= len(gone) || !gone[i] {
			kept = append(kept, t)
		}
	}
	c.T = kept
	c.mergeTwins()
	return did
}

// divide cuts triangle o at corner m on its side a-b.
func (c *Complex) divide(o, a, b, m int32) {
	t := c.T[o]
	t.fresh = true
	u := t
	for k := range 3 {
		p, q := t.V[k], t.V[(k+1)%3]
		if p == a && q == b || p == b && q == a {
			u.V[k] = m
			t.V[(k+1)%3] = m
			break
		}
	}
	c.T[o] = t
	c.T = append(c.T, u)
}

// staysInSide tells whether m lies in every side of the block that a and b
// both lie in.
func (c *Complex) staysInSide(box ibox, a, b, m int32) bool {
	p, q, r := c.V[a], c.V[b], c.V[m]
	for k := range 3 {
		if p[k] == q[k] && (p[k] == box.lo[k] || p[k] == box.hi[k]) && r[k] != p[k] {
			return false
		}
	}
	return true
}
