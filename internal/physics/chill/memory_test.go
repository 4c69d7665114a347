package chill

import (
	"math"
	"testing"
)

// Rubber of the tests.
const (
	rubberK = 0.25   // W/(m K)
	rubberA = 1.6e-7 // m2/s
)

var rubberB = rubberK / math.Sqrt(rubberA)

// face takes a bare face through time: T is the temperature of what touches it,
// contact(t) the coefficient, and returns the times and the heat taken, J/m2.
func face(T, contact func(t float64) float64, dt, until float64) (t, heat []float64) {
	m := newMemory(rubberB)
	m.set(dt)
	var y [modes]float64
	q := 0.0
	for n := range int(math.Round(until / dt)) {
		now := float64(n) * dt
		seen := m.seen(&y)
		f := 0.0
		if h := contact(now + dt/2); h > 0 {
			f = (T(now+(1+ahead)/2*dt) - seen) / (1/h + m.face)
		}
		m.next(&y, f)
		q += f * dt
		t, heat = append(t, now+dt), append(heat, q)
	}
	return t, heat
}

func always(x float64) func(float64) float64 { return func(float64) float64 { return x } }

// held returns the heat that a half space takes through a coefficient h in a time t
// for each K, J/m2 (Carslaw & Jaeger 1959, 2.7: the integral of h exp(x^2) erfc(x)).
func held(h, t float64) float64 {
	g := h / rubberB
	x := g * math.Sqrt(t)
	if math.IsInf(h, 1) {
		return 2 * rubberB * math.Sqrt(t/math.Pi)
	}
	tail := (1 - 0.5/(x*x) + 0.75/(x*x*x*x)) / (x * math.SqrtPi)
	if x < 20 {
		tail = math.Exp(x*x) * math.Erfc(x)
	}
	return h / (g * g) * (tail - 1 + 2*x/math.SqrtPi)
}

// Heat through a face that is brought to a temperature at once, bare and through a
// contact, from 1 ms to 60 s.
func TestHeldFace(t *testing.T) {
	for _, x := range []struct{ h, dt, from, bound float64 }{
		{math.Inf(1), 1e-4, 1e-3, 0.009}, {math.Inf(1), 1e-3, 1e-2, 0.009}, {1000, 1e-4, 1e-3, 0.002}, {1000, 1e-3, 1e-3, 0.007}, {5000, 1e-4, 1e-3, 0.005}, {200, 1e-3, 1e-3, 0.003},
	} {
		times, heat := face(always(1), always(x.h), x.dt, 60)
		worst, at := 0.0, 0.0
		for i, s := range times {
			if s > x.from*(1-1e-9) {
				if e := math.Abs(heat[i]/held(x.h, s) - 1); e > worst {
					worst, at = e, s
				}
			}
		}
		t.Logf("contact %4g, steps %g s: largest error %.3f %% at %.3g s", x.h, x.dt, 100*worst, at)
		if worst > x.bound {
			t.Errorf("contact %g, steps %g s: %.3g at %g s", x.h, x.dt, worst, at)
		}
	}
}

// A face that swings: in the long run q = b sqrt(w) cos(w t + pi/4) for a face at
// cos(w t) (Carslaw & Jaeger 1959, 2.6), less what the start still does.
func TestSwingingFace(t *testing.T) {
	for _, period := range []float64{0.01, 0.1, 1, 5} {
		w := 2 * math.Pi / period
		dt := period / 200
		times, heat := face(func(s float64) float64 { return math.Sin(w * s) }, always(math.Inf(1)), dt, 10*period)
		worst := 0.0
		n := len(times)
		for i := n - 200; i < n; i++ {
			q := (heat[i] - heat[i-1]) / dt
			worst = math.Max(worst, math.Abs(q/(rubberB*math.Sqrt(w))-math.Sin(w*(times[i]-dt/2)+math.Pi/4)))
		}
		t.Logf("period %g s: flux within %.2f %% of its height", period, 100*worst)
		if worst > 0.01 {
			t.Errorf("period %g s: %.3g", period, worst)
		}
	}
}

// Metal that leaves and comes back: the exact answer by Duhamel's sum with the
// kernel 1/sqrt(pi t), on steps four times finer.
func TestLeavesAndReturns(t *testing.T) {
	on := func(s float64) float64 {
		if s < 0.3 || s > 0.8 && s < 1.2 || s > 2 {
			return 1000
		}
		return 0
	}
	T := func(s float64) float64 { return 200 - 30*s }
	const until = 3.0
	n := 6000
	d := until / float64(n)
	q, exact := make([]float64, n), make([]float64, n)
	sum := 0.0
	for i := range n {
		// Mean of the face's temperature at the end of step i from all steps so far.
		theta := 0.0
		for k := range i {
			theta += q[k] * 2 / rubberB * (math.Sqrt(float64(i-k+1)*d) - math.Sqrt(float64(i-k)*d)) / math.SqrtPi
		}
		if h := on((float64(i) + 0.5) * d); h > 0 {
			q[i] = (T((float64(i)+1)*d) - theta) / (1/h + 2/rubberB*math.Sqrt(d/math.Pi))
		}
		sum += q[i] * d
		exact[i] = sum
	}
	_, heat := face(T, on, 0.002, until)
	worst := 0.0
	for i := range heat {
		worst = math.Max(worst, math.Abs(heat[i]/exact[(i+1)*4-1]-1))
	}
	t.Logf("largest error %.3f %%", 100*worst)
	if worst > 0.01 {
		t.Errorf("off by %g", worst)
	}
}

// The elliptic functions against sn^2 + cn^2 = 1, their quarter period and the
// series of K.
func TestElliptic(t *testing.T) {
	if k := quarter(0.5); math.Abs(k-1.8540746773013719) > 1e-14 {
		t.Errorf("K(0.5) %v", k)
	}
	for _, m := range []float64{0.1, 0.9, 1 - 1e-6} {
		sn, cn, dn := jacobi(quarter(m), m)
		if math.Abs(sn-1) > 1e-7 || math.Abs(cn) > 1e-6 || math.Abs(dn-math.Sqrt(1-m)) > 1e-6 {
			t.Errorf("m %g: %g %g %g at the quarter", m, sn, cn, dn)
		}
		sn, cn, dn = jacobi(quarter(m)/2, m) // sn^2 = 1/(1 + k')
		if k := math.Sqrt(1 - m); math.Abs(sn*sn-1/(1+k)) > 1e-10 || math.Abs(dn*dn-k) > 1e-10 || math.Abs(cn*cn-k/(1+k)) > 1e-10 {
			t.Errorf("m %g: %g %g %g at half the quarter", m, sn, cn, dn)
		}
	}
}

func BenchmarkFace(b *testing.B) {
	m := newMemory(rubberB)
	m.set(3e-4)
	y := make([]float64, 20000*modes)
	for range b.N {
		for i := 0; i < len(y); i += modes {
			y := (*[modes]float64)(y[i:])
			m.next(y, (200-m.seen(y))/(1e-3+m.face))
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/20000, "ns/face")
}
