package fit

import (
	"gonum.org/v1/gonum/mat"
)

// equations are the normal equations of all probes, with the priors as further
// readings.
type equations struct {
	n          int
	a          []float64 // upper part of X'V^-1 X + P, row by row
	g          []float64 // X'V^-1 r - P q
	rr         float64   // r'V^-1 r
	prec, away []float64
	white      [][]float64
	chol       mat.Cholesky
}

func newEquations(prec, away []float64) *equations {
	n := len(prec)
	e := &equations{n: n, a: make([]float64, n*n), g: make([]float64, n), prec: prec, away: away}
	for i := range prec {
		e.a[i*n+i] = prec[i]
		e.g[i] = -prec[i] * away[i]
		e.rr += prec[i] * away[i] * away[i]
	}
	return e
}

// add whitens a block and takes it in.
func (e *equations) add(w *whitener, b *block) {
	m := len(b.r)
	r := make([]float64, m)
	w.apply(b.r, r)
	if e.white == nil {
		e.white = make([][]float64, e.n)
	}
	for i, c := range b.cols {
		if c == nil {
			continue
		}
		if cap(e.white[i]) < m {
			e.white[i] = make([]float64, m)
		}
		e.white[i] = e.white[i][:m]
		w.apply(c, e.white[i])
	}
	for _, x := range r {
		e.rr += x * x
	}
	for i, c := range b.cols {
		if c == nil {
			continue
		}
		x := e.white[i]
		e.g[i] += dot(x, r)
		for j := i; j < e.n; j++ {
			if b.cols[j] != nil {
				e.a[i*e.n+j] += dot(x, e.white[j])
			}
		}
	}
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// solve returns the step d of (A + damp diag A) d = g and ln det of the matrix.
// Entries that stay do not move; nil: all move.
func (e *equations) solve(damp float64, stay []bool) (d []float64, logDet float64, ok bool) {
	s := mat.NewSymDense(e.n, nil)
	g := mat.NewVecDense(e.n, append([]float64(nil), e.g...))
	for i := range e.n {
		for j := i; j < e.n; j++ {
			x := e.a[i*e.n+j]
			if i == j {
				x *= 1 + damp
			}
			if stay != nil && (stay[i] || stay[j]) {
				x = 0
				if i == j {
					x = 1
					g.SetVec(i, 0)
				}
			}
			if !finite(x) {
				return nil, 0, false
			}
			s.SetSym(i, j, x)
		}
	}
	if !e.chol.Factorize(s) {
		return nil, 0, false
	}
	var v mat.VecDense
	if err := e.chol.SolveVecTo(&v, g); err != nil {
		if _, nearly := err.(mat.Condition); !nearly {
			return nil, 0, false
		}
	}
	d = make([]float64, e.n)
	for i := range d {
		d[i] = v.AtVec(i)
		if !finite(d[i]) {
			return nil, 0, false
		}
	}
	return d, e.chol.LogDet(), true
}

// value returns the sum of squares after a step d, of the linear stand-in.
func (e *equations) value(d []float64) float64 {
	s := e.rr
	for i := range e.n {
		s -= 2 * d[i] * e.g[i]
		for j := i; j < e.n; j++ {
			x := d[i] * d[j] * e.a[i*e.n+j]
			if j > i {
				x *= 2
			}
			s += x
		}
	}
	return s
}

// inverse returns the covariance; ok is false where the matrix is singular.
func (e *equations) inverse() (c *mat.SymDense, ok bool) {
	if _, _, ok := e.solve(0, nil); !ok {
		return nil, false
	}
	c = mat.NewSymDense(e.n, nil)
	if err := e.chol.InverseTo(c); err != nil {
		if _, nearly := err.(mat.Condition); !nearly {
			return nil, false
		}
	}
	return c, true
}
