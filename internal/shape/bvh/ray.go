package bvh

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// Hit is one crossing of a ray with a triangle.
type Hit struct {
	T    float64 // the crossing is at o + T d
	Tri  int32   // triangle of the mesh
	Sign int8    // +1: the ray enters the body (meets the front); -1: it leaves
}

// before orders hits along the ray; at equal T entering comes first, so that
// bodies that touch are not parted by a gap of no length.
func before(a, b Hit) int {
	switch {
	case a.T < b.T:
		return -1
	case a.T > b.T:
		return 1
	case a.Sign != b.Sign:
		return int(b.Sign) - int(a.Sign)
	}
	return int(a.Tri) - int(b.Tri)
}

// sortHits puts a short list in order by insertion, a long one by slices.
func sortHits(h []Hit) {
	if len(h) > 24 {
		slices.SortFunc(h, before)
		return
	}
	for i := 1; i < len(h); i++ {
		x := h[i]
		j := i
		for j > 0 && before(x, h[j-1]) < 0 {
			h[j] = h[j-1]
			j--
		}
		h[j] = x
	}
}

// AllHits appends to buf[:0] every crossing of the half line o + T d, T >= 0,
// in order of T, and returns it. The line is given to one side where it meets
// an edge or a corner exactly, so signs alternate on a closed body without
// overlaps. d need not be a unit vector; a zero d or a NaN hits nothing.
func (t *Tree) AllHits(o, d vec.V3, buf []Hit) []Hit {
	buf = buf[:0]
	var r ray
	if !r.set(t, o, d, math.Inf(1)) {
		return buf
	}
	// The slab test is explained at ray.
	ox, oy, oz, ix, iy, iz := r.ox, r.oy, r.oz, r.ix, r.iy, r.iz
	nx, ny, nz := r.nx, r.ny, r.nz
	if nx > upper || ny > upper+1 || nz > upper+2 { // never; spares the bounds checks below
		return buf
	}
	fx, fy, fz := upper-nx, upper+2-ny, upper+4-nz
	far := r.far
	nodes := t.node
	var stack [stackSize]int32
	top := 0
	code := t.root
	for {
		if code >= 0 {
			n := &nodes[code]
			b := &n.box
			near0 := max(0, bits((b[nx]-ox)*ix), bits((b[ny]-oy)*iy), bits((b[nz]-oz)*iz))
			far0 := min(far, bits((b[fx]-ox)*ix), bits((b[fy]-oy)*iy), bits((b[fz]-oz)*iz))
			near1 := max(0, bits((b[nx+3]-ox)*ix), bits((b[ny+3]-oy)*iy), bits((b[nz+3]-oz)*iz))
			far1 := min(far, bits((b[fx+3]-ox)*ix), bits((b[fy+3]-oy)*iy), bits((b[fz+3]-oz)*iz))
			in0, in1 := near0 <= far0, near1 <= far1
			if in0 {
				if in1 {
					stack[top] = n.c1
					top++
				}
				code = n.c0
				continue
			}
			if in1 {
				code = n.c1
				continue
			}
		} else {
			first, end := leafRange(code)
			for k := first; k < end; k++ {
				if x, sign := r.cross(&t.tri[k]); sign != 0 && x >= 0 {
					buf = append(buf, Hit{x, t.id[k], sign})
				}
			}
		}
		if top == 0 {
			break
		}
		top--
		code = stack[top]
	}
	sortHits(buf)
	return buf
}

// Crossed returns the winding number of o by the crossings of the half line
// o + T d, those where it leaves less those where it enters: a whole number
// where the surface is closed.
func (t *Tree) Crossed(o, d vec.V3) int {
	var buf [32]Hit
	w := 0
	for _, h := range t.AllHits(o, d, buf[:0]) {
		w -= int(h.Sign)
	}
	return w
}

func bits(x float32) int32 { return int32(math.Float32bits(x)) }

// First returns the crossing with the least T in [0, tmax], from either side.
func (t *Tree) First(o, d vec.V3, tmax float64) (Hit, bool) {
	var r ray
	best := Hit{T: tmax}
	found := false
	if !r.set(t, o, d, tmax) {
		return best, false
	}
	ox, oy, oz, ix, iy, iz := r.ox, r.oy, r.oz, r.ix, r.iy, r.iz
	nx, ny, nz := r.nx, r.ny, r.nz
	if nx > upper || ny > upper+1 || nz > upper+2 { // never; spares the bounds checks below
		return best, false
	}
	fx, fy, fz := upper-nx, upper+2-ny, upper+4-nz
	type entry struct {
		code int32
		near int32
	}
	var stack [stackSize]entry
	top := 0
	code := t.root
	for {
		if code >= 0 {
			n := &t.node[code]
			b := &n.box
			near0 := max(0, bits((b[nx]-ox)*ix), bits((b[ny]-oy)*iy), bits((b[nz]-oz)*iz))
			far0 := min(r.far, bits((b[fx]-ox)*ix), bits((b[fy]-oy)*iy), bits((b[fz]-oz)*iz))
			near1 := max(0, bits((b[nx+3]-ox)*ix), bits((b[ny+3]-oy)*iy), bits((b[nz+3]-oz)*iz))
			far1 := min(r.far, bits((b[fx+3]-ox)*ix), bits((b[fy+3]-oy)*iy), bits((b[fz+3]-oz)*iz))
			in0, in1 := near0 <= far0, near1 <= far1
			switch {
			case in0 && in1:
				if near0 <= near1 {
					stack[top] = entry{n.c1, near1}
					code = n.c0
				} else {
					stack[top] = entry{n.c0, near0}
					code = n.c1
				}
				top++
				continue
			case in0:
				code = n.c0
				continue
			case in1:
				code = n.c1
				continue
			}
		} else {
			first, end := leafRange(code)
			for k := first; k < end; k++ {
				if x, sign := r.cross(&t.tri[k]); sign != 0 && x >= 0 && x <= best.T {
					h := Hit{x, t.id[k], sign}
					if !found || before(h, best) < 0 {
						best, found = h, true
						r.limit(x)
					}
				}
			}
		}
		for top > 0 && stack[top-1].near > r.far {
			top--
		}
		if top == 0 {
			return best, found
		}
		top--
		code = stack[top].code
	}
}

// The slab test of a box: the ray is inside from near, the largest of its three
// entries, to far, the least of its three exits, and misses where near > far.
// The bits of floats compare like whole numbers where both are positive; near
// starts at 0, and a negative far is a miss whatever its size. So no float
// comparison, with its rules for NaN and -0, is needed. near and far sides are
// picked by the ray's own indices.

// ray holds a half line twice: in float32 tree units for the boxes, moved to
// where it enters the tree's box, and sheared in float64 for the triangles.
type ray struct {
	ox, oy, oz float32 // start
	ix, iy, iz float32 // 1 / direction
	far        int32   // bits of the largest parameter
	nx, ny, nz uint    // where the near sides stand in a node's box

	kx, ky, kz uint    // axes, kz along the largest part of the direction
	px, py, pz float64 // start, in the order of these axes
	sx, sy, sz float64 // shear
	t0, unit   float64 // box parameter = (T - t0) * unit
}

// set prepares the ray; false where it passes the tree by.
func (r *ray) set(t *Tree, o, d vec.V3, tmax float64) bool {
	sum := o.X + o.Y + o.Z + d.X + d.Y + d.Z
	if len(t.tri) == 0 || sum-sum != 0 || d == (vec.V3{}) || !(tmax >= 0) {
		return false
	}
	// Entry and exit of the padded box, in float64.
	od, dd := [3]float64{o.X, o.Y, o.Z}, [3]float64{d.X, d.Y, d.Z}
	t0, t1 := 0.0, tmax
	for k := range 3 {
		if dd[k] == 0 {
			if od[k] < t.lo[k] || od[k] > t.hi[k] {
				return false
			}
			continue
		}
		a, c := (t.lo[k]-od[k])/dd[k], (t.hi[k]-od[k])/dd[k]
		if a > c {
			a, c = c, a
		}
		if a > t0 {
			t0 = a
		}
		if c < t1 {
			t1 = c
		}
	}
	if !(t0 <= t1) {
		return false
	}
	l := math.Max(math.Abs(d.X), math.Max(math.Abs(d.Y), math.Abs(d.Z)))
	s := t.local(o.Add(d.Mul(t0)))
	r.ox, r.oy, r.oz = float32(s.X), float32(s.Y), float32(s.Z)
	r.ix, r.iy, r.iz = recip(d.X/l), recip(d.Y/l), recip(d.Z/l)
	r.nx, r.ny, r.nz = 0, 1, 2
	if r.ix < 0 {
		r.nx += upper
	}
	if r.iy < 0 {
		r.ny += upper
	}
	if r.iz < 0 {
		r.nz += upper
	}
	r.t0, r.unit = t0, l*t.inv
	r.limit(tmax)

	switch l {
	case math.Abs(d.Z):
		r.kx, r.ky, r.kz = 0, 1, 2
	case math.Abs(d.Y):
		r.kx, r.ky, r.kz = 2, 0, 1
	default:
		r.kx, r.ky, r.kz = 1, 2, 0
	}
	dz := dd[r.kz]
	if dz < 0 {
		r.kx, r.ky = r.ky, r.kx
	}
	r.px, r.py, r.pz = od[r.kx], od[r.ky], od[r.kz]
	r.sx, r.sy, r.sz = dd[r.kx]/dz, dd[r.ky]/dz, 1/dz
	return true
}

// recip returns 1/x, with a number that still multiplies zero to zero for 0.
func recip(x float64) float32 {
	if math.Abs(x) < 1e-18 {
		return float32(math.Copysign(1e18, x))
	}
	return float32(1 / x)
}

// limit sets the largest T that still counts, rounded up.
func (r *ray) limit(tmax float64) {
	x := (tmax-r.t0)*r.unit + 4*pad
	r.far = int32(math.Float32bits(float32(math.Min(math.Max(x, 0), 1e30))))
}

// cross tests one triangle: sign 0 is a miss.
//
// In ray space the ray is the z axis. With the corners A, B, C there and
// U = Cx By - Cy Bx (V, W in turn), the ray passes inside where U, V, W have
// one sign, and T = (U Az + V Bz + W Cz) / (U + V + W) (Woop et al. 2013).
// Their signs are exact (sign2), and a zero goes to the side that the ray
// would have if it were moved a little along +x and much less along +y, so two
// triangles that share an edge never both win or both lose it.
func (r *ray) cross(t *tri) (x float64, sign int8) {
	kx, ky, kz := r.kx, r.ky, r.kz
	if kx > 2 || ky > 2 || kz > 2 { // never; spares the bounds checks below
		return 0, 0
	}
	ax, ay, az := r.shear(t[0][kx], t[0][ky], t[0][kz])
	bx, by, bz := r.shear(t[1][kx], t[1][ky], t[1][kz])
	cx, cy, cz := r.shear(t[2][kx], t[2][ky], t[2][kz])
	u := float64(bx*cy) - float64(by*cx)
	v := float64(cx*ay) - float64(cy*ax)
	w := float64(ax*by) - float64(ay*bx)
	// One branch for all three signs: most triangles miss.
	left := math.Float64bits(u)>>63 + math.Float64bits(v)>>63 + math.Float64bits(w)>>63
	if u*v*w == 0 { // on an edge, or too near for the plain difference
		var us, vs, ws bool
		u, us = side(bx, by, cx, cy)
		v, vs = side(cx, cy, ax, ay)
		w, ws = side(ax, ay, bx, by)
		if us != vs || us != ws {
			return 0, 0
		}
		left = 3
		if us {
			left = 0
		}
	}
	if left != 0 && left != 3 {
		return 0, 0
	}
	det := u + v + w
	if det == 0 { // seen edge-on from exactly its own line: no area to meet
		return 0, 0
	}
	x = (u*az + v*bz + w*cz) / det
	x = min(max(x, min(az, bz, cz)), max(az, bz, cz)) * r.sz
	if left == 0 {
		return x, -1
	}
	return x, 1
}

func (r *ray) shear(x, y, z float64) (float64, float64, float64) {
	z -= r.pz
	return (x - r.px) - float64(r.sx*z), (y - r.py) - float64(r.sy*z), z
}

// side returns px qy - py qx, which is positive where the origin lies to the
// left of p -> q, and whether it counts as positive. Rounded products keep the
// order of the exact ones, so the sign of a difference that is not zero is
// exact; where they are equal their rounding errors decide, and after these
// the move of the origin described at cross.
func side(px, py, qx, qy float64) (float64, bool) {
	a, b := float64(px*qy), float64(py*qx)
	if a != b {
		return a - b, a > b
	}
	e := math.FMA(px, qy, -a) - math.FMA(py, qx, -b)
	if e != 0 {
		return e, e > 0
	}
	// Origin moved by (s, s^2): the value becomes (p - s) x (q - s), whose
	// first order is s_x (py - qy) + s_y (qx - px).
	if py != qy {
		return 0, py > qy
	}
	return 0, qx > px
}
