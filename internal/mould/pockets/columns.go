package pockets

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/voxel"
)

// byColumns evaluates an attitude on n columns along the longest side, for
// meshes that are open or overlap. Stretches of neighbouring columns that
// overlap are one from the lower of their tops down. Sections thinner than a
// column's width may fall apart.
func (b *Body) byColumns(up vec.V3, out Outlets, n int) (*Stand, error) {
	if len(b.m.F) == 0 {
		return nil, fault.New(fault.Input, "mesh", "give a mesh that encloses a body", "there is no triangle in it")
	}
	c, w := columns(b.m, up, n)
	ends := make([]int32, c.Len()+1) // first span of each column
	for q := range c.Len() {
		ends[q+1] = ends[q] + int32(len(c.Of(q)))
	}
	total := int(ends[c.Len()])
	if total == 0 {
		return nil, fault.New(fault.Input, "mesh", "repair the mesh, or turn its faces outward", "the mesh encloses nothing")
	}
	hi, lo := make([]float64, total), make([]float64, total)
	col := make([]int32, total)
	for q := range c.Len() {
		for k, s := range c.Of(q) {
			i := int(ends[q]) + k
			hi[i], lo[i], col[i] = s.Hi, s.Lo, int32(q)
		}
	}
	seq := order(hi, func(a, b int32) int { return int(a) - int(b) })
	rank := make([]int32, total)
	for i, v := range seq {
		rank[v] = int32(i)
	}
	f := turned(up)
	events := spanMouths(c, f, ends, hi, lo, rank, out, b.centre)
	t := newTree(total)
	e := 0
	for _, v := range seq {
		for ; e < len(events) && events[e].h > hi[v]; e++ {
			t.vent(events[e].top, events[e].h, events[e].cut)
		}
		q := int(col[v])
		i, j := q%c.NX, q/c.NX
		for d := range 4 {
			x, y := i+[4]int{-1, 1, 0, 0}[d], j+[4]int{0, 0, -1, 1}[d]
			if x < 0 || y < 0 || x >= c.NX || y >= c.NY {
				continue
			}
			for s := ends[y*c.NX+x]; s < ends[y*c.NX+x+1]; s++ {
				if rank[s] < rank[v] && lo[s] <= hi[v] {
					t.touch(v, s, hi[v])
				}
			}
		}
		if t.par[v] < 0 {
			t.birth(v, hi[v])
		}
	}
	for ; e < len(events); e++ {
		t.vent(events[e].top, events[e].h, events[e].cut)
	}
	sum := func(slot []int32, cut []float64) (volume, area []float64) {
		volume, area = make([]float64, len(cut)), make([]float64, len(cut))
		for i := range total {
			s := slot[t.rec[i]]
			if s < 0 || hi[i] <= cut[s] {
				continue
			}
			volume[s] += (hi[i] - max(lo[i], cut[s])) * w * w
			if lo[i] <= cut[s] {
				area[s] += w * w
			}
		}
		return volume, area
	}
	d := b.stand(t, up, hi, lo, out, sum)
	at := func(i int32) vec.V3 {
		q := int(col[i])
		return f.From(vec.V3{X: c.X0 + float64(q%c.NX)*w, Y: c.Y0 + float64(q/c.NX)*w, Z: hi[i]}).Add(b.centre)
	}
	d.finish(t, at, b.centre.Dot(up))
	return &d.Stand, nil
}

// spanMouths lists the given outlets for columns: a column is opened from the
// highest of its ends that an outlet reaches, or where the outlet cuts it.
func spanMouths(c *voxel.Columns, f vec.Frame, ends []int32, hi, lo []float64, rank []int32, out Outlets, centre vec.V3) []mouth {
	var list []mouth
	for q := range c.Len() {
		if ends[q] == ends[q+1] {
			continue
		}
		x, y := c.X0+float64(q%c.NX)*c.H, c.Y0+float64(q/c.NX)*c.H
		add := func(a, b float64) {
			for s := ends[q]; s < ends[q+1]; s++ {
				if a <= hi[s] && b >= lo[s] {
					list = append(list, mouth{h: min(b, hi[s]), top: s})
				}
			}
		}
		for _, o := range out.Balls {
			p := f.To(o.At.Sub(centre))
			// A column stands for a square of side H round it.
			r := max(o.Radius, 0.75*c.H)
			if d := r*r - (x-p.X)*(x-p.X) - (y-p.Y)*(y-p.Y); d >= 0 {
				add(p.Z-math.Sqrt(d), p.Z+math.Sqrt(d))
			}
		}
		for _, o := range out.Slabs {
			n := f.ToDir(o.Normal.Unit())
			p := f.To(o.At.Sub(centre))
			side := n.X*(x-p.X) + n.Y*(y-p.Y) - n.Z*p.Z // plus n.Z*z is the distance
			half := max(o.Half, 0.75*c.H*math.Hypot(n.X, n.Y))
			if math.Abs(n.Z) < 1e-9 {
				if math.Abs(side) <= half {
					add(math.Inf(-1), math.Inf(1))
				}
				continue
			}
			a, b := (-half-side)/n.Z, (half-side)/n.Z
			add(min(a, b), max(a, b))
		}
	}
	slices.SortFunc(list, func(a, b mouth) int {
		if a.h != b.h {
			return cmp.Compare(b.h, a.h)
		}
		return cmp.Compare(rank[a.top], rank[b.top])
	})
	return list
}
