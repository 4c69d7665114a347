package shot

import (
	"context"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
)

// Steady is the shot to which a series leads.
type Steady struct {
	Shot   Shot      // the last one computed
	Shots  int       // computed to get there
	Error  float64   // K, at most, between the mould before this shot and the one before the steady shot
	Slow   float64   // share of a difference in the mould that one shot leaves, by its slowest mode
	Tau    float64   // s, time constant of that mode: Slow = exp(-Cycle/Tau)
	Field  []float32 // Mould.Slow before this shot
	Cycle  float64   // s from pour to pour
	Moved  float64   // K, largest change that this shot made in the mould
	Closed bool      // Error fell to what was asked
}

// Depth of the mixing, and the most shots spent on it. A large mould is mixed over
// fewer shots, but two, so that the differences stay under 130 MB or four fields.
const (
	depth     = 3
	mostShots = 40
	mixed     = 1 << 24 // values
)

// Settle finds the steady shot of a setting, starting from the mould as it is
// (empty and closed), to within K. Setting.Shots is not used. It leaves the mould
// empty and closed after the last shot. When 40 shots do not do, the result says
// so with Closed false and the error that is left.
//
//	x' = G(x) - sum g_j (G(x_j+1) - G(x_j)),  g least squares of f - sum g_j (f_j+1 - f_j),  f = G(x) - x
//
// over the last three differences, two in large moulds (Anderson's mixing, as in doc.go). Differences of
// x and f give the slowest mode as the largest Ritz value of the map.
func Settle(ctx context.Context, m Mould, s Setting, within float64, watch Watch) (*Steady, error) {
	if !(within > 0) {
		return nil, fault.New(fault.Input, "series", "ask for an error above zero, 0.1 K say", "a steady state within %g K", within)
	}
	return settle(ctx, m, s, within, 0, nil, newSearch(watch, nil))
}

// settle is Settle with what is known beforehand: tau, s, of the slowest mode (0
// for nothing), without which a start close to the steady state shows only faster
// ones; and loose, how large an error does for a shot (nil for within).
func settle(ctx context.Context, m Mould, s Setting, within, tau float64, loose func(Shot) float64, q *search) (*Steady, error) {
	r := Steady{Error: math.Inf(1)}
	mix := mixer{}
	for r.Shots < mostShots {
		x := m.Slow()
		shot, err := q.play(ctx, m, s)
		if err != nil {
			return nil, err
		}
		r.Shots++
		g := m.Slow()
		r.Shot, r.Field = shot, x
		r.Cycle = s.Cycle(r.Shot.Opened)
		next := mix.next(x, g)
		r.Moved, r.Slow = mix.moved, mix.slow
		if r.Shots < 4 {
			r.Slow = max(r.Slow, kept(&shot))
		}
		r.Tau = -r.Cycle / math.Log(max(r.Slow, 1e-9))
		if tau > 0 && r.Shots < 4 {
			r.Slow = max(r.Slow, math.Exp(-r.Cycle/tau))
			r.Tau = max(r.Tau, tau)
		}
		if r.Slow > 0 || r.Moved == 0 { // one shot says nothing about the slowest mode
			r.Error = r.Moved / (1 - r.Slow)
		}
		enough := within
		if loose != nil {
			enough = max(enough, loose(r.Shot))
		}
		if r.Error <= enough {
			r.Closed = true
			break
		}
		if err := m.SetSlow(next); err != nil {
			return nil, err
		}
	}
	return &r, nil
}

// kept returns the share of its heat that a mould keeps through a shot, which is
// what a lumped mould keeps of a difference: 1 - lost/(held + gained). It holds the
// slowest mode while there are too few shots to see it. At most 0.9999.
func kept(x *Shot) float64 {
	h := x.Held + x.Spent.Poured - x.Spent.Carried
	if !(h > 0) {
		return 0
	}
	return min(0.9999, max(0, 1-x.Spent.Lost/h))
}

// mixer keeps the last differences of a fixed-point iteration.
type mixer struct {
	x, f   []float32   // the last point and its residual
	dx, df [][]float32 // differences, oldest first
	moved  float64     // largest residual
	slow   float64     // largest Ritz value seen, under 1
}

const chunk = 1 << 16

func dot(a, b []float32) float64 {
	return par.Sum(len(a), chunk, func(lo, hi int) float64 {
		s := 0.0
		for i, x := range a[lo:hi] {
			s += float64(x) * float64(b[lo+i])
		}
		return s
	})
}

func minus(a, b []float32) []float32 {
	d := make([]float32, len(a))
	par.For(len(a), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			d[i] = a[i] - b[i]
		}
	})
	return d
}

func largest(a []float32) float64 {
	m := 0.0
	for _, x := range a {
		m = max(m, math.Abs(float64(x)))
	}
	return m
}

// next takes a point and its image and returns where to look next.
func (m *mixer) next(x, g []float32) []float32 {
	f := minus(g, x)
	m.moved = largest(f)
	if m.x != nil {
		m.dx, m.df = append(m.dx, minus(x, m.x)), append(m.df, minus(f, m.f))
		if len(m.dx) > max(2, min(depth, mixed/len(x))) {
			m.dx, m.df = m.dx[1:], m.df[1:]
		}
	}
	m.x, m.f = x, f
	n := len(m.dx)
	if n == 0 {
		return g
	}
	a, b := make([][]float64, n), make([]float64, n)
	for i := range n {
		a[i] = make([]float64, n)
		for j := range i + 1 {
			a[i][j] = dot(m.df[i], m.df[j])
			a[j][i] = a[i][j]
		}
		b[i] = dot(m.df[i], f)
	}
	m.ritz()
	w := least(a, b)
	out := make([]float32, len(x))
	par.For(len(x), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			v := float64(g[i])
			for j := range n {
				v -= w[j] * (float64(m.dx[j][i]) + float64(m.df[j][i]))
			}
			out[i] = float32(v)
		}
	})
	return out
}

// ritz finds the slowest mode that the differences show: the largest eigenvalue
// of the least-squares map from dx to dx + df, by iteration.
func (m *mixer) ritz() {
	n := len(m.dx)
	a := make([][]float64, n)
	for i := range n {
		a[i] = make([]float64, n)
		for j := range i + 1 {
			a[i][j] = dot(m.dx[i], m.dx[j])
			a[j][i] = a[i][j]
		}
	}
	col := make([][]float64, n) // columns of the small map
	for j := range n {
		b := make([]float64, n)
		for i := range n {
			b[i] = a[i][j] + dot(m.dx[i], m.df[j])
		}
		col[j] = least(a, b)
	}
	// Iterate from the newest difference, which the slow modes rule.
	v := make([]float64, n)
	v[n-1] = 1
	rate := 0.0
	for range 200 {
		u := make([]float64, n)
		for j := range n {
			for i := range n {
				u[i] += col[j][i] * v[j]
			}
		}
		s, p := 0.0, 0.0
		for i := range n {
			for j := range n {
				s += u[i] * a[i][j] * u[j]
				p += v[i] * a[i][j] * v[j]
			}
		}
		if !(s > 0 && p > 0) {
			break
		}
		rate = math.Sqrt(s / p)
		s = math.Sqrt(s)
		for i := range u {
			u[i] /= s
		}
		v = u
	}
	if rate > 0 && rate < 1 {
		m.slow = max(m.slow, rate)
	}
}

// least solves the normal equations a w = b, leaving out directions that are
// within rounding of those before them.
func least(a [][]float64, b []float64) []float64 {
	n := len(b)
	l := make([][]float64, n)
	used := make([]bool, n)
	y := make([]float64, n)
	// Newest first, so that old ones are left out.
	for c := range n {
		i := n - 1 - c
		l[i] = make([]float64, n)
		d := a[i][i]
		for e := range c {
			j := n - 1 - e
			if !used[j] {
				continue
			}
			s := a[i][j]
			for g := range e {
				k := n - 1 - g
				if used[k] {
					s -= l[i][k] * l[j][k]
				}
			}
			l[i][j] = s / l[j][j]
			d -= l[i][j] * l[i][j]
		}
		if d <= 1e-10*a[i][i] || d <= 0 {
			continue
		}
		used[i], l[i][i] = true, math.Sqrt(d)
		s := b[i]
		for e := range c {
			if j := n - 1 - e; used[j] {
				s -= l[i][j] * y[j]
			}
		}
		y[i] = s / l[i][i]
	}
	w := make([]float64, n)
	for i := range n { // oldest first: the back substitution
		if !used[i] {
			continue
		}
		s := y[i]
		for j := range i {
			if used[j] {
				s -= l[j][i] * w[j]
			}
		}
		w[i] = s / l[i][i]
	}
	return w
}
