package tension

import (
	"testing"

	"pourwright/internal/ground/vec"
)

func BenchmarkUpdate(b *testing.B) {
	c := cavity(b, [3]int{40, 40, 40}, 1e-3, wall{vec.V3{X: 0.2, Z: -1}.Unit(), -4.2})
	F := fill(c, ball(vec.V3{X: 20, Y: 20, Z: 14}, 14.3), 2)
	f, err := New(c, 0.5, Powdered, nil)
	if err != nil {
		b.Fatal(err)
	}
	f.Update(F, nil)
	b.ReportAllocs()
	for b.Loop() {
		f.Update(F, nil)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(f.patch)), "ns/piece")
}
