package fit

import (
	"context"
	"math"
	"math/rand/v2"
)

// halfSpace is a half-space of rubber at T0 whose face meets metal at Tm through
// a coefficient h from t = 0 on, x m deep, t s later:
//
//	(T - T0)/(Tm - T0) = erfc(x/(2 sqrt(a t))) - exp(h x/k + h^2 a t/k^2) erfc(x/(2 sqrt(a t)) + h sqrt(a t)/k)
//
// H.S. Carslaw and J.C. Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, section
// 2.7 eq. (1). The metal stays at Tm: a thick casting of a sharp freezing point.
func halfSpace(k, rhoc, h, t0, tm, x, t float64) float64 {
	if t <= 0 {
		return t0
	}
	s := math.Sqrt(k / rhoc * t)
	a, b := x/(2*s), h*s/k
	// exp(c) erfc(d) with c = d^2 - a^2, without overflow
	d := a + b
	var second float64
	if d < 20 {
		second = math.Exp(d*d-a*a) * math.Erfc(d)
	} else {
		second = math.Exp(-a*a) / (d * math.Sqrt(math.Pi)) * (1 - 1/(2*d*d))
	}
	return t0 + (tm-t0)*(math.Erfc(a)-second)
}

const (
	rhoc  = 1375.0 * 1300 // J/(m3 K)
	room  = 22.0
	metal = 236.0
)

// gridTimes are where the models of these tests give their curves.
func gridTimes(end float64) []float64 {
	out := []float64{0}
	for d, t := 0.5, 0.0; t < end; d = min(d*1.04, 10) {
		t += d
		out = append(out, t)
	}
	return out
}

// slab is a model of the same pour by finite volumes, implicit in time: cells
// that grow from 0.05 mm, 60 mm deep. It shares nothing with halfSpace.
func slab(k, h float64, depths, times []float64) [][]float64 {
	var face []float64
	for x, d := 0.0, 5e-5; x < 0.06; d *= 1.05 {
		face = append(face, x)
		x += d
	}
	n := len(face) - 1
	centre, T := make([]float64, n), make([]float64, n)
	for i := range T {
		centre[i], T[i] = (face[i]+face[i+1])/2, room
	}
	out := make([][]float64, len(depths))
	for c := range out {
		out[c] = []float64{room}
	}
	lower, diag, upper, rhs := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	back := func(from, to []float64, dt float64) { // one step of Euler backwards
		for i := range from {
			c := rhoc * (face[i+1] - face[i]) / dt
			lower[i], upper[i] = 0, 0
			diag[i], rhs[i] = c, c*from[i]
			if i == 0 {
				g := 1 / (1/h + centre[0]/k)
				diag[i] += g
				rhs[i] += g * metal
			} else {
				lower[i] = -k / (centre[i] - centre[i-1])
				diag[i] -= lower[i]
			}
			if i < n-1 {
				upper[i] = -k / (centre[i+1] - centre[i])
				diag[i] -= upper[i]
			}
		}
		for i := 1; i < n; i++ {
			f := lower[i] / diag[i-1]
			diag[i] -= f * upper[i-1]
			rhs[i] -= f * rhs[i-1]
		}
		to[n-1] = rhs[n-1] / diag[n-1]
		for i := n - 2; i >= 0; i-- {
			to[i] = (rhs[i] - upper[i]*to[i+1]) / diag[i]
		}
	}
	half := make([]float64, n)
	for s := 1; s < len(times); s++ {
		parts := 1 + 8/s
		dt := (times[s] - times[s-1]) / float64(parts)
		g := 1 - math.Sqrt(0.5) // of the two-stage scheme of Alexander, SIAM J. Numer. Anal. 14 (1977) 1006
		for range parts {
			back(T, half, g*dt)
			for i := range T {
				half[i] = T[i] + (1-g)/g*(half[i]-T[i])
			}
			back(half, T, g*dt)
		}
		for c, x := range depths {
			i := 0
			for i < n-2 && centre[i+1] < x {
				i++
			}
			f := (x - centre[i]) / (centre[i+1] - centre[i])
			out[c] = append(out[c], T[i]+f*(T[i+1]-T[i]))
		}
	}
	return out
}

// bench is an invented workshop: two beads, what is wrong with them, and the noise.
type bench struct {
	k, h                    float64
	depth                   []float64 // mm, as stated
	shiftSD, biasSD, gainSD float64
	white, slow, memory     float64 // K, K, s
	drift                   float64 // K at the end
	step, before, after     float64 // s
}

func usualBench() bench {
	return bench{k: 0.31, h: 1200, depth: []float64{2, 5}, shiftSD: 0.15, biasSD: TypeKBias, gainSD: TypeKGain,
		white: 0.15, slow: 0.4, memory: 15, drift: 0.3, step: 1.7, before: 40, after: 300}
}

// record writes a recording of the bench: s from its begin, and a channel each.
// start is when the pour began.
func (b bench) record(r *rand.Rand) (time []float64, read [][]float64, start float64) {
	start = b.before + 5*r.Float64()
	for t := 0.0; t < start+b.after; t += b.step {
		time = append(time, t)
	}
	for _, depth := range b.depth {
		x := (depth + b.shiftSD*r.NormFloat64()) / 1000
		bias, gain, drift := b.biasSD*r.NormFloat64(), b.gainSD*r.NormFloat64(), b.drift*(2*r.Float64()-1)
		slow := b.slow * r.NormFloat64()
		f := math.Exp(-b.step / b.memory)
		col := make([]float64, len(time))
		for i, t := range time {
			T := halfSpace(b.k, rhoc, b.h, room, metal, x, t-start)
			slow = f*slow + b.slow*math.Sqrt(1-f*f)*r.NormFloat64()
			T += bias + gain*(T-room) + drift*t/time[len(time)-1] + slow + b.white*r.NormFloat64()
			col[i] = math.Round(T*10) / 10
		}
		read = append(read, col)
	}
	return time, read, start
}

// problem is what a maker would ask of a recording: the table's rubber, curves every
// 0.2 mm round each bead.
func (b bench) problem(time []float64, read [][]float64) (Problem, Model, *int) {
	p := Problem{
		Params: []Param{
			{Name: "conductivity", Unit: "W/mK", Start: 0.25, Low: 0.05, High: 2},
			{Name: "interface", Unit: "W/m2K", Start: 1000, Low: 50, High: 50000, Scale: Inverse},
		},
		Times: gridTimes(b.after),
	}
	var depths []float64
	for i, d := range b.depth {
		pr := Probe{Name: string(rune('A' + i)), Time: time, T: read[i], ShiftSD: b.shiftSD, BiasSD: b.biasSD, GainSD: b.gainSD, DriftSD: b.drift / math.Sqrt(3)}
		for at := -1.6; at < 1.65; at += 0.2 { // mm
			pr.Curves = append(pr.Curves, Curve{at, len(depths)})
			depths = append(depths, (d+at)/1000)
		}
		p.Probes = append(p.Probes, pr)
	}
	runs := new(int)
	return p, func(_ context.Context, v []float64) ([][]float64, error) {
		*runs++
		return slab(v[0], v[1], depths, p.Times), nil
	}, runs
}
