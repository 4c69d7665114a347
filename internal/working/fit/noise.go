package fit

import "math"

// whitener turns residuals of one probe into independent ones of unit variance.
//
// r_i = x_i + e_i; x_i = phi_i x_(i-1) + d_i, phi_i = exp(-(t_i - t_(i-1))/tau),
// var d_i = slow^2 (1 - phi_i^2), var e_i = white^2 + extra_i. The filter of
// Kalman predicts r_i from those before; what it cannot predict, divided by its
// deviation, is white. The gains do not depend on r, so the same filter whitens
// the columns of a Jacobian.
type whitener struct {
	phi, gain, inv []float64
	logDet         float64
}

func newWhitener(n Noise, t, extra []float64) *whitener {
	m := len(t)
	w := &whitener{make([]float64, m), make([]float64, m), make([]float64, m), 0}
	a, e := n.Slow*n.Slow, n.White*n.White
	p := a
	for i := range t {
		if i > 0 {
			f := math.Exp(-(t[i] - t[i-1]) / n.Memory)
			w.phi[i] = f
			p = f*f*p + a*(1-f*f)
		}
		s := p + e + extra[i]
		w.gain[i] = p / s
		w.inv[i] = 1 / math.Sqrt(s)
		w.logDet += math.Log(s)
		p *= 1 - w.gain[i]
	}
	return w
}

// apply whitens a column into out.
func (w *whitener) apply(col, out []float64) {
	x := 0.0
	for i, r := range col {
		x *= w.phi[i]
		d := r - x
		out[i] = d * w.inv[i]
		x += w.gain[i] * d
	}
}

// block is what one probe adds to the equations: its times, the extra variance
// of each reading, the residuals and the columns of the Jacobian.
type block struct {
	t, extra, r []float64
	cols        [][]float64 // nil where a parameter does not touch the probe
}

// restricted returns minus two times the restricted log likelihood of a noise:
//
//	ln det V + ln det(X'V^-1 X + P) + min over d of (r - X d)'V^-1(r - X d) + (q + d)'P(q + d)
//
// with P the precisions of the priors and q the present distance from them.
func restricted(n Noise, list []block, prec, away []float64) float64 {
	eq := newEquations(prec, away)
	sum := 0.0
	for i := range list {
		w := newWhitener(n, list[i].t, list[i].extra)
		sum += w.logDet
		eq.add(w, &list[i])
	}
	d, logDet, ok := eq.solve(0, nil)
	if !ok {
		return math.Inf(1)
	}
	return sum + logDet + eq.value(d)
}

// estimate finds the noise of largest restricted likelihood from a start.
// step is the median step between readings, span the length of the recording,
// slack the least slow noise.
func estimate(from Noise, list []block, prec, away []float64, step, span, slack float64) Noise {
	var rms float64
	count := 0
	for i := range list {
		for _, r := range list[i].r {
			rms += r * r
			count++
		}
	}
	rms = math.Sqrt(rms/float64(count)) + 1e-6
	rms = max(rms, slack)
	lo := [3]float64{math.Log(1e-3 * rms), math.Log(slack), math.Log(step)}
	hi := [3]float64{math.Log(3 * rms), math.Log(30 * rms), math.Log(span)}
	// within the bounds by reflection on a sine, which keeps the search free
	get := func(x []float64) Noise {
		v := [3]float64{}
		for k := range v {
			v[k] = math.Exp(lo[k] + (hi[k]-lo[k])*(0.5+0.5*math.Sin(x[k])))
		}
		return Noise{v[0], v[1], v[2]}
	}
	put := func(n Noise) []float64 {
		x := make([]float64, 3)
		for k, v := range [3]float64{n.White, n.Slow, n.Memory} {
			s := 2*(math.Log(max(v, 1e-12))-lo[k])/(hi[k]-lo[k]) - 1
			x[k] = math.Asin(min(max(s, -0.98), 0.98))
		}
		return x
	}
	f := func(x []float64) float64 { return restricted(get(x), list, prec, away) }
	// a long memory is a second, false low place: start from a short one as well
	best := lowest(f, put(from), 0.4, 0.02, 120)
	other := lowest(f, put(Noise{rms / 3, rms, math.Sqrt(step * span / 4)}), 0.4, 0.02, 120)
	if f(other) < f(best) {
		best = other
	}
	return get(best)
}

// freedom returns the degrees of freedom of a variance that rests on this
// noise: T/tau for the slow part, the number of readings for the white part,
// joined by their shares of the power at low frequency (Satterthwaite).
func freedom(n Noise, list []block, step float64, free int) float64 {
	span, count := 0.0, 0
	for i := range list {
		t := list[i].t
		span += t[len(t)-1] - t[0]
		count += len(t)
	}
	slow, white := 2*n.Slow*n.Slow*n.Memory, n.White*n.White*step
	c := slow / (slow + white)
	a := max(span/n.Memory-float64(free), 3)
	b := max(float64(count-free), 3)
	return 1 / (c*c/a + (1-c)*(1-c)/b)
}
