package solid

import (
	"slices"

	"pourwright/internal/ground/sets"
)

// Crumbs gives every part of cells labelled one of halves, but the largest part
// of each, to the cell it touches most: another of the halves where it touches
// one, else whatever shuts it in. It returns the volumes of the parts that
// changed hands, mm3, by label. Such crumbs of rubber come about where the
// parting surface grazes the metal; loose in the mould they would be lost.
func (c *Complex) Crumbs(halves ...Label) map[Label]float64 {
	moved := map[Label]float64{}
	for _, l := range halves {
		for range 4 {
			v, n := c.sweep(l, halves)
			if n == 0 {
				break
			}
			moved[l] += v
		}
	}
	return moved
}

// sweep relabels the small parts of label l once.
func (c *Complex) sweep(l Label, halves []Label) (volume float64, n int) {
	var mine []int32
	for i, t := range c.T {
		if (t.Front == l) != (t.Back == l) {
			mine = append(mine, int32(i))
		}
	}
	part := c.parts(mine)
	vol := make([]float64, len(mine))
	for k, i := range mine {
		t := c.T[i]
		a, b, d := c.V[t.V[0]].vec(), c.V[t.V[1]].vec(), c.V[t.V[2]].vec()
		x := a.Dot(b.Cross(d)) / 6
		if t.Front == l {
			x = -x
		}
		vol[part[k]] += x
	}
	most := 0
	for k := range vol {
		if vol[k] > vol[most] {
			most = k
		}
	}
	// What each small part touches, by area.
	type touch [256]float64
	small := map[int32]*touch{}
	for k, i := range mine {
		p := part[k]
		if int(p) == most || vol[p] <= 0 { // an inward shell is the border of a hole in a part
			continue
		}
		if small[p] == nil {
			small[p] = &touch{}
		}
		t := c.T[i]
		o := t.Front
		if o == l {
			o = t.Back
		}
		a, b, d := c.V[t.V[0]].vec(), c.V[t.V[1]].vec(), c.V[t.V[2]].vec()
		small[p][o] += b.Sub(a).Cross(d.Sub(a)).Len()
	}
	if len(small) == 0 {
		return 0, 0
	}
	to := map[int32]Label{}
	for p, w := range small {
		best := l
		for o := range w {
			if w[o] > 0 && slices.Contains(halves, Label(o)) && (best == l || w[o] > w[best]) {
				best = Label(o)
			}
		}
		if best == l {
			for o := range w {
				if Label(o) != l && w[o] > 0 && (best == l || w[o] > w[best]) {
					best = Label(o)
				}
			}
		}
		to[p] = best
	}
	for k, i := range mine {
		o, ok := to[part[k]]
		if !ok {
			continue
		}
		if c.T[i].Front == l {
			c.T[i].Front = o
		} else {
			c.T[i].Back = o
		}
	}
	for k := range vol {
		if _, ok := to[int32(k)]; ok {
			volume += vol[k]
			n++
		}
	}
	c.T = slices.DeleteFunc(c.T, func(t Tri) bool { return t.Front == t.Back })
	return volume, n
}

// parts joins the given triangles over their edges; the result is a part
// number (a place in mine) for each.
func (c *Complex) parts(mine []int32) []int32 {
	g := sets.New(len(mine))
	e := edgesOf(len(c.V), len(mine), func(i int) [3]int32 { return c.T[mine[i]].V })
	e.each(0, len(c.V), func(_ int32, sides []uint64) {
		for _, s := range sides[1:] {
			g.Join(int32(sides[0]&(1<<32-1)/3), int32(s&(1<<32-1)/3))
		}
	})
	return g.Roots()
}
