package rig

import (
	"context"
	"math"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/bvh"
)

// Bead is the place of a thermocouple in the rubber, mm in the block frame. Doubt
// is the standard deviation of how well its depth is known, mm.
type Bead struct {
	Name  string
	At    vec.V3
	Doubt float64
}

// Line is the line through a bead square to the nearest wall of the cavity.
type Line struct {
	Bead
	Depth float64   // mm of rubber between bead and metal
	Away  vec.V3    // unit vector from the wall to the bead
	Shift []float64 // mm along Away from the bead, rising; 0 is among them
}

// Beads is a mould with thermocouples, laid on cells of one size.
type Beads struct {
	Lines []Line
	Cell  float64 // mm

	m *Mould
	s pour.Setting
	p *heat.Problem
}

// onSide is how near to a side of the block a face of the cavity is open, mm.
const onSide = 1e-3

// Points on the line of a bead: so far apart, at least so far to each side, at
// least four doubts, at most so far; never nearer to the metal than least. All mm.
const (
	pointsApart = 0.2
	pointsNear  = 0.6
	pointsFar   = 2.0
	pointsLeast = 0.2
	pointsDoubt = 4.0
)

// NewBeads lays a mould with beads on cells of h mm. room is the memory that may be
// used, 0 does not ask. Errors: kind Input for a bead in metal, outside the block,
// or so near to the metal that the cells do not tell it from it.
func NewBeads(ctx context.Context, m *Mould, s pour.Setting, h float64, room int64, list []Bead) (*Beads, error) {
	if err := s.Check("pour"); err != nil {
		return nil, err
	}
	if room > 0 && Memory(m, h) > room {
		return nil, tooLarge(m, h, room)
	}
	b := &Beads{Cell: h, m: m, s: s}
	metal, wall := bvh.Build(m.Cavity), bvh.Build(heat.Walls(m.Cavity, m.box(), onSide))
	if wall.Len() == 0 {
		return nil, fault.New(fault.Input, "cavity.stl", "make the plan again with the verb plan", "the cavity has no wall")
	}
	for _, x := range list {
		l, err := b.line(metal, wall, x)
		if err != nil {
			return nil, err
		}
		b.Lines = append(b.Lines, l)
	}
	var err error
	if b.p, err = Problem(ctx, m, &s, h); err != nil {
		return nil, err
	}
	for i := range b.Lines {
		l := &b.Lines[i]
		if l.Shift = reading(b.p.Body, l, l.Shift); len(l.Shift) == 0 {
			return nil, fault.New(fault.Input, "bead "+l.Name, sprint("take finer cells, as in --cell %.2g, or leave the bead out", math.Max(l.Depth/2, 0.1)),
				"it lies %.2g mm from the metal, and cells of %.3g mm do not tell it from metal", l.Depth, h)
		}
	}
	return b, nil
}

// line finds wall and line of a bead.
func (b *Beads) line(metal, wall *bvh.Tree, x Bead) (Line, error) {
	bad := func(hint, format string, args ...any) (Line, error) {
		return Line{}, fault.New(fault.Input, "bead "+x.Name, hint, format, args...)
	}
	p, half := x.At, b.m.box().Max
	inBlock := func(p vec.V3) bool { return math.Abs(p.X) < half.X && math.Abs(p.Y) < half.Y && math.Abs(p.Z) < half.Z }
	if !inBlock(p) {
		return bad("places count from the middle of the block: x to the right on the template of half 2, y up to the cup, z towards half 1",
			"%.5g, %.5g, %.5g lies outside the block, which reaches %.4g, %.4g and %.4g mm to each side", p.X, p.Y, p.Z, half.X, half.Y, half.Z)
	}
	q, _, d := wall.Closest(p, math.Inf(1))
	if metal.Winding(p) > 0.5 {
		return bad("a bead in the rubber is meant; check signs and the order x,y,z", "%.5g, %.5g, %.5g lies in the metal, %.2g mm deep", p.X, p.Y, p.Z, d)
	}
	if d < pointsLeast {
		return bad("a bead 2 to 6 mm from the metal tells most", "it lies %.2g mm from the metal; nearer than %g mm no depth can be told", d, pointsLeast)
	}
	l := Line{Bead: x, Depth: d, Away: p.Sub(q).Mul(1 / d)}
	far := math.Min(math.Max(pointsNear, pointsDoubt*x.Doubt), pointsFar)
	n := int(math.Ceil(far/pointsApart - 1e-9))
	ok := func(k int) bool {
		at := float64(k) * pointsApart
		r := p.Add(l.Away.Mul(at))
		return d+at > pointsLeast-1e-9 && inBlock(r) && metal.Winding(r) < 0.5
	}
	from, to := 0, 0
	for from > -n && ok(from-1) {
		from--
	}
	for to < n && ok(to+1) {
		to++
	}
	for k := from; k <= to; k++ {
		l.Shift = append(l.Shift, float64(k)*pointsApart)
	}
	if len(l.Shift) < 2 && x.Doubt > 0 { // between two walls that nearly touch
		return bad("leave this bead out", "it lies in %.2g mm of rubber between metal and metal", 2*d)
	}
	return l, nil
}

// reading returns the shifts round 0 at which a reading on the cells is one of
// rubber, none where that at 0 is not.
func reading(b *heat.Body, l *Line, shift []float64) []float64 {
	from, to := 0, len(shift)
	for i, at := range shift {
		if b.Level(l.At.Add(l.Away.Mul(at))) > 0 {
			continue
		}
		switch {
		case at == 0:
			return nil
		case at < 0:
			from = i + 1
		default:
			to = min(to, i)
		}
	}
	if to-from < 2 && l.Doubt > 0 {
		return nil
	}
	return shift[from:to]
}

// Curves returns the number of curves of Pour: one for each shift of each line, in
// order.
func (b *Beads) Curves() int {
	n := 0
	for i := range b.Lines {
		n += len(b.Lines[i].Shift)
	}
	return n
}

// Cells returns the number of cells of the block.
func (b *Beads) Cells() int { return b.p.Body.Grid.Len() }

// Times returns where the curves of a pour are read, s after it: fine at first,
// up to 10 s apart, from 0 to end.
func Times(end float64) []float64 {
	t := []float64{0}
	for d, x := 0.25, 0.0; x < end-1e-9; d = math.Min(d*1.05, 10) {
		if x += d; end-x < d/2 {
			x = end
		}
		t = append(t, x)
	}
	return t
}

// Pour computes one pour with a conductivity of the rubber, W/(m K), and a
// coefficient between metal and rubber, W/(m2 K). It returns for each curve the
// temperatures at times, degC; times rise from 0. say is told the share that is
// done, or is nil. The mould stays closed.
func (b *Beads) Pour(ctx context.Context, conductivity, contact float64, times []float64, say func(done float64)) ([][]float64, error) {
	p := *b.p
	p.Rubber.K, p.Contact = conductivity, contact
	run, err := heat.New(ctx, p)
	if err != nil {
		return nil, err
	}
	if err := run.Pour(b.s.Metal); err != nil {
		return nil, err
	}
	out := make([][]float64, b.Curves())
	end := times[len(times)-1]
	for i, t := range times {
		if i > 0 {
			if err := run.Advance(ctx, t-times[i-1]); err != nil {
				if ctx.Err() != nil {
					err = &fault.Error{Kind: fault.Interrupted, Place: "thermocouple", Text: "stopped; nothing was kept", Cause: err}
				}
				return nil, err
			}
		}
		c := 0
		for k := range b.Lines {
			l := &b.Lines[k]
			for _, at := range l.Shift {
				x := b.s.Mould // nothing has flowed yet
				if i > 0 {
					x = run.At(l.At.Add(l.Away.Mul(at)))
				}
				out[c] = append(out[c], x)
				c++
			}
		}
		if say != nil && end > 0 {
			say(t / end)
		}
	}
	return out, nil
}

// leastError is the least that temperatures of a computed pour are stated to be
// off, K: what a mould that fills in a moment and metal that does not move leave.
const leastError = 0.3

// share is the part of the step to coarser cells that is left on these: between six
// and ten cells across a ball the error of its peak falls to a quarter, which is an
// order of 2.7 (docs/numerics/heat.md), and 1/(Ratio^2.7 - 1) is a half. At three
// beads by a bar of 6 mm, cells of 0.7 to 2 mm, the worst bead was 0.5 to 1.3 times as
// far off as that.
const share = 0.5

// GridError states by how much the temperatures at the beads are off for the cells'
// sake, K: a share of the root mean square, for the worst bead, of what they differ
// by from those on cells that are coarser by Ratio. Beads that the coarser cells do
// not tell from metal are left out; +Inf where none is left. fine are the curves of
// the same pour on these cells.
func (b *Beads) GridError(ctx context.Context, conductivity, contact float64, times []float64, fine [][]float64, say func(done float64)) (float64, error) {
	p, err := Problem(ctx, b.m, &b.s, b.Cell*Ratio)
	if err != nil {
		return 0, err
	}
	c := &Beads{Cell: b.Cell * Ratio, m: b.m, s: b.s, p: p}
	var of []int // curve at the stated place, on the finer grid
	n := 0
	for _, l := range b.Lines {
		mid := 0
		for k, at := range l.Shift {
			if at == 0 {
				mid = k
			}
		}
		one := Line{Bead: Bead{Name: l.Name, At: l.At}, Depth: l.Depth, Away: l.Away, Shift: []float64{0}}
		if len(reading(p.Body, &one, one.Shift)) == 1 {
			c.Lines = append(c.Lines, one)
			of = append(of, n+mid)
		}
		n += len(l.Shift)
	}
	if len(of) == 0 {
		return math.Inf(1), nil
	}
	rough, err := c.Pour(ctx, conductivity, contact, times, say)
	if err != nil {
		return 0, err
	}
	worst := leastError
	for k, y := range rough {
		s := 0.0
		for i, x := range y {
			d := x - fine[of[k]][i]
			w := 0.0 // the trapezoid of times
			if i > 0 {
				w += (times[i] - times[i-1]) / 2
			}
			if i < len(y)-1 {
				w += (times[i+1] - times[i]) / 2
			}
			s += w * d * d
		}
		worst = math.Max(worst, share*math.Sqrt(s/times[len(times)-1]))
	}
	return worst, nil
}

// pace is what a cell takes for a step of the rubber, s, by measurement on a quiet
// machine of two cores, metal and walls included.
const pace = 5e-9

// Seconds is about how long one pour of end seconds takes on cells of h mm.
func Seconds(m *Mould, s *pour.Setting, h, end float64) float64 {
	e := m.size()
	a := s.Rubber.Conductivity / (s.Rubber.Density * s.Rubber.Capacity) // m2/s
	steps := end * 6 * a / (h * h * 1e-6)
	return e.X * e.Y * e.Z / (h * h * h) * (steps + 30) * pace
}
