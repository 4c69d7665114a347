package solid

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestEdges holds the sorted sides to a plain map, on random triangles with a
// few corners that very many of them share and some that name a corner twice.
func TestEdges(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 7))
	for _, n := range []int{0, 1, 7, 500, 30000} {
		corners := n/2 + 3
		ts := make([][3]int32, n)
		for i := range ts {
			for k := range 3 {
				ts[i][k] = int32(r.IntN(corners))
				if r.IntN(8) == 0 {
					ts[i][k] = int32(r.IntN(3))
				}
			}
		}
		want := map[[2]int32][]uint64{}
		for i, q := range ts {
			for k := range 3 {
				a, b := q[k], q[(k+1)%3]
				if a != b {
					e := [2]int32{min(a, b), max(a, b)}
					want[e] = append(want[e], uint64(3*i+k))
				}
			}
		}
		e := edgesOf(corners, n, func(i int) [3]int32 { return ts[i] })
		got := 0
		e.each(0, e.corners(), func(a int32, sides []uint64) {
			got++
			w := want[[2]int32{a, int32(sides[0] >> 32)}]
			if !slices.EqualFunc(w, sides, func(x, y uint64) bool { return x == y&(1<<32-1) }) {
				t.Fatalf("%d triangles: edge %d %d has %v, want %v", n, a, sides[0]>>32, sides, w)
			}
		})
		if got != len(want) {
			t.Errorf("%d triangles: %d edges, want %d", n, got, len(want))
		}
		twice := 0
		for _, w := range want {
			if len(w) > 1 {
				twice++
			}
		}
		if k := e.count(func(_ int32, s []uint64) bool { return len(s) > 1 }); k != twice {
			t.Errorf("%d triangles: %d edges of several triangles, want %d", n, k, twice)
		}
	}
}

// TestTwins holds the quick search for twins to what stands there.
func TestTwins(t *testing.T) {
	c := &Complex{V: make([]Point, 400)}
	for i := range int32(200) {
		c.T = append(c.T, Tri{V: [3]int32{i, i + 100, i + 200}})
	}
	if c.twins() {
		t.Error("finds twins where there are none")
	}
	c.T = append(c.T, Tri{V: [3]int32{250, 50, 150}})
	if !c.twins() {
		t.Error("misses a twin turned round")
	}
}

func BenchmarkEdges(b *testing.B) {
	const side = 400
	var ts [][3]int32
	for y := range int32(side - 1) {
		for x := range int32(side - 1) {
			q := y*side + x
			ts = append(ts, [3]int32{q, q + 1, q + side}, [3]int32{q + 1, q + side + 1, q + side})
		}
	}
	b.Run("sorted", func(b *testing.B) {
		for b.Loop() {
			edgesOf(side*side, len(ts), func(i int) [3]int32 { return ts[i] })
		}
	})
	b.Run("hashed", func(b *testing.B) {
		for b.Loop() {
			e := newEdgeIndex(len(ts) * 3 / 2)
			for i, t := range ts {
				for k := range 3 {
					e.put(t[k], t[(k+1)%3], int32(i))
				}
			}
		}
	})
}
