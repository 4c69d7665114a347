package heat

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

// same reports whether two slices hold the same bits.
func same(a, b []float32) bool {
	return slices.EqualFunc(a, b, func(x, y float32) bool { return math.Float32bits(x) == math.Float32bits(y) })
}

func noise(r *rand.Rand, n int, scale float64) []float32 {
	s := make([]float32, n)
	for i := range s {
		s[i] = float32(scale * (r.Float64() - 0.5))
	}
	return s
}

func TestPlaneVectorsGiveTheSameBits(t *testing.T) {
	fast := fastest()
	if fast == &plain {
		t.Log("not compared: this machine has plain kernels only")
		return
	}
	r := rand.New(rand.NewPCG(1, 2))
	for _, size := range [][3]int{{1, 1, 1}, {7, 3, 2}, {8, 5, 4}, {9, 4, 3}, {64, 17, 5}, {160, 9, 3}, {500, 3, 2}} {
		p := pad(size[0], size[1], size[2])
		in := noise(r, p.n, 400)
		a, b := make([]float32, p.n), make([]float32, p.n)
		for k := range p.nz {
			at := p.id(0, 0, k)
			planePlain(a[at:], in, at, &p, 0.1583)
			fast.plane(b[at:], in, at, &p, 0.1583)
		}
		if !same(a, b) {
			t.Errorf("%v: the planes differ", size)
		}
		for k := range p.nz {
			at := p.id(0, 0, k)
			x := long{1.7, -0.8, 0.3, 0.09}
			longPlain(a[at:], in[at:], in, at, &p, x)
			fast.long(b[at:], in[at:], in, at, &p, x)
		}
		if !same(a, b) {
			t.Errorf("%v: the long stages differ", size)
		}
		for k := range p.nz {
			at := p.id(0, 0, k)
			ratePlain(a[at:], in, at, &p, 0.7)
			fast.rate(b[at:], in, at, &p, 0.7)
		}
		if !same(a, b) {
			t.Errorf("%v: the rates differ", size)
		}
		fast.high(a, in)
		highPlain(b, in)
		if !same(a, b) {
			t.Errorf("%v: the peaks differ", size)
		}
	}
}

// stageOf makes up blocks whose neighbours are drawn at random.
func stageOf(r *rand.Rand, blocks, pieces int) *stage {
	n := (blocks + 2) * lanes
	s := &stage{mu: 1.3, nu: -0.4, mt: 0.21, ga: -0.13, share: 0.07, tail: piece{from: 260, slope: 1.04}}
	for i := range pieces {
		s.pieces = append(s.pieces, piece{from: float32(40 * i), wide: 40, slope: float32(r.Float64())})
	}
	for _, f := range []*[]float32{&s.d1, &s.d2, &s.t, &s.u, &s.l0, &s.w, &s.back, &s.mean, &s.g[0], &s.g[1], &s.g[2]} {
		*f = noise(r, n, 10)
	}
	s.base, s.src = noise(r, n, 700), noise(r, n, 5)
	s.near = make([][4]int32, blocks+2)
	for i := range s.near {
		for a := range 4 {
			s.near[i][a] = lanes * int32(r.IntN(blocks+1))
		}
	}
	return s
}

func TestStageVectorsGiveTheSameBits(t *testing.T) {
	fast := fastest()
	if fast == &plain {
		t.Log("not compared: this machine has plain kernels only")
		return
	}
	for pieces := range 12 {
		for _, blocks := range []int{1, 2, 33} {
			a := stageOf(rand.New(rand.NewPCG(3, uint64(pieces))), blocks, pieces)
			b := stageOf(rand.New(rand.NewPCG(3, uint64(pieces))), blocks, pieces)
			firstPlain(a, 1, blocks+1)
			fast.first(b, 1, blocks+1)
			for range 5 {
				stagePlain(a, 1, blocks+1)
				fast.stage(b, 1, blocks+1)
				for _, s := range []*stage{a, b} {
					s.t, s.u, s.d1, s.d2 = s.u, s.t, s.d2, s.d1
				}
			}
			if !same(a.d1, b.d1) || !same(a.d2, b.d2) || !same(a.t, b.t) || !same(a.l0, b.l0) || !same(a.mean, b.mean) {
				t.Errorf("%d blocks, %d pieces: the stages differ", blocks, pieces)
			}
		}
	}
}

// Several steps in one pass give the same field as one after the other.
func TestDeepStepsGiveTheSameBits(t *testing.T) {
	run := func(deep int) (*Run, Balance) {
		p := partedProblem(1)
		g := grid.Grid{H: 1, NX: 24, NY: 30, NZ: 53}
		p.Body = FromDistance(func(x vec.V3) float64 { return x.Dist(vec.V3{X: 11.2, Y: 13.1, Z: 26.4}) - 7 }, g)
		p.Plain = true // so that the race detector sees the kernels
		p.Step = 20    // up to twenty steps of the rubber at once
		r := begin(t, p)
		r.deep = deep
		must(t, r.Pour(275))
		must(t, r.Advance(context.Background(), 300))
		return r, r.Energy()
	}
	a, ea := run(1)
	for _, deep := range []int{2, 3, 4, 6} {
		b, eb := run(deep)
		if !slices.Equal(a.Temperature(), b.Temperature()) {
			t.Errorf("%d steps in one pass give another field", deep)
		}
		if math.Abs(ea.LostOutside-eb.LostOutside) > 1e-9*ea.LostOutside {
			t.Errorf("%d steps in one pass: %g J lost, not %g", deep, eb.LostOutside, ea.LostOutside)
		}
	}
}
