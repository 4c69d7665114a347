package mesh

import (
	"slices"

	"pourwright/internal/ground/par"
)

// Half-edge h = 3*i + k runs from corner k to corner k+1 of triangle i.

// NextHalf returns the half-edge that follows h round its triangle.
func NextHalf(h int32) int32 {
	if h%3 == 2 {
		return h - 2
	}
	return h + 1
}

// PrevHalf returns the half-edge before h round its triangle.
func PrevHalf(h int32) int32 {
	if h%3 == 0 {
		return h + 2
	}
	return h - 1
}

// Tail and Head return the corners that half-edge h leaves and reaches.
func (m *Mesh) Tail(h int32) int32 { return m.F[h/3][h%3] }

// Head returns the corner that half-edge h reaches.
func (m *Mesh) Head(h int32) int32 { return m.F[h/3][(h%3+1)%3] }

// Opposite returns, for every half-edge, the half-edge that runs the same edge
// the other way, or -1 where there is not exactly one such pair: at an open
// edge, at an edge of three or more triangles and between two triangles that
// disagree about the outside. A triangle that names one corner twice has no
// edges.
func Opposite(m *Mesh) []int32 { return edgesOf(m).opp }

// Neighbours returns, for triangle i, the triangles across its edges: entry k
// lies beyond the edge from corner k to corner k+1, -1 where Opposite has none.
func Neighbours(m *Mesh) [][3]int32 {
	opp := Opposite(m)
	nb := make([][3]int32, len(m.F))
	par.For(len(nb), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			for k := range 3 {
				nb[i][k] = -1
				if o := opp[3*i+k]; o >= 0 {
					nb[i][k] = o / 3
				}
			}
		}
	})
	return nb
}

// edges is what one pass over all edges finds.
type edges struct {
	opp    []int32
	count  int       // different edges
	open   int       // edges of one triangle
	doubly int       // edges of more than two
	turned int       // edges of two or more whose two senses do not balance
	odd    [][]int32 // the half-edges of every edge of two or more that is not a clean pair
	first  int32     // the smallest half-edge on an edge that is not a clean pair, -1 if none
}

// edgesOf groups the half-edges by their smaller corner (a counting sort) and
// sorts each small group by the larger one, so that equal edges lie together.
// Linear in the triangles but for the groups' own sorting; no hashing.
func edgesOf(m *Mesh) *edges {
	e := &edges{opp: make([]int32, 3*len(m.F)), first: -1}
	at := make([]int32, len(m.V)+1)
	for _, t := range m.F {
		if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
			continue
		}
		at[min(t[0], t[1])]++
		at[min(t[1], t[2])]++
		at[min(t[2], t[0])]++
	}
	sum := int32(0)
	for i, n := range at {
		at[i] = sum
		sum += n
	}
	// An entry holds the larger corner, the half-edge and its sense.
	entry := make([]uint64, sum)
	for i, t := range m.F {
		if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
			continue
		}
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			x := uint64(3*i+k) << 1
			if a > b {
				a, b = b, a
				x |= 1
			}
			entry[at[a]] = uint64(b)<<32 | x
			at[a]++
		}
	}
	for i := range e.opp {
		e.opp[i] = -1
	}
	// Now at[v] is the end of group v and the start of group v+1.
	const chunk = 4096
	part := make([]edges, (len(m.V)+chunk-1)/chunk)
	par.For(len(m.V), chunk, func(lo, hi int) {
		p := &part[lo/chunk]
		p.opp, p.first = e.opp, -1
		for v := lo; v < hi; v++ {
			from := int32(0)
			if v > 0 {
				from = at[v-1]
			}
			p.group(entry[from:at[v]])
		}
	})
	for i := range part {
		e.add(&part[i])
	}
	return e
}

// group takes the half-edges of one smaller corner.
func (e *edges) group(g []uint64) {
	if len(g) < 24 {
		for i := 1; i < len(g); i++ {
			for x, j := g[i], i; j > 0 && g[j-1] > x; j-- {
				g[j-1], g[j] = x, g[j-1]
			}
		}
	} else {
		slices.Sort(g)
	}
	for i := 0; i < len(g); {
		j := i + 1
		for j < len(g) && g[j]>>32 == g[i]>>32 {
			j++
		}
		e.edge(g[i:j])
		i = j
	}
}

// edge takes all half-edges of one edge.
func (e *edges) edge(g []uint64) {
	half := func(x uint64) int32 { return int32(uint32(x) >> 1) }
	e.count++
	if len(g) == 2 && (g[0]^g[1])&1 == 1 {
		a, b := half(g[0]), half(g[1])
		e.opp[a], e.opp[b] = b, a
		return
	}
	if h := half(g[0]); e.first < 0 || h < e.first {
		e.first = h
	}
	if len(g) == 1 {
		e.open++
		return
	}
	if len(g) > 2 {
		e.doubly++
	}
	back := 0
	odd := make([]int32, len(g))
	for i, x := range g {
		back += int(x & 1)
		odd[i] = half(x)
	}
	if 2*back != len(g) {
		e.turned++
	}
	e.odd = append(e.odd, odd)
}

func (e *edges) add(p *edges) {
	e.count += p.count
	e.open += p.open
	e.doubly += p.doubly
	e.turned += p.turned
	e.odd = append(e.odd, p.odd...)
	if p.first >= 0 && (e.first < 0 || p.first < e.first) {
		e.first = p.first
	}
}
