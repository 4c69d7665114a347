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
	last    bool // no piece is turned after it
}

const (
	// reach is where the weight of a piece has fallen to zero, cells.
	reach = 2.2
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
// The weights fall with the distance d: (1 - d^2/reach^2)^3.
func (f *Field) lay(k int32, r *rule) fit {
	p := &f.patch[k]
	t1, t2 := f.tangents(p.n)
	s := sums{p: p, t1: t1, t2: t2, rule: r}
	near := &f.near[k]
	for _, j := range near.at[:near.n] {
		s.add(&f.patch[j], r.contact)
	}
	if f.plane >= 0 {
		s.flatten()
	}
	s.factor()
	c := s.solve()
	if k2 := c[3]*c[3] + c[4]*c[4] + c[5]*c[5]; k2 > 1e-4 && k2 < 0.5 && (r.last || p.bare || c[1]*c[1]+c[2]*c[2] < enough*enough) {
		s.b = [6]float64{}
		for _, j := range near.at[:near.n] {
			s.bend(&f.patch[j], &c)
		}
		if f.plane >= 0 {
			s.b[2], s.b[4], s.b[5] = 0, 0, 0
		}
		for i, x := range s.solve() {
			c[i] -= x
		}
	}
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
	inv    [6]float64 // of D
	broken bool       // nothing near
}

// facing is the least cosine between normals of pieces of one fit.
const facing = 0.2

// add takes in a piece and its edges.
func (s *sums) add(q *patch, contact bool) {
	p := s.p
	dx, dy, dz := q.x.X-p.x.X, q.x.Y-p.x.Y, q.x.Z-p.x.Z
	w := 1 - (dx*dx+dy*dy+dz*dz)*(1/(reach*reach))
	nz := q.n.X*p.n.X + q.n.Y*p.n.Y + q.n.Z*p.n.Z
	if nz < facing || w <= 0 {
		return
	}
	t1, t2, m := &s.t1, &s.t2, &q.m
	x := dx*t1.X + dy*t1.Y + dz*t1.Z
	y := dx*t2.X + dy*t2.Y + dz*t2.Z
	z := dx*p.n.X + dy*p.n.Y + dz*p.n.Z
	ax, ay, az := m[0]*t1.X+m[1]*t1.Y+m[2]*t1.Z, m[1]*t1.X+m[3]*t1.Y+m[4]*t1.Z, m[2]*t1.X+m[4]*t1.Y+m[5]*t1.Z
	bx, by, bz := m[0]*t2.X+m[1]*t2.Y+m[2]*t2.Z, m[1]*t2.X+m[3]*t2.Y+m[4]*t2.Z, m[2]*t2.X+m[4]*t2.Y+m[5]*t2.Z
	xx := x*x + ax*t1.X + ay*t1.Y + az*t1.Z
	xy := x*y + ax*t2.X + ay*t2.Y + az*t2.Z
	yy := y*y + bx*t2.X + by*t2.Y + bz*t2.Z
	g := max(q.area, small) * nz
	g *= g * near(w)
	a, b := &s.a, &s.b
	a[0] += g
	b[0] += g * z
	gx, gy, gxx, gxy, gyy := g*x, g*y, g*xx, g*xy, g*yy
	a[1] += gx
	a[2] += gy
	a[3] += gxx
	a[4] += gxy
	a[5] += gyy
	a[6] += gx * x
	a[7] += gx * y
	a[8] += gx * xx
	a[9] += gx * xy
	a[10] += gx * yy
	a[11] += gy * y
	a[12] += gy * xx
	a[13] += gy * xy
	a[14] += gy * yy
	a[15] += gxx * xx
	a[16] += gxx * xy
	a[17] += gxx * yy
	a[18] += gxy * xy
	a[19] += gxy * yy
	a[20] += gyy * yy
	b[1] += gx * z
	b[2] += gy * z
	b[3] += gxx * z
	b[4] += gxy * z
	b[5] += gyy * z
	if contact && q.edges > 0 {
		for k := range q.edges {
			s.end(q, &q.edge[k])
		}
	}
}

// end takes in the angle at an edge.
func (s *sums) end(q *patch, e *edge) {
	p := s.p
	d := e.x.Sub(p.x)
	u := 1 - d.Dot(d)*(1/(reach*reach))
	if u <= 0 {
		return
	}
	w := near(u)
	now := -q.n.Dot(e.w)
	cos := min(max(now, s.rule.lo), s.rule.hi)
	if cos == now {
		return // the line is held
	}
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

// near is the weight of what lies near: of 1 - d^2/reach^2.
func near(u float64) float64 { return u * u * u }

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

// bend takes in, in place of z, the rise of fourth order that belongs to a paraboloid
// Q on surfaces of steady curvature: Q |grad Q|^2 / 4, which is that of spheres and
// of cylinders.
func (s *sums) bend(q *patch, c *[6]float64) {
	p := s.p
	dx, dy, dz := q.x.X-p.x.X, q.x.Y-p.x.Y, q.x.Z-p.x.Z
	w := 1 - (dx*dx+dy*dy+dz*dz)*(1/(reach*reach))
	nz := q.n.X*p.n.X + q.n.Y*p.n.Y + q.n.Z*p.n.Z
	if nz < facing || w <= 0 {
		return
	}
	t1, t2, m := &s.t1, &s.t2, &q.m
	x := dx*t1.X + dy*t1.Y + dz*t1.Z
	y := dx*t2.X + dy*t2.Y + dz*t2.Z
	ax, ay, az := m[0]*t1.X+m[1]*t1.Y+m[2]*t1.Z, m[1]*t1.X+m[3]*t1.Y+m[4]*t1.Z, m[2]*t1.X+m[4]*t1.Y+m[5]*t1.Z
	bx, by, bz := m[0]*t2.X+m[1]*t2.Y+m[2]*t2.Z, m[1]*t2.X+m[3]*t2.Y+m[4]*t2.Z, m[2]*t2.X+m[4]*t2.Y+m[5]*t2.Z
	mxx, mxy, myy := ax*t1.X+ay*t1.Y+az*t1.Z, ax*t2.X+ay*t2.Y+az*t2.Z, bx*t2.X+by*t2.Y+bz*t2.Z
	// The mean over the piece: K = grad grad Q, (u, v) = grad Q.
	kxx, kxy, kyy := 2*c[3], c[4], 2*c[5]
	u, v := kxx*x+kxy*y, kxy*x+kyy*y
	pxx, pxy := mxx*kxx+mxy*kxy, mxx*kxy+mxy*kyy // M K
	pyx, pyy := mxy*kxx+myy*kxy, mxy*kxy+myy*kyy
	mean := (u*x + v*y + pxx + pyy) / 2 * (u*u + v*v + kxx*pxx + kxy*pyx + kxy*pxy + kyy*pyy)
	both := 2 * (u*(pxx*u+pxy*v) + v*(pyx*u+pyy*v))
	z := (mean + both) / 4
	g := max(q.area, small) * nz
	g *= g * near(w) * z
	b := &s.b
	b[0] += g
	b[1] += g * x
	b[2] += g * y
	b[3] += g * (x*x + mxx)
	b[4] += g * (x*y + mxy)
	b[5] += g * (y*y + myy)
}

// factor turns the sums into L D L' (Cholesky), row by row: D on the diagonal, D L'
// beside it.
func (s *sums) factor() {
	a := &s.a
	e := ridge*a[0] + 1e-30
	a[0] += 1e-30
	a[6] += e
	a[11] += e
	a[15] += e
	a[18] += e
	a[20] += e
	at := 0
	for i := range 6 {
		d := a[at]
		if !(d > 0) {
			s.broken = true
			return
		}
		s.inv[i] = 1 / d
		row := a[at : at+6-i]
		to := at + 6 - i
		for j := 1; j < len(row); j++ {
			f := row[j] * s.inv[i]
			dst := a[to : to+len(row)-j]
			src := row[j:]
			for k := range dst {
				dst[k] -= f * src[k]
			}
			to += len(dst)
		}
		at += 6 - i
	}
}

// solve returns the coefficients for the right-hand side.
func (s *sums) solve() (c [6]float64) {
	if s.broken {
		return c
	}
	a, b := &s.a, s.b
	at := 0
	for i := range 6 {
		f := b[i] * s.inv[i]
		for j := 1; i+j < 6; j++ {
			b[i+j] -= f * a[at+j]
		}
		at += 6 - i
	}
	at = 20
	for i := 5; i >= 0; i-- {
		v := b[i]
		for j := 1; i+j < 6; j++ {
			v -= a[at+j] * c[i+j]
		}
		c[i] = v * s.inv[i]
		at -= 6 - i + 1
	}
	return c
}
