package photo

// grid is a graph of pixels with eight neighbours each, for the least cut
// between source and sink by augmenting paths in two search trees that are kept
// (Boykov & Kolmogorov 2004, IEEE PAMI 26(9)). Capacities are whole numbers,
// so the answer is the same on every machine.
type grid struct {
	w, h   int
	cap    [8][]int32 // to the neighbour in direction d
	term   []int32    // above 0: from the source, below 0: to the sink
	step   [8]int
	tree   []uint8 // 0 free, 1 source, 2 sink
	parent []int8  // direction to the parent, root or orphan
	stamp  []int32
	dist   []int32
	active []int32
	queued []bool
	lost   []int32
	time   int32
}

const (
	root   = 8
	orphan = 9
)

var (
	stepX = [8]int{1, -1, 0, 0, 1, -1, -1, 1}
	stepY = [8]int{0, 0, 1, -1, 1, -1, 1, -1}
)

func newGrid(w, h int) *grid {
	g := &grid{w: w, h: h, term: make([]int32, w*h)}
	for d := range 8 {
		g.cap[d] = make([]int32, w*h)
		g.step[d] = stepY[d]*w + stepX[d]
	}
	return g
}

// link sets the capacity between pixel p and its neighbour in direction d
// (even), both ways. The neighbour must exist; capacities out of the picture
// stay 0, so no path leaves it.
func (g *grid) link(p, d int, c int32) {
	g.cap[d][p] = c
	g.cap[d^1][p+g.step[d]] = c
}

func (g *grid) push(p int32) {
	if !g.queued[p] {
		g.queued[p] = true
		g.active = append(g.active, p)
	}
}

// rest is the capacity that is left between a pixel of a tree and the neighbour
// in direction d, in the sense in which the tree grows.
func (g *grid) rest(tree uint8, p int32, d int) int32 {
	if tree == 1 {
		return g.cap[d][p]
	}
	q := int(p) + g.step[d]
	if q < 0 || q >= len(g.term) {
		return 0
	}
	return g.cap[d^1][q]
}

// solve returns the pixels on the source's side.
func (g *grid) solve() []bool {
	n := g.w * g.h
	g.tree, g.parent = make([]uint8, n), make([]int8, n)
	g.stamp, g.dist, g.queued = make([]int32, n), make([]int32, n), make([]bool, n)
	for p, t := range g.term {
		switch {
		case t > 0:
			g.tree[p] = 1
		case t < 0:
			g.tree[p] = 2
		default:
			continue
		}
		g.parent[p], g.dist[p] = root, 1
		g.push(int32(p))
	}
	head := 0
	for head < len(g.active) {
		p := g.active[head]
		if g.tree[p] == 0 {
			g.queued[p] = false
			head++
			continue
		}
		met := -1
		for d := range 8 {
			if g.rest(g.tree[p], p, d) == 0 {
				continue
			}
			q := int32(int(p) + g.step[d])
			switch {
			case g.tree[q] == 0:
				g.tree[q], g.parent[q] = g.tree[p], int8(d^1)
				g.stamp[q], g.dist[q] = g.stamp[p], g.dist[p]+1
				g.push(q)
			case g.tree[q] != g.tree[p]:
				met = d
			case g.stamp[q] <= g.stamp[p] && g.dist[q] > g.dist[p]+1: // a shorter way to the root
				if g.parent[q] != root {
					g.parent[q], g.stamp[q], g.dist[q] = int8(d^1), g.stamp[p], g.dist[p]+1
				}
			}
			if met >= 0 {
				break
			}
		}
		if met < 0 {
			g.queued[p] = false
			head++
			if head > n && head*2 > len(g.active) {
				g.active = append(g.active[:0], g.active[head:]...)
				head = 0
			}
			continue
		}
		g.time++
		a, b := p, int32(int(p)+g.step[met])
		d := met
		if g.tree[p] == 2 {
			a, b, d = b, a, met^1
		}
		g.augment(a, b, d)
		g.adopt()
	}
	in := make([]bool, n)
	for p := range in {
		in[p] = g.tree[p] == 1
	}
	return in
}

// augment sends what fits along the path from the source through a and b to
// the sink.
func (g *grid) augment(a, b int32, d int) {
	least := g.cap[d][a]
	p := a
	for g.parent[p] != root {
		k := int(g.parent[p])
		q := int32(int(p) + g.step[k])
		least = min(least, g.cap[k^1][q])
		p = q
	}
	least = min(least, g.term[p])
	p = b
	for g.parent[p] != root {
		k := int(g.parent[p])
		least = min(least, g.cap[k][p])
		p = int32(int(p) + g.step[k])
	}
	least = min(least, -g.term[p])

	g.cap[d][a] -= least
	g.cap[d^1][b] += least
	p = a
	for g.parent[p] != root {
		k := int(g.parent[p])
		q := int32(int(p) + g.step[k])
		g.cap[k^1][q] -= least
		g.cap[k][p] += least
		if g.cap[k^1][q] == 0 {
			g.parent[p] = orphan
			g.lost = append(g.lost, p)
		}
		p = q
	}
	if g.term[p] -= least; g.term[p] == 0 {
		g.parent[p] = orphan
		g.lost = append(g.lost, p)
	}
	p = b
	for g.parent[p] != root {
		k := int(g.parent[p])
		q := int32(int(p) + g.step[k])
		g.cap[k][p] -= least
		g.cap[k^1][q] += least
		if g.cap[k][p] == 0 {
			g.parent[p] = orphan
			g.lost = append(g.lost, p)
		}
		p = q
	}
	if g.term[p] += least; g.term[p] == 0 {
		g.parent[p] = orphan
		g.lost = append(g.lost, p)
	}
}

// adopt finds new parents for the pixels that lost theirs, or sets them free.
func (g *grid) adopt() {
	const far = int32(1) << 30
	for len(g.lost) > 0 {
		p := g.lost[len(g.lost)-1]
		g.lost = g.lost[:len(g.lost)-1]
		t := g.tree[p]
		best, at := far, -1
		for d := range 8 {
			// From the neighbour to p in the source's tree, the other way in the sink's.
			q := int32(int(p) + g.step[d])
			if int(q) < 0 || int(q) >= len(g.term) {
				continue
			}
			c := g.cap[d^1][q]
			if t == 2 {
				c = g.cap[d][p]
			}
			if c == 0 || g.tree[q] != t || g.parent[q] == orphan {
				continue
			}
			if k := g.origin(q); k < best {
				best, at = k, d
			}
		}
		if at >= 0 {
			g.parent[p], g.stamp[p], g.dist[p] = int8(at), g.time, best+1
			continue
		}
		g.tree[p] = 0
		for d := range 8 {
			q := int32(int(p) + g.step[d])
			if int(q) < 0 || int(q) >= len(g.term) || g.tree[q] != t {
				continue
			}
			c := g.cap[d^1][q]
			if t == 2 {
				c = g.cap[d][p]
			}
			if c > 0 {
				g.push(q)
			}
			if k := g.parent[q]; k < root && int32(int(q)+g.step[k]) == p {
				g.parent[q] = orphan
				g.lost = append(g.lost, q)
			}
		}
	}
}

// origin returns the distance of p from the root of its tree, far where its
// path ends at an orphan.
func (g *grid) origin(p int32) int32 {
	const far = int32(1) << 30
	d, q := int32(0), p
	for {
		if g.stamp[q] == g.time {
			d += g.dist[q]
			break
		}
		k := g.parent[q]
		d++
		if k == root {
			g.stamp[q], g.dist[q] = g.time, 1
			break
		}
		if k == orphan {
			return far
		}
		q = int32(int(q) + g.step[k])
	}
	for q, k := p, d; g.stamp[q] != g.time; k-- {
		g.stamp[q], g.dist[q] = g.time, k
		if g.parent[q] >= root {
			break
		}
		q = int32(int(q) + g.step[g.parent[q]])
	}
	return d
}
