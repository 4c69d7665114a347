package chill

import "math"

// modes is how many exponentials stand for the rubber behind a wall. Ten reach
// from 0.1 ms to 60 s within 0.1 % of the heat (docs/numerics/chill.md).
const modes = 10

// The rates between which the half space is followed, 1/s.
const (
	slowest = 1e-2
	fastest = 1e4
)

// memory is how rubber answers heat through its face: temperature rises by
//
//	theta(t) = 1/b int q(s) / sqrt(pi (t - s)) ds,   b = sqrt(k rho c)
//
// (Carslaw & Jaeger 1959, 2.9). With 1/sqrt(pi t) = sum c_j exp(-r_j t) each term
// has a memory of one number, y_j:
//
//	dy_j/dt = -r_j y_j + c_j q/b,   theta = sum y_j
//
// taken exactly over a step in which q is constant. The rates and weights are the
// midpoint rule for 1/sqrt(s) = 2/pi int dx/(x^2 + s) with x = sqrt(slowest)
// sc(t | 1 - slowest/fastest), whose error falls like exp(-2 pi^2 n/(ln(fastest/
// slowest) + 2.8)) for s between them (after Hale, Higham & Trefethen 2008, SIAM J.
// Numer. Anal. 46, 2505; from memory).
type memory struct {
	rate, weight [modes]float64 // 1/s; 1/sqrt(s) over b

	dt             float64        // s, the step that the rest is for
	keep, put, see [modes]float64 // of y after a step; K per W/m2 that a step puts in; of y seen on the way
	face           float64        // K per W/m2 that a face feels of its own step
}

func newMemory(b float64) memory {
	m := memory{}
	big, p := quarter(1-slowest/fastest), math.Sqrt(slowest)
	for j := range modes {
		sn, cn, dn := jacobi((float64(j)+0.5)*big/modes, 1-slowest/fastest)
		x := p * sn / cn
		m.rate[j] = x * x
		m.weight[j] = 2 / math.Pi * big / modes * p * dn / (cn * cn) / b
	}
	return m
}

// ahead is where in a step face and metal are brought together: 1 is its end, 0
// its mean. With 0.357 the first step after a cold face is touched takes what the
// exact answer takes, 2 b dT sqrt(dt/pi).
const ahead = 0.357

// set makes ready for a step of dt.
func (m *memory) set(dt float64) {
	if dt == m.dt {
		return
	}
	m.dt, m.face = dt, 0
	for j, r := range m.rate {
		x := r * dt
		lost := -math.Expm1(-x)
		m.keep[j] = math.Exp(-x)
		m.put[j] = m.weight[j] * lost / r
		mean := 1.0 // of exp(-r t) over the step
		late := x / 2
		if x > 1e-5 {
			mean = lost / x
			late = 1 - mean
		}
		m.see[j] = ahead*m.keep[j] + (1-ahead)*mean
		m.face += ahead*m.put[j] + (1-ahead)*m.weight[j]*late/r
	}
}

// seen returns the temperature of a face without the heat of this step.
func (m *memory) seen(y *[modes]float64) float64 {
	a, b := 0.0, 0.0
	for j := 0; j < modes; j += 2 {
		a += m.see[j] * y[j]
		b += m.see[j+1] * y[j+1]
	}
	return a + b
}

// next takes a face through a step with the flux q, W/m2.
func (m *memory) next(y *[modes]float64, q float64) {
	for j := range modes {
		y[j] = m.keep[j]*y[j] + m.put[j]*q
	}
}

// fade lets y go on for a time without heat through the face.
func (m *memory) fade(y []float64, time float64) {
	for j := range y {
		y[j] *= math.Exp(-m.rate[j] * time)
	}
}

// quarter returns K(m), the complete elliptic integral, by the arithmetic-geometric mean.
func quarter(m float64) float64 {
	a, g := 1.0, math.Sqrt(1-m)
	for range 40 {
		a, g = (a+g)/2, math.Sqrt(a*g)
	}
	return math.Pi / 2 / a
}

// jacobi returns sn, cn, dn (u | m), 0 <= m < 1, by descending Landen steps
// (Abramowitz & Stegun 16.4).
func jacobi(u, m float64) (sn, cn, dn float64) {
	const n = 16
	var a, c [n + 1]float64
	a[0], c[0] = 1, math.Sqrt(m)
	g := math.Sqrt(1 - m)
	for i := range n {
		a[i+1], c[i+1] = (a[i]+g)/2, (a[i]-g)/2
		g = math.Sqrt(a[i] * g)
	}
	phi := math.Ldexp(a[n]*u, n)
	for i := n; i > 0; i-- {
		phi = (phi + math.Asin(c[i]/a[i]*math.Sin(phi))) / 2
	}
	sn, cn = math.Sin(phi), math.Cos(phi)
	return sn, cn, math.Sqrt(cn*cn + (1-m)*sn*sn)
}
