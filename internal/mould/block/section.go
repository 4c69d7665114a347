package block

import (
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// section is what a cut across the casting looks like at one place of its
// skin: thickness along the inward normal, and the least width square to it.
type section struct {
	at, mid, n vec.V3
	t, w       float64
	tri        int32
	edge       bool // its two faces stand more than 20 degrees apart: a sharp edge, which surface tension rounds
}

// sections samples the skin of m evenly by area at n places. The first
// coordinate runs through the triangles in order, the other two follow the
// golden ratio, so the same mesh gives the same places.
func sections(m *mesh.Mesh, tree *bvh.Tree, n int) []section {
	sum := make([]float64, len(m.F)+1)
	for i := range m.F {
		a, b, c := m.Tri(i)
		sum[i+1] = sum[i] + b.Sub(a).Cross(c.Sub(a)).Len()
	}
	long := tree.Box().Longest()
	eps := 1e-6 * long
	list := make([]section, n)
	par.For(n, 64, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			x := (float64(k) + 0.5) / float64(n) * sum[len(m.F)]
			i, _ := slices.BinarySearch(sum, x)
			i = min(max(i-1, 0), len(m.F)-1)
			_, u := math.Modf(float64(k) * 0.7548776662466927)
			_, v := math.Modf(float64(k) * 0.5698402909980532)
			if u+v > 1 {
				u, v = 1-u, 1-v
			}
			a, b, c := m.Tri(i)
			s := section{at: a.Add(b.Sub(a).Mul(u)).Add(c.Sub(a).Mul(v)), n: m.Normal(i), tri: int32(i)}
			s.measure(m, tree, eps, long)
			list[k] = s
		}
	})
	return list
}

// measure finds thickness and width by rays: along the inward normal, then
// through the middle of that chord along four directions square to it.
func (s *section) measure(m *mesh.Mesh, tree *bvh.Tree, eps, long float64) {
	s.t, s.w, s.mid = long, long, s.at
	in := s.n.Mul(-1)
	hit, ok := tree.First(s.at.Add(in.Mul(eps)), in, 2*long)
	if !ok || !(hit.T > 0) {
		return
	}
	s.t = hit.T + eps
	s.mid = s.at.Add(in.Mul(s.t / 2))
	s.edge = s.n.Dot(m.Normal(int(hit.Tri))) > -math.Cos(20*math.Pi/180)
	f := vec.AlongZ(s.n)
	for i := range 4 {
		sn, cs := math.Sincos(math.Pi * float64(i) / 4)
		d := f.X.Mul(cs).Add(f.Y.Mul(sn))
		p, ok1 := tree.First(s.mid, d, 2*long)
		q, ok2 := tree.First(s.mid, d.Mul(-1), 2*long)
		if ok1 && ok2 {
			s.w = math.Min(s.w, p.T+q.T)
		}
	}
	s.w = math.Max(s.w, s.t)
}

// head returns the head in mm that the place asks above itself, 2 gamma
// (1/t + 1/w) / (rho g): Young and Laplace for a section t by w, which is the
// slot for w >> t and the pin for w = t; |cos| = 1. A sharp edge asks none.
func (s *section) head(d *Demand) float64 {
	if s.edge {
		return 0
	}
	return d.SlotHead(s.t, 1) + d.SlotHead(s.w, 1)
}

// quantile returns the value below which the share q of the sorted list lies.
func quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[min(max(int(q*float64(len(sorted))), 0), len(sorted)-1)]
}
