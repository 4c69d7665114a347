package mend

import (
	"cmp"
	"slices"

	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
)

// dropDoubles leaves one of the triangles that name the same three corners.
// Where as many face one way as the other, they are the two sides of a wall
// without a thickness: a patch of such pairs goes as a whole where the rest
// closes without it.
func (w *work) dropDoubles() {
	type entry struct {
		key  [3]int32
		i    int32
		turn bool
	}
	n := len(w.m.F)
	list := make([]entry, n)
	for i, t := range w.m.F {
		s := t
		slices.Sort(s[:])
		// An even permutation keeps the sense.
		even := t == s || t == [3]int32{s[1], s[2], s[0]} || t == [3]int32{s[2], s[0], s[1]}
		list[i] = entry{s, int32(i), !even}
	}
	slices.SortFunc(list, func(a, b entry) int {
		return cmp.Or(cmp.Compare(a.key[0], b.key[0]), cmp.Compare(a.key[1], b.key[1]), cmp.Compare(a.key[2], b.key[2]), cmp.Compare(a.i, b.i))
	})
	gone := make([]bool, n)
	var walls []int32 // one triangle of each balanced pair
	count, first := 0, int32(n)
	for i := 0; i < n; {
		j, net := i, 0
		for ; j < n && list[j].key == list[i].key; j++ {
			if list[j].turn {
				net--
			} else {
				net++
			}
		}
		if j-i > 1 {
			stay := i
			for q := i; q < j; q++ {
				if net > 0 && !list[q].turn || net < 0 && list[q].turn {
					stay = q
					break
				}
			}
			for q := i; q < j; q++ {
				if q != stay {
					gone[list[q].i] = true
					count++
					first = min(first, list[q].i)
				}
			}
			if net == 0 {
				walls = append(walls, list[stay].i)
			}
		}
		i = j
	}
	if count == 0 {
		return
	}
	for _, i := range w.looseWalls(gone, walls) {
		gone[i] = true
		count++
	}
	at := centre(w.m, int(first))
	w.keep(func(i int) bool { return !gone[i] })
	w.did("dropped doubled triangles", count, at)
}

// looseWalls returns the wall triangles of the patches whose rim has two other
// triangles on every edge.
func (w *work) looseWalls(gone []bool, walls []int32) []int32 {
	if len(walls) == 0 {
		return nil
	}
	isWall := make(map[int32]int, len(walls))
	for k, i := range walls {
		isWall[i] = k
	}
	type side struct {
		a, b, i int32
	}
	var list []side
	for i, t := range w.m.F {
		if gone[i] {
			continue
		}
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			list = append(list, side{min(a, b), max(a, b), int32(i)})
		}
	}
	slices.SortFunc(list, func(x, y side) int {
		return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b), cmp.Compare(x.i, y.i))
	})
	u := sets.New(len(walls))
	good := make([]bool, len(walls))
	rim := make([]bool, len(walls))
	for k := range good {
		good[k] = true
	}
	runs := func(f func(g []side, wall []int)) {
		for i := 0; i < len(list); {
			j := i
			var in []int
			for ; j < len(list) && list[j].a == list[i].a && list[j].b == list[i].b; j++ {
				if k, ok := isWall[list[j].i]; ok {
					in = append(in, k)
				}
			}
			if len(in) > 0 {
				f(list[i:j], in)
			}
			i = j
		}
	}
	runs(func(g []side, wall []int) {
		for _, k := range wall[1:] {
			u.Join(int32(wall[0]), int32(k))
		}
	})
	runs(func(g []side, wall []int) {
		if others := len(g) - len(wall); others > 0 || len(wall) == 1 {
			r := u.Root(int32(wall[0]))
			rim[r] = true
			if others != 2 {
				good[r] = false
			}
		}
	})
	var out []int32
	for k, i := range walls {
		if r := u.Root(int32(k)); good[r] && rim[r] {
			out = append(out, i)
		}
	}
	return out
}

// Shards: open parts under these shares of the whole, by surface and by length,
// are left out. Our own figures, no source.
const (
	shardArea = 2e-3
	shardSize = 0.1
)

// dropShards leaves out small open parts that hang on nothing.
func (w *work) dropShards() {
	odd := w.groups()
	if open, _ := faults(odd); open == 0 {
		return
	}
	u := sets.New(len(w.m.F))
	for h, o := range w.edges() {
		if int(o) > h {
			u.Join(int32(h)/3, o/3)
		}
	}
	bad := make([]bool, len(w.m.F))
	for _, g := range odd {
		for _, h := range g[1:] {
			u.Join(g[0]/3, h/3)
		}
	}
	root := u.Roots()
	area := make([]float64, len(w.m.F))
	box := make(map[int32]vec.Box)
	all := 0.0
	for _, g := range odd {
		bad[root[g[0]/3]] = true
	}
	for i := range w.m.F {
		a := areaOf(w.m, i)
		all += a
		r := root[i]
		area[r] += a
		if bad[r] {
			b, ok := box[r]
			if !ok {
				b = vec.Empty()
			}
			p, q, s := w.m.Tri(i)
			box[r] = b.Add(p).Add(q).Add(s)
		}
	}
	small := func(i int) bool {
		r := root[i]
		return bad[r] && area[r] < shardArea*all && box[r].Size().Len() < shardSize*w.size
	}
	n, left, first := 0, 0, -1
	for i := range w.m.F {
		if !small(i) {
			left++
		} else if int(root[i]) == i {
			n++
			if first < 0 {
				first = i
			}
		}
	}
	if n == 0 || left == 0 {
		return
	}
	at := centre(w.m, first)
	gone := make([]bool, len(w.m.F))
	for i := range gone {
		if gone[i] = small(i); gone[i] && int(root[i]) == i {
			w.lost(area[i], box[root[i]])
		}
	}
	w.keep(func(i int) bool { return !gone[i] })
	w.did("left out loose shards", n, at)
}
