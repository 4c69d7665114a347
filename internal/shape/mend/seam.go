package mend

import (
	"cmp"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// splitSeams makes T-joints whole: where corners of open edges lie on another
// open edge, its triangle is cut into a fan with a corner at each, so that the
// edges on both sides become the same. One side of a triangle at a time; the
// rounds go on until nothing lies on an open edge. Of the tolerances, the
// smallest that leaves the fewest open edges is taken.
func (w *work) splitSeams() {
	open, many := faults(w.groups())
	if open == 0 {
		return
	}
	var best *mesh.Mesh
	least := open + many
	count, cuts, looks := 0, 0, 0
	var at, place vec.V3
	for _, r := range reaches {
		m := &mesh.Mesh{V: w.m.V, F: slices.Clone(w.m.F)}
		n := 0
		for range 32 {
			k, p := splitRound(m, oddEdges(m, mesh.Opposite(m)), r*w.size, &looks)
			if k == 0 || looks > mostLooks {
				break
			}
			if n == 0 {
				at = p
			}
			n += k
		}
		if looks > mostLooks {
			break
		}
		if n == 0 || n == cuts {
			continue
		}
		cuts = n
		if o, k := faults(oddEdges(m, mesh.Opposite(m))); o+k < least {
			best, least, count, place = m, o+k, n, at
		}
		if least == 0 {
			break
		}
	}
	if best == nil {
		return
	}
	w.m.F = best.F
	w.changed()
	w.did("made T-joints whole", count, place)
	w.dropDoubles()
}

// mostLooks bounds the corners looked at in all rounds.
const mostLooks = 50_000_000

// splitRound cuts triangles at the corners on their open sides, and returns how
// many corners were put in, and the first.
func splitRound(m *mesh.Mesh, odd [][]int32, reach float64, looks *int) (int, vec.V3) {
	corner := openCorners(m, odd)
	if len(corner) == 0 {
		return 0, vec.V3{}
	}
	points := &mesh.Mesh{V: m.V, F: make([][3]int32, len(corner))}
	for i, v := range corner {
		points.F[i] = [3]int32{v, v, v}
	}
	tree := bvh.Build(points)
	type stop struct {
		v int32
		t float64
	}
	n := 0
	var first vec.V3
	done := make(map[int32]bool)
	for _, g := range odd {
		if len(g) != 1 || done[g[0]/3] {
			continue
		}
		h := g[0]
		ia, ib, ic := m.Tail(h), m.Head(h), m.Tail(mesh.PrevHalf(h))
		a, b := m.V[ia], m.V[ib]
		d := b.Sub(a)
		l := d.Len()
		if !(l > 2*reach) {
			continue
		}
		d = d.Mul(1 / l)
		var on []stop
		tree.BoxQuery(vec.Empty().Add(a).Add(b).Grow(reach), func(k int) bool {
			if *looks++; *looks > mostLooks {
				return false
			}
			v := corner[k]
			if v == ia || v == ib || v == ic {
				return true
			}
			p := m.V[v].Sub(a)
			t := p.Dot(d)
			if t > reach && t < l-reach && p.Sub(d.Mul(t)).Len() <= reach {
				on = append(on, stop{v, t})
			}
			return true
		})
		if len(on) == 0 {
			continue
		}
		slices.SortFunc(on, func(x, y stop) int { return cmp.Or(cmp.Compare(x.t, y.t), cmp.Compare(x.v, y.v)) })
		done[h/3] = true
		if n == 0 {
			first = m.V[on[0].v]
		}
		n += len(on)
		from := ia
		for _, s := range on {
			m.F = append(m.F, [3]int32{from, s.v, ic})
			from = s.v
		}
		m.F[h/3] = [3]int32{from, ib, ic}
	}
	return n, first
}
