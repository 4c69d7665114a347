package cells

import (
	"math"
	"testing"
)

func TestBoxNeighboursAndPorts(t *testing.T) {
	dim := [3]int{4, 3, 2}
	c, err := Box(dim, 1e-3, Side(dim, 2, true)...)
	if err != nil {
		t.Fatal(err)
	}
	if c.N != 24 || c.Ports != 12 || c.Wall != 36 {
		t.Fatalf("%d cells, %d ports", c.N, c.Ports)
	}
	if v := c.Volume(); math.Abs(v-24e-9) > 1e-20 {
		t.Errorf("volume %g", v)
	}
	for a := int32(0); a < int32(c.N); a++ {
		for d := range 3 {
			p := c.I[a]
			p[d]++
			want := c.At(int(p[0]), int(p[1]), int(p[2]))
			got := c.Nb[2*d+1][a]
			if d == 2 && p[2] == 2 {
				if int(got) < c.N || int(got) >= c.Wall || c.A[2][got] != 1 || c.Nb[4][got] != a || c.I[got] != p {
					t.Errorf("no port above cell %v: %d", c.I[a], got)
				}
				continue
			}
			if got != want {
				t.Errorf("beyond cell %v along %d lies %d, want %d", c.I[a], d, got, want)
			}
			if int(got) < c.N && (c.Nb[2*d][got] != a || c.A[d][got] != 1) {
				t.Errorf("cell %v along %d: the way back is shut", c.I[a], d)
			}
		}
	}
}

func TestSliversAreMerged(t *testing.T) {
	s := Shares{H: 1, Dim: [3]int{3, 1, 1}, V: []float64{0.2, 0.9, 0.1}}
	s.A[0], s.A[1], s.A[2] = []float64{0, 0.2, 0}, []float64{0, 0, 0}, []float64{0, 0, 0}
	c, dropped, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	if c.N != 1 || math.Abs(c.V[0]-1.1) > 1e-15 || math.Abs(dropped-0.1) > 1e-15 {
		t.Errorf("%d cells, share %g, dropped %g", c.N, c.V[0], dropped)
	}
	s.V[1] = math.NaN()
	if _, _, err := New(s); err == nil {
		t.Error("a share that is no number was taken")
	}
}
