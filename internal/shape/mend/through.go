package mend

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/solid"
)

// Crossing is a place where closed surfaces run through each other, or one
// through itself.
type Crossing struct {
	At    vec.V3   // where both are, at the pair that reaches deepest
	Depth float64  // how far a triangle of that pair reaches through the other
	Tris  [2]int32 // that pair
	Pairs int      // of triangles
	Own   []int32  // shells that run through themselves here, rising
}

// Through is what Crossings found.
type Through struct {
	Places  []Crossing // the deepest first
	Touches int        // pairs of triangles that meet and do not reach through each other
	Whole   bool       // all pairs were asked
}

// Own figures, no source: what is asked at most (the first triangles decide
// beyond it), and the share of the longest side that a triangle reaches
// through another before it counts. One step of the lattice that the corners
// are put on is 3e-8 of it.
const (
	mostAsked   = 100_000_000
	mostPatches = 10_000
	leastReach  = 1e-6
)

// Crossings finds where the closed surface m runs through itself: all pairs of
// triangles that share more than the corners and edges they have in common, by
// exact signs on a lattice of 3e-8 of the longest side (solid.SomeCrossings).
// A pair reaches through by the least of the four distances of its corners
// from the other's plane; those that only touch are counted apart.
//
// Pairs make one place where their triangles share a corner, or where the same
// patch of surface lies within between them (winding number above 0 on its
// outer side), so that a bar through a bar is one place, not one for the way
// in and one for the way out.
func Crossings(m *mesh.Mesh, t *mesh.Topology) Through {
	box := m.Box()
	long := box.Longest()
	if !(long > 0) || math.IsInf(long, 0) {
		return Through{Whole: true}
	}
	k := float64(1<<25-2) * solid.Lattice / long
	o := box.Centre()
	fine := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	for i, p := range m.V {
		fine.V[i] = p.Sub(o).Mul(k)
	}
	pairs, whole := solid.SomeCrossings(fine, mostAsked)
	r := Through{Whole: whole}
	var depth []float64
	var deep [][2]int32
	for _, p := range pairs {
		if d := reachThrough(m, p[0], p[1]); d > leastReach*long {
			deep, depth = append(deep, p), append(depth, d)
		} else {
			r.Touches++
		}
	}
	if len(deep) == 0 {
		return r
	}
	id := make([]int32, len(m.F)) // 1 + number, of the triangles that cross
	var list []int32
	for _, p := range deep {
		for _, f := range p {
			if id[f] == 0 {
				list = append(list, f)
				id[f] = int32(len(list))
			}
		}
	}
	one := sets.New(len(list))
	at := map[int32]int32{} // looked up only
	for i, f := range list {
		for _, v := range m.F[f] {
			if j, ok := at[v]; ok {
				one.Join(int32(i), j)
			} else {
				at[v] = int32(i)
			}
		}
	}
	for _, p := range deep {
		one.Join(id[p[0]]-1, id[p[1]]-1)
	}
	joinWithin(m, t, id, one)
	place := map[int32]int{} // looked up only
	for i, p := range deep {
		root := one.Root(id[p[0]] - 1)
		n, ok := place[root]
		if !ok {
			n = len(r.Places)
			place[root] = n
			r.Places = append(r.Places, Crossing{})
		}
		c := &r.Places[n]
		if c.Pairs++; depth[i] > c.Depth {
			c.Depth, c.Tris = depth[i], p
		}
		if a, b := t.Shell[p[0]], t.Shell[p[1]]; a == b && a >= 0 {
			if k, ok := slices.BinarySearch(c.Own, a); !ok {
				c.Own = slices.Insert(c.Own, k, a)
			}
		}
	}
	for i := range r.Places {
		r.Places[i].At = meeting(m, r.Places[i].Tris)
	}
	slices.SortStableFunc(r.Places, func(a, b Crossing) int { return cmp.Compare(b.Depth, a.Depth) })
	return r
}

// reachThrough returns how far triangles a and b reach through each other's
// planes, the least of the four ways; 0 where one lies on one side.
func reachThrough(m *mesh.Mesh, a, b int32) float64 {
	least := math.Inf(1)
	for _, p := range [2][2]int32{{a, b}, {b, a}} {
		n := m.Normal(int(p[0]))
		o := m.V[m.F[p[0]][0]]
		up, down := 0.0, 0.0
		for _, v := range m.F[p[1]] {
			d := n.Dot(m.V[v].Sub(o))
			up, down = math.Max(up, d), math.Max(down, -d)
		}
		least = math.Min(least, math.Min(up, down))
	}
	return least
}

// joinWithin joins the crossing triangles at the rim of each patch between them
// that lies within the body.
func joinWithin(m *mesh.Mesh, t *mesh.Topology, id []int32, one sets.Sets) {
	patch := sets.New(len(m.F))
	for h, o := range t.Opp {
		if o > int32(h) && id[h/3] == 0 && id[o/3] == 0 {
			patch.Join(int32(h/3), o/3)
		}
	}
	// Of the patches that end at a crossing: a triangle of the rim, and the largest.
	type piece struct {
		rim  int32 // 1 + a crossing triangle there
		big  int
		area float64
	}
	number := map[int32]int{} // looked up only
	var list []piece
	for h, o := range t.Opp {
		if o < 0 || id[h/3] != 0 || id[o/3] == 0 {
			continue
		}
		root := patch.Root(int32(h / 3))
		if _, ok := number[root]; !ok && len(list) < mostPatches {
			number[root] = len(list)
			list = append(list, piece{rim: id[o/3]})
		}
	}
	for f := range m.F {
		if id[f] != 0 {
			continue
		}
		if n, ok := number[patch.Root(int32(f))]; ok {
			if a := areaOf(m, f); a > list[n].area {
				list[n].big, list[n].area = f, a
			}
		}
	}
	tree := bvh.Build(m)
	within := make([]bool, len(list))
	step := 1e-7 * m.Box().Longest()
	for i, p := range list {
		n := m.Normal(p.big)
		within[i] = tree.Crossed(centre(m, p.big).Add(n.Mul(step)), n) > 0
	}
	for h, o := range t.Opp {
		if o < 0 || id[h/3] != 0 || id[o/3] == 0 {
			continue
		}
		if n, ok := number[patch.Root(int32(h/3))]; ok && within[n] {
			one.Join(list[n].rim-1, id[o/3]-1)
		}
	}
}

// meeting returns a point that both triangles share, nearly: the middle of
// where the edges of each go through the plane of the other within it, or of
// what their boxes share.
func meeting(m *mesh.Mesh, pair [2]int32) vec.V3 {
	var sum vec.V3
	count := 0.0
	for _, p := range [2][2]int32{{pair[0], pair[1]}, {pair[1], pair[0]}} {
		a, b, c := m.Tri(int(p[0]))
		n := m.Normal(int(p[0]))
		for e := range 3 {
			q, r := m.V[m.F[p[1]][e]], m.V[m.F[p[1]][(e+1)%3]]
			dq, dr := n.Dot(q.Sub(a)), n.Dot(r.Sub(a))
			if dq*dr >= 0 {
				continue
			}
			x := q.Lerp(r, dq/(dq-dr))
			if bvh.Nearest(x, a, b, c).Dist(x) < 1e-9*q.Dist(r) {
				sum, count = sum.Add(x), count+1
			}
		}
	}
	if count > 0 {
		return tidied(sum.Mul(1/count), m)
	}
	boxes := [2]vec.Box{}
	for i, f := range pair {
		a, b, c := m.Tri(int(f))
		boxes[i] = vec.Empty().Add(a).Add(b).Add(c)
	}
	return tidied(boxes[0].Min.Max(boxes[1].Min).Add(boxes[0].Max.Min(boxes[1].Max)).Mul(0.5), m)
}

// tidied puts p on a grid of 1e-9 of the longest side, so that a zero is told as one.
func tidied(p vec.V3, m *mesh.Mesh) vec.V3 {
	h := 1e-9 * m.Box().Longest()
	for _, x := range []*float64{&p.X, &p.Y, &p.Z} {
		*x = math.Round(*x/h)*h + 0
	}
	return p
}
