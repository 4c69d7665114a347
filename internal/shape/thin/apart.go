package thin

import (
	"math"
	"sync/atomic"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// Distance is how far one surface goes from the other.
type Distance struct {
	Most  float64 // no point of either is further from the other
	Found float64 // some point is that far
	At    vec.V3  // that point
}

// Apart bounds the distance of two surfaces, both ways (the Hausdorff distance):
// Found is met at a corner or at a point within a triangle, Most is proved. They
// differ by at most a tenth or by slack, unless a triangle would have to be cut
// more than 4^6 times. A slack under the edges of the finer mesh costs some
// searches for each of its edges.
//
// The distance to one triangle is a convex function, so over a triangle t it is
// at most the largest at t's corners; and the distance to the surface is at most
// that to any one triangle of it. Tried are the triangles nearest to t's corners and middle.
// Where that does not do, t is cut into four (the bound of Guthe, Borodin &
// Klein 2005, Fast and accurate Hausdorff distance calculation between meshes, in
// its plainest form).
func Apart(a, b *mesh.Mesh, slack float64) Distance {
	x, y := oneWay(a, b, slack), oneWay(b, a, slack)
	d := x
	if y.Found > x.Found {
		d = y
	}
	d.Most = math.Max(x.Most, y.Most)
	return d
}

// From bounds the distance one way: how far a goes from b.
func From(a, b *mesh.Mesh, slack float64) Distance { return oneWay(a, b, slack) }

// near is a corner with the triangle of the other surface nearest to it.
type near struct {
	p   vec.V3
	tri int32
	d   float64
}

func oneWay(a, b *mesh.Mesh, slack float64) Distance {
	tree := bvh.Build(b)
	find := func(p vec.V3) near {
		_, t, d := tree.Closest(p, math.Inf(1))
		return near{p, int32(t), d}
	}
	used := make([]bool, len(a.V))
	for _, f := range a.F {
		used[f[0]], used[f[1]], used[f[2]] = true, true, true
	}
	corner := make([]near, len(a.V))
	par.For(len(a.V), 2048, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			if used[v] {
				corner[v] = find(a.V[v])
			}
		}
	})
	var r Distance
	for v := range corner {
		if used[v] && corner[v].d > r.Found {
			r.Found, r.At = corner[v].d, corner[v].p
		}
	}
	enough := math.Max(r.Found*1.1, r.Found+slack)
	const chunk = 1024
	part := make([]Distance, (len(a.F)+chunk-1)/chunk)
	var broken atomic.Bool
	par.For(len(a.F), chunk, func(lo, hi int) {
		p := &part[lo/chunk]
		for i := lo; i < hi; i++ {
			f := a.F[i]
			s := searcher{b: b, find: find, enough: enough}
			m := s.bound(corner[f[0]], corner[f[1]], corner[f[2]], 6)
			if math.IsNaN(m) {
				broken.Store(true)
			}
			p.Most = math.Max(p.Most, m)
			if s.found > p.Found {
				p.Found, p.At = s.found, s.at
			}
		}
	})
	r.Most = r.Found
	for _, p := range part {
		r.Most = math.Max(r.Most, p.Most)
		if p.Found > r.Found {
			r.Found, r.At = p.Found, p.At
		}
	}
	if broken.Load() {
		r.Most = math.Inf(1)
	}
	return r
}

type searcher struct {
	b      *mesh.Mesh
	find   func(vec.V3) near
	enough float64
	found  float64
	at     vec.V3
}

// bound returns an upper bound of the distance from triangle x y z to the other
// surface; it goes on cutting while that is more than enough.
func (s *searcher) bound(x, y, z near, deep int) float64 {
	for _, c := range [3]near{x, y, z} {
		if c.d > s.found {
			s.found, s.at = c.d, c.p
		}
	}
	if x.tri < 0 {
		return math.Inf(1)
	}
	best := s.over(x, y, z, x.tri)
	if y.tri != x.tri {
		best = math.Min(best, s.over(x, y, z, y.tri))
	}
	if z.tri != x.tri && z.tri != y.tri {
		best = math.Min(best, s.over(x, y, z, z.tri))
	}
	if best <= math.Max(s.enough, 1.1*s.found) {
		return best
	}
	mid := s.find(x.p.Add(y.p).Add(z.p).Mul(1.0 / 3))
	best = math.Min(best, s.over(x, y, z, mid.tri))
	if mid.d > s.found {
		s.found, s.at = mid.d, mid.p
	}
	if best <= math.Max(s.enough, 1.1*s.found) || deep == 0 {
		return best
	}
	a, b, c := s.find(x.p.Lerp(y.p, 0.5)), s.find(y.p.Lerp(z.p, 0.5)), s.find(z.p.Lerp(x.p, 0.5))
	return math.Min(best, max(s.bound(x, a, c, deep-1), s.bound(a, y, b, deep-1), s.bound(c, b, z, deep-1), s.bound(a, b, c, deep-1)))
}

// over returns the largest distance of the corners from one triangle of the
// other surface.
func (s *searcher) over(x, y, z near, tri int32) float64 {
	p, q, r := s.b.Tri(int(tri))
	most := 0.0
	for _, o := range [3]near{x, y, z} {
		d := o.d
		if o.tri != tri {
			d = bvh.Nearest(o.p, p, q, r).Dist(o.p)
		}
		most = math.Max(most, d)
	}
	return most
}
