package parting

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Axes within this share of the volume of the least locked volume compete on
// the rest.
const tie = 0.005

// Most axes that are looked at with a coarse surface.
const mostTried = 20

// candidate is one axis with its coarse surface's figures.
type candidate struct {
	tried
	score float64
}

// choose searches the pull: the locked volume of axes over the hemisphere on
// the stand-in, the best of them again on the mesh itself, and among those
// within 0.5 % of the volume of the least the lowest score. It returns the axes
// that competed, the chosen one first.
func (b *body) choose(show []patch, o Options) []candidate {
	p := b.proxy()
	all := p.survey(100)
	pool := p.shortlist(all)
	c := make([]candidate, len(pool))
	special := p.special()
	par.For(len(pool), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			c[i] = candidate{pool[i], 0}
			c[i].score = p.coarseScore(b, &c[i].tried, show, o)
		}
	})
	for i := range c {
		for k, d := range special { // among equals the axes that the body suggests
			if math.Abs(d.Dot(c[i].d)) > math.Cos(1e-3) {
				c[i].score -= 3e-4 + 1e-5*float64(len(special)-k)
				break
			}
		}
	}
	if p != b {
		c = b.again(c)
	}
	least := math.Inf(1)
	for _, x := range c {
		least = min(least, x.locked)
	}
	for i := range c {
		c[i].score = round6(c[i].score + 0.5*(c[i].locked-least)/math.Abs(b.volume))
	}
	slices.SortStableFunc(c, func(a, b candidate) int { return cmp.Compare(a.score, b.score) })
	return c
}

// again looks along the eight axes of lowest score and the four of least
// locked volume on the mesh itself and drops the others.
func (b *body) again(c []candidate) []candidate {
	slices.SortStableFunc(c, func(x, y candidate) int { return cmp.Compare(round6(x.score), round6(y.score)) })
	order := make([]int, len(c))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int {
		return cmp.Compare(round6(c[x].locked/b.volume), round6(c[y].locked/b.volume))
	})
	var r []candidate
	for i := range c {
		if i < 8 || slices.Contains(order[:min(4, len(order))], i) {
			r = append(r, c[i])
		}
	}
	par.For(len(r), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			r[i].shade = b.look(r[i].d, 192)
		}
	})
	least := math.Inf(1)
	for _, x := range r {
		least = min(least, x.locked)
	}
	return slices.DeleteFunc(r, func(x candidate) bool { return x.locked > least+tie*b.volume })
}

// shortlist keeps the axes within the tie. Special axes and the flattest stand first among equals.
func (b *body) shortlist(all []tried) []tried {
	v := math.Abs(b.volume)
	least := math.Inf(1)
	for _, t := range all {
		least = min(least, t.locked)
	}
	rank := func(t tried) float64 { return round6(max(0, t.locked-least-2e-3*v)/v + 0.02*t.extent/b.long) }
	var near []tried
	for _, t := range all {
		if t.locked <= least+1.6*tie*v {
			twin := slices.ContainsFunc(near, func(n tried) bool { return math.Abs(n.d.Dot(t.d)) > math.Cos(0.02) })
			if !twin {
				near = append(near, t)
			}
		}
	}
	slices.SortStableFunc(near, func(a, b tried) int { return cmp.Compare(rank(a), rank(b)) })
	near = near[:min(len(near), mostTried-4)]
	// and the least of all, whatever its rank
	slices.SortStableFunc(all, func(a, b tried) int { return cmp.Compare(round6(a.locked/v), round6(b.locked/v)) })
	for _, t := range all[:min(4, len(all))] {
		if !slices.ContainsFunc(near, func(n tried) bool { return math.Abs(n.d.Dot(t.d)) > math.Cos(0.02) }) {
			near = append(near, t)
		}
	}
	par.For(len(near), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			near[i].shade = b.look(near[i].d, 192)
		}
	})
	least = math.Inf(1)
	for _, t := range near {
		least = min(least, t.locked)
	}
	return slices.DeleteFunc(near, func(t tried) bool { return t.locked > least+tie*v })
}

// coarseScore judges an axis by a coarse surface on the stand-in. The unit is
// a share of the master's volume that would be locked; the weights are our own,
// set on the mesh set and the pieces of the examples:
//
//	0.5 locked / V + added / V + 0.01 rise / L + 0.004 block / least block side^3
//	+ 0.002 steep area / shadow + 0.0005 (line length / outline of a disc of the same area - 1)
//	+ strain: 0.002 per tenth of the limit, 0.03 where a place cannot be released
//	+ 0.1 x the share of a shown face that the line parts
func (b *body) coarseScore(full *body, t *tried, show []patch, o Options) float64 {
	f := vec.AlongZ(t.d)
	m := b.mesh.Into(f)
	box := bounds(m)
	side := 0.2 * b.long
	r := Rect{box.Min.X - side, box.Min.Y - side, box.Max.X + side, box.Max.Y + side}
	set := Setting{Step: b.long / 45, Stiff: b.long / 60 * 4}
	s, back := b.sheet(m, r, set)
	v := math.Abs(b.volume)
	score := s.Added / v
	rise, length := lineFigures(s.Lines(m))
	score += 0.01*rise/b.long + 0.002*s.Steep/max(t.shadow, 1e-300)
	if t.shadow > 0 {
		score += 0.0005 * max(0, length/(2*math.Sqrt(math.Pi*t.shadow))-1)
	}
	if back != nil {
		score -= 0.001 // a plain slab is the easiest half there is
	}
	w := box.Size()
	g := 0.2 * b.long
	score += 0.004 * (w.X + 2*g) * (w.Y + 2*g) * (w.Z + 2*g) / math.Pow(b.long+2*g, 3)
	for _, p := range show {
		score += 0.1 * p.parted(full.origin, f, s)
	}
	if o.Rubber != nil && t.locked > 1e-4*v {
		score += b.strainScore(f, s, *o.Rubber)
	}
	return score
}

// strainScore adds up what the places of an axis ask of the rubber.
func (b *body) strainScore(f vec.Frame, s *Surface, r Rubber) float64 {
	list, held := b.places(b.lattice(f, 96), f, false)
	sum := 0.0
	for i := range list {
		takeHalf(&list[i], &held[i], s, func(x, y float64) (float64, float64) { return x, y })
		v := Judge(list[i], r, math.Abs(b.volume), b.long)
		sum += 0.02 * min(1.5, v.Strain/v.Limit) * list[i].Volume / math.Abs(b.volume)
		if v.Action == Piece || v.Action == Refuse {
			sum += 0.03
		} else if v.Action == Release {
			sum += 0.002 * v.Strain / v.Limit
		} else {
			sum += 0.001
		}
	}
	return min(sum, 1)
}

// takeHalf says which half's rubber fills a hollow: the one on whose side of
// the surface most of it lies. at takes a column's place into the surface's
// frame.
func takeHalf(p *Place, h *hollow, s *Surface, at func(x, y float64) (float64, float64)) {
	up, all := 0.0, 0.0
	for i := range h.gaps {
		g := &h.gaps[i]
		x, y, step := h.l.place(int(g.tile), int(g.col))
		z := s.At(at(x, y))
		up += max(0, g.hi-max(g.lo, z)) * step * step
		all += h.l.volume(g)
	}
	if all > 0 {
		p.Share = [2]float64{up / all, 1 - up/all}
	}
	p.Half = 1
	if p.Share[1] > p.Share[0] {
		p.Half = 2
	}
	p.Depth = p.depth[p.Half-1]
}

func lineFigures(l [][]vec.V3) (rise, length float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, loop := range l {
		for i, p := range loop {
			lo, hi = min(lo, p.Z), max(hi, p.Z)
			length += p.Dist(loop[(i+1)%len(loop)])
		}
	}
	return max(0, hi-lo), length
}

// patch is the part of a face round a point that must not carry a seam:
// the corners and areas of triangles, in the master frame.
type patch struct {
	at   vec.V3
	mid  []vec.V3
	area []float64
}

// patchAt grows the face from the triangle next to p over triangles whose
// normals are within 40 degrees of the first, no further than a quarter of the
// master's length.
func patchAt(m *mesh.Mesh, opp []int32, p vec.V3, long float64) patch {
	best, seed := math.Inf(1), -1
	for t := range m.F {
		a, b, c := m.Tri(t)
		if d := nearest(p, a, b, c).Dist(p); d < best {
			best, seed = d, t
		}
	}
	r := patch{at: p}
	if seed < 0 {
		return r
	}
	n := m.Normal(seed)
	seen := map[int32]bool{int32(seed): true} // looked up only
	todo := []int32{int32(seed)}
	for len(todo) > 0 {
		t := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		a, b, c := m.Tri(int(t))
		r.mid = append(r.mid, a.Add(b).Add(c).Mul(1./3))
		r.area = append(r.area, b.Sub(a).Cross(c.Sub(a)).Len()/2)
		for h := 3 * t; h < 3*t+3; h++ {
			o := opp[h]
			if o < 0 || seen[o/3] {
				continue
			}
			e, f, g := m.Tri(int(o / 3))
			if m.Normal(int(o/3)).Dot(n) > math.Cos(40*math.Pi/180) && nearest(p, e, f, g).Dist(p) < long/4 {
				seen[o/3] = true
				todo = append(todo, o/3)
			}
		}
	}
	return r
}

// parted returns the smaller share of the patch that lies on one side of the
// surface, which stands in frame f about the origin.
func (p patch) parted(origin vec.V3, f vec.Frame, s *Surface) float64 {
	up, all := 0.0, 0.0
	for i, q := range p.mid {
		q = f.To(q.Sub(origin))
		all += p.area[i]
		if q.Z > s.At(q.X, q.Y) {
			up += p.area[i]
		}
	}
	if all == 0 {
		return 0
	}
	return min(up, all-up) / all
}

// nearest returns the point of triangle a, b, c next to p (Ericson 2004).
func nearest(p, a, b, c vec.V3) vec.V3 {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return a
	}
	bp := p.Sub(b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return b
	}
	vc := d1*d4 - d3*d2
	if vc <= 0 && d1 >= 0 && d3 <= 0 {
		return a.Add(ab.Mul(d1 / (d1 - d3)))
	}
	cp := p.Sub(c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return c
	}
	vb := d5*d2 - d1*d6
	if vb <= 0 && d2 >= 0 && d6 <= 0 {
		return a.Add(ac.Mul(d2 / (d2 - d6)))
	}
	va := d3*d6 - d5*d4
	if va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 {
		return b.Add(c.Sub(b).Mul((d4 - d3) / ((d4 - d3) + (d5 - d6))))
	}
	k := 1 / (va + vb + vc)
	return a.Add(ab.Mul(vb * k)).Add(ac.Mul(vc * k))
}
