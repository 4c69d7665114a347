package fit

import (
	"math"
	"sort"
)

// Rise finds the sharp rise of a recording: the first time at which it stands 5 %
// of its largest rise over the lowest reading before. A slow fall before the pour
// does no harm. ok is false where nothing rises by 3 K and out of the noise.
func Rise(t, x []float64) (at float64, ok bool) {
	at, _, ok = rise(t, x)
	return at, ok
}

// rise returns the time of the rise and the time at which a second one begins,
// +Inf where there is none.
func rise(t, x []float64) (at, second float64, ok bool) {
	t, x, _ = clean(t, x)
	n := len(x)
	if n < 8 {
		return 0, 0, false
	}
	v := make([]float64, n)
	for i := range v {
		v[i] = median3(x[max(i-1, 0)], x[i], x[min(i+1, n-1)])
	}
	low, big := v[0], 0.0
	var steps []float64
	for i, a := range v {
		low = min(low, a)
		big = max(big, a-low)
		if i > 0 {
			steps = append(steps, math.Abs(x[i]-x[i-1]))
		}
	}
	sort.Float64s(steps)
	if big < 3 || big < 8*steps[len(steps)/2] {
		return 0, 0, false
	}
	low = v[0]
	half := 0
	for i, a := range v {
		low = min(low, a)
		if a-low >= big/2 {
			half = i
			break
		}
	}
	i := half
	for i > 0 && v[i-1]-low > 0.05*big {
		i--
	}
	at = t[i]
	if i > 0 && v[i] > v[i-1] { // where the line between two readings crosses
		at -= (t[i] - t[i-1]) * min(1, max(0, (v[i]-low-0.05*big)/(v[i]-v[i-1])))
	}
	return at, again(t, v, half, low, big), true
}

// again returns the time at which a curve that has passed its top and fallen by
// a fifth of its rise begins to rise again by a quarter.
func again(t, v []float64, from int, low, big float64) float64 {
	top, bottom, at := v[from], math.Inf(1), 0.0
	fallen := false
	for i := from; i < len(v); i++ {
		top = max(top, v[i])
		if v[i] < top-0.2*big {
			fallen = true
		}
		if fallen && v[i] < bottom {
			bottom, at = v[i], t[i]
		}
		if fallen && v[i]-bottom > 0.25*big {
			return at
		}
	}
	return math.Inf(1)
}

func median3(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }

// clean drops missing readings and single spikes: a reading further from the
// median of the five round it than 3 K and eight times the usual distance. A
// step, however sharp, is its own median and stays.
func clean(t, x []float64) (ct, cx []float64, spikes int) {
	for i := range x {
		if !math.IsNaN(x[i]) {
			ct, cx = append(ct, t[i]), append(cx, x[i])
		}
	}
	n := len(cx)
	if n < 8 {
		return ct, cx, 0
	}
	off := make([]float64, n)
	var w [5]float64
	for i := range cx {
		from := min(max(i-2, 0), n-5)
		copy(w[:], cx[from:from+5])
		sort.Float64s(w[:])
		off[i] = math.Abs(cx[i] - w[2])
		if i < 2 || i >= n-2 { // a slope would look like a spike at the ends
			off[i] = 0
		}
	}
	usual := append([]float64(nil), off...)
	sort.Float64s(usual)
	limit := max(3, 8*usual[n/2])
	k := 0
	for i := range cx {
		if off[i] > limit {
			spikes++
			continue
		}
		ct[k], cx[k] = ct[i], cx[i]
		k++
	}
	return ct[:k], cx[:k], spikes
}

// most is the number of readings of one probe that a fit works on; denser ones
// become means of neighbours, which loses nothing: the noise that matters lasts
// longer.
const most = 1200

// thin returns means of so many neighbours that at most `most` are left.
func thin(t, x []float64) (mt, mx []float64) {
	k := (len(t) + most - 1) / most
	if k <= 1 {
		return t, x
	}
	for i := 0; i+k <= len(t); i += k {
		a, b := 0.0, 0.0
		for j := i; j < i+k; j++ {
			a += t[j]
			b += x[j]
		}
		mt, mx = append(mt, a/float64(k)), append(mx, b/float64(k))
	}
	return mt, mx
}

// window returns the part of a series in [from, to].
func window(t, x []float64, from, to float64) ([]float64, []float64) {
	a := sort.SearchFloat64s(t, from)
	b := sort.SearchFloat64s(t, to)
	return t[a:max(a, b)], x[a:max(a, b)]
}

// align finds when each pour began, to about a second, from the model's curves
// at the start, and cuts the readings to what the model covers. A candidate is as
// good as the straight lines of readings over curve are, so neither the
// conductivity nor the probes' errors need be known.
func (f *fitter) align() {
	end := f.p.Times[len(f.p.Times)-1]
	for g := range f.starts {
		first, delay, stop := math.Inf(1), 0.0, math.Inf(1)
		for i := range f.probes {
			b := &f.probes[i]
			if b.in.Pour != g || !b.used {
				continue
			}
			first = min(first, b.rise)
			stop = min(stop, b.second)
			if d, ok := Rise(f.p.Times, f.base.runs[0].y[nearest(b.in.Curves)]); ok {
				delay = max(delay, d)
			}
		}
		if math.IsInf(first, 1) {
			continue
		}
		back := min(4*delay+10, end/2)
		for i := range f.probes {
			if b := &f.probes[i]; b.in.Pour == g && b.used {
				b.t, b.x = window(b.t, b.x, first-60, min(first-back+end, stop))
				b.t, b.x = thin(b.t, b.x)
				b.used = len(b.t) >= 8
			}
		}
		best, at := math.Inf(1), first
		step := max(0.25, (back+2)/400)
		for s := first - back; s <= first+2; s += step {
			if v := f.mismatch(g, s); v < best {
				best, at = v, s
			}
		}
		f.starts[g] = at
	}
}

// nearest returns the index of the curve nearest to the stated place.
func nearest(list []Curve) int {
	best := list[0]
	for _, c := range list {
		if math.Abs(c.At) < math.Abs(best.At) {
			best = c
		}
	}
	return best.Index
}

// mismatch is the share of the readings' variance that straight lines over the
// curves leave, summed over the probes of a pour.
func (f *fitter) mismatch(g int, start float64) float64 {
	sum := 0.0
	for i := range f.probes {
		b := &f.probes[i]
		if b.in.Pour != g || !b.used {
			continue
		}
		y := f.base.runs[0].y[nearest(b.in.Curves)]
		step := max(1, len(b.t)/300)
		var n, sx, sm, sxx, smm, sxm float64
		hint := 0
		for k := 0; k < len(b.t); k += step {
			w := f.base.between(b.t[k]-start, &hint)
			m, _ := w.apply(y)
			x := b.x[k]
			n, sx, sm, sxx, smm, sxm = n+1, sx+x, sm+m, sxx+x*x, smm+m*m, sxm+x*m
		}
		vx, vm, c := sxx-sx*sx/n, smm-sm*sm/n, sxm-sx*sm/n
		if vx <= 0 || vm <= 0 || c <= 0 {
			sum++
			continue
		}
		sum += 1 - c*c/(vx*vm)
	}
	return sum
}
