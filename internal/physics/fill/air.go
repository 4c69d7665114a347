package fill

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/gas"
)

// Vent is a way out for air and for no metal, in one cell.
type Vent struct {
	Cell   int32
	Outlet gas.Outlet
}

// Pocket is air that no opening bounds.
type Pocket struct {
	Volume float64 // m3
	Amount float64 // Pa m3, pressure times volume, from no pressure at all
	Over   float64 // Pa over the air outside
	Bubble bool    // too small for a pressure of its own: it moves with the metal
	Vented bool    // a vent opens into it
	At     vec.V3  // m, its centroid
	Cells  int
}

// Enclosed is what became of the air, Pa m3: Amount at the start of closed air was Caught;
// what is not in a pocket any more was Let out or is Lost in specks of void within the metal, and comes
// back with these.
type Enclosed struct{ Caught, Let, Lost float64 }

const (
	none   int32 = -2  // metal, wall
	free   int32 = -1  // air that an opening bounds
	burst        = 6   // cells from which a bubble is a pocket
	sunk         = 4   // cells under which a pocket is a bubble
	change       = 0.3 // of its volume by which a pocket of some size may change in a step
	little       = 16  // cells under which it may change by wild in a quick run
	wild         = 0.8
)

// pockets is the air in the cavity.
//
// A pocket has one pressure, and the same amount of air but for what vents let out:
//
//	p V = m,   dm/dt = -q(p) p
//
// (isothermal: air's heat is a thousandth of the metal's, and it is small). Its row in the
// pressure's equation, with the metal's flux through its surface and w as in system,
//
//	V/(p theta dt) (p* - p) = sum_s A_s u_s - q(p*)
//
// gives the pressure at V(t + theta dt), theta = s^2/(1 + s^2), s = dt p/V sum_s w_s: a pocket
// that swings slowly is carried on without loss (explicit in p, implicit in u: Hairer, Lubich & Wanner,
// Geometric Numerical Integration, I.1.2), one that the step does not resolve is held. After the step
// p = m/V exactly.
type pockets struct {
	list  []Pocket
	label []int32 // by cell: place in list, free or none; of cells of metal beside it too, whose void belongs to it
	was   []int32
	row   []int32   // by pocket: its place in the pressure's unknowns behind the cells, -1: none
	press []float64 // by pocket: Pa over the air outside, at which its surface stands
	flow  []float64 // m3/s that leaves through vents, by pocket
	in    []float64 // metal that comes in, by pocket, in sides of a cell times m/s
	group []int32   // cells of pockets, one after another
	from  []int32   // first of each in group; one more than pockets

	mouths [][2]int32 // every cell at an opening, and the port
	odd    [][2]int32 // cells whose neighbour at a low side comes after them
	run    []int32    // by cell: the stretch of air it is in, -1: none
	stretches
}

func (r *Run) newAir() {
	a, c := &r.air, r.c
	a.label, a.was, a.run = make([]int32, c.Wall+1), make([]int32, c.Wall+1), make([]int32, c.Wall+1)
	for i := range a.label {
		a.label[i], a.run[i] = free, -1
	}
	for i := range int32(c.N) {
		for side := range 6 {
			switch o := c.Nb[side][i]; {
			case int(o) >= c.N && int(o) < c.Wall:
				a.mouths = append(a.mouths, [2]int32{i, o})
			case int(o) < c.N && side%2 == 0 && o > i:
				a.odd = append(a.odd, [2]int32{i, o})
			}
		}
	}
}

// stretches are sets of cells that are joined bit by bit: by stretch another of the same set, or itself.
type stretches struct {
	set  []int32
	free []bool // by stretch: an opening bounds its set
}

// first is the stretch that stands for the set of k.
func (x *stretches) first(k int32) int32 {
	for x.set[k] != k {
		x.set[k] = x.set[x.set[k]]
		k = x.set[k]
	}
	return k
}

func (x *stretches) join(k, l int32) {
	if k, l = x.first(k), x.first(l); k < l {
		x.set[l] = k
	} else {
		x.set[k] = l
	}
}

// outside labels the cells: free what air an opening bounds, none all else. Nearly all air of a pour is
// free, so it is found by one walk over the cells, by what stands before each.
func (r *Run) outside() {
	a, c := &r.air, r.c
	a.set = a.set[:0]
	for i := range int32(c.N) {
		if r.state[i] != hollow {
			a.run[i] = -1
			continue
		}
		k := int32(-1)
		for d := range 3 {
			// The wall and ports are in none; so are cells of a.odd, or else in an old one: joined below.
			o := c.Nb[2*d][i]
			if o >= i || a.run[o] < 0 {
				continue
			}
			if l := a.run[o]; k < 0 {
				k = l
			} else if k != l {
				a.join(k, l)
			}
		}
		if k < 0 {
			k = int32(len(a.set))
			a.set = append(a.set, k)
		}
		a.run[i] = k
	}
	for _, p := range a.odd {
		if k, l := a.run[p[0]], a.run[p[1]]; k >= 0 && l >= 0 {
			a.join(k, l)
		}
	}
	a.free = sized(a.free, len(a.set))
	clear(a.free)
	for _, m := range a.mouths {
		if k := a.run[m[0]]; k >= 0 && (r.state[m[1]] == open || r.ports[int(m[1])-c.N].Kind == Gauze) {
			a.free[a.first(k)] = true
		}
	}
	for k := range a.set {
		a.free[k] = a.free[a.first(int32(k))]
	}
	for i, k := range a.run {
		a.label[i] = none
		if k >= 0 && a.free[k] {
			a.label[i] = free
		}
	}
}

// regions finds the closed air and hands on the amounts by overlap. It is called
// after classify, and turns the cells of bubbles to metal.
func (r *Run) regions(start bool) {
	a, c := &r.air, r.c
	old := a.list
	a.was, a.label = a.label, a.was
	r.outside()
	a.list, a.group, a.from = nil, a.group[:0], a.from[:0]
	for i := range int32(c.N) {
		if r.state[i] != hollow || a.label[i] != none {
			continue
		}
		// One region, with a number of its own while it is looked at.
		k := int32(len(a.list))
		first := len(a.group)
		a.group = append(a.group, i)
		a.label[i] = k
		for n := first; n < len(a.group); n++ {
			q := a.group[n]
			for side := range 6 {
				if o := c.Nb[side][q]; int(o) < c.N && r.state[o] == hollow && a.label[o] == none {
					a.label[o] = k
					a.group = append(a.group, o)
				}
			}
		}
		a.from = append(a.from, int32(first))
		a.list = append(a.list, Pocket{Cells: len(a.group) - first})
	}
	a.from = append(a.from, int32(len(a.group)))
	// Metal beside air: the void in it belongs to the emptiest of what is beside it.
	for i := range int32(c.N) {
		if r.state[i] != metal || r.F[i] >= 1-1e-9 {
			continue
		}
		best, least := none, 2.0
		for side := range 6 {
			if o := c.Nb[side][i]; int(o) < c.N && r.state[o] == hollow && r.F[o] < least {
				best, least = a.label[o], r.F[o]
			}
		}
		a.label[i] = best
	}
	if len(a.list) == 0 && len(old) == 0 {
		return
	}
	r.share(old, start)
	for k := range a.list {
		x := &a.list[k]
		limit := sunk
		if x.Bubble {
			limit = burst
		}
		if x.Bubble = x.Cells < limit && !x.Vented; x.Bubble {
			for _, q := range a.group[a.from[k]:a.from[k+1]] {
				r.state[q] = metal
			}
		}
	}
}

// A pocket's pressure goes by no less than slimmest of a cell's cube, and to tightest atmospheres at most; air that would
// be pressed more counts as lost in specks. Where metal closes over a pocket but for cells that are full and yet none to the
// pressure, all its air was in next to no volume: 1e287 Pa, and the end of the pour.
const (
	slimmest = 1e-4
	tightest = 100
)

// elastic is the volume by which a pocket's pressure goes, m3.
func (r *Run) elastic(x *Pocket) float64 {
	h := r.c.H
	return max(x.Volume, slimmest*(h*h*h))
}

// share gives the amounts of the old pockets to the new ones, by the void they have
// in common.
func (r *Run) share(old []Pocket, start bool) {
	a, c := &r.air, r.c
	h3 := c.H * c.H * c.H
	all := make([]float64, len(old)) // void of each old pocket's cells
	type pair struct {
		k    int32
		void float64
	}
	common := make([][]pair, len(a.list)) // with old pockets and free air
	inFree := make([]float64, len(old))
	back := make([]float64, len(a.list)) // void that specks bring to each pocket
	specks, away := 0.0, 0.0             // all of it, and what goes into free air
	for i := range int32(c.N) {
		now, was := a.label[i], a.was[i]
		room := max(0, 1-r.F[i]) * c.V[i] * h3
		switch {
		case start && now == none: // void in a corner that metal fills by its label
			r.Sum.Enclosed.Caught += room * gas.Atmosphere
			r.Sum.Enclosed.Lost += room * gas.Atmosphere
		case !start && was == none: // by the shares that it had as a speck
			void := max(0, 1-r.was[i]) * c.V[i] * h3
			specks += void
			if now >= 0 {
				back[now] += void
			} else if now == free {
				away += void
			}
		}
		if now >= 0 {
			x := &a.list[now]
			x.Volume += room
			x.At = x.At.Add(c.Centre(i).Mul(room))
		}
		if was >= 0 && now != none {
			all[was] += room
		}
		switch {
		case now >= 0 && was != none && !start:
			list := common[now]
			j := 0
			for j < len(list) && list[j].k != was {
				j++
			}
			if j == len(list) {
				list = append(list, pair{was, 0})
			}
			list[j].void += room
			common[now] = list
		case now == free && was >= 0:
			inFree[was] += room
		}
	}
	rate := 0.0 // of the air in specks, by their void
	if specks > 0 {
		rate = r.Sum.Enclosed.Lost / specks
		r.Sum.Enclosed.Let += rate * away
		r.Sum.Enclosed.Lost -= rate * away
	}
	for k := range a.list {
		x := &a.list[k]
		x.Amount += rate * back[k]
		r.Sum.Enclosed.Lost -= rate * back[k]
		x.At = x.At.Mul(1 / max(x.Volume, 1e-300))
		for _, p := range common[k] {
			switch {
			case p.k == free:
				x.Amount += p.void * gas.Atmosphere
				r.Sum.Enclosed.Caught += p.void * gas.Atmosphere
			case all[p.k] > 0:
				x.Amount += old[p.k].Amount * p.void / all[p.k]
				x.Bubble = x.Bubble || old[p.k].Bubble
				x.Over = old[p.k].Over
			}
		}
		if start {
			x.Amount = x.Volume * gas.Atmosphere
			r.Sum.Enclosed.Caught += x.Amount
		}
	}
	for _, v := range r.p.Vents {
		if k := a.label[v.Cell]; k >= 0 {
			a.list[k].Vented = true
		}
	}
	for k := range a.list {
		x := &a.list[k]
		if x.Vented && x.Cells < sunk {
			// The last of the air at a vent has what pressure drives it out.
			m := (x.Over + gas.Atmosphere) * x.Volume
			r.Sum.Enclosed.Let += x.Amount - m
			x.Amount = m
		}
		v := r.elastic(x)
		if most := tightest * gas.Atmosphere * v; x.Amount > most {
			r.Sum.Enclosed.Lost += x.Amount - most
			x.Amount = most
		}
		x.Over = x.Amount/v - gas.Atmosphere
	}
	for k, x := range old {
		if all[k] > 0 {
			r.Sum.Enclosed.Let += x.Amount * inFree[k] / all[k]
		} else {
			r.Sum.Enclosed.Lost += x.Amount
		}
	}
}

// rows counts the pockets that have an unknown and puts the last pressures there.
func (r *Run) rows() int {
	a := &r.air
	n := 0
	a.row, a.press = a.row[:0], a.press[:0]
	for k := range a.list {
		x := &a.list[k]
		row := int32(-1)
		if !x.Bubble {
			row = int32(n)
			n++
		}
		a.row, a.press = append(a.row, row), append(a.press, x.Over)
	}
	return n
}

// vents returns what the vents of pocket k let out, m3/(s Pa) at p.
func (r *Run) vents(k int32, p float64) float64 {
	g := 0.0
	for _, v := range r.p.Vents {
		if r.air.label[v.Cell] == k {
			g += v.Outlet.Conductance(p)
		}
	}
	return g
}

// leave takes out of the pockets what their vents let out in dt, or lets in: no more than makes their pressure that of
// the air outside, in the volume they will have. Air that no metal can move, shut in between fronts that stand, would else
// swing between vacuum and three bars from step to step.
func (r *Run) leave(dt float64) {
	a := &r.air
	for k := range a.list {
		x := &a.list[k]
		if a.row[k] < 0 {
			continue
		}
		x.Over = a.press[k]
		if !x.Vented {
			continue
		}
		p := a.press[k] + gas.Atmosphere
		if a.flow[k] < 0 {
			p = gas.Atmosphere
		}
		rest := x.Amount - gas.Atmosphere*max(x.Volume-a.in[k]*dt*r.c.H*r.c.H, 0)
		out := min(max(a.flow[k]*p*dt, min(rest, 0)), max(rest, 0))
		x.Amount -= out
		r.Sum.Enclosed.Let += out
	}
}

// Pockets returns the closed air, in order of its first cell.
func (r *Run) Pockets() []Pocket { return append([]Pocket{}, r.air.list...) }

// Closed returns the place in Pockets of the air in cell i, -1 where that is free or
// there is none.
func (r *Run) Closed(i int32) int {
	if k := r.air.label[i]; k >= 0 {
		return int(k)
	}
	return -1
}

// pocketRows adds the pockets' own part of their rows; the cells' has been added with the sides.
func (r *Run) pocketRows(n int, dt, scale float64) {
	a, c, y := &r.air, r.c, &r.sys
	h2 := c.H * c.H
	// What comes through ports straight into the air.
	for i := int32(c.N); int(i) < c.Wall; i++ {
		if r.state[i] != given && r.state[i] != held {
			continue
		}
		for side := range 6 {
			o := c.Nb[side][i]
			k, ok := r.closed(o)
			if !ok || int(o) == c.Wall || a.row[k] < 0 {
				continue
			}
			d, face, in := side/2, o, 1.0 // the port at the low side of the cell
			if side%2 == 0 {
				face, in = i, -1
			}
			if r.of[d][face] < 0 {
				continue
			}
			q := n + int(a.row[k])
			y.B[q] += in * c.A[d][face] * r.w[d][face]
			if r.state[i] == held {
				w := c.A[d][face] * scale / (0.5 * (1 + dt*r.drag[d][face]))
				y.Diag[q] += w
				y.B[q] += w * r.beyond(i)
			}
		}
	}
	a.flow = a.flow[:0]
	for k := range a.list {
		x := &a.list[k]
		a.flow = append(a.flow, 0)
		if a.row[k] < 0 {
			continue
		}
		q := n + int(a.row[k])
		p := max(x.Over+gas.Atmosphere, 1e-3*gas.Atmosphere)
		v := r.elastic(x)
		s := dt * p / v * h2 * y.Diag[q]
		theta := s * s / (1 + s*s)
		// 1/theta without a division by nothing: a pocket that stands all but still keeps its pressure
		stiff := v / (p * max(theta, 1e-9) * dt * h2)
		y.B[q] += stiff * x.Over
		y.Diag[q] += stiff + r.vents(int32(k), x.Over)/h2
	}
}

// draw lets air in at vents that metal covers and pulls at: the cell's metal may leave, and what
// it leaves is void,
//
//	sum_s A_s u_s = -q(p)/h2   for p < 0
//
// A vent that metal presses on is a wall.
func (r *Run) draw() {
	y, h2 := &r.sys, r.c.H*r.c.H
	for _, v := range r.p.Vents {
		q := y.row[v.Cell]
		if q < 0 || r.P[v.Cell] >= 0 {
			continue
		}
		y.Diag[q] += v.Outlet.Conductance(r.P[v.Cell]) / h2
		y.tied[q] = true
	}
}

// settled takes over the pockets' pressures from the solved unknowns, behind n cells.
func (r *Run) settled(n int) {
	a := &r.air
	for k := range a.list {
		if a.row[k] >= 0 {
			a.press[k] = r.sys.X[n+int(a.row[k])]
			a.flow[k] = a.press[k] * r.vents(int32(k), a.list[k].Over)
		}
	}
}

// squeezed is the largest part of its volume by which a pocket of some size would
// change in dt with the velocities w. Its pressure goes by no less than slimmest of a cell, and so does this: one that is
// less and shrinks has a pressure that stays. By what was left in cells all but full, 1e-6 of one, steps fell to 1e-9 s.
func (r *Run) squeezed(dt float64) float64 {
	a, c := &r.air, r.c
	if len(a.list) == 0 {
		return 0
	}
	a.in = sized(a.in, len(a.list))
	clear(a.in)
	for _, s := range r.side {
		k, ok := r.closed(s.lo)
		m, also := r.closed(s.hi)
		if ok == also {
			continue
		}
		u := r.w[s.d][s.hi] * c.A[s.d][s.hi]
		if ok {
			a.in[k] -= u
		} else {
			a.in[m] += u
		}
	}
	worst := 0.0
	for k := range a.list {
		x := &a.list[k]
		v := r.elastic(x)
		if a.row[k] >= 0 && x.Cells >= burst && !x.Vented && !(x.Volume < v && a.in[k] >= 0) {
			part := math.Abs(a.in[k]) * dt * c.H * c.H / v
			if r.p.Quick && x.Cells < little {
				part *= change / wild
			}
			worst = max(worst, part)
		}
	}
	return worst
}

// sized returns x with n entries, of any content.
func sized[T any](x []T, n int) []T {
	if cap(x) < n {
		return make([]T, n, n+n/4+4)
	}
	return x[:n]
}

// closed reports whether i is a cell of gas in a pocket with a pressure of its own.
func (r *Run) closed(i int32) (k int32, ok bool) {
	if int(i) >= r.c.N || r.state[i] != hollow {
		return 0, false
	}
	k = r.air.label[i]
	return k, k >= 0
}
