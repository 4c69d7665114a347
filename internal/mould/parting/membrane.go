package parting

import "math"

// budget is the share of the masters' volume that a smoother surface may lock
// beyond what the slackest one does.
const budget = 3e-4

// stiffness is what is tried, from stiff to slack, as lengths at 60 mm.
var stiffness = []float64{8, 2, 1, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015}

// relax takes the stiffest surface whose added volume is within the budget.
// Where metal jumps from one height to another along the shadow's edge even the
// slackest surface locks some; the budget counts from there.
func (f *field) relax(least float64) {
	f.plane(f.s.Edge)
	if f.s.Uneven == 0 && f.added() <= budget/2*f.volume {
		f.s.Stiff = math.Inf(1)
		return
	}
	slack := stiffness[len(stiffness)-1] * f.scale
	f.coarse(slack)
	f.sweep(slack, 200)
	floor := f.added()
	for n := len(stiffness) - 1; n >= 0; n-- {
		f.s.Stiff = stiffness[n] * f.scale
		if n == 0 {
			break
		}
		keep := append([]float64(nil), f.s.Z...)
		f.sweep(stiffness[n-1]*f.scale, 200)
		if f.added() > floor+budget*f.volume && f.s.Stiff >= least {
			f.s.Z = keep
			break
		}
	}
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

// weigh sets the weight of each edge between nodes to 1 / sqrt(1 + g^2), g the
// slope of the surface there: with these weights the membrane's energy is the
// surface's area to first order (iteratively reweighted least squares), so a
// jump costs its height and not its square.
func (f *field) weigh() {
	s := f.s
	n := len(s.Z)
	if len(f.wx) != n {
		f.wx, f.wy = make([]float64, n), make([]float64, n)
	}
	nx := s.NX
	for j := range s.NY {
		for i := range nx {
			q := j*nx + i
			i0, i1, j0, j1 := max(i-1, 0), min(i+1, nx-1), max(j-1, 0), min(j+1, s.NY-1)
			if i+1 < nx {
				a := (s.Z[q+1] - s.Z[q]) / s.H
				b := (s.Z[j1*nx+i] + s.Z[j1*nx+i+1] - s.Z[j0*nx+i] - s.Z[j0*nx+i+1]) / (2 * s.H * float64(j1-j0))
				f.wx[q] = 1 / math.Sqrt(1+a*a+b*b)
			}
			if j+1 < s.NY {
				a := (s.Z[q+nx] - s.Z[q]) / s.H
				b := (s.Z[j*nx+i1] + s.Z[(j+1)*nx+i1] - s.Z[j*nx+i0] - s.Z[(j+1)*nx+i0]) / (2 * s.H * float64(i1-i0))
				f.wy[q] = 1 / math.Sqrt(1+a*a+b*b)
			}
		}
	}
}

// sweep does projected over-relaxation. At each node the exact minimum over
// its own height is taken: with m the weighted mean of the four neighbours and
// w the sum of their weights, the height z where k w (z - m) + cell (#samples
// with hi < z - #samples with lo > z) changes sign.
func (f *field) sweep(k float64, sweeps int) {
	s := f.s
	nx := s.NX
	omega := 2 / (1 + math.Sin(math.Pi/float64(max(s.NX, s.NY))))
	omega = min(omega, 1.9)
	enough := 3e-4 * f.scale
	for n := range sweeps {
		if n%25 == 0 {
			f.weigh()
		}
		most := 0.0
		for j := 1; j < s.NY-1; j++ {
			for i := 1; i < nx-1; i++ {
				q := j*nx + i
				if f.fixed[q] {
					continue
				}
				a, b, c, d := f.wx[q-1], f.wx[q], f.wy[q-nx], f.wy[q]
				w := a + b + c + d
				m := (a*s.Z[q-1] + b*s.Z[q+1] + c*s.Z[q-nx] + d*s.Z[q+nx]) / w
				z := s.Z[q] + omega*(m-s.Z[q])
				if f.has[q] > 0 && (z > f.nhi[q] || z < f.nlo[q]) {
					z = f.settleNode(i, j, z, omega*f.cell/(k*w))
				}
				most = max(most, math.Abs(z-s.Z[q]))
				s.Z[q] = z
			}
		}
		if most < enough && n%25 > 2 {
			return
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
