//go:build amd64 && !plain

package heat

import "golang.org/x/sys/cpu"

// vectors is the set of kernels in AVX2 of vector_amd64.s. They do the same sums
// in the same order as the plain ones and never fuse a product into a sum, so
// the bytes are the same on every machine.
var vectors = kernel{plane: planeVector, stage: stageVector, first: firstVector, rate: rateVector, long: longVector, high: highVector}

func fastest() *kernel {
	if cpu.X86.HasAVX2 {
		return &vectors
	}
	return &plain
}

// stageArgs is what the assembly reads; the offsets stand in vector_amd64.s.
type stageArgs struct {
	t, u, d1, d2, l0, base, src, w *float32  // 0 8 16 24 32 40 48 56
	gx, gy, gz                     *float32  // 64 72 80
	near                           *[4]int32 // 88
	pieces                         *piece    // 96
	count                          int       // 104
	mu, nu, mt, ga                 float32   // 112 116 120 124
	from, slope                    float32   // 128 132
	back, mean                     *float32  // 136 144
	share                          float32   // 152
}

//go:noescape
func stageAVX2(a *stageArgs, from, to int)

//go:noescape
func firstAVX2(a *stageArgs, from, to int)

//go:noescape
func planeAVX2(out, in *float32, ny, wide, sx, sxy int, ratio float32)

//go:noescape
func rateAVX2(out, in *float32, ny, wide, sx, sxy int, ratio float32)

//go:noescape
func longAVX2(out, start, in *float32, ny, wide, sx, sxy int, mu, nu, a, m float32)

//go:noescape
func highAVX2(peak, t *float32, n int)

func (s *stage) args() stageArgs {
	a := stageArgs{t: &s.t[0], u: &s.u[0], d1: &s.d1[0], d2: &s.d2[0], l0: &s.l0[0], base: &s.base[0], src: &s.src[0], w: &s.w[0],
		gx: &s.g[0][0], gy: &s.g[1][0], gz: &s.g[2][0], near: &s.near[0], count: len(s.pieces),
		mu: s.mu, nu: s.nu, mt: s.mt, ga: s.ga, from: s.tail.from, slope: s.tail.slope,
		back: &s.back[0], mean: &s.mean[0], share: s.share}
	if a.count > 0 {
		a.pieces = &s.pieces[0]
	}
	return a
}

func stageVector(s *stage, from, to int) {
	if from < to {
		a := s.args()
		stageAVX2(&a, from, to)
	}
}

func firstVector(s *stage, from, to int) {
	if from < to {
		a := s.args()
		firstAVX2(&a, from, to)
	}
}

func planeVector(out, in []float32, at int, p *padded, ratio float32) {
	last := (p.ny-1)*p.sx + p.wide
	_, _ = out[last-1], in[at+last+p.sxy-1] // the reach of the assembly
	planeAVX2(&out[0], &in[at], p.ny, p.wide, p.sx, p.sxy, ratio)
}

func highVector(peak, t []float32) {
	n := len(peak) &^ 7
	if n > 0 {
		_ = t[len(peak)-1]
		highAVX2(&peak[0], &t[0], n)
	}
	highPlain(peak[n:], t[n:])
}

func rateVector(out, in []float32, at int, p *padded, ratio float32) {
	last := (p.ny-1)*p.sx + p.wide
	_, _ = out[last-1], in[at+last+p.sxy-1]
	rateAVX2(&out[0], &in[at], p.ny, p.wide, p.sx, p.sxy, ratio)
}

func longVector(out, start, in []float32, at int, p *padded, x long) {
	last := (p.ny-1)*p.sx + p.wide
	_, _, _ = out[last-1], start[last-1], in[at+last+p.sxy-1]
	longAVX2(&out[0], &start[0], &in[at], p.ny, p.wide, p.sx, p.sxy, x.mu, x.nu, x.a, x.m)
}
