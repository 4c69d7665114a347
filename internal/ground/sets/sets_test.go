package sets

import (
	"math/rand/v2"
	"testing"
)

// The sets are those of a graph searched edge by edge, known by their least member,
// whatever the order of the edges.
func TestSetsOfAGraph(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		n := 1 + rnd.IntN(60)
		edges := make([][2]int32, rnd.IntN(60))
		for i := range edges {
			edges[i] = [2]int32{int32(rnd.IntN(n)), int32(rnd.IntN(n))}
		}
		want := make([]int32, n)
		for i := range want {
			want[i] = int32(i)
		}
		for range n {
			for _, e := range edges {
				m := min(want[e[0]], want[e[1]])
				want[e[0]], want[e[1]] = m, m
			}
		}
		rnd.Shuffle(len(edges), func(i, j int) { edges[i], edges[j] = edges[j], edges[i] })
		s := New(n)
		for _, e := range edges {
			s.Join(e[0], e[1])
		}
		for i, r := range s.Roots() {
			if r != want[i] {
				t.Fatalf("%d is in the set of %d, not of %d: %v", i, r, want[i], edges)
			}
		}
	}
}
