package fit

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"
)

// stand is the stand-in of the model: a smooth surface through all runs so far.
//
//	y(u) = sum over runs r of w_r(u) y_r,  w from the cubic |u - u_r|^3 with a linear tail
//
// (Duchon, RAIRO 10 (1976) 5, from memory). It meets every run, is exact for a
// model linear in u, and its weights do not depend on the curves.
type stand struct {
	times []float64
	runs  []ran
	inv   *mat.Dense // of the equations for the weights; nil before there are enough runs
}

// ran is one run of the model: curve c, time i, degC.
type ran struct {
	u []float64
	y [][]float64
}

// local is the stand-in at one u: curves and what they change by with u.
type local struct {
	y [][]float64   // [c][i], degC
	j [][][]float64 // [k][c][i], degC per unit of u_k
}

// add takes in a run. ok is false where it lies on another one.
func (s *stand) add(u []float64, y [][]float64) (ok bool) {
	if s.apart(u) < 1e-4 {
		return false
	}
	s.runs = append(s.runs, ran{append([]float64(nil), u...), y})
	n, k := len(s.runs), len(u)
	if n < k+1 {
		return true
	}
	m := mat.NewDense(n+k+1, n+k+1, nil)
	for a := range n {
		for b := range n {
			d := away(s.runs[a].u, s.runs[b].u)
			m.Set(a, b, d*d*d)
		}
		for c := range k + 1 {
			x := 1.0
			if c > 0 {
				x = s.runs[a].u[c-1]
			}
			m.Set(a, n+c, x)
			m.Set(n+c, a, x)
		}
	}
	inv := mat.NewDense(n+k+1, n+k+1, nil)
	if err := inv.Inverse(m); err != nil {
		if _, nearly := err.(mat.Condition); !nearly || math.IsInf(float64(err.(mat.Condition)), 0) {
			s.runs = s.runs[:n-1]
			return false
		}
	}
	s.inv = inv
	return true
}

// apart returns the distance from u to the nearest run.
func (s *stand) apart(u []float64) float64 {
	d := math.Inf(1)
	for i := range s.runs {
		d = min(d, away(u, s.runs[i].u))
	}
	return d
}

func away(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += (a[i] - b[i]) * (a[i] - b[i])
	}
	return math.Sqrt(s)
}

// at returns the stand-in at u for the curves in need.
func (s *stand) at(u []float64, need []int) local {
	n, k := len(s.runs), len(u)
	rhs := mat.NewDense(k+1, n+k+1, nil) // row 0 for the value, row 1+a for the derivative by u_a
	for r := range n {
		d := away(u, s.runs[r].u)
		rhs.Set(0, r, d*d*d)
		for a := range k {
			rhs.Set(1+a, r, 3*d*(u[a]-s.runs[r].u[a]))
		}
	}
	rhs.Set(0, n, 1)
	for a := range k {
		rhs.Set(0, n+1+a, u[a])
		rhs.Set(1+a, n+1+a, 1)
	}
	var w mat.Dense
	w.Mul(rhs, s.inv)
	out := local{y: make([][]float64, len(s.runs[0].y)), j: make([][][]float64, k)}
	for a := range k {
		out.j[a] = make([][]float64, len(out.y))
	}
	sum := func(c, row int) []float64 {
		y := make([]float64, len(s.times))
		for r := range n {
			f := w.At(row, r)
			for i, x := range s.runs[r].y[c] {
				y[i] += f * x
			}
		}
		return y
	}
	for _, c := range need {
		out.y[c] = sum(c, 0)
		for a := range k {
			out.j[a][c] = sum(c, 1+a)
		}
	}
	return out
}

// weights are those of four neighbouring times, for a value and its derivative.
type weights struct {
	at   int // first of the four
	w, d [4]float64
}

// between returns the weights of a curve at t. Before the pour it stands still;
// behind the last time it is held. hint is a cell near t.
func (s *stand) between(t float64, hint *int) weights {
	n := len(s.times)
	switch {
	case t <= 0:
		return weights{0, [4]float64{1}, [4]float64{}}
	case t >= s.times[n-1]:
		return weights{n - 4, [4]float64{3: 1}, [4]float64{}}
	}
	i := *hint
	if i > n-2 || s.times[i] > t {
		i = max(0, sort.SearchFloat64s(s.times, t)-1)
	}
	for s.times[i+1] < t {
		i++
	}
	*hint = i
	return cubic(s.times, i, t)
}

// cubic returns the weights of a cubic between nodes i and i+1 of at least four,
// with slopes from parabolas through three neighbours: smooth to the first
// derivative, and linear in the values, so that it serves derivatives too.
func cubic(nodes []float64, i int, t float64) weights {
	n := len(nodes)
	at := min(max(i-1, 0), n-4)
	out := weights{at: at}
	h := nodes[i+1] - nodes[i]
	x := (t - nodes[i]) / h
	// value = a y_i + b y_(i+1) + h (c m_i + e m_(i+1)), m the slopes
	a, b := (1+2*x)*(1-x)*(1-x), x*x*(3-2*x)
	c, e := x*(1-x)*(1-x), x*x*(x-1)
	da, dc, de := -6*x*(1-x)/h, (1-x)*(1-3*x), x*(3*x-2)
	out.w[i-at] += a
	out.w[i+1-at] += b
	out.d[i-at] += da
	out.d[i+1-at] -= da
	out.slope(nodes, i, h*c, dc)
	out.slope(nodes, i+1, h*e, de)
	return out
}

// slope adds f and g times the slope at node i to the weights of the value and
// of the derivative.
func (w *weights) slope(t []float64, i int, f, g float64) {
	put := func(node int, x float64) {
		w.w[node-w.at] += f * x
		w.d[node-w.at] += g * x
	}
	switch n := len(t); i {
	case 0:
		h := t[1] - t[0]
		put(0, -1/h)
		put(1, 1/h)
	case n - 1:
		h := t[n-1] - t[n-2]
		put(n-2, -1/h)
		put(n-1, 1/h)
	default:
		h0, h1 := t[i]-t[i-1], t[i+1]-t[i]
		put(i-1, -h1/(h0*(h0+h1)))
		put(i, (h1-h0)/(h0*h1))
		put(i+1, h0/(h1*(h0+h1)))
	}
}

// apply returns value and time derivative of one curve.
func (w *weights) apply(y []float64) (v, d float64) {
	y = y[w.at : w.at+4]
	for k, x := range y {
		v += w.w[k] * x
		d += w.d[k] * x
	}
	return v, d
}

// depth returns the curves round a shift with the weights of the value and of its
// derivative: a cubic where there are four curves, else the parabola or the
// straight line through all.
func depth(list []Curve, shift float64) (c []Curve, w, d [4]float64) {
	if n := len(list); n >= 4 {
		at := make([]float64, n)
		i := 0
		for k := range list {
			at[k] = list[k].At
			if k < n-1 && at[k] <= shift {
				i = k
			}
		}
		g := cubic(at, i, shift)
		return list[g.at : g.at+4], g.w, g.d
	}
	for i := range list {
		w[i] = 1
		for j := range list {
			if j == i {
				continue
			}
			x := 1 / (list[i].At - list[j].At)
			w[i] *= (shift - list[j].At) * x
			part := x
			for k := range list {
				if k != i && k != j {
					part *= (shift - list[k].At) / (list[i].At - list[k].At)
				}
			}
			d[i] += part
		}
	}
	return list, w, d
}

// sample is what the stand-in says of one probe at its times.
type sample struct {
	m, dt, ds []float64   // degC; K/s; K/mm
	du        [][]float64 // K per unit of u
	m0        float64     // degC before the pour
}

// probe samples the stand-in for a probe whose pour began at start and whose bead
// sits shift mm off.
func (s *stand) probe(l *local, b *Probe, time []float64, start, shift float64) sample {
	n := len(time)
	out := sample{m: make([]float64, n), dt: make([]float64, n), ds: make([]float64, n), du: make([][]float64, len(l.j))}
	for k := range out.du {
		out.du[k] = make([]float64, n)
	}
	cs, w, d := depth(b.Curves, shift)
	for i, c := range cs {
		out.m0 += w[i] * l.y[c.Index][0]
	}
	hint := 0
	for i, t := range time {
		g := s.between(t-start, &hint)
		for a, c := range cs {
			v, dv := g.apply(l.y[c.Index])
			for k := range out.du {
				e, _ := g.apply(l.j[k][c.Index])
				out.du[k][i] += w[a] * e
			}
			out.m[i] += w[a] * v
			out.dt[i] -= w[a] * dv
			out.ds[i] += d[a] * v
		}
	}
	return out
}
