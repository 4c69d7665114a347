package solid

// near is how close two corners of a cut may lie before they become one, in
// lattice steps: 1.5 thousandths of a millimetre.
const near = 24

// nearest finds corners close to a point: a hash of cells of edge near.
type nearest struct {
	cells *pointIndex // cell -> 1 + last entry
	list  []nearEntry
	box   ibox
}

type nearEntry struct {
	p    Point
	id   int32
	next int32
}

// newNearest makes an empty one. A point in a side of the box is only ever
// joined to a corner in the same side, so that the block stays a block.
func newNearest(box ibox) *nearest { return &nearest{cells: newPointIndex(1024), box: box} }

func cellOf(p Point) Point {
	var c Point
	for k := range 3 {
		c[k] = p[k] / near
		if p[k] < 0 {
			c[k] = -((near - 1 - p[k]) / near)
		}
	}
	return c
}

func (n *nearest) add(p Point, id int32) {
	k, fresh := n.cells.put(cellOf(p), int32(len(n.list)))
	e := nearEntry{p, id, -1}
	if !fresh {
		e.next = n.list[k].next
		n.list[k].next = int32(len(n.list))
	}
	n.list = append(n.list, e)
}

// find returns the closest corner within near, the earliest of equals, or -1.
func (n *nearest) find(p Point) int32 {
	c := cellOf(p)
	best, id, at := int64(near*near+1), int32(-1), int32(-1)
	for d := range 27 {
		q := Point{c[0] + int32(d%3) - 1, c[1] + int32(d/3%3) - 1, c[2] + int32(d/9) - 1}
		k, ok := n.cells.get(q)
		if !ok {
			continue
		}
		for ; k >= 0; k = n.list[k].next {
			e := &n.list[k]
			v := diff(e.p, p)
			l := v[0]*v[0] + v[1]*v[1] + v[2]*v[2]
			if l > best || l == best && k > at || !n.sameSides(p, e.p) {
				continue
			}
			best, id, at = l, e.id, k
		}
	}
	return id
}

// sameSides tells whether q lies in every side of the box that p lies in.
func (n *nearest) sameSides(p, q Point) bool {
	for k := range 3 {
		if (p[k] == n.box.lo[k] || p[k] == n.box.hi[k]) && q[k] != p[k] {
			return false
		}
	}
	return true
}
