package fill

import (
	"math"
	"math/bits"

	"pourwright/internal/ground/par"
	"pourwright/internal/physics/pressure"
)

// system is the pressure's equation, one row for each cell that is metal:
//
//	sum_s A_s dt / (rho h theta_s (1 + dt K_s)) (p_i - p_s) = -sum_s A_s u_s + min((F_i - 1)+, 0.1) V_i h / dt
//
// over its open sides, u_s outward and slowed by the drag K already. theta is 1 between two cells of metal; towards
// gas it is the way to the surface, and p_s the pressure there.
type system struct {
	pressure.System
	solver pressure.Solver
	row    []int32 // by cell, -1 where it is no metal
	cell   []int32 // by row
	tied   []bool  // by row: a pressure is given beside it, or a pocket's
	seen   []bool
	tiedTo []float64 // by row: what its pockets press
	list   []int32
	dist   [3][]float64 // by side: theta
	jump   [3][]float64 // by side: pressure at the surface
	mean   []float64    // by cell without metal: the jump of the surface beside it
	sides  []uint8      // by cell without metal: sides beyond which there is metal, a bit each
	hollow []int32      // cells of which these are known
	ties   [][]tie      // by piece of the rows
}

// tie links a row to a pocket's, with what it adds to that one's right-hand side.
type tie struct {
	pressure.Link
	b float64
}

// nearest is the least height of the surface over a centre in metal, in cells; meeting the one under which the surfaces round a
// cell begin to count as one; film how far the surfaces of airs that differ by unlike are kept from it; tied the least way to a pocket's surface in a quick run: its pressure is
// unknown too, and two unknowns tied 1e8 times as hard as others keep the solver from its end. A level at rest does not bear it.
const (
	nearest = 1e-8
	tied    = 1e-4
	meeting = 0.1
	film    = 0.25
	unlike  = 0.5 // of a cell's height of metal, by which the pressures of two airs differ
)

// way is a side of a cell that leads through the surface.
type way struct {
	d       int
	face    int32
	w, p, t float64
	pocket  int32   // row of its pressure, which p does not hold then; -1: none
	u       float64 // out of the cell
	air     float64 // Pa, the last of its air
}

// part keeps the surfaces of airs whose pressures differ by more than least in one cell a quarter of a
// cell from its centre: a film that thin is torn before it is driven as fast as their pressures would.
func part(list []way, least float64) {
	for k := 1; k < len(list); k++ {
		if math.Abs(list[k].air-list[0].air) <= least {
			continue
		}
		for j := range list {
			list[j].t = max(list[j].t, film)
		}
		return
	}
}

// agree makes one pressure of those of the surfaces that all but touch a cell's centre: they are
// one place. Left apart, their difference over a way of next to nothing would drive
// metal in at one side and out at the other as fast as one likes.
func agree(list []way) {
	if len(list) < 2 {
		return
	}
	sum, all := 0.0, 0.0
	for _, x := range list {
		sum, all = sum+x.w/x.t*x.p, all+x.w/x.t
	}
	for k := range list {
		x := &list[k]
		if x.t < meeting {
			x.p += (1 - x.t/meeting) * (sum/all - x.p)
		}
	}
}

func (y *system) make(r *Run) {
	y.row = make([]int32, r.c.Wall+1)
	y.mean, y.sides = make([]float64, r.c.Wall+1), make([]uint8, r.c.Wall+1)
	for d := range 3 {
		y.dist[d], y.jump[d] = make([]float64, r.c.Wall+1), make([]float64, r.c.Wall+1)
	}
}

// at returns the pressure at the far end of a side, that of cell f, that leads out of the metal, and
// the way there in cells; of a pocket without the pocket's own. ok is false where nothing moves through the side.
func (r *Run) at(i, n int32, k int, f int32) (p, theta float64, ok bool) {
	switch r.state[n] {
	case hollow, open:
		if r.ten == nil {
			return r.beyond(n), r.distance(i, n, k), true
		}
		p, theta = r.jumpTo(i, n, k, f)
		return r.beyond(n) + p, theta, true
	case held:
		return r.beyond(n), 0.5, true
	}
	return 0, 0, false
}

// jumps finds the mean jump of the surface over the sides of each cell without metal.
//
// The velocities through two sides of such a cell follow from two jumps. What these differ by,
// noise of the curvature, drives metal in at one side and out at the other, along the surface, where no
// equation holds it: a drop with the metal's own viscosity was stirred so, the more the finer its cells. With
// one pressure in the cell the forces round it are those of a potential. At rest the jump varies with height
// as the metal's own pressure does; that is no noise, and is left in:
//
//	p_k = rho g . x_k + the mean over the cell's sides of (sigma kappa_k - rho g . x_k)
//
// with x_k where the surface cuts the line of centres.
func (r *Run) jumps() {
	if r.ten == nil {
		return
	}
	y, c := &r.sys, r.c
	for _, n := range y.hollow {
		y.mean[n], y.sides[n] = 0, 0
	}
	y.hollow = y.hollow[:0]
	for _, i := range y.cell {
		for k := range 6 {
			n := c.Nb[k][i]
			if int(n) >= c.N || r.state[n] != hollow || !r.ten.Resolved(i, n) {
				continue
			}
			f := i
			if k%2 == 1 {
				f = n
			}
			if r.of[k/2][f] < 0 {
				continue
			}
			if y.sides[n] == 0 {
				y.hollow = append(y.hollow, n)
			}
			y.sides[n] |= 1 << (k ^ 1)
			t := r.distance(i, n, k)
			own := r.ten.Jump(i, k, t)
			y.dist[k/2][f], y.jump[k/2][f] = t, own
			y.mean[n] += own - r.stands(k, t)
		}
	}
	for _, n := range y.hollow {
		y.mean[n] /= float64(bits.OnesCount8(y.sides[n]))
	}
}

// stands is the hydrostatic pressure over that at the centre of the cell beyond side k, where
// the surface lies at t cells from the centre on this side.
func (r *Run) stands(k int, t float64) float64 {
	g := r.p.Gravity.At(k / 2)
	if k%2 == 1 {
		g = -g
	}
	return r.p.Metal.Density * g * (1 - t) * r.c.H
}

// jumpTo is the jump over side k, that of cell f, of metal cell i to cell n without, and the way there: that of the cell, but
// its own at an opening, in thin sections and where metal faces metal over the cell, in two surfaces,
// and the more so the nearer rho u^2 h/sigma comes to 1: then tension counts little.
func (r *Run) jumpTo(i, n int32, k int, f int32) (jump, t float64) {
	s := r.sys.sides[n]
	if s&(1<<(k^1)) == 0 { // not found by jumps
		t = r.distance(i, n, k)
		return r.ten.Jump(i, k, t), t
	}
	own, t := r.sys.jump[k/2][f], r.sys.dist[k/2][f]
	if s&(s>>1)&0b010101 != 0 {
		return own, t
	}
	e := 0.0
	for k := range 6 {
		f := n
		if k%2 == 1 {
			f = r.c.Nb[k][n]
		}
		u := r.U[k/2][f]
		e += u * u / 2
	}
	we := min(r.p.Metal.Density*e*r.c.H/r.p.Metal.Tension, 1)
	return own + (1-we)*(r.sys.mean[n]+r.stands(k, t)-own), t
}

// project makes the velocities w free of divergence in the metal.
//
// What a cell holds too much goes out in one step of first, a tenth of the cell at
// most; a step that is tried again shorter lets out as much less. It reports whether the
// pressure came to its end.
func (r *Run) project(dt, first float64) (bool, error) {
	y, c := &r.sys, r.c
	rho, h := r.p.Metal.Density, c.H
	y.cell = y.cell[:0]
	for i := range int32(c.Wall + 1) {
		y.row[i] = -1
		if int(i) < c.N && r.state[i] == metal {
			y.row[i] = int32(len(y.cell))
			y.cell = append(y.cell, i)
		}
	}
	r.jumps()
	n := len(y.cell)
	all := n + r.rows()
	if cap(y.B) < all {
		m := all + all/4
		y.Place, y.Nb, y.W = make([][3]int32, m), make([][6]int32, m), make([][6]float64, m)
		y.Diag, y.B, y.X = make([]float64, m), make([]float64, m), make([]float64, m)
		y.tied, y.seen = make([]bool, m), make([]bool, m)
	}
	y.tied, y.seen = y.tied[:n], y.seen[:n]
	y.Place, y.Nb, y.W, y.Diag, y.B, y.X = y.Place[:n], y.Nb[:n], y.W[:n], y.Diag[:all], y.B[:all], y.X[:all]
	y.Link = y.Link[:0]
	for k, row := range r.air.row {
		if row >= 0 {
			q := n + int(row)
			y.X[q], y.Diag[q], y.B[q] = r.air.press[k], 0, 0
		}
	}
	scale := dt / (rho * h)
	ease := r.ease(first)
	apart := unlike * rho * h * r.p.Gravity.Len()
	const chunk = 128
	y.ties = sized(y.ties, (n+chunk-1)/chunk)
	par.For(n, chunk, func(lo, hi int) {
		ties := y.ties[lo/chunk][:0]
		for q := lo; q < hi; q++ {
			ties = r.fillRow(q, n, dt, scale, ease, apart, ties)
		}
		y.ties[lo/chunk] = ties
	})
	for _, ties := range y.ties { // what several rows add to, in their order
		for _, x := range ties {
			y.Link = append(y.Link, x.Link)
			y.Diag[x.Pocket] += x.W
			y.B[x.Pocket] += x.b
		}
	}
	r.pocketRows(n, dt, scale)
	r.draw()
	y.balance()
	y.close(scale)
	rep, err := y.solver.Solve(&y.System, func(first float64) float64 {
		return max(min(min(1e-3*h/dt, 1e-2), r.p.Share*first), 1e-14)
	})
	r.Sum.Iterations += rep.Iterations
	if err != nil {
		return false, err
	}
	r.settled(n)
	for i := range r.P {
		r.P[i] = 0
	}
	for q, i := range y.cell {
		r.P[i] = y.X[q]
	}
	par.For(len(r.side), 1024, func(from, to int) {
		for _, s := range r.side[from:to] {
			if r.bare(s) || !r.solved(s) {
				continue
			}
			d, f := s.d, s.hi
			lo, hi, t := 0.0, 0.0, 1.0
			switch a, b := r.state[s.lo], r.state[s.hi]; {
			case a == metal && b == metal:
				lo, hi = r.P[s.lo], r.P[s.hi]
			case a == metal:
				lo, hi, t = r.P[s.lo], y.jump[d][f]+r.pocket(s.hi), y.dist[d][f]
			case b == metal:
				lo, hi, t = y.jump[d][f]+r.pocket(s.lo), r.P[s.hi], y.dist[d][f]
			default: // from a port into an empty cell, half a cell long
				lo, hi, t = r.beyond(s.lo)+r.pocket(s.lo), r.beyond(s.hi)+r.pocket(s.hi), 0.5
			}
			r.w[d][f] -= scale * (hi - lo) / t / (1 + dt*r.drag[d][f])
		}
	})
	return rep.Converged, nil
}

// fillRow makes row q of n, that of a cell of metal, and appends what it shares with the rows of pockets.
func (r *Run) fillRow(q, n int, dt, scale, ease, apart float64, ties []tie) []tie {
	y, c, h := &r.sys, r.c, r.c.H
	i := y.cell[q]
	y.X[q], y.Diag[q], y.tied[q] = r.P[i], 0, false
	y.Place[q] = c.I[i]
	var ways [6]way
	out := ways[:0]
	b := min(max(0, r.F[i]-1), 0.1) * c.V[i] * h / ease
	for k := range 6 {
		y.Nb[q][k], y.W[q][k] = -1, 0
		d, up := k/2, k%2
		m := c.Nb[k][i]
		f := i // the cell to which the side belongs
		if up == 1 {
			f = m
		}
		if int(m) == c.Wall || r.of[d][f] < 0 {
			continue
		}
		a := c.A[d][f]
		u := r.w[d][f]
		if up == 0 {
			u = -u
		}
		b -= a * u
		w := a * scale / (1 + dt*r.drag[d][f])
		if r.state[m] == metal {
			y.Nb[q][k], y.W[q][k] = y.row[m], w
			y.Diag[q] += w
			continue
		}
		p, t, ok := r.at(i, m, k, f)
		if !ok { // a speed that is given, or none
			continue
		}
		pocket, air := int32(-1), 0.0
		if k, ok := r.closed(m); ok {
			air = r.air.press[k]
			pocket = int32(n) + r.air.row[k]
			if r.moving {
				t = max(t, tied)
			}
		}
		y.tied[q] = true
		out = append(out, way{d, f, w, p, t, pocket, a * u, air})
	}
	part(out, apart)
	agree(out)
	for k := range out {
		x := &out[k]
		w := x.w / x.t
		y.Diag[q] += w
		b += w * x.p
		y.dist[x.d][x.face], y.jump[x.d][x.face] = x.t, x.p
		if x.pocket >= 0 {
			ties = append(ties, tie{pressure.Link{Row: int32(q), Pocket: x.pocket, W: w}, x.u - w*x.p})
		}
	}
	y.B[q] = b
	return ties
}

// ease is the time in which what a cell holds above 1 goes out: half of that in which the metal, at
// its mean speed and what gravity adds, crosses a cell, and not under a step. In one step
// alone, a short one would drive it out so fast that the next had to be shorter still.
func (r *Run) ease(step float64) float64 {
	c := r.c
	e, v := 0.0, 0.0
	for _, s := range r.side {
		f := r.F[s.lo] + r.F[s.hi]
		if f == 0 {
			continue
		}
		if r.valid[s.d][s.hi] == 1 {
			u := r.U[s.d][s.hi]
			e += f * u * u
		}
		v += f
	}
	mean := math.Sqrt(3 * e / max(v, 1e-300))
	return max(step, 0.5*c.H/(mean+math.Sqrt(c.H*r.p.Gravity.Len())+1e-3))
}

// pocket is the pressure of the air that encloses a cell without metal, 0 of free air.
func (r *Run) pocket(i int32) float64 {
	if k, ok := r.closed(i); ok {
		return r.air.press[k]
	}
	return 0
}

// beyond is the pressure of a port, 0 of a cell.
func (r *Run) beyond(i int32) float64 {
	if k := int(i) - r.c.N; k >= 0 && k < len(r.ports) {
		return r.ports[k].Pressure
	}
	return 0
}

// close gives cells whose centre all but lies in the surface the pressure their neighbours
// leave them: their rows are a million times as large, and left at the last pressure they alone
// would set the measure of the first residual.
func (y *system) close(unit float64) {
	tied := sized(y.tiedTo, len(y.Nb))
	y.tiedTo = tied
	clear(tied)
	for _, l := range y.Link {
		tied[l.Row] += l.W * y.X[l.Pocket]
	}
	for i, d := range y.Diag[:len(y.Nb)] {
		if d > 12*unit {
			s := y.B[i] + tied[i]
			for k, j := range y.Nb[i] {
				if j >= 0 {
					s += y.W[i][k] * y.X[j]
				}
			}
			y.X[i] = s / d
		}
	}
}

// balance takes from metal that no given pressure bounds, shut in by walls and metal
// that stopped, what would have to flow in or out: its pressure is known but for a
// constant, and only for a right-hand side without a sum.
func (y *system) balance() {
	clear(y.seen)
	for q := range y.Nb {
		if y.seen[q] {
			continue
		}
		y.seen[q] = true
		y.list = append(y.list[:0], int32(q))
		tied, sum := false, 0.0
		for k := 0; k < len(y.list); k++ {
			i := y.list[k]
			tied = tied || y.tied[i]
			sum += y.B[i]
			for _, j := range y.Nb[i] {
				if j >= 0 && !y.seen[j] {
					y.seen[j] = true
					y.list = append(y.list, j)
				}
			}
		}
		if tied {
			continue
		}
		sum /= float64(len(y.list))
		for _, i := range y.list {
			y.B[i] -= sum
			if y.Diag[i] == 0 {
				y.B[i], y.X[i] = 0, 0
			}
		}
	}
}
