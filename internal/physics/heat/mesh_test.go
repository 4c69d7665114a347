package heat

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
)

// globe is a closed mesh of 2 n (n-1) triangles round c: radius f of the
// direction.
func globe(n int, c vec.V3, f func(u vec.V3) float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := func(a, b float64) vec.V3 {
		u := vec.V3{X: math.Sin(a) * math.Cos(b), Y: math.Sin(a) * math.Sin(b), Z: math.Cos(a)}
		return c.Add(u.Mul(f(u)))
	}
	m.V = append(m.V, at(0, 0), at(math.Pi, 0))
	for i := 1; i < n; i++ {
		for j := range n {
			m.V = append(m.V, at(math.Pi*float64(i)/float64(n), 2*math.Pi*float64(j)/float64(n)))
		}
	}
	v := func(i, j int) int32 { return int32(2 + (i-1)*n + j%n) }
	for j := range n {
		m.F = append(m.F, [3]int32{0, v(1, j), v(1, j+1)}, [3]int32{1, v(n-1, j+1), v(n-1, j)})
		for i := 1; i < n-1; i++ {
			m.F = append(m.F, [3]int32{v(i, j), v(i+1, j), v(i+1, j+1)}, [3]int32{v(i, j), v(i+1, j+1), v(i, j+1)})
		}
	}
	return m
}

func round(r float64) func(vec.V3) float64 { return func(vec.V3) float64 { return r } }

func TestMeshAgreesWithItsDistance(t *testing.T) {
	g := grid.Grid{H: 1, NX: 30, NY: 28, NZ: 26}
	c := vec.V3{X: 14.6, Y: 14.2, Z: 13.1}
	m := globe(120, c, round(7))
	a, err := FromMesh(context.Background(), m, g.Box(), g)
	if err != nil {
		t.Fatal(err)
	}
	b := FromDistance(func(p vec.V3) float64 { return p.Dist(c) - 7 }, g)
	va, vb := 0.0, 0.0
	for q := range a.Dist {
		va, vb = va+float64(a.Share[q]), vb+float64(b.Share[q])
		if d := math.Abs(float64(b.Dist[q])); d < Band && math.Abs(float64(a.Dist[q]-b.Dist[q])) > 0.01 {
			t.Fatalf("cell %d: distance %g, not %g", q, a.Dist[q], b.Dist[q])
		}
		if math.Abs(float64(a.Share[q]-b.Share[q])) > 0.08 {
			t.Fatalf("cell %d: share %g, not %g", q, a.Share[q], b.Share[q])
		}
	}
	if math.Abs(va-m.Volume()) > 2e-3*va || math.Abs(vb-4*math.Pi/3*343) > 1e-3*vb {
		t.Errorf("volumes %g (mesh %g) and %g (ball %g)", va, m.Volume(), vb, 4*math.Pi/3*343)
	}
	var times [2]Times
	for i, body := range []*Body{a, b} {
		r := begin(t, Problem{Body: body, Metal: pewter, Rubber: silicone, Air: 25, Start: 25})
		must(t, r.Pour(275))
		must(t, r.Advance(context.Background(), 100))
		times[i] = r.Times()
	}
	if math.Abs(times[0].Solid/times[1].Solid-1) > 0.005 || math.Abs(times[0].Surface-times[1].Surface) > 2 {
		t.Errorf("%+v from the mesh, %+v from the distance", times[0], times[1])
	}
}

// A cavity that is cut off at the block's side has no wall there.
func TestMouthIsNoWall(t *testing.T) {
	g := grid.Grid{H: 1, NX: 24, NY: 24, NZ: 24}
	c := vec.V3{X: 12.2, Y: 24, Z: 12.4}
	m := globe(60, c, round(6))
	for i, p := range m.V {
		m.V[i].Y = min(p.Y, 24) // a half ball with a flat lid in the side
	}
	b, err := FromMesh(context.Background(), m, g.Box(), g)
	if err != nil {
		t.Fatal(err)
	}
	if d := b.Dist[g.At(12, 23, 12)]; d > -Band {
		t.Errorf("the lid counts as a wall: distance %g", d)
	}
	r := begin(t, Problem{Body: b, Metal: pewter, Rubber: silicone, Air: 25, Start: 25, Sides: [6]Side{YHigh: {H: 10, Metal: 15}}})
	must(t, r.Pour(275))
	must(t, r.Advance(context.Background(), 20))
	if e := r.Energy(); !(e.LostMouth > 0) || math.Abs(e.Share()) > 1e-6 {
		t.Errorf("%+v", e)
	}
}

func TestMeshStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	g := grid.Grid{H: 1, NX: 24, NY: 24, NZ: 24}
	if _, err := FromMesh(ctx, globe(20, vec.V3{X: 12, Y: 12, Z: 12}, round(6)), g.Box(), g); err == nil {
		t.Error("went on")
	}
	if _, err := FromMesh(context.Background(), &mesh.Mesh{V: []vec.V3{{X: math.NaN()}}}, g.Box(), g); err == nil {
		t.Error("took a corner that is not a number")
	}
}

// BenchmarkFromMesh samples a lobed body of 280 000 triangles on 6.9 million
// cells.
func BenchmarkFromMesh(b *testing.B) {
	m := globe(375, vec.V3{X: 80, Y: 45, Z: 30}, func(u vec.V3) float64 { return 22 + 4*math.Sin(7*u.X)*math.Cos(5*u.Y) })
	for i, p := range m.V {
		m.V[i].X = 80 + (p.X-80)*2.5
	}
	g := grid.Grid{H: 0.5, NX: 320, NY: 180, NZ: 120}
	for b.Loop() {
		if _, err := FromMesh(context.Background(), m, g.Box(), g); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(m.F)), "triangles")
}

// BenchmarkNew lays out a Run on 6.9 million cells.
func BenchmarkNew(b *testing.B) {
	body := figure(0.5)
	for b.Loop() {
		if _, err := New(context.Background(), Problem{Body: body, Metal: pewter, Rubber: silicone, Air: 25, Start: 25}); err != nil {
			b.Fatal(err)
		}
	}
}
