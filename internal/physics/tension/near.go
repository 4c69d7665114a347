package tension

import (
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// block is a cell and the 26 round it as far as open sides lead there within the
// block; -1 elsewhere. x fastest; the cell itself is at 13.
type block [27]int32

// step is what a side adds to a place in a block.
var step = [6]int{-1, 1, -3, 3, -9, 9}

// edges and corners are the places with two and three sides to pass, with the
// sides; a place is reached from any of the places one side before it.
var edges, corners = func() (e [12][3]int, c [8][4]int) {
	a, b := 0, 0
	for x := range 3 {
		for y := range 3 {
			for z := range 3 {
				at := x + 3*y + 9*z
				var s []int
				for d, q := range [3]int{x, y, z} {
					switch q {
					case 0:
						s = append(s, 2*d)
					case 2:
						s = append(s, 2*d+1)
					}
				}
				switch len(s) {
				case 2:
					e[a] = [3]int{at, s[0], s[1]}
					a++
				case 3:
					c[b] = [4]int{at, s[0], s[1], s[2]}
					b++
				}
			}
		}
	}
	return e, c
}()

// fill walks from cell i.
func (b *block) fill(c *cells.Cells, i int32) {
	for k := range b {
		b[k] = -1
	}
	b[13] = i
	wall := int32(c.Wall)
	for s := range 6 {
		if o := c.Nb[s][i]; o != wall {
			b[13+step[s]] = o
		}
	}
	from := func(at int, s int) int32 {
		k := b[at-step[s]]
		if k < 0 {
			return -1
		}
		if o := c.Nb[s][k]; o != wall {
			return o
		}
		return -1
	}
	for k := range edges {
		e := &edges[k]
		o := from(e[0], e[1])
		if o < 0 {
			o = from(e[0], e[2])
		}
		b[e[0]] = o
	}
	for k := range corners {
		e := &corners[k]
		o := from(e[0], e[1])
		if o < 0 {
			o = from(e[0], e[2])
		}
		if o < 0 {
			o = from(e[0], e[3])
		}
		b[e[0]] = o
	}
}

// slope returns a rough normal out of the metal: the least squares slope of the
// fractions over the block, weights 1, 1/2, 1/4 for one, two, three sides.
func (b *block) slope(F []float64) vec.V3 {
	var a [6]float64
	var r vec.V3
	f0 := F[b[13]]
	for k, q := range b {
		if q < 0 || k == 13 {
			continue
		}
		x, y, z := float64(k%3-1), float64(k/3%3-1), float64(k/9-1)
		w := 2 / (x*x + y*y + z*z)
		w *= w
		d := w * (f0 - F[q])
		a[0] += w * x * x
		a[1] += w * x * y
		a[2] += w * x * z
		a[3] += w * y * y
		a[4] += w * y * z
		a[5] += w * z * z
		r.X += d * x
		r.Y += d * y
		r.Z += d * z
	}
	e := 1e-6 * (a[0] + a[3] + a[5])
	a[0], a[3], a[5] = a[0]+e, a[3]+e, a[5]+e
	c0, c1, c2 := a[3]*a[5]-a[4]*a[4], a[2]*a[4]-a[1]*a[5], a[1]*a[4]-a[2]*a[3]
	d0, d1, d2 := a[0]*a[5]-a[2]*a[2], a[1]*a[2]-a[0]*a[4], a[0]*a[3]-a[1]*a[1]
	return vec.V3{
		X: c0*r.X + c1*r.Y + c2*r.Z,
		Y: c1*r.X + d0*r.Y + d1*r.Z,
		Z: c2*r.X + d1*r.Y + d2*r.Z,
	}
}

// ring is the pieces of surface in the block round a piece, and where they lie.
type ring struct {
	n  int32
	at [26]int32
	by [26]uint8 // place in the block
}

func (r *ring) fill(b *block, slot []int32) {
	r.n = 0
	for k, q := range b {
		if q < 0 || k == 13 {
			continue
		}
		if s := slot[q]; s >= 0 {
			r.at[r.n], r.by[r.n] = s, uint8(k)
			r.n++
		}
	}
}

// roam is how far off a piece may lie and come within reach when pieces are turned.
const roam = reach + 0.4

// around is the pieces near a piece that hang together with it, the piece itself
// first.
type around struct {
	n  int32
	at [47]int32
}

// fill collects the ring and the rings of its pieces that face the same way.
func (a *around) fill(k int32, rings []ring, patches []patch) {
	// Places within two cells have a bit each in seen; the piece's own is 62.
	var seen [2]uint64
	seen[0] = 1 << 62
	a.n, a.at[0] = 1, k
	x := patches[k].x
	add := func(place int, j int32) {
		if seen[place>>6]>>(place&63)&1 != 0 {
			return
		}
		seen[place>>6] |= 1 << (place & 63)
		y := &patches[j].x
		dx, dy, dz := y.X-x.X, y.Y-x.Y, y.Z-x.Z
		if dx*dx+dy*dy+dz*dz < roam*roam && int(a.n) < len(a.at) {
			a.at[a.n] = j
			a.n++
		}
	}
	near := &rings[k]
	for b := range near.n {
		add(62+int(place[near.by[b]]), near.at[b])
	}
	n := patches[k].n
	for b := range near.n {
		if patches[near.at[b]].n.Dot(n) <= 0 {
			continue
		}
		from := 62 + int(place[near.by[b]])
		far := &rings[near.at[b]]
		for e := range far.n {
			add(from+int(place[far.by[e]]), far.at[e])
		}
	}
}

// place is the step in a block of five cells for each place in one of three.
var place = func() (p [27]int8) {
	for k := range p {
		p[k] = int8((k%3 - 1) + 5*(k/3%3-1) + 25*(k/9-1))
	}
	return p
}()
