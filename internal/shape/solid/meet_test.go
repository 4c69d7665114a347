package solid

import (
	"math/rand/v2"
	"testing"
)

// TestTrianglesMeetShortcuts holds the quick answers of trianglesMeet to edge
// against triangle alone, on triangles of a few lattice steps, where corners
// touch edges and planes all the time; and to the same with both changed round.
func TestTrianglesMeetShortcuts(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	met := 0
	for n := range 200000 {
		v := make([]Point, 6)
		for i := range v {
			v[i] = Point{r.Int32N(5), r.Int32N(5), r.Int32N(1 + int32(n%4))}
		}
		a, b := [3]int32{0, 1, 2}, [3]int32{3, 4, 5}
		if n%2 == 1 {
			b[r.IntN(3)] = r.Int32N(3)
		}
		pa, pb := [3]Point{v[a[0]], v[a[1]], v[a[2]]}, [3]Point{v[b[0]], v[b[1]], v[b[2]]}
		if normal(pa[0], pa[1], pa[2]).zero() || normal(pb[0], pb[1], pb[2]).zero() {
			continue
		}
		want := false
		for i := range 3 {
			for _, x := range [2]struct {
				e, o [3]int32
				p, t [3]Point
			}{{a, b, pa, pb}, {b, a, pb, pa}} {
				p, q := x.e[i], x.e[(i+1)%3]
				shared := false
				for _, k := range x.o {
					shared = shared || k == p || k == q
				}
				want = want || !shared && edgeMeets(v[p], v[q], &x.t)
			}
		}
		got := trianglesMeet(v, a, b)
		if got != want || got != trianglesMeet(v, b, a) {
			t.Fatalf("%v %v of %v: %t, want %t", a, b, v, got, want)
		}
		if got {
			met++
		}
	}
	if met < 1000 {
		t.Errorf("only %d pairs met", met)
	}
}
