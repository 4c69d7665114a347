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

// largest returns the largest absolute value, NaN where there is one: as whole numbers the bits of positive
// floats are in the order of the floats, and those that are none come last.
func largest(x []float64) float64 {
	m := uint64(0)
	for _, v := range x {
		m = max(m, math.Float64bits(v)&^(1<<63))
	}
	return math.Float64frombits(m)
}

// chunk is how many entries of a vector one task takes; sums are taken chunk by chunk.
const chunk = 4096

// parts runs f over the chunks of n entries, side by side where there are some, and puts what it
// returns for each into out.
func parts(out []float64, n int, f func(lo, hi int) float64) []float64 {
	out = sized(out, (n+chunk-1)/chunk)
	each(0, n, func(lo, hi int) { out[lo/chunk] = f(lo, hi) })
	return out
}

func total(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}

// step adds a p to x and takes a q from r, and returns the largest of r, NaN where there is one.
func step(x, r, p, q []float64, a float64) float64 {
	n := len(x)
	r, p, q = r[:n], p[:n], q[:n]
	m := uint64(0)
	for i := range x {
		x[i] += a * p[i]
		v := r[i] - a*q[i]
		r[i] = v
		m = max(m, math.Float64bits(v)&^(1<<63))
	}
	return math.Float64frombits(m)
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

// room is what conjugate gradients need beside the system.
type room struct {
	r, z, p, q []float64
	part       []float64
}

// iterate is preconditioned conjugate gradients on A x = b from x on. stop gives the residual at which
// to end from the first one. apply puts A x into out and returns x . out, precondition puts M r into z
// and returns r . z; it is told the largest of r. Sums are taken in chunks, in order.
func (v *room) iterate(x, b []float64, stop func(first float64) float64, most int, apply func(x, out []float64) float64, precondition func(r, z []float64, largest float64) float64) (Report, error) {
	n := len(x)
	v.r, v.z, v.p, v.q = sized(v.r, n), sized(v.z, n), sized(v.p, n), sized(v.q, n)
	r, z, p, q := v.r, v.z, v.p, v.q
	apply(x, r)
	for i := range r {
		r[i] = b[i] - r[i]
	}
	first := largest(r)
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
		if rz = precondition(r, z, rep.Last); !(rz > 0) {
			return rep, nil
		}
		if rep.Iterations == 0 {
			copy(p, z)
		} else {
			beta := rz / was
			each(0, n, func(lo, hi int) {
				p, z := p[lo:hi], z[lo:hi]
				for i, y := range z {
					p[i] = y + beta*p[i]
				}
			})
		}
		pq := apply(p, q)
		if !(pq > 0) {
			return rep, nil
		}
		a := rz / pq
		v.part = parts(v.part, n, func(lo, hi int) float64 { return step(x[lo:hi], r[lo:hi], p[lo:hi], q[lo:hi], a) })
		if rep.Last = largest(v.part); !(rep.Last < math.MaxFloat64) {
			return rep, nil
		}
	}
	rep.Converged = true
	return rep, nil
}
