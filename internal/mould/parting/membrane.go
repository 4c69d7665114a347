package parting

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"pourwright/internal/ground/par"
)

const (
	budget = 6e-4 // share of the masters' volume that a smoother line may lock beyond the gaps, spread over the rim
	most   = 8e-4 // share above which a stiffer surface is not taken
	rounds = 5    // of raising weights
	reach  = 3    // nodes round a node over which the added volume is gathered
)

// stiffness is what is tried, slack to stiff, in mm at 60 mm.
var stiffness = []float64{1, 4, 12, 36}

// relax finds the stiffest surface whose added volume is within most, or the
// slackest; the plane where that is within the budget. With k given only that
// stiffness is tried.
func (f *field) relax(k float64) {
	f.plane(f.s.Edge)
	if f.s.Uneven == 0 && f.added() <= budget*f.volume {
		f.s.Stiff = math.Inf(1)
		return
	}
	rim, length := f.rim()
	share := budget * f.volume / max(length, 1e-300)
	if k > 0 {
		f.s.Stiff = k
		f.coarse(k)
		f.settle(k, rim, share)
		return
	}
	var keep []float64
	for n, t := range stiffness {
		t *= f.scale
		if n == 0 {
			f.coarse(t)
		}
		f.settle(t, rim, share)
		if n > 0 && f.added() > most*f.volume {
			f.s.Z = keep
			return
		}
		f.s.Stiff = t
		keep = append(keep[:0:0], f.s.Z...)
	}
}

// settle finds the surface of one stiffness, raises the weight of the penalty
// round those stretches of the shadow's edge along which the added volume per
// length is above its share, and again. So a noisy rim gives way to a smooth
// line, while a jump of the rim, which a membrane would round off, is kept.
func (f *field) settle(k float64, rim []float64, share float64) {
	f.weight = make([]float64, len(f.s.Z))
	for q := range f.weight {
		f.weight[q] = 1
	}
	rim = blur(rim, f.s.NX, f.s.NY, reach)
	for range rounds {
		f.sweep(k, 30)
		if !f.press(rim, share) {
			break
		}
	}
	f.sweep(k, 100)
}

// rim returns the length of the shadow's edge per node, and its sum.
func (f *field) rim() (rim []float64, length float64) {
	s := f.s
	rim = make([]float64, len(s.Z))
	in := func(x, y int) bool {
		return x >= 0 && y >= 0 && x < f.sx && y < f.sy && f.lo[y*f.sx+x] <= f.hi[y*f.sx+x]
	}
	g := s.H / sub
	for y := range f.sy {
		for x := range f.sx {
			if !in(x, y) {
				continue
			}
			n := 0.0
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if !in(x+d[0], y+d[1]) {
					n++
				}
			}
			rim[y/sub*s.NX+x/sub] += n * g * math.Pi / 4 // of a staircase
			length += n * g * math.Pi / 4
		}
	}
	return rim, length
}

// press raises the weights where the added volume per length of rim, both
// within a few nodes (rim is given so), is above share. It reports whether any
// was raised.
func (f *field) press(rim []float64, share float64) bool {
	s := f.s
	add := make([]float64, len(s.Z))
	par.For(s.NY, 16, func(lo, hi int) {
		for y := sub * lo; y < sub*hi; y++ {
			for x := range f.sx {
				q := y*f.sx + x
				if f.lo[q] > f.hi[q] || f.alone[q] {
					continue
				}
				px, py := f.sample(x, y)
				z := s.At(px, py)
				add[y/sub*s.NX+x/sub] += (max(0, z-f.out[q]) + max(0, f.in[q]-z)) * f.cell
			}
		}
	})
	a, b := blur(add, s.NX, s.NY, reach), rim
	any := false
	for q := range a {
		if r := a[q] / (share * max(b[q], s.H)); r > 1 && f.has[q] > 0 && f.weight[q] < 256 {
			f.weight[q] *= min(4, r)
			any = true
		}
	}
	return any
}

// blur returns the sums of a over squares of 2 r + 1 nodes.
func blur(a []float64, nx, ny, r int) []float64 {
	t := make([]float64, len(a))
	for j := range ny {
		w := 0.0
		for i := -r; i < nx; i++ {
			if i+r < nx {
				w += a[j*nx+i+r]
			}
			if i-r-1 >= 0 {
				w -= a[j*nx+i-r-1]
			}
			if i >= 0 {
				t[j*nx+i] = w
			}
		}
	}
	o := make([]float64, len(a))
	for i := range nx {
		w := 0.0
		for j := -r; j < ny; j++ {
			if j+r < ny {
				w += t[(j+r)*nx+i]
			}
			if j-r-1 >= 0 {
				w -= t[(j-r-1)*nx+i]
			}
			if j >= 0 {
				o[j*nx+i] = w
			}
		}
	}
	return o
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

// sweep does projected over-relaxation until nothing moves by more than enough,
// or for so many sweeps. At each node the exact minimum over its own height is
// taken: with m the mean of the four neighbours, the height z where
// 4 k (z - m) + c (#samples with hi < z - #samples with lo > z) changes sign, c
// the area of a sample times the node's weight.
func (f *field) sweep(k float64, sweeps int) {
	s := f.s
	omega := 2 / (1 + math.Sin(math.Pi/float64(max(s.NX, s.NY))))
	omega = min(omega, 1.9)
	pull := omega * f.cell / (4 * k)
	enough := 5e-4 * f.scale
	if s.NX*s.NY >= pairedNodes && par.Idle() {
		f.paired(sweeps, omega, pull, enough)
		return
	}
	for range sweeps {
		moved := 0.0
		for j := 1; j < s.NY-1; j += lanes {
			moved = max(moved, f.rows(j, min(lanes, s.NY-1-j), omega, pull))
		}
		if moved < enough {
			return
		}
	}
}

// pairedNodes is from how many nodes on two sweeps run side by side.
const pairedNodes = 10000

// paired does the sweeps two by two, the second a few rows behind the first, on
// a core of its own: a group of rows is swept again when the first sweep has
// left it and the group after it, so that every node meets the neighbours that
// it meets in one sweep after the other, and the heights are the same to the last
// bit. Where the first sweep of a pair turns out to be the last, what the second
// has changed is put back.
func (f *field) paired(sweeps int, omega, pull, enough float64) {
	s := f.s
	groups := (s.NY - 2 + lanes - 1) / lanes
	group := func(g int) float64 {
		j := 1 + g*lanes
		return f.rows(j, min(lanes, s.NY-1-j), omega, pull)
	}
	was := make([]float64, len(s.Z))
	const never = math.MaxInt64
	var pair, first, second atomic.Int64 // pairs asked for (never: none any more); groups done by either sweep
	moved := 0.0                         // in the second sweep of a pair
	var follower sync.WaitGroup
	follower.Go(func() {
		for n := int64(1); ; n++ {
			await(&pair, n)
			if pair.Load() == never {
				return
			}
			most := 0.0
			for g := range groups {
				await(&first, (n-1)*int64(groups)+int64(min(g+2, groups)))
				from, to := (1+g*lanes)*s.NX, min(1+(g+1)*lanes, s.NY-1)*s.NX
				copy(was[from:to], s.Z[from:to])
				most = max(most, group(g))
				if g == groups-1 {
					moved = most
				}
				second.Add(1)
			}
		}
	})
	defer func() {
		pair.Store(never)
		follower.Wait()
	}()
	n := int64(0)
	for ; sweeps > 1; sweeps -= 2 {
		n++
		pair.Store(n)
		most := 0.0
		for g := range groups {
			most = max(most, group(g))
			first.Add(1)
		}
		await(&second, n*int64(groups))
		if most < enough {
			copy(s.Z[s.NX:(s.NY-1)*s.NX], was[s.NX:(s.NY-1)*s.NX])
			return
		}
		if moved < enough {
			return
		}
	}
	if sweeps == 1 {
		for g := range groups {
			group(g)
		}
	}
}

// await returns when x has come to n. What is waited for is microseconds away,
// unless other work has taken the core that does it; then this one is left too.
func await(x *atomic.Int64, n int64) {
	for k := 0; x.Load() < n; k++ {
		switch {
		case k > 400:
			time.Sleep(50 * time.Microsecond)
		case k > 100:
			runtime.Gosched()
		}
	}
}

// lanes is how many rows of a sweep go side by side.
const lanes = 4

// rows relaxes n rows from row j on and returns the largest move. Row by row,
// every node would wait for the one before it (seven dependent operations).
// Here each row runs one node behind the row before it: no node of the front
// needs another, and each still meets the same neighbours, old and new, as row
// by row, so that the heights are the same to the last bit.
func (f *field) rows(j, n int, omega, pull float64) float64 {
	nx := f.s.NX
	z := f.s.Z[(j-1)*nx : (j+n+1)*nx]
	// Slices of one length, so that one test of an index serves all.
	fixed, has, lo, hi := f.fixed[j*nx:][:n*nx], f.has[j*nx:][:n*nx], f.nlo[j*nx:][:n*nx], f.nhi[j*nx:][:n*nx]
	here, up, down := z[nx:][:n*nx], z[:n*nx], z[2*nx:][:n*nx]
	moved := 0.0
	for t := 1; t < nx-1+n-1; t++ {
		for r := max(0, t-(nx-2)); r < n && r < t; r++ {
			i := t - r
			q := r*nx + i
			if fixed[q] {
				continue
			}
			was := here[q]
			m := (here[q-1] + here[q+1] + up[q] + down[q]) / 4
			x := was + omega*(m-was)
			if (x > hi[q] || x < lo[q]) && has[q] > 0 {
				x = f.settleNode(i, j+r, x, pull*f.weight[j*nx+q])
			}
			if d := math.Abs(x - was); d > moved {
				moved = d
			}
			here[q] = x
		}
	}
	return moved
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
