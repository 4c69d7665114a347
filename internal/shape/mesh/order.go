package mesh

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// Canonical returns the same surface with corners and triangles in an order
// that depends on the corners' numbers alone, not on the order of the file:
// corners along the Z-order curve of their box (Morton 1966), equal codes by
// x, y, z; triangles by their corners, the smallest first. Two files with the
// same triangles in another order give the same mesh, and neighbours in space
// lie close in memory. Corners that no triangle uses are left out. Corners of
// equal position must have been joined before.
func Canonical(m *Mesh) *Mesh {
	used := make([]bool, len(m.V))
	for _, t := range m.F {
		used[t[0]], used[t[1]], used[t[2]] = true, true, true
	}
	box := m.Box()
	scale := 0.0
	if l := box.Longest(); l > 0 {
		scale = (1<<21 - 1) / l
	}
	keys := make([]key, 0, len(m.V))
	for i, u := range used {
		if u {
			keys = append(keys, key{0, int32(i)})
		}
	}
	par.For(len(keys), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			p := m.V[keys[i].at].Sub(box.Min).Mul(scale)
			keys[i].code = spread(p.X) | spread(p.Y)<<1 | spread(p.Z)<<2
		}
	})
	keys = radix(keys, 63)
	place := make([]int32, len(m.V))
	r := &Mesh{V: make([]vec.V3, len(keys)), F: make([][3]int32, len(m.F))}
	for i := 0; i < len(keys); {
		j := i + 1
		for j < len(keys) && keys[j].code == keys[i].code {
			j++
		}
		if j-i > 1 {
			slices.SortStableFunc(keys[i:j], func(a, b key) int {
				p, q := m.V[a.at], m.V[b.at]
				return cmp.Or(cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y), cmp.Compare(p.Z, q.Z))
			})
		}
		for ; i < j; i++ {
			r.V[i] = m.V[keys[i].at]
			place[keys[i].at] = int32(i)
		}
	}
	r.sortFaces(m, place)
	return r
}

// sortFaces writes m's triangles with corner i renamed to place[i], turned so
// that the smallest comes first, and sorted.
func (r *Mesh) sortFaces(m *Mesh, place []int32) {
	at := make([]int32, len(r.V)+1)
	turn := make([][3]int32, len(m.F))
	for i, t := range m.F {
		a, b, c := place[t[0]], place[t[1]], place[t[2]]
		switch {
		case b < a && b <= c:
			a, b, c = b, c, a
		case c < a && c < b:
			a, b, c = c, a, b
		}
		turn[i] = [3]int32{a, b, c}
		at[a+1]++
	}
	for i := 1; i < len(at); i++ {
		at[i] += at[i-1]
	}
	for _, t := range turn {
		r.F[at[t[0]]] = t
		at[t[0]]++
	}
	par.For(len(r.V), 4096, func(lo, hi int) {
		from := int32(0)
		if lo > 0 {
			from = at[lo-1]
		}
		for v := lo; v < hi; v++ {
			g := r.F[from:at[v]]
			from = at[v]
			slices.SortFunc(g, func(s, t [3]int32) int {
				return cmp.Or(cmp.Compare(s[1], t[1]), cmp.Compare(s[2], t[2]))
			})
		}
	})
}

// spread puts the 21 bits of a cell number on every third bit.
func spread(x float64) uint64 {
	v := uint64(math.Max(x, 0)) & (1<<21 - 1)
	v = (v | v<<32) & 0x1f00000000ffff
	v = (v | v<<16) & 0x1f0000ff0000ff
	v = (v | v<<8) & 0x100f00f00f00f00f
	v = (v | v<<4) & 0x10c30c30c30c30c3
	v = (v | v<<2) & 0x1249249249249249
	return v
}

type key struct {
	code uint64
	at   int32
}

// radix sorts by the lowest bits of code, eleven at a time, stable.
func radix(a []key, bits int) []key {
	const digit = 11
	b := make([]key, len(a))
	for shift := 0; shift < bits; shift += digit {
		var n [1 << digit]int32
		for i := range a {
			n[a[i].code>>shift&(1<<digit-1)]++
		}
		sum := int32(0)
		for i, c := range n {
			n[i] = sum
			sum += c
		}
		for i := range a {
			d := a[i].code >> shift & (1<<digit - 1)
			b[n[d]] = a[i]
			n[d]++
		}
		a, b = b, a
	}
	return a
}
