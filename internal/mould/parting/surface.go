package parting

import (
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// Body is one closed mesh that the parting surface must respect, in the frame
// of the block (z = pull). A Channel is metal that is no master: ingate, cup,
// feeder, flow-off. Its columns join those of the masters before the surface
// is found, so it is one more part of the shadow and locks nothing; where it
// stands alone the surface runs through the middle of its columns.
type Body struct {
	Mesh    *mesh.Mesh
	Channel bool
}

// Rect is the block seen along the pull.
type Rect struct{ X0, Y0, X1, Y1 float64 }

// Setting says how a parting surface is found. Zero values stand for the
// defaults.
type Setting struct {
	Step  float64  // spacing of the nodes; default: 1/120 of the masters' longest edge, more where that passes 40 000 nodes
	Edge  *float64 // height at the block's edge; default: the height that passes the most of the shadow's edge
	Back  *float64 // the parting is the plane at this height (a flat back)
	Stiff float64  // stiffness of the membrane, a length; default: the stiffest of 1, 4, 12 and 36 mm at 60 mm that adds little
}

// Samples per node and direction at which the bounds are taken.
const sub = 3

// field is the problem behind a surface: bounds per sample and per node.
type field struct {
	s        *Surface
	sx, sy   int       // samples
	in, out  []float64 // per sample: first entry and last exit; in > out where there is no metal
	lo, hi   []float64 // per sample: the bounds, a little inside of them
	cell     float64   // area of one sample
	nlo, nhi []float64 // per node: the tightest bounds of its samples
	has      []uint8   // per node: samples in the shadow
	fixed    []bool    // per node: given height
	weight   []float64 // per node: of the penalty
	volume   float64   // of the masters, for the budget
	scale    float64   // longest edge of the masters / 60
	alone    []bool    // per sample: metal of a channel only
	all      *mesh.Mesh
	channels bool // some of it is channel
}

// Solve finds the parting surface of one or several masters with their
// channels over the whole of the rectangle.
//
// In a column with metal between the first entry lo and the last exit hi, a
// surface above hi (below lo) makes rubber of the wrong half that a straight
// pull drags through the metal: volume (S - hi)+ or (lo - S)+ per area. The
// surface minimises
//
//	k/2 int |grad S|^2 + int_shadow (S - hi)+ + (lo - S)+
//
// (a membrane of stiffness k, a length, under a penalty that is the added
// locked volume itself). The problem is convex. Where the added volume per
// length of the shadow's edge stays above its share of 0.06 % of the masters'
// volume the penalty's weight is raised, so that a thin rim gives way to a
// smooth line and a jump of the rim does not. The stiffest surface that adds no
// more than 0.08 % is taken, a plane where that adds no more than 0.06 %. Unless
// the stiffness is given, the surface is then drawn to the fold (follow).
// Projected successive over-relaxation, after two coarser grids. Membrane with
// obstacles: Cryer 1971; exact penalty for an obstacle: Nocedal & Wright,
// Numerical Optimization, section 17.2 (from memory).
//
// The bodies should be closed and lie inside the rectangle; what stands out is
// ignored. Solve is deterministic and does not fail; an empty list of bodies
// gives a plane.
func Solve(bodies []Body, r Rect, o Setting) *Surface {
	f := newField(bodies, r, o)
	s := f.s
	if o.Back != nil {
		s.Edge = *o.Back
		f.plane(s.Edge)
		s.Stiff = math.Inf(1)
		s.Added = f.added()
		return s
	}
	if o.Edge != nil {
		s.Edge = *o.Edge
	} else {
		s.Edge = f.middle()
	}
	f.border()
	f.relax(o.Stiff)
	if !(o.Stiff > 0) {
		f.follow()
	}
	s.Added = f.added()
	s.Steep = f.steep()
	return s
}

func newField(bodies []Body, r Rect, o Setting) *field {
	all, masters, channels := &mesh.Mesh{}, 0.0, &mesh.Mesh{}
	if len(bodies) == 1 && !bodies[0].Channel {
		all = bodies[0].Mesh
	}
	long := 0.0
	for _, b := range bodies {
		if all != b.Mesh {
			all.Append(b.Mesh)
		}
		if b.Channel {
			channels.Append(b.Mesh)
			continue
		}
		masters += math.Abs(plainVolume(b.Mesh))
		mb := bounds(b.Mesh)
		long = max(long, mb.Longest())
	}
	w, d := max(r.X1-r.X0, 0), max(r.Y1-r.Y0, 0)
	if !(long > 0) {
		long = max(w, d, 1e-9)
	}
	h := o.Step
	if !(h > 0) {
		h = long / 120
	}
	h = max(h, math.Sqrt(w*d/40000))
	if !(h > 0) {
		h = long / 120
	}
	nx, ny := max(5, int(math.Ceil(w/h-1e-9))+1), max(5, int(math.Ceil(d/h-1e-9))+1)
	s := &Surface{NX: nx, NY: ny, H: h, Z: make([]float64, nx*ny)}
	s.X0 = (r.X0+r.X1)/2 - h*float64(nx-1)/2
	s.Y0 = (r.Y0+r.Y1)/2 - h*float64(ny-1)/2
	f := &field{s: s, volume: masters, scale: long / 60, all: all, channels: len(channels.F) > 0}
	f.limits(all, channels)
	return f
}

// plainVolume is the signed volume without compensated sums, for budgets.
func plainVolume(m *mesh.Mesh) float64 {
	o := bounds(m).Centre()
	v := 0.0
	for _, t := range m.F {
		a, b, c := m.V[t[0]].Sub(o), m.V[t[1]].Sub(o), m.V[t[2]].Sub(o)
		v += a.X*(b.Y*c.Z-b.Z*c.Y) + a.Y*(b.Z*c.X-b.X*c.Z) + a.Z*(b.X*c.Y-b.Y*c.X)
	}
	return v / 6
}

// limits takes the first entry and the last exit at the samples. The surface
// is kept off both ends of a column by 0.3 mm (at 60 mm) or a quarter of the
// column, so that it does not graze a flat face.
func (f *field) limits(all, channels *mesh.Mesh) {
	s := f.s
	f.sx, f.sy = sub*s.NX, sub*s.NY
	g := s.H / sub
	x0, y0 := s.X0-g*(1+0.0129), s.Y0-g*(1-0.0173)
	f.cell = g * g
	n := f.sx * f.sy
	f.lo, f.hi = make([]float64, n), make([]float64, n)
	f.in, f.out = make([]float64, n), make([]float64, n)
	f.alone = make([]bool, n)
	c := voxel.Cast(all, f.sx, f.sy, x0, y0, g)
	var ch *voxel.Columns
	if len(channels.F) > 0 {
		ch = voxel.Cast(channels, f.sx, f.sy, x0, y0, g)
	}
	off := 0.3 * f.scale
	for q := range n {
		f.lo[q], f.hi[q] = math.Inf(1), math.Inf(-1)
		p := c.Of(q)
		if len(p) == 0 {
			f.in[q], f.out[q] = f.lo[q], f.hi[q]
			continue
		}
		lo, hi := p[0].Lo, p[len(p)-1].Hi
		f.in[q], f.out[q] = lo, hi
		if ch != nil {
			if e := ch.Of(q); len(e) > 0 && len(p) == 1 && hi-lo-(e[0].Hi-e[0].Lo) < 1e-6*f.scale {
				f.alone[q] = true // all of the column is channel: its middle, nearly
				m, t := (lo+hi)/2, 0.05*(hi-lo)
				f.lo[q], f.hi[q] = m-t, m+t
				continue
			}
		}
		d := min(off, (hi-lo)/4)
		f.lo[q], f.hi[q] = lo+d, hi-d
	}
	f.gather()
}

// gather takes the tightest bounds of each node's samples.
func (f *field) gather() {
	s := f.s
	n := s.NX * s.NY
	f.nlo, f.nhi, f.has, f.fixed = make([]float64, n), make([]float64, n), make([]uint8, n), make([]bool, n)
	for j := range s.NY {
		for i := range s.NX {
			lo, hi, k := math.Inf(-1), math.Inf(1), uint8(0)
			for y := sub * j; y < sub*j+sub; y++ {
				for x := sub * i; x < sub*i+sub; x++ {
					q := y*f.sx + x
					if f.lo[q] <= f.hi[q] {
						lo, hi = max(lo, f.lo[q]), min(hi, f.hi[q])
						k++
					}
				}
			}
			q := j*s.NX + i
			f.nlo[q], f.nhi[q], f.has[q] = lo, hi, k
		}
	}
}

// middle returns the height c that minimises the sum of the distances from c
// to the columns [lo, hi] along the shadow's edge: the middle of the median
// pair of all their ends.
func (f *field) middle() float64 {
	var ends []float64
	in := func(x, y int) bool {
		if x < 0 || y < 0 || x >= f.sx || y >= f.sy {
			return false
		}
		q := y*f.sx + x
		return f.lo[q] <= f.hi[q]
	}
	for y := range f.sy {
		for x := range f.sx {
			if in(x, y) && !(in(x-1, y) && in(x+1, y) && in(x, y-1) && in(x, y+1)) {
				q := y*f.sx + x
				ends = append(ends, f.lo[q], f.hi[q])
			}
		}
	}
	if len(ends) == 0 {
		return 0
	}
	slices.Sort(ends)
	n := len(ends) / 2
	return (ends[n-1] + ends[n]) / 2
}

// border gives the nodes on the block's edge their height: Edge, unless the
// metal is so near that a slope of 60 degrees does not reach from it.
func (f *field) border() {
	s := f.s
	l := math.Tan(60 * math.Pi / 180)
	lo, hi := f.cones(l)
	f.s.Uneven = 0
	set := func(i, j int) {
		q := j*s.NX + i
		if f.fixed[q] {
			return
		}
		z := s.Edge
		if lo[q] <= hi[q] {
			z = min(max(z, lo[q]), hi[q])
		} else {
			z = (lo[q] + hi[q]) / 2
		}
		if math.Abs(z-s.Edge) > 1e-9*f.scale {
			s.Uneven++
		}
		s.Z[q], f.fixed[q] = z, true
	}
	// The outermost nodes stand on the rectangle or up to half a cell outside,
	// so the next ones are held too.
	for i := range s.NX {
		for k := range 2 {
			set(i, k)
			set(i, s.NY-1-k)
		}
	}
	for j := range s.NY {
		for k := range 2 {
			set(k, j)
			set(s.NX-1-k, j)
		}
	}
}

// cones returns the highest lower and the lowest upper bound that a surface of
// slope at most l can have at each node (McShane 1934), by two sweeps of a
// chamfer over eight neighbours.
func (f *field) cones(l float64) (lo, hi []float64) {
	s := f.s
	lo, hi = slices.Clone(f.nlo), slices.Clone(f.nhi)
	a, b := l*s.H, l*s.H*math.Sqrt2
	take := func(q, p int, d float64) {
		lo[q] = max(lo[q], lo[p]-d)
		hi[q] = min(hi[q], hi[p]+d)
	}
	nx, ny := s.NX, s.NY
	for j := range ny {
		for i := range nx {
			q := j*nx + i
			if i > 0 {
				take(q, q-1, a)
			}
			if j > 0 {
				take(q, q-nx, a)
				if i > 0 {
					take(q, q-nx-1, b)
				}
				if i < nx-1 {
					take(q, q-nx+1, b)
				}
			}
		}
	}
	for j := ny - 1; j >= 0; j-- {
		for i := nx - 1; i >= 0; i-- {
			q := j*nx + i
			if i < nx-1 {
				take(q, q+1, a)
			}
			if j < ny-1 {
				take(q, q+nx, a)
				if i < nx-1 {
					take(q, q+nx+1, b)
				}
				if i > 0 {
					take(q, q+nx-1, b)
				}
			}
		}
	}
	return lo, hi
}

func (f *field) plane(z float64) {
	for q := range f.s.Z {
		if !f.fixed[q] {
			f.s.Z[q] = z
		}
	}
}

// sample returns the position of sample (x, y).
func (f *field) sample(x, y int) (float64, float64) {
	g := f.s.H / sub
	return f.s.X0 - g*(1+0.0129) + g*float64(x), f.s.Y0 - g*(1-0.0173) + g*float64(y)
}

// added returns the volume that the surface locks beyond the gaps.
func (f *field) added() float64 {
	v := par.Sum(f.sy, 1, func(y, _ int) float64 {
		row := 0.0
		for x := range f.sx {
			q := y*f.sx + x
			if f.lo[q] > f.hi[q] || f.alone[q] {
				continue
			}
			px, py := f.sample(x, y)
			z := f.s.At(px, py)
			row += max(0, z-f.out[q]) + max(0, f.in[q]-z)
		}
		return row
	})
	return v * f.cell
}

// steep returns the area of the surface outside the shadow that is steeper
// than 63 degrees.
func (f *field) steep() float64 {
	s := f.s
	t2 := math.Pow(math.Tan(63*math.Pi/180), 2)
	a := 0.0
	for j := range s.NY - 1 {
		for i := range s.NX - 1 {
			q := j*s.NX + i
			if f.has[q]+f.has[q+1]+f.has[q+s.NX]+f.has[q+s.NX+1] >= 4*sub*sub {
				continue
			}
			gx := (s.Z[q+1] - s.Z[q] + s.Z[q+s.NX+1] - s.Z[q+s.NX]) / (2 * s.H)
			gy := (s.Z[q+s.NX] - s.Z[q] + s.Z[q+s.NX+1] - s.Z[q+1]) / (2 * s.H)
			if g := gx*gx + gy*gy; g > t2 {
				a += s.H * s.H * math.Sqrt(1+g)
			}
		}
	}
	return a
}
