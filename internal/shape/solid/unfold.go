package solid

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Fold is where a body ran through itself.
type Fold struct {
	Pairs int     // pairs of triangles that crossed
	Left  int     // pairs that still do
	At    vec.V3  // middle of the first, mm
	Moved float64 // how far the farthest corner was moved, mm
}

const (
	unfoldRounds = 24
	unfoldFlips  = 64
	unfoldMost   = 0.01 // of the volume, that it may change by; our own figure, no source
)

// Unfold takes small folds out of the body: places where a few neighbouring
// triangles run through each other, which no cut can be led across. Edges are
// turned to the other diagonal of their two triangles where that leaves fewer
// crossings, and where none does the corners of the triangles that cross go
// halfway to the mean of their neighbours. A body with more than 128 crossing
// pairs, or whose volume would change by more than a hundredth, is left as it
// is: that is no slip of a program but two bodies in one.
func (b *Body) Unfold() Fold {
	var f Fold
	for i := range b.shells {
		g := b.shells[i].unfold()
		if f.Pairs == 0 {
			f.At = g.At
		}
		f.Pairs, f.Left, f.Moved = f.Pairs+g.Pairs, f.Left+g.Left, math.Max(f.Moved, g.Moved)
	}
	return f
}

// Mesh returns the body's surface, on the lattice, mm.
func (b *Body) Mesh() *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, s := range b.shells {
		off := int32(len(m.V))
		for _, p := range s.v {
			m.V = append(m.V, p.vec())
		}
		for _, t := range s.t {
			m.F = append(m.F, [3]int32{t[0] + off, t[1] + off, t[2] + off})
		}
	}
	return m
}

// unfolder mends one side. Triangles whose boxes the tree no longer knows are
// in changed.
type unfolder struct {
	s       *side
	tree    *tree
	fan     [][]int32
	changed []int32
	is      []bool
	old     map[int32]Point // of moved corners; looked up and folded by the largest only
}

func (s *side) unfold() Fold {
	bad := selfCrossings(s.v, s.t, nil)
	f := Fold{Pairs: len(bad), Left: len(bad)}
	if len(bad) == 0 {
		return f
	}
	t := s.t[bad[0][0]]
	f.At = s.v[t[0]].vec().Add(s.v[t[1]].vec()).Add(s.v[t[2]].vec()).Mul(1. / 3)
	if len(bad) > mostBad {
		return f
	}
	was, wasT, held := slices.Clone(s.v), slices.Clone(s.t), s.volume()
	w := &unfolder{s: s, is: make([]bool, len(s.t)), old: map[int32]Point{}}
	boxes := make([]ibox, len(s.t))
	for i, q := range s.t {
		boxes[i] = boxOf(s.v[q[0]], s.v[q[1]], s.v[q[2]])
	}
	w.tree = buildTree(boxes)
	w.fans()
	flips := 0
	for range unfoldRounds {
		did := false
		for _, p := range bad {
			for flips < unfoldFlips && trianglesMeet(s.v, s.t[p[0]], s.t[p[1]]) && (w.turn(p[0]) || w.turn(p[1])) {
				flips++
				did = true
			}
		}
		if !did {
			w.smooth(bad)
		}
		if bad = selfCrossings(s.v, s.t, w.near(bad)); len(bad) == 0 {
			break
		}
	}
	for v, p := range w.old {
		f.Moved = math.Max(f.Moved, length(p, s.v[v])*Lattice)
	}
	if f.Left = len(bad); f.Left == 0 && math.Abs(s.volume()-held) > unfoldMost*math.Abs(held) {
		f.Left = f.Pairs
	}
	if f.Left > 0 {
		s.v, s.t, f.Moved = was, wasT, 0
		return f
	}
	for i, q := range s.t {
		s.thin[i] = thin(s.v[q[0]], s.v[q[1]], s.v[q[2]])
	}
	return f
}

// volume returns the signed volume of the side about its first corner, mm3.
func (s *side) volume() float64 {
	o, v := s.v[0].vec(), 0.0
	for _, t := range s.t {
		a, b, c := s.v[t[0]].vec().Sub(o), s.v[t[1]].vec().Sub(o), s.v[t[2]].vec().Sub(o)
		v += a.Dot(b.Cross(c)) / 6
	}
	return v
}

func (w *unfolder) fans() {
	w.fan = make([][]int32, len(w.s.v))
	for i, t := range w.s.t {
		for _, v := range t {
			w.fan[v] = append(w.fan[v], int32(i))
		}
	}
}

func (w *unfolder) touch(i int32) {
	if !w.is[i] {
		w.is[i] = true
		w.changed = append(w.changed, i)
	}
}

// crossings counts the triangles that run through a triangle t which stands in
// the place of triangle i; but is left out.
func (w *unfolder) crossings(i, but int32, t [3]int32) int {
	v := w.s.v
	if normal(v[t[0]], v[t[1]], v[t[2]]).zero() {
		return 1000
	}
	box := boxOf(v[t[0]], v[t[1]], v[t[2]])
	n := 0
	test := func(j int32) {
		if j != i && j != but && trianglesMeet(v, t, w.s.t[j]) {
			n++
		}
	}
	w.tree.query(&box, func(j int32) {
		if !w.is[j] {
			test(j)
		}
	})
	for _, j := range w.changed {
		test(j)
	}
	return n
}

// turn gives the best of the three edges of triangle i to the other diagonal,
// where that leaves fewer crossings.
func (w *unfolder) turn(i int32) bool {
	s := w.s
	best, at := 0, int32(-1)
	var na, nb [3]int32
	for k := range 3 {
		a, b, c := s.t[i][k], s.t[i][(k+1)%3], s.t[i][(k+2)%3]
		o, d := w.across(i, a, b)
		if o < 0 || d == c || w.joined(c, d) {
			continue
		}
		x, y := [3]int32{a, d, c}, [3]int32{d, b, c}
		before := w.crossings(i, o, s.t[i]) + w.crossings(o, i, s.t[o])
		if trianglesMeet(s.v, s.t[i], s.t[o]) {
			before++
		}
		after := w.crossings(i, o, x) + w.crossings(o, i, y)
		if trianglesMeet(s.v, x, y) {
			after++
		}
		if before-after > best {
			best, at, na, nb = before-after, o, x, y
		}
	}
	if at < 0 {
		return false
	}
	s.t[i], s.t[at] = na, nb
	w.touch(i)
	w.touch(at)
	w.fans()
	return true
}

// across returns the one other triangle at edge a-b of triangle i and its third
// corner, or -1.
func (w *unfolder) across(i, a, b int32) (o, d int32) {
	o = -1
	for _, j := range w.fan[a] {
		if j == i || !slices.Contains(w.s.t[j][:], b) {
			continue
		}
		if o >= 0 {
			return -1, 0
		}
		o = j
	}
	if o < 0 {
		return -1, 0
	}
	for k, v := range w.s.t[o] {
		if v != a && v != b {
			if w.s.t[o][(k+1)%3] != a { // runs the edge the same way: not oriented
				return -1, 0
			}
			return o, v
		}
	}
	return -1, 0
}

func (w *unfolder) joined(c, d int32) bool {
	for _, j := range w.fan[c] {
		if slices.Contains(w.s.t[j][:], d) {
			return true
		}
	}
	return false
}

// smooth moves the corners of the pairs that cross.
func (w *unfolder) smooth(bad [][2]int32) {
	var list []int32
	for _, p := range bad {
		for _, i := range p {
			list = append(list, w.s.t[i][:]...)
		}
	}
	slices.Sort(list)
	for _, v := range slices.Compact(list) {
		var sum [3]float64
		n := 0.0
		for _, i := range w.fan[v] {
			w.touch(i)
			for _, u := range w.s.t[i] {
				if u != v {
					for k := range 3 {
						sum[k] += float64(w.s.v[u][k])
					}
					n++
				}
			}
		}
		if _, ok := w.old[v]; !ok {
			w.old[v] = w.s.v[v]
		}
		var p [3]float64
		for k := range 3 {
			p[k] = (float64(w.s.v[v][k]) + sum[k]/n) / 2
		}
		w.s.v[v] = round(p)
	}
}

// near lists the triangles round the pairs and all that were changed.
func (w *unfolder) near(bad [][2]int32) []int32 {
	list := slices.Clone(w.changed)
	for _, p := range bad {
		for _, i := range p {
			for _, v := range w.s.t[i] {
				list = append(list, w.fan[v]...)
			}
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}
