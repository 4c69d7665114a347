package fill

import (
	"math"

	"pourwright/internal/ground/fault"
)

// solve is conjugate gradients with a symmetric Gauss-Seidel preconditioner. ok is false
// where it did not come to its end.
func (y *system) solve(unit, tol, share float64) (its int, ok bool, err error) {
	n := len(y.x)
	for k := range y.work {
		if cap(y.work[k]) < n {
			y.work[k] = make([]float64, n+n/4)
		}
	}
	r, z, p, q := y.work[0][:n], y.work[1][:n], y.work[2][:n], y.work[3][:n]
	clear(p)
	apply := func(x, out []float64) {
		for i := range out {
			s := y.diag[i] * x[i]
			for k, j := range y.nb[i] {
				if j >= 0 {
					s -= y.w[i][k] * x[j]
				}
			}
			out[i] = s
		}
	}
	precondition := func(r, z []float64) {
		for i := range z {
			s := r[i]
			for k, j := range y.nb[i] {
				if j >= 0 && int(j) < i {
					s += y.w[i][k] * z[j]
				}
			}
			z[i] = 0
			if y.diag[i] > 0 {
				z[i] = s / y.diag[i]
			}
		}
		for i := n - 1; i >= 0; i-- {
			s := 0.0
			for k, j := range y.nb[i] {
				if int(j) > i {
					s += y.w[i][k] * z[j]
				}
			}
			if y.diag[i] > 0 {
				z[i] += s / y.diag[i]
			}
		}
	}
	largest := func(x []float64) float64 {
		m := 0.0
		for _, v := range x {
			if v = math.Abs(v); v != v {
				return v
			} else if v > m {
				m = v
			}
		}
		return m
	}
	// A cell whose centre all but lies in the surface has a row a million times as large.
	// Left at its last pressure it alone would set the measure of the first residual.
	for i, d := range y.diag {
		if d > 12*unit {
			s := y.b[i]
			for k, j := range y.nb[i] {
				if j >= 0 {
					s += y.w[i][k] * y.x[j]
				}
			}
			y.x[i] = s / d
		}
	}
	apply(y.x, r)
	for i := range r {
		r[i] = y.b[i] - r[i]
	}
	r0 := largest(r)
	if !(r0 < math.MaxFloat64) {
		return 0, false, fault.New(fault.Internal, "fill", "", "the pressure's equation is not a number")
	}
	stop := math.Min(math.Min(tol, 1e-2), share*r0)
	rz := 0.0
	for it := range 2000 {
		if largest(r) <= stop || r0 < 1e-14 {
			return it, true, nil
		}
		precondition(r, z)
		was := rz
		rz = 0
		for i := range r {
			rz += r[i] * z[i]
		}
		if !(rz > 0) {
			return it, false, nil
		}
		beta := 0.0
		if it > 0 {
			beta = rz / was
		}
		for i := range p {
			p[i] = z[i] + beta*p[i]
		}
		apply(p, q)
		pq := 0.0
		for i := range p {
			pq += p[i] * q[i]
		}
		if !(pq > 0) {
			return it, false, nil
		}
		a := rz / pq
		for i := range p {
			y.x[i] += a * p[i]
			r[i] -= a * q[i]
		}
	}
	return 2000, false, nil
}
