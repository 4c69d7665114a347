package parting

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// The search for the pull works on a coarser stand-in above this many triangles.
const proxyAbove = 15000

// proxy returns a body for the search: b itself where it is small, else its
// corners drawn together in the cubes of a grid. The cubes are made smaller
// until the volume is kept within 1 %; a mesh whose triangles stay too many is
// used as it is. Drawing corners together keeps a closed surface closed (a
// cycle stays a cycle), so every sample of a raster still balances.
func (b *body) proxy() *body {
	if len(b.f) <= proxyAbove {
		return b
	}
	for _, n := range []float64{52, 72, 108, 160} {
		p := b.clustered(b.long / n)
		if 3*len(p.f) > 2*len(b.f) {
			break
		}
		if math.Abs(p.mesh.Volume()-b.mesh.Volume()) <= 0.01*math.Abs(b.mesh.Volume()) {
			p.union = b.union
			return p
		}
	}
	return b
}

// clustered draws the corners in each cube of edge c together at their mean
// and leaves out triangles that vanish.
func (b *body) clustered(c float64) *body {
	n := len(b.x)
	key := make([]uint64, n)
	order := make([]uint64, n) // key above, corner below
	at := func(x float64) uint64 { return uint64(int64(math.Floor(x/c)) + 1024) }
	for i := range n {
		key[i] = at(b.x[i])<<22 | at(b.y[i])<<11 | at(b.z[i])
		order[i] = key[i]<<31 | uint64(i)
	}
	slices.Sort(order)
	id := make([]int32, n)
	m := &mesh.Mesh{}
	for s := 0; s < n; {
		e := s
		var p vec.V3
		for e < n && order[e]>>31 == order[s]>>31 {
			i := order[e] & (1<<31 - 1)
			p = p.Add(vec.V3{X: b.x[i], Y: b.y[i], Z: b.z[i]})
			id[i] = int32(len(m.V))
			e++
		}
		m.V = append(m.V, p.Mul(1/float64(e-s)))
		s = e
	}
	for _, t := range b.f {
		q := [3]int32{id[t[0]], id[t[1]], id[t[2]]}
		if mesh.Proper(q) {
			m.F = append(m.F, q)
		}
	}
	r := &body{f: m.F, origin: b.origin, long: b.long, mesh: m, volume: b.volume}
	r.x, r.y, r.z = make([]float64, len(m.V)), make([]float64, len(m.V)), make([]float64, len(m.V))
	for i, p := range m.V {
		r.x[i], r.y[i], r.z[i] = p.X, p.Y, p.Z
	}
	return r
}
