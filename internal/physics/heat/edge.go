package heat

// edge is how one side of the block shows in the ghost cells: a ghost holds
// turn*T + add, so that the flux through the side is u (T - out).
//
//	u = 1/(h/2k + boards + 1/H),  T_ghost = T - (h/k) u (T - out)
//
// Boards that store heat stand as one temperature per face in the middle of them.
type edge struct {
	turn, add float32
	u, out    float64   // W/(m2 K), K over the air
	board     []float64 // K over the air, boards that store heat; nil if there are none
	in, outer float64   // W/(m2 K) from cell to board and from board to outside
	store     float64   // J/(m2 K)
	metal     []bool    // faces of metal, through which the rubber loses nothing; nil if there are none
}

func newEdge(s Side, h, k float64, cells int, metal []bool) edge {
	e := edge{out: s.T, metal: metal}
	if s.Capacity > 0 {
		e.in = 1 / (h/(2*k) + s.Board/2)
		if s.H > 0 {
			e.outer = 1 / (s.Board/2 + 1/s.H)
		}
		e.store = s.Capacity
		e.board = make([]float64, cells)
		return e
	}
	if s.H > 0 {
		e.u = 1 / (h/(2*k) + s.Board + 1/s.H)
	}
	b := h / k * e.u
	e.turn, e.add = float32(1-b), float32(b*s.T)
	return e
}

// run is a row of n cells on a side: from the first on, step apart in the padded
// field, their ghosts shift away; f counts the faces of the side.
type run struct{ from, step, shift, f, n int }

// ghosts fills the ghosts of a row for one explicit step of dt and returns what
// leaves the block through it, J per m2. hk is h/k.
func (e *edge) ghosts(t []float32, x run, dt, hk float64) float64 {
	sum := 0.0
	if e.board != nil {
		den := 1 / (e.store + dt*(e.in+e.outer))
		for i := range x.n {
			q, f := x.from+i*x.step, x.f+i
			v := float64(t[q])
			if e.metal != nil && e.metal[f] {
				t[q+x.shift] = t[q]
				continue
			}
			b := (e.store*e.board[f] + dt*(e.in*v+e.outer*e.out)) * den
			e.board[f] = b
			t[q+x.shift] = float32(v - hk*e.in*(v-b))
			sum += e.outer * (b - e.out)
		}
		return sum * dt
	}
	return e.plain(t, x, e.add) * dt
}

// plain fills ghosts without boards and returns W per m2.
func (e *edge) plain(t []float32, x run, add float32) float64 {
	sum, n := 0.0, 0
	for i := range x.n {
		q := x.from + i*x.step
		v := t[q]
		t[q+x.shift] = float32(e.turn*v) + add
		if e.metal == nil || !e.metal[x.f+i] {
			sum += float64(v)
			n++
		}
	}
	out := e.out
	if add == 0 {
		out = 0
	}
	return e.u * (sum - float64(n)*out)
}

// rows visits the rows of the sides that plane k touches.
func (p *padded) rows(k int, visit func(side int, x run)) {
	visit(XLow, run{p.id(0, 0, k), p.sx, -1, k * p.ny, p.ny})
	visit(XHigh, run{p.id(p.nx-1, 0, k), p.sx, 1, k * p.ny, p.ny})
	visit(YLow, run{p.id(0, 0, k), 1, -p.sx, k * p.nx, p.nx})
	visit(YHigh, run{p.id(0, p.ny-1, k), 1, p.sx, k * p.nx, p.nx})
	for j := range p.ny {
		if k == 0 {
			visit(ZLow, run{p.id(0, j, k), 1, -p.sxy, j * p.nx, p.nx})
		}
		if k == p.nz-1 {
			visit(ZHigh, run{p.id(0, j, k), 1, p.sxy, j * p.nx, p.nx})
		}
	}
}

// ghosts fills the ghost cells that plane k reads and returns the heat that
// leaves the block, J.
func (r *Run) ghosts(t []float32, k int, dt float64) float64 {
	hk, sum := r.h/r.p.Rubber.K, 0.0
	r.pad.rows(k, func(side int, x run) { sum += r.edges[side].ghosts(t, x, dt, hk) })
	return sum * r.h * r.h
}

// metalFaces marks the faces of metal on each side of the block.
func (r *Run) metalFaces() {
	g := r.grid
	size := [3]int{g.NY * g.NZ, g.NX * g.NZ, g.NX * g.NY}
	for _, c := range r.b.cell {
		if c < 0 {
			continue
		}
		i, j, k := g.Cell(int(c))
		for a, f := range [6]int{k*g.NY + j, k*g.NY + j, k*g.NX + i, k*g.NX + i, j*g.NX + i, j*g.NX + i} {
			if on := [6]bool{i == 0, i == g.NX-1, j == 0, j == g.NY-1, k == 0, k == g.NZ-1}[a]; on {
				if r.metal[a] == nil {
					r.metal[a] = make([]bool, size[a/2])
				}
				r.metal[a][f] = true
			}
		}
	}
}
