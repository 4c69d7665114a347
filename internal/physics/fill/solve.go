package fill

import (
	"math"

	"pourwright/internal/ground/fault"
)

// solve is conjugate gradients with a symmetric Gauss-Seidel preconditioner. ok is false
// where it did not come to its end.
func (y *system) solve(unit, tol, share float64) (its int, ok bool, err error) {
	n, m := len(y.x), len(y.nb) // unknowns, and those of them that are cells
	for k := range y.work {
		if cap(y.work[k]) < n {
			y.work[k] = make([]float64, n+n/4)
		}
	}
	r, z, p, q := y.work[0][:n], y.work[1][:n], y.work[2][:n], y.work[3][:n]
	back := y.work[4][:m]
	clear(p)
	clear(back)
	apply := func(x, out []float64) {
		for i := range out {
			out[i] = y.diag[i] * x[i]
		}
		for i := range y.nb {
			s := out[i]
			for k, j := range y.nb[i] {
				if j >= 0 {
					s -= y.w[i][k] * x[j]
				}
			}
			out[i] = s
		}
		for _, l := range y.link {
			out[l.row] -= l.w * x[l.pocket]
			out[l.pocket] -= l.w * x[l.row]
		}
	}
	// Pockets are the last unknowns of the sweep: their sum of links is made when all
	// cells are, and comes first on the way back.
	precondition := func(r, z []float64) {
		for i := range m {
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
		copy(z[m:], r[m:])
		for _, l := range y.link {
			z[l.pocket] += l.w * z[l.row]
		}
		for i := m; i < n; i++ {
			z[i] /= y.diag[i]
		}
		for k := len(y.link) - 1; k >= 0; k-- { // in order of rows
			l := y.link[k]
			back[l.row] += l.w * z[l.pocket]
		}
		for i := m - 1; i >= 0; i-- {
			s := back[i]
			back[i] = 0
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
	for _, l := range y.link {
		back[l.row] += l.w * y.x[l.pocket]
	}
	for i, d := range y.diag[:m] {
		if d > 12*unit {
			s := y.b[i] + back[i]
			for k, j := range y.nb[i] {
				if j >= 0 {
					s += y.w[i][k] * y.x[j]
				}
			}
			y.x[i] = s / d
		}
		back[i] = 0
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
