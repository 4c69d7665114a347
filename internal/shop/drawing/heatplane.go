package drawing

import (
	"math"
	"sort"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// plane is a flat cut through the fields, sampled on a lattice of half a cell:
// across x (u is z) or across z (u is x). v is y on both.
type plane struct {
	h      *Heat
	across int // 0: x is fixed, 2: z is fixed
	at     float64
	u0, v0 float64 // lower left corner of the block
	wide   float64 // mm, of the block along u and v
	high   float64
	du, dv float64 // from node to node
	step   float64 // the larger of them
	nu, nv int
	dist   []float32 // mm, below zero in the metal
	metal  [][]vec.V2
}

// mostNodes bounds the lattice of a plane on its longer side.
const mostNodes = 500

// cut samples the plane at place at over the block of the given size.
func (h *Heat) cut(across int, at float64, size vec.V3) *plane {
	wide := size.X
	if across == 0 {
		wide = size.Z
	}
	s := &plane{h: h, across: across, at: at, u0: -wide / 2, v0: -size.Y / 2, wide: wide, high: size.Y}
	c := h.Grid.Box().Centre() // the block's middle
	s.v0 += c.Y
	if across == 0 {
		s.u0 += c.Z
	} else {
		s.u0 += c.X
	}
	step := math.Max(h.Grid.H/2, math.Max(wide, size.Y)/mostNodes)
	s.nu, s.nv = max(2, int(math.Ceil(wide/step-1e-6))+1), max(2, int(math.Ceil(size.Y/step-1e-6))+1)
	s.du, s.dv = wide/float64(s.nu-1), size.Y/float64(s.nv-1)
	s.step = math.Max(s.du, s.dv)
	s.dist = s.sample(func(q int) (float32, bool) { return h.Dist[q], true })
	s.metal = s.region(s.dist, func(d float32) float32 { return -d })
	return s
}

// node is the place of a node; the first and the last lie on the edge of the block.
func (s *plane) node(i, j int) vec.V2 {
	return vec.V2{X: s.u0 + float64(i)*s.du, Y: s.v0 + float64(j)*s.dv}
}

// point is the place in the block of a place on the plane.
func (s *plane) point(q vec.V2) vec.V3 {
	if s.across == 0 {
		return vec.V3{X: s.at, Y: q.Y, Z: q.X}
	}
	return vec.V3{X: q.X, Y: q.Y, Z: s.at}
}

// sample reads a field on the nodes, linear between the middles of those cells
// that have a value; nodes with none near them get NaN.
func (s *plane) sample(value func(q int) (float32, bool)) []float32 {
	g := s.h.Grid
	out := make([]float32, s.nu*s.nv)
	par.For(s.nv, 16, func(lo, hi int) {
		for j := lo; j < hi; j++ {
			for i := range s.nu {
				p := s.point(s.node(i, j)).Sub(g.Origin).Mul(1 / g.H)
				a, fa := split(p.X, g.NX)
				b, fb := split(p.Y, g.NY)
				c, fc := split(p.Z, g.NZ)
				sum, weight := 0.0, 0.0
				for k := range 8 {
					w := 1.0
					x, y, z := a, b, c
					for _, d := range [3]struct {
						at *int
						f  float64
						on bool
					}{{&x, fa, k&1 > 0}, {&y, fb, k&2 > 0}, {&z, fc, k&4 > 0}} {
						if d.on {
							*d.at++
							w *= d.f
						} else {
							w *= 1 - d.f
						}
					}
					if w <= 0 {
						continue
					}
					if v, ok := value(g.At(x, y, z)); ok {
						sum += w * float64(v)
						weight += w
					}
				}
				out[j*s.nu+i] = float32(math.NaN())
				if weight > 1e-6 {
					out[j*s.nu+i] = float32(sum / weight)
				}
			}
		}
	})
	return out
}

// split returns the lower of the two cells between whose middles t lies, and the
// share of the upper one.
func split(t float64, n int) (int, float64) {
	t = math.Max(0, math.Min(t-0.5, float64(n-1)))
	i := min(int(t), max(n-2, 0))
	f := t - float64(i)
	if n == 1 {
		f = 0
	}
	return i, f
}

// spread fills the nodes without a value from those beside them, nearest first,
// so that bands may run on under the outline that ends them.
func (s *plane) spread(f []float32) {
	var now, next []int32
	for q, v := range f {
		if v == v {
			now = append(now, int32(q))
		}
	}
	if len(now) == 0 {
		return
	}
	seen := make([]bool, len(f))
	var vals []float32
	for len(now) > 0 {
		next, vals = next[:0], vals[:0]
		for _, q := range now {
			s.around(int(q), func(o int) {
				if f[o] == f[o] || seen[o] {
					return
				}
				seen[o] = true
				sum, n := float32(0), float32(0)
				s.around(o, func(x int) {
					if f[x] == f[x] {
						sum, n = sum+f[x], n+1
					}
				})
				next = append(next, int32(o))
				vals = append(vals, sum/n)
			})
		}
		for k, q := range next {
			f[q] = vals[k]
		}
		now, next = next, now
	}
}

func (s *plane) around(q int, f func(q int)) {
	i, j := q%s.nu, q/s.nu
	for b := max(0, j-1); b <= min(s.nv-1, j+1); b++ {
		for a := max(0, i-1); a <= min(s.nu-1, i+1); a++ {
			if a != i || b != j {
				f(b*s.nu + a)
			}
		}
	}
}

// region returns the outline of where up(f) is above zero, closed along the edge
// of the block, the region at the left hand (y up).
func (s *plane) region(f []float32, up func(float32) float32) [][]vec.V2 {
	nu, nv := s.nu+2, s.nv+2
	p := make([]float32, nu*nv)
	for k := range p {
		p[k] = -1e30
	}
	for j := range s.nv {
		for i := range s.nu {
			p[(j+1)*nu+i+1] = up(f[j*s.nu+i])
		}
	}
	loops, _ := trace(nu, nv, p)
	return s.placed(loops, -1)
}

// level returns the lines f = x, from edge to edge or closed.
func (s *plane) level(f []float32, x float32) [][]vec.V2 {
	p := make([]float32, len(f))
	for k, v := range f {
		p[k] = v - x
	}
	loops, lines := trace(s.nu, s.nv, p)
	for _, l := range loops {
		lines = append(lines, append(l, l[0]))
	}
	return s.placed(lines, 0)
}

// placed takes lines from nodes to mm.
func (s *plane) placed(l [][]vec.V2, off float64) [][]vec.V2 {
	return moved(l, func(q vec.V2) vec.V2 {
		return vec.V2{X: s.u0 + (q.X+off)*s.du, Y: s.v0 + (q.Y+off)*s.dv}
	})
}

// read returns a field at a place on the plane, linear between the nodes.
func (s *plane) read(f []float32, q vec.V2) float64 {
	i, fi := split((q.X-s.u0)/s.du+0.5, s.nu)
	j, fj := split((q.Y-s.v0)/s.dv+0.5, s.nv)
	i1, j1 := min(i+1, s.nu-1), min(j+1, s.nv-1)
	at := func(i, j int) float64 { return float64(f[j*s.nu+i]) }
	return (1-fj)*((1-fi)*at(i, j)+fi*at(i1, j)) + fj*((1-fi)*at(i, j1)+fi*at(i1, j1))
}

// inside returns the pieces of lines where sign * dist is above zero.
func (s *plane) inside(lines [][]vec.V2, sign float64) [][]vec.V2 {
	var out [][]vec.V2
	for _, l := range lines {
		var cur []vec.V2
		for k, q := range l {
			d := sign * s.read(s.dist, q)
			if k > 0 {
				was := sign * s.read(s.dist, l[k-1])
				if (was > 0) != (d > 0) {
					c := l[k-1].Add(q.Sub(l[k-1]).Mul(was / (was - d)))
					cur = append(cur, c)
					if d <= 0 {
						out = append(out, cur)
						cur = nil
					}
				}
			}
			if d > 0 {
				cur = append(cur, q)
			}
		}
		if len(cur) > 1 {
			out = append(out, cur)
		}
	}
	return out
}

// trace follows the lines p = 0 on a lattice by marching squares, linear along
// its edges, with p > 0 at the left hand (y up). Places are in nodes. lines are
// those that end on the edge of the lattice.
func trace(nu, nv int, p []float32) (loops, lines [][]vec.V2) {
	// A border edge is named by its lower or left node: 2k to the right of node k,
	// 2k+1 above it.
	next := make([]int32, 2*nu*nv)
	for k := range next {
		next[k] = -1
	}
	entered := make([]bool, 2*nu*nv)
	var starts []int32
	for j := 0; j+1 < nv; j++ {
		for i := 0; i+1 < nu; i++ {
			k := j*nu + i
			code := 0
			for b, v := range [4]float32{p[k], p[k+1], p[k+nu+1], p[k+nu]} {
				if v > 0 {
					code |= 1 << b
				}
			}
			edges := [4]int{2 * k, 2*(k+1) + 1, 2 * (k + nu), 2*k + 1}
			for _, m := range marching[code] {
				a, b := edges[m[0]], edges[m[1]]
				next[a] = int32(b)
				entered[b] = true
				starts = append(starts, int32(a))
			}
		}
	}
	pos := func(e int32) vec.V2 {
		k := int(e / 2)
		q := vec.V2{X: float64(k % nu), Y: float64(k / nu)}
		o := k + 1
		if e%2 == 1 {
			o = k + nu
		}
		t := float64(p[k]) / (float64(p[k]) - float64(p[o]))
		if e%2 == 0 {
			q.X += t
		} else {
			q.Y += t
		}
		return q
	}
	walk := func(e int32) []vec.V2 {
		var l []vec.V2
		for {
			l = append(l, pos(e))
			n := next[e]
			if n < 0 {
				return l
			}
			next[e] = -1
			e = n
		}
	}
	for _, s := range starts {
		if !entered[s] && next[s] >= 0 {
			lines = append(lines, walk(s))
		}
	}
	for _, s := range starts {
		if next[s] >= 0 {
			if l := walk(s); len(l) > 3 {
				loops = append(loops, l[:len(l)-1])
			}
		}
	}
	return loops, lines
}

// joint returns the lines along which the halves meet, outside the metal.
func (s *plane) joint() [][]vec.V2 {
	if s.h.Half == nil {
		return nil
	}
	f := s.sample(func(q int) (float32, bool) { return float32(s.h.Half[q]) - 1.5, s.h.Dist[q] >= 0 })
	s.spread(f)
	s.smooth(f, 3)
	return s.inside(s.level(f, 0), 1)
}

// smooth takes the mean of each node and its neighbours, n times.
func (s *plane) smooth(f []float32, n int) {
	for range n {
		was := append([]float32(nil), f...)
		for q := range f {
			sum, w := was[q], float32(1)
			s.around(q, func(o int) { sum, w = sum+was[o], w+1 })
			f[q] = sum / w
		}
	}
}

// sortByLength puts the longest lines first; equal ones keep their order.
func sortByLength(lines [][]vec.V2) {
	long := func(l []vec.V2) float64 {
		d := 0.0
		for k := 1; k < len(l); k++ {
			d += l[k].Sub(l[k-1]).Len()
		}
		return d
	}
	sort.SliceStable(lines, func(a, b int) bool { return long(lines[a]) > long(lines[b]) })
}
