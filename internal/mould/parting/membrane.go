package parting

import "math"

// budget is the share of the masters' volume that a smoother surface may lock
// beyond the gaps.
const budget = 2e-4

// stiffness is what is tried, from stiff to slack, as lengths at 60 mm.
var stiffness = []float64{8, 4, 2, 1, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015}

// relax lowers the stiffness until the added volume is within the budget and
// leaves that surface in place. When none is, the slackest stays.
func (f *field) relax(least float64) {
	f.plane(f.s.Edge)
	if f.s.Uneven == 0 && f.added() <= budget*f.volume {
		f.s.Stiff = math.Inf(1)
		return
	}
	for k, t := range stiffness {
		f.s.Stiff = t * f.scale
		if k == 0 {
			f.coarse(f.s.Stiff)
		}
		f.sweep(f.s.Stiff, 80)
		if f.added() <= budget*f.volume || f.s.Stiff <= least {
			break
		}
	}
	f.sweep(f.s.Stiff, 200)
}

// coarse solves on grids of four and two times the spacing and leaves the
// result on the nodes.
func (f *field) coarse(k float64) {
	for _, m := range []int{4, 2} {
		s := f.s
		nx, ny := (s.NX+m-2)/m+1, (s.NY+m-2)/m+1
		if nx < 4 || ny < 4 {
			continue
		}
		c := &field{s: &Surface{NX: nx, NY: ny, H: s.H * float64(m), X0: s.X0, Y0: s.Y0, Z: make([]float64, nx*ny)}}
		c.sx, c.sy, c.lo, c.hi, c.cell = f.sx, f.sy, f.lo, f.hi, f.cell
		c.fixed, c.has = make([]bool, nx*ny), make([]uint8, nx*ny)
		c.nlo, c.nhi = make([]float64, nx*ny), make([]float64, nx*ny)
		for j := range ny {
			for i := range nx {
				q := j*nx + i
				x, y := min(i*m, s.NX-1), min(j*m, s.NY-1)
				p := y*s.NX + x
				c.s.Z[q], c.fixed[q] = s.Z[p], f.fixed[p]
				c.nlo[q], c.nhi[q], c.has[q] = f.nlo[p], f.nhi[p], f.has[p]
			}
		}
		c.weighted(k, 100, float64(m*m))
		for j := range s.NY {
			for i := range s.NX {
				q := j*s.NX + i
				if !f.fixed[q] {
					s.Z[q] = c.s.At(s.X0+float64(i)*s.H, s.Y0+float64(j)*s.H)
				}
			}
		}
	}
}

// weighted is sweep for a coarse grid: one pair of bounds per node that stands
// for w nodes.
func (f *field) weighted(k float64, sweeps int, w float64) {
	s := f.s
	nx := s.NX
	for range sweeps {
		for j := 1; j < s.NY-1; j++ {
			for i := 1; i < nx-1; i++ {
				q := j*nx + i
				if f.fixed[q] {
					continue
				}
				z := (s.Z[q-1] + s.Z[q+1] + s.Z[q-nx] + s.Z[q+nx]) / 4
				if f.has[q] > 0 && f.nlo[q] <= f.nhi[q] {
					pull := w * float64(f.has[q]) * f.cell / (4 * k)
					if z > f.nhi[q] {
						z = max(z-pull, f.nhi[q])
					} else if z < f.nlo[q] {
						z = min(z+pull, f.nlo[q])
					}
				}
				s.Z[q] += 1.7 * (z - s.Z[q])
			}
		}
	}
}

// sweep does projected over-relaxation. At each node the exact minimum over
// its own height is taken: with m the mean of the four neighbours, the height
// z where 4 k (z - m) + cell (#samples with hi < z - #samples with lo > z)
// changes sign.
func (f *field) sweep(k float64, sweeps int) {
	s := f.s
	nx := s.NX
	omega := 2 / (1 + math.Sin(math.Pi/float64(max(s.NX, s.NY))))
	omega = min(omega, 1.9)
	pull := f.cell / (4 * k)
	for range sweeps {
		for j := 1; j < s.NY-1; j++ {
			for i := 1; i < nx-1; i++ {
				q := j*nx + i
				if f.fixed[q] {
					continue
				}
				m := (s.Z[q-1] + s.Z[q+1] + s.Z[q-nx] + s.Z[q+nx]) / 4
				z := s.Z[q] + omega*(m-s.Z[q])
				if f.has[q] > 0 && (z > f.nhi[q] || z < f.nlo[q]) {
					z = f.settleNode(i, j, z, pull*omega)
				}
				s.Z[q] = z
			}
		}
	}
}

// settleNode moves z down past upper bounds and up past lower bounds of the
// node's samples, each by at most pull.
func (f *field) settleNode(i, j int, z, pull float64) float64 {
	// The derivative of the penalty is a step function of z; walk along it.
	var up, dn [sub * sub]float64 // bounds that z passes, hi below z and lo above z
	nu, nd := 0, 0
	for y := sub * j; y < sub*j+sub; y++ {
		for x := sub * i; x < sub*i+sub; x++ {
			q := y*f.sx + x
			lo, hi := f.lo[q], f.hi[q]
			if lo > hi {
				continue
			}
			up[nu], dn[nd] = hi, lo
			nu++
			nd++
		}
	}
	// g(t) = (t - z) + pull * (#hi < t - #lo > t) is increasing; find its zero
	// by trying the pieces between bounds.
	count := func(t float64) float64 {
		c := 0.0
		for k := range nu {
			if up[k] < t {
				c++
			}
			if dn[k] > t {
				c--
			}
		}
		return c
	}
	t := z
	for range 2 * sub * sub {
		c := count(t)
		want := z - pull*c
		if want == t || c == 0 {
			return t
		}
		// move from t towards want, but stop at the first bound on the way
		next := want
		for k := range nu {
			for _, b := range [2]float64{up[k], dn[k]} {
				if want < t && b < t && b > next || want > t && b > t && b < next {
					next = b
				}
			}
		}
		if next == want {
			return want
		}
		// at a bound: if the pull changes its mind beyond it, the minimum is there
		eps := 1e-12 * (1 + math.Abs(next))
		var beyond float64
		if want < t {
			beyond = z - pull*count(next-eps)
			if beyond >= next {
				return next
			}
		} else {
			beyond = z - pull*count(next+eps)
			if beyond <= next {
				return next
			}
		}
		if want < t {
			t = next - eps
		} else {
			t = next + eps
		}
	}
	return t
}
