package pockets

import (
	"cmp"
	"math"
	"slices"
)

// record is one stretch of a branch of the merge tree: from the height at
// which it appears or two others join, down to where it joins.
type record struct {
	made float64  // height of its upper end
	low  float64  // height of its lower end; -Inf while it has none
	up   int32    // the record it goes over into, -1 for none
	kids [2]int32 // what it came from, -1 for none
	top  int32    // its highest item
	vent bool     // it holds a given outlet
	cut  bool     // it holds a place that a knife can reach
}

// tree grows the merge tree of height while items (corners or columns) are
// added from the top down.
type tree struct {
	par  []int32 // union-find over items; -1 not yet there
	cur  []int32 // at a root: the record the branch is in
	rec  []int32 // per item: the record it was added in
	recs []record
}

func newTree(n int) *tree {
	t := &tree{par: make([]int32, n), cur: make([]int32, n), rec: make([]int32, n)}
	for i := range t.par {
		t.par[i] = -1
		t.rec[i] = -1
	}
	return t
}

func (t *tree) find(i int32) int32 {
	for t.par[i] != i {
		t.par[i] = t.par[t.par[i]]
		i = t.par[i]
	}
	return i
}

func (t *tree) record(r record) int32 {
	r.up, r.low = -1, math.Inf(-1)
	k := int32(len(t.recs))
	for _, c := range r.kids {
		if c >= 0 {
			t.recs[c].up, t.recs[c].low = k, r.made
			r.vent = r.vent || t.recs[c].vent
			r.cut = r.cut || t.recs[c].cut
		}
	}
	t.recs = append(t.recs, r)
	return k
}

// birth adds item i as the top of a new branch.
func (t *tree) birth(i int32, h float64) {
	t.par[i] = i
	t.cur[i] = t.record(record{made: h, kids: [2]int32{-1, -1}, top: i})
	t.rec[i] = t.cur[i]
}

// touch says that item i of height h, new or not, meets item j, which is
// there already and no lower.
func (t *tree) touch(i, j int32, h float64) {
	rj := t.find(j)
	if t.par[i] < 0 {
		t.par[i] = rj
		t.rec[i] = t.cur[rj]
		return
	}
	ri := t.find(i)
	if ri == rj {
		return
	}
	a, b := t.cur[ri], t.cur[rj]
	top := t.recs[a].top
	// Records are numbered from the top down, so the branch with the lower
	// number of its first record began higher.
	if t.rec[t.recs[b].top] < t.rec[top] {
		top = t.recs[b].top
	}
	k := t.record(record{made: h, kids: [2]int32{a, b}, top: top})
	t.par[ri] = rj
	t.cur[rj] = k
}

// vent opens the branch that holds item i from height h down; cut says that it
// only could be opened there by a knife.
func (t *tree) vent(i int32, h float64, cut bool) {
	r := t.find(i)
	a := t.cur[r]
	if t.recs[a].vent || cut && t.recs[a].cut {
		return
	}
	t.cur[r] = t.record(record{made: h, kids: [2]int32{a, -1}, top: t.recs[a].top, vent: !cut, cut: cut})
}

// integral returns volume and cross-section of the items of each slot above
// the slot's height; slot maps records to slots, -1 for none.
type integral func(slot []int32, cut []float64) (volume, area []float64)

// part is one connected part of the cavity.
type part struct {
	root   int32
	volume float64
	top    int32 // its own outlet
}

// held is one branch that keeps its air.
type held struct {
	top          int32
	saddle       float64
	volume, area float64
}

// solve names the outlets and returns what the branches without one keep.
// With own, each connected part has an outlet at its highest point; with knife,
// all cuts are made. floor is the lowest height, eps the height within which tops and saddles are one.
func (t *tree) solve(own, knife bool, floor, eps float64, sum integral) ([]held, []part) {
	n := len(t.recs)
	slot := make([]int32, n)
	var parts []part
	root := make([]int32, n) // slot of the part
	for k := n - 1; k >= 0; k-- {
		if u := t.recs[k].up; u >= 0 {
			root[k] = root[u]
		} else {
			root[k] = int32(len(parts))
			parts = append(parts, part{root: int32(k), top: t.recs[k].top})
		}
	}
	cuts := make([]float64, len(parts))
	for i := range cuts {
		cuts[i] = floor
	}
	volume, _ := sum(root, cuts)
	open := make([]bool, n)
	for i := range parts {
		parts[i].volume = volume[i]
		if own {
			leaf := t.outlet(parts[i].root, eps, sum)
			parts[i].top = t.recs[leaf].top
			open[leaf] = true
		}
	}
	for k := range n { // kids come before what they join to
		r := &t.recs[k]
		open[k] = open[k] || r.vent || knife && r.cut
		for _, c := range r.kids {
			open[k] = open[k] || c >= 0 && open[c]
		}
	}
	var found []held
	var at []float64
	closed := make([]bool, n)
	for k := n - 1; k >= 0; k-- {
		r := &t.recs[k]
		slot[k] = -1
		switch {
		case open[k]:
		case r.up < 0 || open[r.up] || closed[r.up]:
			low := math.Max(r.low, floor)
			if r.kids[1] >= 0 && r.made-low <= eps && r.up >= 0 {
				closed[k] = true // its branches met where it ends: they count one by one
				break
			}
			slot[k] = int32(len(found))
			found = append(found, held{top: r.top, saddle: low})
			at = append(at, low)
		default:
			slot[k] = slot[r.up]
		}
	}
	v, a := sum(slot, at)
	for i := range found {
		found[i].volume, found[i].area = v[i], a[i]
	}
	return found, parts
}

// outlet returns the leaf of the highest top below record k. Where several
// tops are equally high within eps the branch that holds more wins, step by
// step from the bottom, so that the choice does not hang on rounding.
func (t *tree) outlet(k int32, eps float64, sum integral) int32 {
	limit := t.recs[t.rec[t.recs[k].top]].made - eps
	tries := 16 // a comb of equal tines need not be weighed to the last
	for t.recs[k].kids[0] >= 0 {
		c := t.recs[k].kids
		if c[1] < 0 {
			k = c[0]
			continue
		}
		h0 := t.recs[t.rec[t.recs[c[0]].top]].made
		h1 := t.recs[t.rec[t.recs[c[1]].top]].made
		switch {
		case h0 < limit:
			k = c[1]
		case h1 < limit:
			k = c[0]
		case t.recs[k].made >= limit || tries == 0:
			k = c[0]
			if h1 > h0 {
				k = c[1]
			}
		default:
			tries--
			slot := make([]int32, len(t.recs))
			for i := range slot {
				slot[i] = -1
			}
			slot[c[0]], slot[c[1]] = 0, 1
			for i := max(c[0], c[1]) - 1; i >= 0; i-- {
				if u := t.recs[i].up; slot[i] < 0 && u >= 0 {
					slot[i] = slot[u]
				}
			}
			at := t.recs[k].made
			v, _ := sum(slot, []float64{at, at})
			k = c[0]
			if v[1] > v[0]*(1+1e-9) || v[1] >= v[0]*(1-1e-9) && h1 > h0 {
				k = c[1]
			}
		}
	}
	return k
}

// largest orders held branches by volume, then height, then item.
func largest(a, b held) int {
	switch {
	case a.volume != b.volume:
		if a.volume > b.volume {
			return -1
		}
		return 1
	case a.saddle != b.saddle:
		if a.saddle > b.saddle {
			return -1
		}
		return 1
	}
	return int(a.top) - int(b.top)
}

// order returns the items from the highest to the lowest; ties by less.
func order(h []float64, less func(a, b int32) int) []int32 {
	n := len(h)
	type key struct {
		k uint64
		i int32
	}
	a := make([]key, n)
	for i, x := range h {
		if x == 0 {
			x = 0 // no negative zero
		}
		u := math.Float64bits(x)
		if u>>63 == 0 {
			u = ^u &^ (1 << 63) // positive: higher first, before the negative
		}
		a[i] = key{u, int32(i)}
	}
	if n < 1<<14 {
		slices.SortFunc(a, func(x, y key) int { return cmp.Compare(x.k, y.k) })
	} else {
		var count [4][1 << 16]int32
		b := make([]key, n)
		for _, x := range a {
			for d := range 4 {
				count[d][uint16(x.k>>(16*d))]++
			}
		}
		for d := range 4 {
			s := int32(0)
			for q := range count[d] {
				s, count[d][q] = s+count[d][q], s
			}
			for _, x := range a {
				q := uint16(x.k >> (16 * d))
				b[count[d][q]] = x
				count[d][q]++
			}
			a, b = b, a
		}
	}
	out := make([]int32, n)
	for i, x := range a {
		out[i] = x.i
	}
	for i := 0; i < n; {
		j := i + 1
		for j < n && a[j].k == a[i].k {
			j++
		}
		if j > i+1 {
			slices.SortFunc(out[i:j], less)
		}
		i = j
	}
	return out
}
