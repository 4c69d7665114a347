package plic

// Report is the balance of a Step, volumes in m3, by port where it says so.
type Report struct {
	In, Out     []float64 // metal through each port, both positive
	QIn, QOut   [][]float64
	Dropped     float64 // crumbs without a neighbour that could take them
	QDropped    []float64
	Over        float64 // metal above full
	Least, Most float64 // of the shares in the cells
	Wet         int     // cells that were looked at
	Mixed       int     // planes that were made, over all sweeps
	Substeps    int
}

// gates adds what went through the ports along d.
func (a *Advection) gates(d int, q [][]float64, r *Report) {
	h3 := a.c.H * a.c.H * a.c.H
	for _, g := range a.ports {
		if g.d != d || a.stamp[g.inside] != a.turn {
			continue
		}
		p := int(g.port) - a.c.N
		add(r.In, r.Out, p, g.in*a.flux[g.face]*h3)
		for k := range q {
			add(r.QIn[k], r.QOut[k], p, g.in*a.scalar.flux[k][g.face]*h3)
		}
	}
}

func add(in, out []float64, p int, x float64) {
	if x > 0 {
		in[p] += x
	} else {
		out[p] -= x
	}
}

// crumbs gives shares of Empty and less, and what was taken from a cell that had
// less, to the fullest cell beside it, so that no cell is left with less than nothing.
func (a *Advection) crumbs(f []float64, q [][]float64, r *Report) {
	c := a.c
	h3 := c.H * c.H * c.H
	for _, i := range a.wet {
		if f[i] == 0 || !(f[i] <= Empty) {
			continue
		}
		best, to := Empty, int32(-1)
		for d := range 6 {
			if o := c.Nb[d][i]; int(o) < c.N && f[o] > best && f[o]*c.V[o]+f[i]*c.V[i] > 0 {
				best, to = f[o], o
			}
		}
		if to < 0 && f[i] < -Empty {
			continue
		}
		share := 0.0
		if to >= 0 {
			share = c.V[i] / c.V[to]
			f[to] += f[i] * share
		} else {
			r.Dropped += f[i] * c.V[i] * h3
		}
		f[i] = 0
		for k := range q {
			if to >= 0 {
				q[k][to] += q[k][i] * share
			} else {
				r.QDropped[k] += q[k][i] * c.V[i] * h3
			}
			q[k][i] = 0
		}
	}
}

// close fills in what the report says of the shares.
func (a *Advection) close(f []float64, r *Report) {
	h3 := a.c.H * a.c.H * a.c.H
	for _, i := range a.wet {
		r.Least, r.Most = min(r.Least, f[i]), max(r.Most, f[i])
		if f[i] > 1 {
			r.Over += (f[i] - 1) * a.c.V[i] * h3
		}
	}
	if len(a.wet) == 0 {
		r.Least, r.Most = 0, 0
	}
}
