package solid

import (
	"fmt"
	"math"
	"pourwright/internal/ground/sets"

	"pourwright/internal/ground/par"
)

// locate finds for every piece of B the cell of A it lies in, and for every
// piece of A whether it lies inside B. Pieces beside a segment know it from
// the segment's direction; it spreads over all sides that no segment cuts.
// Parts that no segment touches are found by a ray.
func (c *Complex) locate(points []Point, a, b *side, segs []segment) (inA []Label, inB []bool, err error) {
	var ga, gb []int32
	par.Do(func() { ga = groups(a.cells, len(points)) }, func() { gb = groups(b.cells, len(points)) })
	// State per group: 0 unknown, 1+value known.
	sa := make([]int16, len(a.cells))
	for i, p := range a.cells {
		for _, k := range p.cut {
			if k != 0 {
				st := int16(1) // outside
				if k > 0 {
					st = 2
				}
				if err := put(sa, ga[i], st); err != nil {
					return nil, nil, err
				}
			}
		}
	}
	sb := make([]int16, len(b.cells))
	for i, p := range b.cells {
		for _, k := range p.cut {
			if k == 0 {
				continue
			}
			s := k
			if s < 0 {
				s = -s
			}
			t := c.T[segs[s-1].a]
			l := t.Back
			if k > 0 {
				l = t.Front
			}
			if err := put(sb, gb[i], int16(l)+1); err != nil {
				return nil, nil, err
			}
		}
	}
	inB = make([]bool, len(a.cells))
	inA = make([]Label, len(b.cells))
	var rb, ra *caster
	box := boxPoints(b.v)
	for i, p := range a.cells {
		g := ga[i]
		if sa[g] == 0 {
			q := points[p.v[0]]
			st := int16(1)
			if q[0] >= box.lo[0] && q[0] <= box.hi[0] && q[1] >= box.lo[1] && q[1] <= box.hi[1] && q[2] >= box.lo[2] && q[2] <= box.hi[2] {
				if rb == nil {
					rb = newCaster(b.v, b.t)
				}
				if h := rb.first(middle(points, p.v)); h >= 0 && rb.behind {
					st = 2
				}
			}
			sa[g] = st
		}
		inB[i] = sa[g] == 2
	}
	for i, p := range b.cells {
		g := gb[i]
		if sb[g] == 0 {
			if ra == nil {
				ra = newCaster(a.v, a.t)
			}
			l := Outside
			if h := ra.first(middle(points, p.v)); h >= 0 {
				if l = c.T[h].Front; ra.behind {
					l = c.T[h].Back
				}
			}
			sb[g] = int16(l) + 1
		}
		inA[i] = Label(sb[g] - 1)
	}
	return inA, inB, nil
}

func put(state []int16, g int32, st int16) error {
	if state[g] != 0 && state[g] != st {
		return fmt.Errorf("%w: a part lies on both sides of a surface", errRetry)
	}
	state[g] = st
	return nil
}

// groups joins pieces over sides that no segment cuts; the result is a group
// number (the index of one of its pieces) for each piece.
func groups(ps []piece, corners int) []int32 {
	g := sets.New(len(ps))
	e := edgesOf(corners, len(ps), func(i int) [3]int32 { return ps[i].v })
	e.each(0, corners, func(_ int32, sides []uint64) {
		for i, s := range sides {
			s &= 1<<32 - 1
			if ps[s/3].cut[s%3] != 0 { // a side on a segment bars the way for all
				return
			}
			// So does an edge that one triangle has more than twice: hits that took
			// one number laid two of its edges on each other, and a segment may run
			// between them.
			same := 1
			for _, u := range sides[:i] {
				if ps[u&(1<<32-1)/3].src == ps[s/3].src {
					same++
				}
			}
			if same > 2 {
				return
			}
		}
		for _, s := range sides[1:] {
			g.Join(int32(sides[0]&(1<<32-1)/3), int32(s&(1<<32-1)/3))
		}
	})
	return g.Roots()
}

func boxPoints(v []Point) ibox {
	b := ibox{v[0], v[0]}
	for _, p := range v {
		b = b.join(ibox{p, p})
	}
	return b
}

func middle(points []Point, v [3]int32) [3]float64 {
	var m [3]float64
	for _, i := range v {
		for k := range 3 {
			m[k] += float64(points[i][k]) / 3
		}
	}
	return m
}

// caster finds the first triangle along a slanting ray.
type caster struct {
	v      []Point
	t      [][3]int32
	tree   *tree
	behind bool // the start lies behind the triangle found
}

func newCaster(v []Point, t [][3]int32) *caster {
	boxes := make([]ibox, len(t))
	for i, q := range t {
		boxes[i] = boxOf(v[q[0]], v[q[1]], v[q[2]])
	}
	return &caster{v: v, t: t, tree: buildTree(boxes)}
}

// dirs are ray directions in no special relation to any axis; the next one is
// taken where a ray passes too near an edge.
var dirs = [][3]float64{{0.6123, 0.5417, 0.5761}, {-0.5831, 0.6127, 0.5333}, {0.4711, -0.6937, 0.5448}, {0.7001, 0.3217, -0.6375}, {-0.3391, -0.7219, 0.6032}}

func (c *caster) first(o [3]float64) int32 {
	for _, d := range dirs {
		if i, ok := c.cast(o, d); ok {
			return i
		}
	}
	return -1
}

// cast walks the tree along the ray, nearest first is not needed: parts to be
// located are few.
func (c *caster) cast(o, d [3]float64) (int32, bool) {
	best, at := math.Inf(1), int32(-1)
	sure := true
	behind := false
	if len(c.tree.node) == 0 {
		return -1, true
	}
	c.along(o, d, &best, func(ti int32) bool {
		x, facing, near, hit := rayTri(o, d, c.v, c.t[ti])
		if near && x < best {
			sure = false
		}
		if hit && x > 0 && x < best {
			best, at, behind = x, ti, facing
		}
		return true
	})
	c.behind = behind
	return at, sure
}

// along calls each for the triangles whose boxes' leaves the ray from o along d
// meets nearer than far, which each may bring nearer, until it returns false.
func (c *caster) along(o, d [3]float64, far *float64, each func(ti int32) bool) {
	stack := []int32{0}
	for len(stack) > 0 {
		i := int(stack[len(stack)-1])
		stack = stack[:len(stack)-1]
		if !rayBox(o, d, &c.tree.node[i], *far) {
			continue
		}
		if i < c.tree.leaves-1 {
			stack = append(stack, int32(2*i+1), int32(2*i+2))
			continue
		}
		q0 := (i - c.tree.leaves + 1) * leafSize
		for q := q0; q < min(len(c.tree.order), q0+leafSize); q++ {
			if !each(c.tree.order[q]) {
				return
			}
		}
	}
}

func rayBox(o, d [3]float64, b *ibox, far float64) bool {
	lo, hi := 0.0, far
	for k := range 3 {
		x, y := (float64(b.lo[k])-1-o[k])/d[k], (float64(b.hi[k])+1-o[k])/d[k]
		lo, hi = max(lo, min(x, y)), min(hi, max(x, y))
	}
	return lo <= hi
}

// rayTri returns the distance along the ray, whether the ray leaves through
// the front (so that the start lies behind), whether it passes an edge or a
// grazing plane too near to be sure, and whether it hits.
func rayTri(o, d [3]float64, v []Point, t [3]int32) (x float64, behind, near, hit bool) {
	var p [3][3]float64
	for i := range 3 {
		for k := range 3 {
			p[i][k] = float64(v[t[i]][k]) - o[k]
		}
	}
	var w [3]float64
	scale := 0.0
	for i := range 3 {
		j := (i + 1) % 3
		w[i] = dot3(d, cross3(p[i], p[j]))
		scale = max(scale, math.Abs(w[i]))
	}
	tol := 1e-9 * scale
	pos, neg, zero := 0, 0, 0
	for _, y := range w {
		switch {
		case math.Abs(y) <= tol:
			zero++
		case y > 0:
			pos++
		default:
			neg++
		}
	}
	if pos > 0 && neg > 0 {
		return
	}
	e1 := [3]float64{p[1][0] - p[0][0], p[1][1] - p[0][1], p[1][2] - p[0][2]}
	e2 := [3]float64{p[2][0] - p[0][0], p[2][1] - p[0][1], p[2][2] - p[0][2]}
	n := cross3(e1, e2)
	dn := dot3(d, n)
	if math.Abs(dn) < 1e-12*(math.Abs(n[0])+math.Abs(n[1])+math.Abs(n[2])) {
		return 0, false, true, false
	}
	x = dot3(p[0], n) / dn
	if zero > 0 {
		return x, false, x > 0, false
	}
	return x, dn > 0, false, true
}
