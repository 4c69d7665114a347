package plic

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// facet is what a plane shows its neighbours: unit normal and centroid of the polygon, in
// cells from the cell's low corner.
type facet struct {
	normal, centre [3]float64
	size           float64 // its weight for others
}

// turned makes the planes of the mixed cells. Fitted normals are found in the first sweep of a
// substep; the other two move the planes of cells that were mixed before as they stand,
// and those of new ones are mixed normals: E1 of the 3D deformation does not tell the difference,
// the time does. In those sweeps a cell that gives nothing away along d needs no more than its normal.
func (a *Advection) turned(d int, f, u []float64, first bool) {
	n := len(a.mixed)
	a.planes, a.facets, a.better = sized(a.planes, n), sized(a.facets, n), sized(a.better, n)
	fit := a.Normals == Fitted
	if first && a.known != nil {
		if a.recall() {
			return
		}
	}
	par.For(n, 256, func(lo, hi int) {
		var g [27]float64
		for k := lo; k < hi; k++ {
			i := a.mixed[k]
			m := [3]float64{}
			if fit && !first && a.from[k] >= 0 {
				m = a.older[a.from[k]].m
			} else if a.stands(i) {
				m = a.given[i].Array()
			} else {
				a.gather(i, f, &g)
				if a.Normals == Youngs {
					m = youngs(&g)
				} else {
					m = mixed(&g)
				}
				if m == ([3]float64{}) {
					m[2] = 1
				}
			}
			if !(fit && first) && !a.gives(d, i, u) {
				if a.cut(i) != nil {
					m = unit(m)
				} else {
					m, _ = evened(m)
				}
				a.planes[k] = plane{m: m}
				continue
			}
			if part := a.cut(i); part != nil {
				n := vec.FromArray(unit(m))
				at := part.Plane(n, f[i])
				a.planes[k] = plane{n.Array(), at}
				if fit && first {
					_, _, x := part.Cut(n, at)
					a.facets[k] = facet{n.Array(), x.Array(), 1}
				}
				continue
			}
			p := through(m, f[i])
			a.planes[k] = p
			if fit && first {
				_, x := p.polygon()
				a.facets[k] = facet{unit(p.m), x, 1}
			}
		}
	})
	if fit && first {
		a.fit(f)
	}
}

// evened returns a normal whose parts add up to 1 but for sign, and what it was multiplied by.
func evened(n [3]float64) ([3]float64, float64) {
	r := 1 / (math.Abs(n[0]) + math.Abs(n[1]) + math.Abs(n[2]))
	return [3]float64{n[0] * r, n[1] * r, n[2] * r}, r
}

// gives reports whether something is swept out of a cell along d.
func (a *Advection) gives(d int, i int32, u []float64) bool {
	hi := a.c.Nb[2*d+1][i]
	return u[i] < 0 && a.c.A[d][i] > 0 || int(hi) < a.c.Wall && u[hi] > 0 && a.c.A[d][hi] > 0
}

// recall takes the planes of the surface, false where a mixed cell has none there.
func (a *Advection) recall() bool {
	s := a.known
	for k, i := range a.mixed {
		j := s.slot[i]
		if j < 0 {
			return false
		}
		n := s.Normal[j].Array()
		if a.cut(i) != nil {
			a.planes[k] = plane{n, s.Offset[j]}
			continue
		}
		m, r := evened(n)
		p := plane{m: m}
		p.a = min(max(s.Offset[j]*r-min(p.m[0], 0)-min(p.m[1], 0)-min(p.m[2], 0), 0), 1)
		a.planes[k] = p
	}
	return true
}

// stands reports whether a cell's normal is given.
func (a *Advection) stands(i int32) bool {
	return a.given != nil && a.given[i] != vec.V3{} && a.given[i].Finite()
}

// sized returns x with n entries, of any content.
func sized[T any](x []T, n int) []T {
	if cap(x) < n {
		return make([]T, n, n+n/4)
	}
	return x[:n]
}

// fit turns each plane by its neighbours.
func (a *Advection) fit(f []float64) {
	par.For(len(a.mixed), 256, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			i := a.mixed[k]
			if a.stands(i) {
				a.better[k] = a.planes[k]
				continue
			}
			l := lean{at: a.facets[k]}
			l.across()
			a.lean(&l, i)
			if part := a.cut(i); part != nil {
				a.better[k] = swung(part, unit(l.normal(stiff)), l.at.centre, f[i])
				continue
			}
			a.better[k] = through(l.normal(stiff), f[i])
		}
	})
	a.planes, a.better = a.better, a.planes
}

// cut returns the open part of a cell whose walls count in transport, nil where it counts as a
// cube. The plane of such a cell has a unit normal, and its constant is that of n . x <= a.
func (a *Advection) cut(i int32) *cells.Part {
	if a.Porous {
		return nil
	}
	return a.c.Part(i)
}

// swung is the plane with normal n (a unit vector) for the share f, from the centroid of
// the one before: a turn about it keeps the share but for second order, one step of Newton's most of
// the rest.
func swung(part *cells.Part, n, centre [3]float64, f float64) plane {
	v := vec.FromArray(n)
	at := v.Dot(vec.FromArray(centre))
	step, _, ok := newton(part, v, at, f)
	if !ok {
		return plane{n, part.Plane(v, f)}
	}
	return plane{n, at + step}
}

// newton is one step of Newton's along v from the plane v . x = at to the share f, and the polygon that lies there, its
// centroid moved along; ok is false where the step is too long to be trusted.
func newton(part *cells.Part, v vec.V3, at, f float64) (step float64, there facet, ok bool) {
	have, area, x := part.Cut(v, at)
	step = (f - have) * part.Volume() / area
	return step, facet{v.Array(), x.Add(v.Mul(step)).Array(), area}, math.Abs(step) < 0.1
}

// out returns the metal that leaves a cut cell through its side along d: what the plane leaves
// in a slab as thick as the way. Where metal leaves through the opposite side too, no more by both than
// it holds, and no more void either; a slab's volume is not quite what is swept.
func (a *Advection) out(part *cells.Part, i int32, d int, high bool, u []float64, k float64) float64 {
	w, g := a.slab(part, i, d, high, u, k)
	w2, g2 := a.slab(part, i, d, !high, u, k)
	metal, void := a.metal[i], a.room[i]-a.metal[i]
	if s := g + g2; s > metal {
		g *= metal / s
	}
	if s := w - g + w2 - g2; s > void {
		g = max(g, w-(w-g)*max(void, 0)/s)
	}
	return g
}

// thinnest is the thickness of a slab, in cells, under which the metal in it is taken as the cell's: a velocity that
// a drag has brought to 1e-314 m/s in the end leaves no volume to divide by.
const thinnest = 1e-90

// slab returns what is swept out through one side, and the metal in it as the plane has it; 0 where
// nothing goes out.
func (a *Advection) slab(part *cells.Part, i int32, d int, high bool, u []float64, k float64) (w, g float64) {
	lo, hi := [3]float64{}, [3]float64{1, 1, 1}
	face, t := i, -u[i]*k
	if high {
		face = a.c.Nb[2*d+1][i]
		if int(face) == a.c.Wall {
			return 0, 0
		}
		t = u[face] * k
		lo[d] = 1 - min(t, 1)
	} else {
		hi[d] = min(t, 1)
	}
	w = t * a.c.A[d][face]
	if !(w > 0) {
		return 0, 0
	}
	in := cells.PartIn(vec.FromArray(lo), vec.FromArray(hi), a.c.Normal[i], a.c.Offset[i])
	share := a.metal[i] / a.room[i]
	if t > thinnest && in.Volume() > 0 {
		p := &a.planes[a.slot[i]]
		share = in.Under(vec.FromArray(p.m), p.a)
	}
	return w, w * share
}

// lean turns a plane so that it passes as near as it can to the centroids of the
// polygons round it: with x the way there from its own centroid, z = n . x and s, t
// along two directions across n, the slopes b, c that make
//
//	sum w (z - b s - c t)^2 + stiff (b^2 + c^2)      w = size cos^2 / (x^2 + 1/10)
//
// least, cos being that of the angle between the planes; those that stand too far
// askew belong to another part of the surface and do not count. A plane through
// cells with one plane in all of them stays as it is.
type lean struct {
	at                 facet
	e, g               [3]float64
	ss, st, tt, zs, zt float64
	zz, ww             float64
	even               bool // all count alike
}

// The stiffness, the least cosine and the largest slope keep thin films and wisps
// from turning wild: without them E1 of the 3D deformation is the same within a few percent,
// with twice the mixed cells and a hundred times the crumbs (docs/numerics/plic.md).
const (
	stiff    = 0.1
	alike    = 0.5
	steepest = 0.7
)

// add counts the facet of the neighbour j (of 3 x 3 x 3, x fastest).
func (l *lean) add(o *facet, j int) {
	n := &l.at.normal
	cos := n[0]*o.normal[0] + n[1]*o.normal[1] + n[2]*o.normal[2]
	if cos < alike {
		return
	}
	x0 := o.centre[0] - l.at.centre[0] + place[j][0]
	x1 := o.centre[1] - l.at.centre[1] + place[j][1]
	x2 := o.centre[2] - l.at.centre[2] + place[j][2]
	size := o.size
	if l.even {
		size = 1
	}
	w := size * cos * cos / (x0*x0 + x1*x1 + x2*x2 + 0.1)
	s := l.e[0]*x0 + l.e[1]*x1 + l.e[2]*x2
	t := l.g[0]*x0 + l.g[1]*x1 + l.g[2]*x2
	z0 := n[0]*x0 + n[1]*x1 + n[2]*x2
	z := w * z0
	l.ss += w * s * s
	l.st += w * s * t
	l.tt += w * t * t
	l.zs += z * s
	l.zt += z * t
	l.zz += z * z0
	l.ww += w
}

// normal returns the turned normal; its length is not 1.
func (l *lean) normal(stiff float64) [3]float64 {
	b, c := l.slopes(stiff)
	if m := b*b + c*c; m > steepest*steepest {
		m = steepest / math.Sqrt(m)
		b, c = b*m, c*m
	}
	n := l.at.normal
	for d := range n {
		n[d] -= b*l.e[d] + c*l.g[d]
	}
	return n
}

// bent returns how far the centroids lie from the plane as it was turned, root of the
// weighted mean square, cells.
func (l *lean) bent() float64 {
	b, c := l.slopes(0)
	return math.Sqrt(max(l.zz-b*l.zs-c*l.zt, 0) / l.ww)
}

// slopes returns b and c; 0 where nothing was counted.
func (l *lean) slopes(stiff float64) (b, c float64) {
	ss, tt := l.ss+stiff, l.tt+stiff
	det := ss*tt - l.st*l.st
	if !(det > 0) {
		return 0, 0
	}
	return (l.zs*tt - l.zt*l.st) / det, (l.zt*ss - l.zs*l.st) / det
}

// across sets two unit vectors across the normal and each other (Duff et al., J.
// Computer Graphics Techniques 6 (2017) 1).
func (l *lean) across() {
	x, y, z := l.at.normal[0], l.at.normal[1], l.at.normal[2]
	s := math.Copysign(1, z)
	a := -1 / (s + z)
	b := x * y * a
	l.e = [3]float64{1 + s*x*x*a, s * b, -s * x}
	l.g = [3]float64{b, s + y*y*a, -y}
}

// lean counts the facets round cell i; its own, which is in no one's way, with them.
func (a *Advection) lean(l *lean, i int32) {
	if !a.inner[i] {
		for j, c := range &a.round[a.rim[i]] {
			if o := a.slot[c]; o >= 0 {
				l.add(&a.facets[o], j)
			}
		}
		return
	}
	for k, r := range a.centres(i) {
		s := a.slot[r-1 : r+2 : r+2]
		if o := s[0]; o >= 0 {
			l.add(&a.facets[o], 3*k)
		}
		if o := s[1]; o >= 0 {
			l.add(&a.facets[o], 3*k+1)
		}
		if o := s[2]; o >= 0 {
			l.add(&a.facets[o], 3*k+2)
		}
	}
}

// place is where the 27 cells stand round the middle one.
var place = func() (p [27][3]float64) {
	for j := range p {
		p[j] = [3]float64{float64(j%3 - 1), float64(j/3%3 - 1), float64(j/9 - 1)}
	}
	return p
}()

// near fills the indices of the cells round i, quickly away from walls.
func (w *web) near(i int32, at *[27]int32) {
	if !w.inner[i] {
		*at = w.round[w.rim[i]]
		return
	}
	for k, r := range w.centres(i) {
		at[3*k], at[3*k+1], at[3*k+2] = r-1, r, r+1
	}
}

func unit(m [3]float64) [3]float64 {
	r := 1 / math.Sqrt(m[0]*m[0]+m[1]*m[1]+m[2]*m[2])
	return [3]float64{m[0] * r, m[1] * r, m[2] * r}
}
