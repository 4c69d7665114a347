package solid

import (
	"math"
	"math/bits"

	"pourwright/internal/ground/vec"
)

// Corners are integers in units of Lattice, at most 2^24 in size, so that
// differences take 25 bits, their cross products 51 (exact in int64 and in
// float64) and a triple product 78: evaluated in float64 with an error bound
// and, where that leaves doubt, in 128-bit integers. Every sign below is exact.

func pointOf(p vec.V3) Point {
	r := func(x float64) int32 { return int32(math.RoundToEven(x / Lattice)) }
	return Point{r(p.X), r(p.Y), r(p.Z)}
}

func (p Point) vec() vec.V3 {
	return vec.V3{X: float64(p[0]) * Lattice, Y: float64(p[1]) * Lattice, Z: float64(p[2]) * Lattice}
}

type ivec [3]int64

func diff(a, b Point) ivec {
	return ivec{int64(a[0]) - int64(b[0]), int64(a[1]) - int64(b[1]), int64(a[2]) - int64(b[2])}
}

func (u ivec) cross(v ivec) ivec {
	return ivec{u[1]*v[2] - u[2]*v[1], u[2]*v[0] - u[0]*v[2], u[0]*v[1] - u[1]*v[0]}
}

func (u ivec) zero() bool { return u[0]|u[1]|u[2] == 0 }

// dot returns u.v with the exact sign (0 only where the product is 0) and a
// relative error of a few 1e-16. u may have 53 bits, v 26.
func (u ivec) dot(v ivec) float64 {
	a, b, c := float64(u[0])*float64(v[0]), float64(u[1])*float64(v[1]), float64(u[2])*float64(v[2])
	s := a + b + c
	if math.Abs(s) > 1e-14*(math.Abs(a)+math.Abs(b)+math.Abs(c)) {
		return s
	}
	return exactDot(u, v)
}

func exactDot(u, v ivec) float64 {
	var hi, lo uint64
	for k := range 3 {
		neg := (u[k] < 0) != (v[k] < 0)
		h, l := bits.Mul64(abs64(u[k]), abs64(v[k]))
		var c uint64
		if neg {
			lo, c = bits.Sub64(lo, l, 0)
			hi, _ = bits.Sub64(hi, h, c)
		} else {
			lo, c = bits.Add64(lo, l, 0)
			hi, _ = bits.Add64(hi, h, c)
		}
	}
	sign := 1.0
	if int64(hi) < 0 {
		sign = -1
		var c uint64
		lo, c = bits.Sub64(0, lo, 0)
		hi, _ = bits.Sub64(0, hi, c)
	}
	return sign * (float64(hi)*0x1p64 + float64(lo))
}

func abs64(x int64) uint64 {
	if x < 0 {
		return uint64(-x)
	}
	return uint64(x)
}

func normal(a, b, c Point) ivec { return diff(b, a).cross(diff(c, a)) }

func sign(x float64) int {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

// shift is the symbolic translation of the inserted body: infinitesimal, first
// along z, then x, then y, each with the sign given here. It decides every
// zero of the three predicates below; a translation keeps the body rigid, so
// that the decisions never contradict each other.
type shift [3]int

// along returns the sign of n.shift.
func (s shift) along(n ivec) int {
	for _, k := range [3]int{2, 0, 1} {
		if n[k] > 0 {
			return s[k]
		}
		if n[k] < 0 {
			return -s[k]
		}
	}
	return 0
}
