package tension

import (
	"math/rand"
	"testing"

	"pourwright/internal/ground/vec"
)

func BenchmarkUpdate(b *testing.B) { update(b, false) }

// BenchmarkUpdateGuided is given the normals of the time before, as a step of a pour could be.
func BenchmarkUpdateGuided(b *testing.B) { update(b, true) }

func update(b *testing.B, guided bool) {
	c := cavity(b, [3]int{40, 40, 40}, 1e-3, wall{vec.V3{X: 0.2, Z: -1}.Unit(), -4.2})
	F := fill(c, ball(vec.V3{X: 20, Y: 20, Z: 14}, 14.3), 2)
	f, err := New(c, 0.5, Powdered, nil)
	if err != nil {
		b.Fatal(err)
	}
	f.Update(F, nil)
	var guess []vec.V3
	if guided {
		guess = make([]vec.V3, c.Wall+1)
		for i := range c.N {
			guess[i], _ = f.Normal(int32(i))
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		f.Update(F, guess)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(f.patch)), "ns/piece")
}

// BenchmarkUpdateNoise is the dearest case: nothing is smooth.
func BenchmarkUpdateNoise(b *testing.B) {
	c := cavity(b, [3]int{24, 24, 24}, 1e-3)
	r := rand.New(rand.NewSource(3))
	F := make([]float64, c.Wall+1)
	for i := range c.N {
		F[i] = min(max(2*r.Float64()-0.5, 0), 1)
	}
	f, err := New(c, 0.5, Powdered, nil)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		f.Update(F, nil)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(f.patch)), "ns/piece")
}

// BenchmarkUpdateSkipped leaves out all fits.
func BenchmarkUpdateSkipped(b *testing.B) {
	c := cavity(b, [3]int{40, 40, 40}, 1e-3, wall{vec.V3{X: 0.2, Z: -1}.Unit(), -4.2})
	F := fill(c, ball(vec.V3{X: 20, Y: 20, Z: 14}, 14.3), 2)
	f, err := New(c, 0.5, Powdered, nil)
	if err != nil {
		b.Fatal(err)
	}
	skip := make([]bool, c.Wall+1)
	for i := range skip {
		skip[i] = true
	}
	f.Skip(skip)
	for b.Loop() {
		f.Update(F, nil)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(f.patch)), "ns/piece")
}
