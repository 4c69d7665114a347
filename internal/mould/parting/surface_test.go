package parting

import (
	"context"
	"math"
	"reflect"
	"runtime"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// rod is a round channel of radius r along y from y0 to y1 at height z.
func rod(x, z, r, y0, y1 float64) *mesh.Mesh {
	m := turnedBody(48, vec.V2{}, vec.V2{X: r}, vec.V2{X: r, Y: y1 - y0}, vec.V2{Y: y1 - y0})
	return moved(m, func(p vec.V3) vec.V3 { return vec.V3{X: x + p.X, Y: y0 + p.Z, Z: z - p.Y} })
}

func TestSurfaceThroughChannel(t *testing.T) {
	// Two balls at different heights, an ingate to the block's upper side.
	a := ball(10, 32)
	b := moved(ball(8, 32), func(p vec.V3) vec.V3 { return p.Add(vec.V3{X: 30, Z: 3}) })
	gate := rod(0, 2, 2.5, 5, 40)
	s := Solve([]Body{{Mesh: a}, {Mesh: b}, {Mesh: gate, Channel: true}}, Rect{-24, -24, 52, 36}, Setting{})
	for k := range 64 {
		sn, c := math.Sincos(2 * math.Pi * float64(k) / 64)
		if x, y := 10*c, 10*sn; math.Abs(x) > 5 || y < 0 {
			if z := s.At(x, y); !near(z, 0, 1.2) {
				t.Errorf("at the first ball's equator (%.1f, %.1f): %.2f", x, y, z)
			}
		}
		if z := s.At(30+8*c, 8*sn); !near(z, 3, 1.2) {
			t.Errorf("at the second ball's equator: %.2f, want 3", z)
		}
	}
	for y := 14.0; y <= 36; y++ {
		if z := s.At(0, y); !near(z, 2, 0.3) {
			t.Errorf("in the channel at y %.0f: %.2f, want its axis 2", y, z)
		}
	}
	if v := a.Volume() + b.Volume(); s.Added > 1e-3*v {
		t.Errorf("adds %.2e of the volume", s.Added/v)
	}
	if s.At(-24, -24) != s.At(52, -24) || s.At(-24, 36) != s.Edge {
		t.Error("the block's edge is not flat away from the channel")
	}
}

func TestSurfaceWithoutBodies(t *testing.T) {
	for _, r := range []Rect{{0, 0, 10, 20}, {}, {5, 5, 1, 1}} {
		s := Solve(nil, r, Setting{})
		for _, z := range s.Z {
			if z != 0 {
				t.Fatalf("%v: height %g", r, z)
			}
		}
	}
}

func TestFlatBack(t *testing.T) {
	// A dome on a flat back.
	var p []vec.V2
	for i := range 33 {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / 32)
		p = append(p, vec.V2{X: 20 * c, Y: 8 * s})
	}
	p[32].X = 0
	m := turnedBody(96, append([]vec.V2{{}}, p...)...)
	for _, up := range []float64{1, -1} {
		r := find(t, moved(m, func(q vec.V3) vec.V3 { return vec.V3{X: q.X, Y: up * q.Y, Z: up * q.Z} }), Options{})
		if r.Back == nil || r.Back.Side != -1 || !near(r.Back.Area, math.Pi*400, 5) || math.Abs(r.Pull.Z) < 0.999 {
			t.Fatalf("back %+v pull %v", r.Back, r.Pull)
		}
		if r.Pull.Z*up < 0 {
			t.Error("half 2 is the slab, so the pull looks away from the back")
		}
		if r.Rise > 1e-6 || len(r.Line) != 1 {
			t.Errorf("%d loops, rise %g", len(r.Line), r.Rise)
		}
		n := 0.0
		for f, l := range r.Label {
			if l == 2 {
				a, b, c := m.Tri(f)
				n += b.Sub(a).Cross(c.Sub(a)).Len() / 2
			}
		}
		if !near(n, math.Pi*400, 5) {
			t.Errorf("half 2 touches %.0f mm2, the back alone is %.0f", n, math.Pi*400)
		}
	}
}

// TestSameOnOneCore: results do not depend on the number of cores.
func TestSameOnOneCore(t *testing.T) {
	m := knob()
	a := find(t, m, Options{Rubber: &Rubber{Shore: 30}})
	n := runtime.GOMAXPROCS(1)
	b := find(t, m, Options{Rubber: &Rubber{Shore: 30}})
	runtime.GOMAXPROCS(n)
	if !reflect.DeepEqual(a, b) {
		t.Error("one core gives another split")
	}
}

func TestLinesOfACube(t *testing.T) {
	m := extruded(10, vec.V2{}, vec.V2{X: 10}, vec.V2{X: 10, Y: 10}, vec.V2{Y: 10})
	s := Solve(nil, Rect{-3, -3, 13, 13}, Setting{Step: 0.5})
	for q := range s.Z { // a slope across the cube
		s.Z[q] = 5 + 0.2*float64(q%s.NX)*s.H - 1.6
	}
	l := s.Lines(m)
	if len(l) != 1 {
		t.Fatalf("%d loops", len(l))
	}
	_, length := lineFigures(l)
	if want := 20 + 20*math.Sqrt(1+0.04); !near(length, want, 1e-6) {
		t.Errorf("length %.9f, want %.9f", length, want)
	}
	for _, p := range l[0] {
		if !near(p.Z, s.At(p.X, p.Y), 1e-9) {
			t.Errorf("%v is not on the surface", p)
		}
		if !(near(p.X, 0, 1e-9) || near(p.X, 10, 1e-9) || near(p.Y, 0, 1e-9) || near(p.Y, 10, 1e-9)) {
			t.Errorf("%v is not on the cube", p)
		}
	}
}

func TestStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Find(ctx, knob(), Options{}); err == nil {
		t.Error("a stopped search gives no error")
	}
}

func BenchmarkFind(b *testing.B) {
	m := one(b, "nefertiti.obj")
	if m == nil {
		return
	}
	opp := mesh.Opposite(m)
	mid := make([]int32, len(opp))
	fine := &mesh.Mesh{V: append([]vec.V3(nil), m.V...)}
	for h := range opp {
		if opp[h] < int32(h) {
			mid[h] = mid[opp[h]]
			continue
		}
		mid[h] = int32(len(fine.V))
		fine.V = append(fine.V, m.V[m.Tail(int32(h))].Lerp(m.V[m.Head(int32(h))], 0.5))
	}
	for t, f := range m.F {
		fine.F = append(fine.F, pieces(f, [3]int32{mid[3*t], mid[3*t+1], mid[3*t+2]})...)
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{{"70k", m}, {"280k", fine}} {
		body := newBody(c.m)
		box := bounds(body.mesh)
		g := 0.2 * body.long
		b.Run("search/"+c.name, func(b *testing.B) {
			for b.Loop() {
				body.choose(nil, Options{})
			}
		})
		b.Run("surface/"+c.name, func(b *testing.B) {
			for b.Loop() {
				Solve([]Body{{Mesh: body.mesh}}, Rect{box.Min.X - g, box.Min.Y - g, box.Max.X + g, box.Max.Y + g}, Setting{})
			}
		})
		b.Run("all/"+c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Find(context.Background(), c.m, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
