package followboard

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// build makes the closed mesh: the field on the two triangles of every cell,
// cut along the rim of the imprint, the walls of the rim, four sides and the
// underside.
func (b *board) build() {
	b.m = &mesh.Mesh{}
	b.cut = make(map[[2]int32]cutPoint)
	b.fold = make(map[[2]int32]int32)
	b.keepOff()
	b.nodes = make([]int32, b.nx*b.ny)
	for j := range b.ny {
		for i := range b.nx {
			q := j*b.nx + i
			x, y := b.xy(i, j)
			b.nodes[q] = b.corner(x, y, b.height(q))
		}
	}
	for j := range b.ny - 1 {
		for i := range b.nx - 1 {
			q := int32(j*b.nx + i)
			r := q + int32(b.nx)
			b.triangle(q, q+1, r+1)
			b.triangle(q, r+1, r)
		}
	}
	b.sides()
}

// height is the board's height at a node.
func (b *board) height(q int) float64 {
	if b.phi[q] < 0 {
		return b.pit[q]
	}
	return b.out[q]
}

func (b *board) corner(x, y, z float64) int32 {
	b.m.V = append(b.m.V, vec.V3{X: x, Y: y, Z: z})
	return int32(len(b.m.V) - 1)
}

func (b *board) face3(p, q, r int32) { b.m.F = append(b.m.F, [3]int32{p, q, r}) }

// rim returns the two corners, on the parting surface and in the imprint, at
// which the rim crosses the edge between an outer and an inner node.
func (b *board) rim(out, in int32) cutPoint {
	key := [2]int32{out, in}
	if c, ok := b.cut[key]; ok {
		return c
	}
	t := b.phi[out] / (b.phi[out] - b.phi[in])
	t = min(max(t, 0.05), 0.95)
	p, q := b.m.V[b.nodes[out]], b.m.V[b.nodes[in]]
	x, y := p.X+t*(q.X-p.X), p.Y+t*(q.Y-p.Y)
	// On the edge itself, so that both triangles and the outer one's plane agree.
	high := p.Z + t*(b.out[in]-p.Z)
	low := math.Min(b.pit[in], high-step)
	c := cutPoint{b.corner(x, y, high), b.corner(x, y, low)}
	b.cut[key] = c
	return c
}

// triangle adds one triangle of the grid, its corners counter-clockwise.
func (b *board) triangle(p, q, r int32) {
	n := b.nodes
	in := func(q int32) bool { return b.phi[q] < 0 }
	for range 3 { // turn the odd one out to the front
		if in(p) != in(q) && in(q) == in(r) {
			break
		}
		p, q, r = q, r, p
	}
	if in(p) == in(q) && in(q) == in(r) {
		b.folded(p, q, r)
		return
	}
	var s, t cutPoint
	if in(p) {
		s, t = b.rim(q, p), b.rim(r, p)
		b.face3(n[p], s.low, t.low)
		b.face3(s.high, n[q], n[r])
		b.face3(s.high, n[r], t.high)
		// The wall looks into the imprint.
		b.face3(s.low, s.high, t.high)
		b.face3(s.low, t.high, t.low)
		return
	}
	s, t = b.rim(p, q), b.rim(p, r)
	b.face3(n[p], s.high, t.high)
	b.face3(s.low, n[q], n[r])
	b.face3(s.low, n[r], t.low)
	b.face3(s.high, s.low, t.low)
	b.face3(s.high, t.low, t.high)
}

// keepOff takes the nodes beside an imprint and on the sides out of the cuts
// along keys.
func (b *board) keepOff() {
	beside := make([]bool, len(b.part))
	for j := range b.ny {
		for i := range b.nx {
			q := j*b.nx + i
			if i == 0 || j == 0 || i == b.nx-1 || j == b.ny-1 {
				beside[q] = true
				continue
			}
			if b.phi[q] < 0 {
				for dj := -b.nx; dj <= b.nx; dj += b.nx {
					beside[q+dj-1], beside[q+dj], beside[q+dj+1] = true, true, true
				}
			}
		}
	}
	for q, s := range beside {
		if s {
			b.part[q] = -1
		}
	}
}

// bend returns the corner at which the edge between two nodes passes from one
// face of a key to another, -1 where it does not.
func (b *board) bend(p, q int32) int32 {
	if b.part[p] == b.part[q] || b.part[p] < 0 || b.part[q] < 0 {
		return -1
	}
	if p > q {
		p, q = q, p
	}
	key := [2]int32{p, q}
	if c, ok := b.fold[key]; ok {
		return c
	}
	v, w := b.m.V[b.nodes[p]], b.m.V[b.nodes[q]]
	lo, hi := 0.0, 1.0
	for range 30 {
		t := (lo + hi) / 2
		if _, part := b.face(v.X+t*(w.X-v.X), v.Y+t*(w.Y-v.Y)); part == b.part[p] {
			lo = t
		} else {
			hi = t
		}
	}
	t := min(max((lo+hi)/2, 0.05), 0.95)
	x, y := v.X+t*(w.X-v.X), v.Y+t*(w.Y-v.Y)
	z, _ := b.face(x, y)
	c := b.corner(x, y, z)
	b.fold[key] = c
	return c
}

// folded adds a triangle on one side of the rim, cut where its edges pass
// round a key's foot or top.
func (b *board) folded(p, q, r int32) {
	n := b.nodes
	c := [3]int32{b.bend(p, q), b.bend(q, r), b.bend(r, p)}
	for range 3 { // turn the edge without a cut to the front, or the only cut
		cuts := 0
		for _, x := range c {
			if x >= 0 {
				cuts++
			}
		}
		if cuts == 0 || cuts == 3 || cuts == 2 && c[0] < 0 || cuts == 1 && c[0] >= 0 {
			break
		}
		p, q, r = q, r, p
		c = [3]int32{c[1], c[2], c[0]}
	}
	switch {
	case c[0] >= 0 && c[1] >= 0 && c[2] >= 0:
		b.face3(n[p], c[0], c[2])
		b.face3(c[0], n[q], c[1])
		b.face3(c[2], c[1], n[r])
		b.face3(c[0], c[1], c[2])
	case c[1] >= 0 && c[2] >= 0:
		b.face3(n[r], c[2], c[1])
		b.face3(n[p], n[q], c[1])
		b.face3(n[p], c[1], c[2])
	case c[0] >= 0:
		b.face3(n[p], c[0], n[r])
		b.face3(c[0], n[q], n[r])
	default:
		b.face3(n[p], n[q], n[r])
	}
}

// sides adds the four sides and the underside, a fan about its middle. An
// imprint that reaches a side opens it.
func (b *board) sides() {
	z := b.deepest - b.in.Floor
	for _, p := range b.m.V {
		z = math.Min(z, p.Z-b.in.Floor)
	}
	c := b.in.Box.Centre()
	mid := b.corner(c.X, c.Y, z)
	var ring []int32 // nodes, counter-clockwise seen from above
	for i := 0; i < b.nx-1; i++ {
		ring = append(ring, int32(i))
	}
	for j := 0; j < b.ny-1; j++ {
		ring = append(ring, int32(j*b.nx+b.nx-1))
	}
	for i := b.nx - 1; i > 0; i-- {
		ring = append(ring, int32((b.ny-1)*b.nx+i))
	}
	for j := b.ny - 1; j > 0; j-- {
		ring = append(ring, int32(j*b.nx))
	}
	foot := make([]int32, len(ring))
	for k, q := range ring {
		p := b.m.V[b.nodes[q]]
		foot[k] = b.corner(p.X, p.Y, z)
	}
	for k, q := range ring {
		l := (k + 1) % len(ring)
		r := ring[l]
		p, s := b.nodes[q], b.nodes[r]
		b.face3(mid, foot[l], foot[k])
		switch qi, ri := b.phi[q] < 0, b.phi[r] < 0; {
		case qi == ri:
			b.face3(foot[k], foot[l], s)
			b.face3(foot[k], s, p)
		// A fan from below the higher part sees every corner.
		case qi: // in, then out
			c := b.rim(r, q)
			b.face3(foot[l], s, c.high)
			b.face3(foot[l], c.high, c.low)
			b.face3(foot[l], c.low, p)
			b.face3(foot[l], p, foot[k])
		default:
			c := b.rim(q, r)
			b.face3(foot[k], foot[l], s)
			b.face3(foot[k], s, c.low)
			b.face3(foot[k], c.low, c.high)
			b.face3(foot[k], c.high, p)
		}
	}
}
