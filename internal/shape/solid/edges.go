package solid

import (
	"slices"

	"pourwright/internal/ground/par"
)

// edges lists the sides of triangles edge by edge: those that start or end at
// corner a and go to a higher one b stand together, in rising order of b and
// then of the side. Side 3 i + k of triangle i runs from its corner k to k + 1.
// It holds what an edgeIndex over all triangles would, at a quarter of the time:
// the sides are sorted by counting, and what lies close stays close.
type edges struct {
	first []int32
	side  []uint64 // b << 32 | side
}

// edgesOf takes n triangles on corners 0 to corners - 1; sides between one
// corner and itself are left out.
func edgesOf(corners, n int, at func(i int) [3]int32) *edges {
	e := &edges{first: make([]int32, corners+1)}
	for i := range n {
		t := at(i)
		for k := range 3 {
			if a, b := t[k], t[(k+1)%3]; a != b {
				e.first[min(a, b)+1]++
			}
		}
	}
	for a := range corners {
		e.first[a+1] += e.first[a]
	}
	e.side = make([]uint64, e.first[corners])
	fill := slices.Clone(e.first[:corners])
	for i := range n {
		t := at(i)
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			if a == b {
				continue
			}
			if a > b {
				a, b = b, a
			}
			e.side[fill[a]] = uint64(b)<<32 | uint64(3*i+k)
			fill[a]++
		}
	}
	par.For(corners, 8192, func(lo, hi int) {
		for a := lo; a < hi; a++ {
			sortSides(e.side[e.first[a]:e.first[a+1]])
		}
	})
	return e
}

// sortSides sorts by insertion where the list is short, as it nearly always is.
func sortSides(s []uint64) {
	if len(s) > 24 {
		slices.Sort(s)
		return
	}
	for i := 1; i < len(s); i++ {
		x, j := s[i], i
		for ; j > 0 && s[j-1] > x; j-- {
			s[j] = s[j-1]
		}
		s[j] = x
	}
}

// each calls f with the sides of every edge whose lower corner a lies in
// [lo, hi), edge by edge.
func (e *edges) each(lo, hi int, f func(a int32, sides []uint64)) {
	for a := lo; a < hi; a++ {
		s := e.side[e.first[a]:e.first[a+1]]
		for len(s) > 0 {
			n := 1
			for n < len(s) && s[n]>>32 == s[0]>>32 {
				n++
			}
			f(int32(a), s[:n])
			s = s[n:]
		}
	}
}

// corners is how many there are.
func (e *edges) corners() int { return len(e.first) - 1 }

// count returns for how many edges f is true.
func (e *edges) count(f func(a int32, sides []uint64) bool) int {
	return int(par.Sum(e.corners(), 8192, func(lo, hi int) float64 {
		n := 0
		e.each(lo, hi, func(a int32, sides []uint64) {
			if f(a, sides) {
				n++
			}
		})
		return float64(n)
	}))
}
