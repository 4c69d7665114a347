package cells

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
)

// TestLevelInWedge: a box of cells cut by one tilted wall; the level's volume is that of
// the prism, also where slivers were merged but for their share.
func TestLevelInWedge(t *testing.T) {
	const n = 12
	w := vec.V3{X: 0.3, Y: 0.1, Z: 1}.Unit()
	s := Shares{H: 1e-3, Dim: [3]int{n, n, n}, V: make([]float64, n*n*n), Normal: make([]vec.V3, n*n*n)}
	for d := range s.A {
		s.A[d] = make([]float64, n*n*n)
	}
	at := w.Dot(vec.V3{X: n / 2, Y: n / 2, Z: n / 2}) + 0.123
	q := 0
	for k := range n {
		for j := range n {
			for i := range n {
				lo := vec.V3{X: float64(i), Y: float64(j), Z: float64(k)}
				s.V[q] = CubeUnder(w, at-w.Dot(lo))
				if s.V[q] < 1 {
					s.Normal[q] = w
				}
				for d := range 3 { // a thin slab at the low side
					m := w.Array()
					m[d] = 0
					s.A[d][q] = CubeUnder(vec.FromArray(m), at-w.Dot(lo))
				}
				q++
			}
		}
	}
	c, dropped, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	volume := CubeUnder(w.Mul(n), at) * n * n * n
	if math.Abs(c.Volume()*1e9+dropped-volume) > 1e-9 {
		t.Errorf("volume %g and %g dropped, want %g", c.Volume()*1e9, dropped, volume)
	}
	up := vec.V3{Y: 1}
	f := Level(c, up, vec.V3{Y: 4.3e-3})
	sum := 0.0
	for i := range c.N {
		sum += f[i] * c.V[i]
		if p := c.Part(int32(i)); p != nil && math.Abs(p.Volume()-c.Own[i]) > 1e-13 {
			t.Fatalf("cell %d: half space %g, share %g", i, p.Volume(), c.Own[i])
		}
		if math.Abs(c.Plane(int32(i), up, f[i])-(4.3-float64(c.I[i][1]))) > 1e-12 && f[i] > 0 && f[i] < 1 {
			t.Fatalf("cell %d: the share leads to another level", i)
		}
	}
	p := PartOf(w.Mul(n), at)
	if want := p.Volume() * p.Under(up, 4.3/n) * n * n * n; math.Abs(sum-want) > 2e-3*volume {
		t.Errorf("under the level: %g, want %g", sum, want)
	}
}
