package pressure

import (
	"math"

	"pourwright/internal/ground/fault"
)

// Link ties a cell to a pocket: rows of both, and the weight.
type Link struct {
	Row, Pocket int32
	W           float64
}

// System is one system of equations. Cells come first, pockets behind them; links are in
// the order of their cells.
type System struct {
	Place [][3]int32   // of each cell in the grid; linked cells are neighbours in it
	Nb    [][6]int32   // of each cell: rows of its neighbours at low and high x, y, z, -1 where none
	W     [][6]float64 // their weights
	Link  []Link
	Diag  []float64
	B, X  []float64 // right-hand side and first guess
}

// residual puts b - A x into r and returns the largest of it.
func (s *System) residual(r []float64) float64 {
	s.apply(s.X, r)
	for i := range r {
		r[i] = s.B[i] - r[i]
	}
	return largest(r)
}

// apply puts A x into out.
func (s *System) apply(x, out []float64) {
	for i := range out {
		out[i] = s.Diag[i] * x[i]
	}
	for i := range s.Nb {
		t := out[i]
		nb, w := &s.Nb[i], &s.W[i]
		for k := range 6 {
			if j := nb[k]; j >= 0 {
				t -= w[k] * x[j]
			}
		}
		out[i] = t
	}
	for _, l := range s.Link {
		out[l.Row] -= l.W * x[l.Pocket]
		out[l.Pocket] -= l.W * x[l.Row]
	}
}

// largest returns the largest absolute value, NaN where there is one.
func largest(x []float64) float64 {
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

// step adds a p to x and takes a q from r, and returns the largest of r, NaN where there is one.
func step(x, r, p, q []float64, a float64) float64 {
	n := len(x)
	r, p, q = r[:n], p[:n], q[:n]
	m, sum := 0.0, 0.0
	for i := range x {
		x[i] += a * p[i]
		v := r[i] - a*q[i]
		r[i] = v
		if v < 0 {
			v = -v
		}
		if v > m {
			m = v
		}
		sum += v // no number stays none
	}
	if sum != sum {
		return sum
	}
	return m
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// Report says how a solve went.
type Report struct {
	Iterations int
	First      float64 // largest residual of the first guess
	Last       float64 // of the answer, as the iterations carried it on
	Converged  bool
}

// most is the number of iterations after which a solve is given up.
const most = 500

// iterate is preconditioned conjugate gradients from s.X on. stop gives the residual at which
// to end from the first one. apply puts A x into out and returns x . out, precondition puts M r into z
// and returns r . z.
func (s *System) iterate(work *[4][]float64, stop func(first float64) float64, most int, apply, precondition func(x, out []float64) float64) (Report, error) {
	n := len(s.X)
	for k := range work {
		if cap(work[k]) < n {
			work[k] = make([]float64, n, n+n/4)
		}
		work[k] = work[k][:n]
	}
	r, z, p, q := work[0], work[1], work[2], work[3]
	first := s.residual(r)
	if !(first < math.MaxFloat64) {
		return Report{}, fault.New(fault.Internal, "pressure", "", "the pressure's equation is not a number")
	}
	end := stop(first)
	rep := Report{First: first, Last: first}
	rz := 0.0
	for ; rep.Last > end; rep.Iterations++ {
		if rep.Iterations >= most {
			return rep, nil
		}
		was := rz
		if rz = precondition(r, z); !(rz > 0) {
			return rep, nil
		}
		if rep.Iterations == 0 {
			copy(p, z)
		} else {
			beta := rz / was
			for i := range p {
				p[i] = z[i] + beta*p[i]
			}
		}
		pq := apply(p, q)
		if !(pq > 0) {
			return rep, nil
		}
		a := rz / pq
		if rep.Last = step(s.X, r, p, q, a); !(rep.Last < math.MaxFloat64) {
			return rep, nil
		}
	}
	rep.Converged = true
	return rep, nil
}
