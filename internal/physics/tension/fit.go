package tension

import (
	"math"

	"pourwright/internal/ground/vec"
)

// fit is the paraboloid about a piece of surface.
type fit struct {
	normal vec.V3  // at the piece's centroid, out of the metal
	kappa  float64 // there, 1/cell
}

// rule says how contact lines count in a fit: between the cosines lo and hi they
// keep the angle that they have.
type rule struct {
	lo, hi  float64
	contact bool
}

const (
	// reach is where the weight of a piece has fallen to zero, cells.
	reach = 2.5
	// small is the least area with which a piece counts: a piece turned a little
	// wrong in a nearly full or empty cell shrinks to a corner, yet is in place.
	small = 0.05
	// ridge holds the paraboloid where the pieces do not determine it: flat.
	ridge = 1e-6
	// pull is the weight of the angle at one cell of contact line against a cell of
	// surface.
	pull = 1.0
	// bound is the largest curvature, 1/cell.
	bound = 1.0
)

// lay fits the paraboloid about piece k: in its own frame (z along its normal, from its
// centroid) the surface is z = c0 + c1 x + c2 y + c3 x^2 + c4 x y + c5 y^2, with
//
//	sum over pieces j  w_j (integral over the shadow of j of z - z_j)^2
//	+ sum over edges e  w_e (L_e (w_x dz/dx + w_y dz/dy - s_e))^2  + ridge  -> least
//
// where z_j is the piece's plane, whose cell holds as much metal as under the true
// surface, so that the integrals vanish for a surface that is a paraboloid, but for the rims of the
// pieces. s_e is the slope across the wall that the contact angle asks:
// the normal m = -cos(theta) w + sin(theta) t, t the part of the piece's normal along
// the wall. Then
//
//	kappa = -(z_xx (1 + z_y^2) + z_yy (1 + z_x^2) - 2 z_xy z_x z_y) / (1 + z_x^2 + z_y^2)^(3/2)
//
// The weights fall with the distance d: (1 - q)^4 (1 + 4 q), q = d/reach (Wendland 1995).
func (f *Field) lay(k int32, r *rule) fit {
	p := &f.patch[k]
	t1, t2 := f.tangents(p.n)
	s := sums{p: p, t1: t1, t2: t2, rule: r}
	// Places within two cells have a bit each in seen.
	var seen [2]uint64
	seen[62>>6] |= 1 << (62 & 63)
	s.add(p)
	near := &f.ring[k]
	for a := range near.n {
		j := near.at[a]
		b := int(near.by[a])
		at := 62 + (b%3 - 1) + 5*(b/3%3-1) + 25*(b/9-1)
		if seen[at>>6]>>(at&63)&1 == 0 {
			seen[at>>6] |= 1 << (at & 63)
			s.add(&f.patch[j])
		}
	}
	for a := range near.n {
		b := int(near.by[a])
		at := 62 + (b%3 - 1) + 5*(b/3%3-1) + 25*(b/9-1)
		if f.patch[near.at[a]].n.Dot(p.n) <= 0 {
			continue
		}
		far := &f.ring[near.at[a]]
		for e := range far.n {
			b := int(far.by[e])
			at := at + (b%3 - 1) + 5*(b/3%3-1) + 25*(b/9-1)
			if seen[at>>6]>>(at&63)&1 == 0 {
				seen[at>>6] |= 1 << (at & 63)
				s.add(&f.patch[far.at[e]])
			}
		}
	}
	if f.plane >= 0 {
		s.flatten()
	}
	c := s.solve()
	fx, fy := c[1], c[2]
	g := 1 + fx*fx + fy*fy
	kappa := -2 * (c[3]*(1+fy*fy) + c[5]*(1+fx*fx) - c[4]*fx*fy) / (g * math.Sqrt(g))
	n := p.n.Sub(t1.Mul(fx)).Sub(t2.Mul(fy)).Mul(1 / math.Sqrt(g))
	if !(math.Abs(kappa) < 1e300) || !n.Finite() {
		return fit{normal: p.n}
	}
	return fit{n, min(max(kappa, -bound), bound)}
}

// sums are the normal equations of a fit: the upper triangle by rows, and the
// right-hand side.
type sums struct {
	p      *patch
	t1, t2 vec.V3
	rule   *rule
	a      [21]float64
	b      [6]float64
}

// facing is the least cosine between normals of pieces of one fit.
const facing = 0.2

// add takes in a piece and its edges.
func (s *sums) add(q *patch) {
	p := s.p
	nz := q.n.Dot(p.n)
	if nz < facing {
		return
	}
	d := q.x.Sub(p.x)
	w := weight(d.Dot(d))
	if w == 0 {
		return
	}
	x, y, z := d.Dot(s.t1), d.Dot(s.t2), d.Dot(p.n)
	m1, m2 := turn(&q.m, s.t1), turn(&q.m, s.t2)
	g := max(q.area, small) * nz
	row := [6]float64{1, x, y, x*x + m1.Dot(s.t1), x*y + m1.Dot(s.t2), y*y + m2.Dot(s.t2)}
	s.row(&row, z, w*g*g)
	if !s.rule.contact {
		return
	}
	for k := range q.edges {
		s.end(q, &q.edge[k])
	}
}

// end takes in the angle at an edge.
func (s *sums) end(q *patch, e *edge) {
	p := s.p
	d := e.x.Sub(p.x)
	w := weight(d.Dot(d))
	if w == 0 {
		return
	}
	now := -q.n.Dot(e.w)
	cos := min(max(now, s.rule.lo), s.rule.hi)
	t := q.n.Add(e.w.Mul(now))
	length := t.Len()
	if length < 1e-3 {
		return // the surface lies along the wall
	}
	m := t.Mul(math.Sqrt(1-cos*cos) / length).Sub(e.w.Mul(cos))
	mz := max(m.Dot(p.n), facing)
	wx, wy := e.w.Dot(s.t1), e.w.Dot(s.t2)
	slope := -(wx*m.Dot(s.t1) + wy*m.Dot(s.t2)) / mz
	x, y := d.Dot(s.t1), d.Dot(s.t2)
	row := [6]float64{0, wx, wy, 2 * wx * x, wx*y + wy*x, 2 * wy * y}
	l := pull * min(e.length, 1)
	s.row(&row, slope, w*l*l)
}

func (s *sums) row(r *[6]float64, z, w float64) {
	k := 0
	for i := range 6 {
		wi := w * r[i]
		for j := i; j < 6; j++ {
			s.a[k] += wi * r[j]
			k++
		}
		s.b[i] += wi * z
	}
}

// turn returns m t for a symmetric m.
func turn(m *[6]float64, t vec.V3) vec.V3 {
	return vec.V3{X: m[0]*t.X + m[1]*t.Y + m[2]*t.Z, Y: m[1]*t.X + m[3]*t.Y + m[4]*t.Z, Z: m[2]*t.X + m[4]*t.Y + m[5]*t.Z}
}

func weight(d2 float64) float64 {
	if d2 >= reach*reach {
		return 0
	}
	q := math.Sqrt(d2) / reach
	u := 1 - q
	u *= u
	return u * u * (1 + 4*q)
}

// place of row i, column j >= i in the triangle.
var tri = func() (t [6][6]int) {
	k := 0
	for i := range 6 {
		for j := i; j < 6; j++ {
			t[i][j], t[j][i] = k, k
			k++
		}
	}
	return t
}()

// flatten takes out what varies across a plane problem.
func (s *sums) flatten() {
	for _, i := range [3]int{2, 4, 5} {
		for j := range 6 {
			s.a[tri[i][j]] = 0
		}
		s.a[tri[i][i]] = 1
		s.b[i] = 0
	}
}

// solve returns the coefficients, by Cholesky's factors.
func (s *sums) solve() (c [6]float64) {
	e := ridge*s.a[0] + 1e-30
	s.a[0] += 1e-30
	for i := 1; i < 6; i++ {
		s.a[tri[i][i]] += e
	}
	var l [6][6]float64
	for i := range 6 {
		for j := 0; j <= i; j++ {
			v := s.a[tri[j][i]]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i == j {
				if !(v > 0) {
					return c
				}
				l[i][i] = math.Sqrt(v)
			} else {
				l[i][j] = v / l[j][j]
			}
		}
	}
	for i := range 6 {
		v := s.b[i]
		for k := range i {
			v -= l[i][k] * c[k]
		}
		c[i] = v / l[i][i]
	}
	for i := 5; i >= 0; i-- {
		v := c[i]
		for k := i + 1; k < 6; k++ {
			v -= l[k][i] * c[k]
		}
		c[i] = v / l[i][i]
	}
	return c
}
