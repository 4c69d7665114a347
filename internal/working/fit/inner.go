package fit

import "math"

// vector q holds, in this order: the fitted forms of the parameters, the starts
// of the pours, and shift, bias, gain and drift of each probe that has them.

// layout numbers the entries of q.
type layout struct {
	n, pours int
	probe    [][4]int // -1 where a probe has none
	prec     []float64
	centre   []float64
}

func (f *fitter) number() {
	l := &f.lay
	add := func(sd, centre float64) int {
		l.prec = append(l.prec, 1/(sd*sd))
		l.centre = append(l.centre, centre)
		return len(l.prec) - 1
	}
	for k := range f.p.Params {
		a := &f.p.Params[k]
		add(a.sd(), a.inner(a.Start))
	}
	l.n = len(f.p.Params)
	l.pours = len(f.starts)
	for g := range f.starts {
		add(60, f.starts[g])
	}
	for i := range f.probes {
		at := [4]int{-1, -1, -1, -1}
		b := f.probes[i].in
		for k, sd := range []float64{b.ShiftSD, b.BiasSD, b.GainSD, b.DriftSD} {
			if sd > 0 && f.probes[i].used {
				at[k] = add(sd, 0)
			}
		}
		l.probe = append(l.probe, at)
	}
}

func (l *layout) get(q []float64, probe, what int) float64 {
	if k := l.probe[probe][what]; k >= 0 {
		return q[k]
	}
	return 0
}

// blocks returns residuals and Jacobian of all probes in use at q. Entries of q
// that are held have no column.
func (f *fitter) blocks(q []float64, held func(int) bool) []block {
	var out []block
	l := f.base.at(q[:f.lay.n], f.need)
	for i := range f.probes {
		b := &f.probes[i]
		if !b.used {
			continue
		}
		start := q[f.lay.n+b.in.Pour]
		s := f.base.probe(&l, b.in, b.t, start, f.lay.get(q, i, 0))
		bias, gain, drift := f.lay.get(q, i, 1), f.lay.get(q, i, 2), f.lay.get(q, i, 3)
		k := block{t: b.t, extra: b.extra, r: make([]float64, len(b.t)), cols: make([][]float64, len(q))}
		one, over, along := make([]float64, len(b.t)), make([]float64, len(b.t)), make([]float64, len(b.t))
		for j := range b.t {
			one[j], over[j] = 1, s.m[j]-s.m0
			along[j] = (b.t[j] - b.t[0]) / (b.t[len(b.t)-1] - b.t[0])
			k.r[j] = b.x[j] - s.m[j] - bias - gain*over[j] - drift*along[j]
			s.dt[j] *= 1 + gain
			s.ds[j] *= 1 + gain
			for a := range s.du {
				s.du[a][j] *= 1 + gain
			}
		}
		copy(k.cols, s.du)
		k.cols[f.lay.n+b.in.Pour] = s.dt
		for a, c := range [][]float64{s.ds, one, over, along} {
			if at := f.lay.probe[i][a]; at >= 0 {
				k.cols[at] = c
			}
		}
		for a := range k.cols {
			if held != nil && held(a) {
				k.cols[a] = nil
			}
		}
		out = append(out, k)
	}
	return out
}

// equations at q for the present noise.
func (f *fitter) equations(q []float64, held func(int) bool) *equations {
	prec := append([]float64(nil), f.lay.prec...)
	off := make([]float64, len(q))
	extra := 0.0
	for i := range q {
		off[i] = q[i] - f.lay.centre[i]
		if held != nil && held(i) {
			extra += prec[i] * off[i] * off[i] // what the held priors add
			prec[i], off[i] = 1, 0
		}
	}
	e := newEquations(prec, off)
	e.rr += extra
	list := f.blocks(q, held)
	for i := range list {
		e.add(newWhitener(f.noise, list[i].t, list[i].extra), &list[i])
	}
	return e
}

// settle fits q on the stand-in by damped steps and returns it with its sum of
// squares, which is minus two times its log likelihood but for a constant. held
// entries stay; reach bounds how far a parameter may go beyond all runs.
func (f *fitter) settle(q []float64, reach float64, held func(int) bool) ([]float64, float64) {
	q = append([]float64(nil), q...)
	f.hold(q, reach)
	e := f.equations(q, held)
	now, damp := e.rr, 1e-4
	stay := make([]bool, len(q))
	for range 60 {
		next, ok := f.step(e, q, damp, reach, stay)
		if !ok {
			damp = max(10*damp, 1e-3)
			if damp > 1e8 {
				break
			}
			continue
		}
		moved := 0.0
		for i := range q {
			moved = max(moved, math.Abs(next[i]-q[i])*math.Sqrt(e.a[i*len(q)+i]))
		}
		trial := f.equations(next, held)
		if finite(trial.rr) && trial.rr <= now {
			gain := now - trial.rr
			q, now, e = next, trial.rr, trial
			damp = max(damp/10, 1e-9)
			if moved < 1e-3 || gain < 1e-7*now {
				break
			}
			continue
		}
		if moved < 1e-4 || damp > 1e8 {
			break
		}
		damp *= 10
	}
	return q, now
}

// step is one damped step. Entries that would leave their range stay where they
// are, and the others are solved for again without them.
func (f *fitter) step(e *equations, q []float64, damp, reach float64, stay []bool) (next []float64, ok bool) {
	clear(stay)
	for range len(q) + 1 {
		d, _, ok := e.solve(damp, stay)
		if !ok {
			return nil, false
		}
		next = make([]float64, len(q))
		for i := range q {
			next[i] = q[i] + d[i]
		}
		want := append([]float64(nil), next...)
		f.hold(next, reach)
		more := false
		for i := range q {
			if !stay[i] && next[i] != want[i] && next[i] == q[i] {
				stay[i], more = true, true
			}
		}
		if !more {
			return next, true
		}
	}
	return next, true
}

// hold keeps q within what the model can take, the neighbourhood of the runs and
// the curves.
func (f *fitter) hold(q []float64, reach float64) {
	for k := range f.lay.n {
		lo, hi := f.p.Params[k].bounds()
		least, most := math.Inf(1), math.Inf(-1)
		for i := range f.base.runs {
			least, most = min(least, f.base.runs[i].u[k]), max(most, f.base.runs[i].u[k])
		}
		q[k] = min(max(q[k], lo, least-reach), hi, most+reach)
	}
	for i := range f.probes {
		if k := f.lay.probe[i][0]; k >= 0 {
			c := f.probes[i].in.Curves
			q[k] = min(max(q[k], c[0].At), c[len(c)-1].At)
		}
	}
}
