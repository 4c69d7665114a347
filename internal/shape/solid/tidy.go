package solid

import "fmt"

// tidy removes the few crossings that rounding to the lattice makes: needles
// thinner than a lattice step may turn over. For every pair that crosses, its
// corners are moved by a few lattice steps (a corner in a side of the block
// stays in it), and the first move that leaves fewer crossings is kept.
// A step is 6e-5 mm, the largest move 8 steps.
func (c *Complex) tidy() error {
	bad := c.freshCrossings()
	if len(bad) == 0 {
		return nil
	}
	if len(bad) > mostBad {
		return fmt.Errorf("%w: %d pairs of triangles cross", errRetry, len(bad))
	}
	w := newTidier(c)
	for range 4 {
		for _, p := range bad {
			w.mend(p)
		}
		if bad = w.recount(bad); len(bad) == 0 {
			if bad = c.freshCrossings(); len(bad) == 0 {
				return nil
			}
			w = newTidier(c)
		}
	}
	return fmt.Errorf("%w: %d pairs of triangles still cross", errRetry, len(bad))
}

// More crossings than mostBad mean that the position is special, not that a
// needle turned over: a move of the whole body is the better answer. Corners
// with more than mostFan triangles are dear to try and rarely the cause.
const (
	mostBad = 128
	mostFan = 40
	// mostTests bounds the time of one attempt, about 0.1 s.
	mostTests = 1000000
)

type tidier struct {
	c     *Complex
	t     [][3]int32
	tree  *tree
	first []int32 // triangles at corner i: fan[first[i]:first[i+1]]
	fan   []int32
	box   ibox
	spent int // pairs tested
}

func newTidier(c *Complex) *tidier {
	w := &tidier{c: c, t: make([][3]int32, len(c.T)), first: make([]int32, len(c.V)+1)}
	boxes := make([]ibox, len(c.T))
	for i, x := range c.T {
		w.t[i] = x.V
		boxes[i] = boxOf(c.V[x.V[0]], c.V[x.V[1]], c.V[x.V[2]])
		for _, v := range x.V {
			w.first[v+1]++
		}
	}
	for i := range c.V {
		w.first[i+1] += w.first[i]
	}
	w.fan = make([]int32, 3*len(c.T))
	fill := append([]int32(nil), w.first...)
	for i, x := range c.T {
		for _, v := range x.V {
			w.fan[fill[v]] = int32(i)
			fill[v]++
		}
	}
	w.tree = buildTree(boxes)
	w.box = boxPoints(c.V)
	return w
}

func (w *tidier) at(v int32) []int32 { return w.fan[w.first[v]:w.first[v+1]] }

// slack covers what corners have moved since the tree was built.
const slack = 64

// count returns how many pairs the triangles at corner v are in.
func (w *tidier) count(v int32) int {
	n := 0
	mine := w.at(v)
	for _, i := range mine {
		b := boxOf(w.c.V[w.t[i][0]], w.c.V[w.t[i][1]], w.c.V[w.t[i][2]])
		for k := range 3 {
			b.lo[k] -= slack
			b.hi[k] += slack
		}
		if normal(w.c.V[w.t[i][0]], w.c.V[w.t[i][1]], w.c.V[w.t[i][2]]).zero() {
			n += 100
		}
		w.tree.query(&b, func(j int32) {
			w.spent++
			if j != i && trianglesMeet(w.c.V, w.t[i], w.t[j]) {
				n++
			}
		})
	}
	return n
}

// mend tries the moves of all corners of a pair and keeps the best.
func (w *tidier) mend(p [2]int32) {
	if !trianglesMeet(w.c.V, w.t[p[0]], w.t[p[1]]) {
		return
	}
	for _, t := range p {
		for _, v := range w.t[t] {
			if w.mendCorner(v) {
				return
			}
		}
	}
}

func (w *tidier) mendCorner(v int32) bool {
	was := w.c.V[v]
	if len(w.at(v)) > mostFan || w.spent > mostTests {
		return false
	}
	start := w.count(v)
	if start == 0 {
		return false
	}
	best, at := start, was
	for _, step := range [4]int32{1, 2, 4, 8} {
		for d := range 27 {
			o := Point{int32(d%3) - 1, int32(d/3%3) - 1, int32(d/9) - 1}
			q := was
			for k := range 3 {
				if was[k] != w.box.lo[k] && was[k] != w.box.hi[k] {
					q[k] += o[k] * step
				}
			}
			if q == was {
				continue
			}
			w.c.V[v] = q
			if n := w.count(v); n < best {
				best, at = n, q
			}
		}
		if best == 0 {
			break
		}
	}
	w.c.V[v] = at
	return best < start
}

// recount returns the pairs that still cross, of those given and of the
// triangles round them.
func (w *tidier) recount(bad [][2]int32) [][2]int32 {
	seen := map[int32]bool{}
	var only []int32
	for _, p := range bad {
		for _, t := range p {
			for _, v := range w.t[t] {
				for _, i := range w.at(v) {
					if !seen[i] {
						seen[i] = true
						only = append(only, i)
					}
				}
			}
		}
	}
	return selfCrossings(w.c.V, w.t, only)
}
