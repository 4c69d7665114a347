package parting

import (
	"math"
	"sync"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// The frame of every raster is turned about the pull by this angle (tangent
// 0.618), so that the walls of a body that stands square in its file do not
// run along the rows of samples.
const turn = 0.5535743588970452

// aim returns the frame at the origin o with z along pull, turned about it.
func aim(o, pull vec.V3) vec.Frame {
	f := vec.AlongZ(pull)
	s, c := math.Sincos(turn)
	x := f.X.Mul(c).Add(f.Y.Mul(s))
	return vec.Frame{Origin: o, X: x, Y: f.Z.Cross(x), Z: f.Z}
}

// body is a mesh made ready for many rasters: corners relative to the box
// centre, as separate lists.
type body struct {
	x, y, z []float64
	f       [][3]int32
	mesh    *mesh.Mesh // the same corners, for voxel.Cast
	origin  vec.V3     // the box centre in the master frame
	long    float64    // longest edge of the box
	volume  float64    // of the union, once known; the signed sum before
	union   bool       // shells overlap: only sorted crossings are right
}

func newBody(m *mesh.Mesh) *body {
	m = compact(m)
	box := bounds(m)
	o := box.Centre()
	b := &body{f: m.F, origin: o, long: box.Longest(), mesh: &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}}
	b.x, b.y, b.z = make([]float64, len(m.V)), make([]float64, len(m.V)), make([]float64, len(m.V))
	for i, p := range m.V {
		p = p.Sub(o)
		b.x[i], b.y[i], b.z[i] = p.X, p.Y, p.Z
		b.mesh.V[i] = p
	}
	b.volume = b.mesh.Volume()
	return b
}

// shade is what one raster along a direction finds. Lengths in the mesh's unit.
type shade struct {
	locked float64 // volume of the gaps between first entry and last exit
	shadow float64 // area of the silhouette
	extent float64 // length along the direction
	solid  float64 // volume of the body by the same samples
}

type scratch struct {
	u, v, w     []float64
	lo, hi, sum []float64
	hits        []covered
}

// covered is a sample that a triangle covers, with the triangle's height there.
type covered struct {
	q int32
	z float64
}

var pool = sync.Pool{New: func() any { return new(scratch) }}

func sized(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

// project fills u, v, w with the corners in frame f and returns their bounds.
func (k *scratch) project(b *body, f vec.Frame) (lo, hi vec.V3) {
	n := len(b.x)
	k.u, k.v, k.w = sized(k.u, n), sized(k.v, n), sized(k.w, n)
	i := math.Inf(1)
	lo, hi = vec.V3{X: i, Y: i, Z: i}, vec.V3{X: -i, Y: -i, Z: -i}
	for q := range n {
		x, y, z := b.x[q], b.y[q], b.z[q]
		u := x*f.X.X + y*f.X.Y + z*f.X.Z
		v := x*f.Y.X + y*f.Y.Y + z*f.Y.Z
		w := x*f.Z.X + y*f.Z.Y + z*f.Z.Z
		k.u[q], k.v[q], k.w[q] = u, v, w
		lo.X, hi.X = min(lo.X, u), max(hi.X, u)
		lo.Y, hi.Y = min(lo.Y, v), max(hi.Y, v)
		lo.Z, hi.Z = min(lo.Z, w), max(hi.Z, w)
	}
	return lo, hi
}

// jitter holds one offset in [0, 1) for each of 64 x 64 cells, repeated.
var jitter = func() (t [2][4096]float64) {
	s := uint64(0x9e3779b97f4a7c15)
	next := func() float64 { // splitmix64 (Steele, Lea & Flood 2014)
		s += 0x9e3779b97f4a7c15
		z := s
		z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
		z = (z ^ z>>27) * 0x94d049bb133111eb
		return float64((z^z>>31)>>11) / (1 << 53)
	}
	for i := range t[0] {
		t[0][i], t[1][i] = next(), next()
	}
	return t
}()

// look rasters the body along pull with n samples on the longer side of its
// shadow, one jittered sample in each cell. Per sample it keeps the first
// entry lo, the last exit hi and s, the sum of exits less the sum of entries;
// the gaps of the sample are hi - lo - s. All three come from the same
// samples, so a sample without a gap gives zero whatever the spacing.
//
// The edge test runs from the lower to the higher corner index and counts
// zero as positive, so both triangles of an edge agree and every sample of a
// closed mesh balances. Where shells overlap s is not the length inside; then
// the sorted crossings of voxel.Cast are used.
func (b *body) look(pull vec.V3, n int) shade {
	f := aim(vec.V3{}, pull)
	if b.union {
		r, _ := b.lookUnion(f, n)
		return r
	}
	k := pool.Get().(*scratch)
	defer pool.Put(k)
	lo, hi := k.project(b, f)
	r := shade{extent: hi.Z - lo.Z}
	h, nx, ny := k.cells(lo, hi, n)
	if h == 0 {
		return r
	}
	cells := nx * ny
	k.lo, k.hi, k.sum = sized(k.lo, cells), sized(k.hi, cells), sized(k.sum, cells)
	for q := range cells {
		k.lo[q], k.hi[q], k.sum[q] = math.Inf(1), math.Inf(-1), 0
	}
	for _, t := range b.f {
		hits, up := k.triangle(t, nx, ny)
		for _, c := range hits {
			q, z := c.q, c.z
			if z < k.lo[q] {
				k.lo[q] = z
			}
			if z > k.hi[q] {
				k.hi[q] = z
			}
			if up {
				k.sum[q] += z
			} else {
				k.sum[q] -= z
			}
		}
	}
	tiny := 1e-9 * b.long
	for q := range cells {
		if d := k.hi[q] - k.lo[q]; d > 0 {
			r.shadow++
			r.solid += k.sum[q]
			if g := d - k.sum[q]; g > tiny {
				r.locked += g
			}
		}
	}
	r.shadow *= h * h
	r.locked *= h * h
	r.solid *= h * h
	return r
}

// cells turns u and v into units of the cells' spacing h. h is 0 where the
// shadow has no extent.
func (k *scratch) cells(lo, hi vec.V3, n int) (h float64, nx, ny int) {
	h = max(hi.X-lo.X, hi.Y-lo.Y) / float64(n)
	if !(h > 0) {
		return 0, 0, 0
	}
	for q := range k.u {
		k.u[q] = (k.u[q]-lo.X)/h + 0.5
		k.v[q] = (k.v[q]-lo.Y)/h + 0.5
	}
	return h, int((hi.X-lo.X)/h) + 2, int((hi.Y-lo.Y)/h) + 2
}

// wideBox is how many cells a triangle's box is wide from which each row of it
// is clipped: most of the box of a long, slanting triangle is empty.
const wideBox = 4

// triangle returns the samples that triangle t covers, and whether it looks up.
// The list is good until the next call.
func (k *scratch) triangle(t [3]int32, nx, ny int) (hits []covered, up bool) {
	a, b, c := t[0], t[1], t[2]
	u0, v0, u1, v1, u2, v2 := k.u[a], k.v[a], k.u[b], k.v[b], k.u[c], k.v[c]
	vl, vh := min(v0, v1, v2), max(v0, v1, v2)
	ul, uh := min(u0, u1, u2), max(u0, u1, u2)
	jl, jh := int(vl), min(ny-1, int(vh))
	il, ih := int(ul), min(nx-1, int(uh))
	if il == ih && jl == jh { // most triangles of a fine mesh miss their only sample
		q := (jl&63)<<6 | il&63
		x, y := float64(il)+jitter[0][q], float64(jl)+jitter[1][q]
		if x < ul || x > uh || y < vl || y > vh {
			return nil, false
		}
	}
	area := (u1-u0)*(v2-v0) - (u2-u0)*(v1-v0)
	if area == 0 {
		return nil, false
	}
	up = area > 0
	fa, fb, fc := a > b, b > c, c > a
	ax, ay, adx, ady := along(u0, v0, u1, v1, fa)
	bx, by, bdx, bdy := along(u1, v1, u2, v2, fb)
	cx, cy, cdx, cdy := along(u2, v2, u0, v0, fc)
	// Of each edge the sign bit of the side that is outside.
	sa, sb, sc := signOf(fa != up), signOf(fb != up), signOf(fc != up)
	var w0, w1, w2 float64
	hits = k.hits[:0]
	for j := jl; j <= jh; j++ {
		from, to := il, ih
		if ih-il >= wideBox {
			lo, hi := strip(u0, v0, u1, v1, float64(j))
			l, h := strip(u1, v1, u2, v2, float64(j))
			lo, hi = min(lo, l), max(hi, h)
			l, h = strip(u2, v2, u0, v0, float64(j))
			lo, hi = min(lo, l), max(hi, h)
			if lo > hi {
				continue
			}
			const slack = 1e-6
			from, to = max(il, int(lo-slack)), min(ih, int(hi+slack))
		}
		for i := from; i <= to; i++ {
			g := (j&63)<<6 | i&63
			x, y := float64(i)+jitter[0][g], float64(j)+jitter[1][g]
			// The signs in one test: which of the three it is that fails is hard to foretell.
			ea := math.Float64bits(adx*(y-ay) - ady*(x-ax) + 0)
			eb := math.Float64bits(bdx*(y-by) - bdy*(x-bx) + 0)
			ec := math.Float64bits(cdx*(y-cy) - cdy*(x-cx) + 0)
			if int64((ea^sa)|(eb^sb)|(ec^sc)) >= 0 {
				if len(hits) == 0 { // many cover none
					w0 = k.w[a]
					w1, w2 = (k.w[b]-w0)/area, (k.w[c]-w0)/area
				}
				z := w0 + ((x-u0)*(v2-v0)-(u2-u0)*(y-v0))*w1 + ((u1-u0)*(y-v0)-(x-u0)*(v1-v0))*w2
				hits = append(hits, covered{int32(j*nx + i), z})
			}
		}
	}
	k.hits = hits
	return hits, up
}

// strip returns between which u an edge runs in the row from v = j to j + 1;
// lo > hi where it does not come there.
func strip(u0, v0, u1, v1, j float64) (lo, hi float64) {
	if v0 > v1 {
		u0, v0, u1, v1 = u1, v1, u0, v0
	}
	if v1 < j || v0 > j+1 {
		return math.Inf(1), math.Inf(-1)
	}
	if d := v1 - v0; d > 1e-9 {
		g := (u1 - u0) / d
		if v1 > j+1 {
			u1 = u0 + g*(j+1-v0)
		}
		if v0 < j {
			u0 += g * (j - v0)
		}
	}
	return min(u0, u1), max(u0, u1)
}

// signOf returns what an edge's value is xored with so that the sign bit is set
// outside: of one that is zero or more inside none.
func signOf(positive bool) uint64 {
	if positive {
		return 0
	}
	return 1 << 63
}

// along returns the edge's start and direction from its lower corner index.
func along(u0, v0, u1, v1 float64, flip bool) (x, y, dx, dy float64) {
	if flip {
		return u1, v1, u0 - u1, v0 - v1
	}
	return u0, v0, u1 - u0, v1 - v0
}

// bounds returns the box of all corners, quicker than mesh.Box; a body's mesh
// has none that no triangle uses.
func bounds(m *mesh.Mesh) vec.Box {
	b := vec.Empty()
	for _, p := range m.V {
		b.Min.X, b.Max.X = min(b.Min.X, p.X), max(b.Max.X, p.X)
		b.Min.Y, b.Max.Y = min(b.Min.Y, p.Y), max(b.Max.Y, p.Y)
		b.Min.Z, b.Max.Z = min(b.Min.Z, p.Z), max(b.Max.Z, p.Z)
	}
	return b
}

// columns casts the body along z of frame f, n lines on the longer side of the
// shadow, and returns it in that frame too.
func (b *body) columns(f vec.Frame, n int) (turned *mesh.Mesh, c *voxel.Columns) {
	m := b.mesh.Into(f)
	box := bounds(m)
	s := box.Size()
	h := max(s.X, s.Y) / float64(n)
	if !(h > 0) {
		h = max(b.long, 1e-300) / float64(n)
	}
	nx, ny := int(s.X/h)+2, int(s.Y/h)+2
	return m, voxel.Cast(m, nx, ny, box.Min.X-0.4871*h, box.Min.Y-0.5137*h, h)
}
