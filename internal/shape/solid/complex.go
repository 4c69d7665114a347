package solid

import (
	"fmt"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// join gives corners at one lattice point one number, drops triangles that
// lost their area that way, merges pairs of triangles that fell together and
// leaves out unused corners.
func (c *Complex) join() {
	id := newPointIndex(len(c.T)/2 + 16)
	to := make([]int32, len(c.V))
	for i := range to {
		to[i] = -1
	}
	v := make([]Point, 0, len(c.V))
	kept := c.T[:0]
	for _, t := range c.T {
		for k, i := range t.V {
			if to[i] < 0 {
				n, fresh := id.put(c.V[i], int32(len(v)))
				if fresh {
					v = append(v, c.V[i])
				}
				to[i] = n
			}
			t.V[k] = to[i]
		}
		if t.V[0] != t.V[1] && t.V[1] != t.V[2] && t.V[2] != t.V[0] {
			kept = append(kept, t)
		}
	}
	c.V, c.T = v, kept
	c.mergeTwins()
}

// mergeTwins replaces triangles on the same three corners by one or none: the
// cells between them have no volume.
func (c *Complex) mergeTwins() {
	if c.twins() {
		c.mergeAll()
	}
}

// twins tells whether any two triangles may have the same three corners. Then
// both stand at the edge of the lower two corners.
func (c *Complex) twins() bool {
	e := edgesOf(len(c.V), len(c.T), func(i int) [3]int32 { return c.T[i].V })
	third := func(s uint64) int32 {
		s &= 1<<32 - 1
		return c.T[s/3].V[(s+2)%3]
	}
	return e.count(func(_ int32, sides []uint64) bool {
		if len(sides) > 64 {
			return true
		}
		for i, s := range sides {
			for _, r := range sides[:i] {
				if third(r) == third(s) {
					return true
				}
			}
		}
		return false
	}) > 0
}

// mergeAll finds the twins and merges them.
func (c *Complex) mergeAll() {
	id := newPointIndex(len(c.T))
	next := make([]int32, len(c.T)) // chain of earlier twins, plus one
	last := make([]int32, len(c.T)) // of the first twin: the latest in its chain
	twins := false
	for i, t := range c.T {
		s := t.V
		slices.Sort(s[:])
		f, fresh := id.put(s, int32(i))
		if !fresh {
			twins = true
			next[i] = last[f]
		}
		last[f] = int32(i) + 1
	}
	if !twins {
		return
	}
	drop := make([]bool, len(c.T))
	for i := range c.T {
		if last[i] == 0 || next[last[i]-1] == 0 {
			continue
		}
		var run []int32
		for q := last[i]; q != 0; q = next[q-1] {
			run = append(run, q-1)
		}
		c.mergeRun(run, drop)
	}
	kept := c.T[:0]
	for i, t := range c.T {
		if !drop[i] {
			kept = append(kept, t)
		}
	}
	c.T = kept
}

func (c *Complex) mergeRun(run []int32, drop []bool) {
	slices.Sort(run)
	keep := run[0]
	var net [256]int
	for _, i := range run {
		t := c.T[i]
		if sameTurn(t.V, c.T[keep].V) {
			net[t.Back]++
			net[t.Front]--
		} else {
			net[t.Back]--
			net[t.Front]++
		}
	}
	back, front, n := Label(0), Label(0), 0
	for l, k := range net {
		switch {
		case k == 1:
			back, n = Label(l), n+1
		case k == -1:
			front, n = Label(l), n+1
		case k != 0:
			return
		}
	}
	if n != 0 && n != 2 {
		return
	}
	for _, i := range run {
		drop[i] = true
	}
	if n == 2 {
		drop[keep] = false
		c.T[keep].Back, c.T[keep].Front = back, front
	}
}

// sameTurn tells whether two orders of the same three corners turn alike.
func sameTurn(a, b [3]int32) bool {
	for k := range 3 {
		if a[0] == b[k] {
			return a[1] == b[(k+1)%3]
		}
	}
	return false
}

// closed checks that the border of every cell is closed: along every edge the
// directed triangles of each label cancel.
func (c *Complex) closed() error {
	e := edgesOf(len(c.V), len(c.T), func(i int) [3]int32 { return c.T[i].V })
	c.touches = c.touching(e)
	// Each label gets its own weight in one sum; weights are powers of a base
	// larger than any count, so the sum is zero only if every label's is.
	w := func(l Label) int32 { return 1 << (5 * uint(l)) }
	open := e.count(func(a int32, sides []uint64) bool {
		sum := int32(0)
		for _, s := range sides {
			s &= 1<<32 - 1
			t := &c.T[s/3]
			d := w(t.Back) - w(t.Front)
			if t.V[s%3] != a {
				d = -d
			}
			sum += d
		}
		return sum != 0
	})
	if open > 0 {
		return fmt.Errorf("%w: %d open edges", errRetry, open)
	}
	return nil
}

// solid returns the border of the cells with label l, outward.
func (c *Complex) solid(l Label) *mesh.Mesh {
	to := make([]int32, len(c.V))
	n := 0
	for _, t := range c.T {
		if (t.Front == l) != (t.Back == l) {
			n++
		}
	}
	m := &mesh.Mesh{V: make([]vec.V3, 0, n/2+16), F: make([][3]int32, 0, n)}
	for _, t := range c.T {
		if (t.Front == l) == (t.Back == l) {
			continue
		}
		v := t.V
		if t.Front == l {
			v[1], v[2] = v[2], v[1]
		}
		for k, i := range v {
			if to[i] == 0 {
				m.V = append(m.V, c.V[i].vec())
				to[i] = int32(len(m.V))
			}
			v[k] = to[i] - 1
		}
		m.F = append(m.F, v)
	}
	return m
}

// touching counts the edges at which the border of a cell has more than two
// triangles: parts of it that touch along a line, which rounding makes of two
// surfaces that cross within a step of an edge of the other.
func (c *Complex) touching(e *edges) int {
	return e.count(func(_ int32, sides []uint64) bool {
		if len(sides) < 4 {
			return false
		}
		var n [256]uint8
		for _, s := range sides {
			t := &c.T[(s&(1<<32-1))/3]
			for _, l := range [2]Label{t.Front, t.Back} {
				if l != Outside {
					n[l]++
				}
				if n[l] > 2 {
					return true
				}
			}
		}
		return false
	})
}

// Volume returns the volume of the cells with label l, mm3.
func (c *Complex) Volume(l Label) float64 { return c.solid(l).Volume() }
