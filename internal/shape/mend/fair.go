package mend

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// refine divides the triangles of a cover until they are as fine as the rim
// (Liepa 2003, Filling holes in meshes, section 4): a triangle gets a corner at
// its centroid where that is further than sqrt 2 edges from each of its own,
// edge being the mean length of the rim's edges there; between rounds edges are
// turned to where the opposite angles sum to less than half a turn. New corners
// are added to the mesh. chord holds the edges that may not come into being.
func (w *work) refine(t [][3]int32, rimEdge map[int32]float64, chord map[[2]int32]bool) [][3]int32 {
	v := &w.m.V
	scale := func(i int32) float64 { return rimEdge[i] }
	for range 24 {
		n := len(t)
		for k := range n {
			a, b, c := t[k][0], t[k][1], t[k][2]
			mid := (*v)[a].Add((*v)[b]).Add((*v)[c]).Mul(1.0 / 3)
			s := (scale(a) + scale(b) + scale(c)) / 3
			split := true
			for _, q := range t[k] {
				if d := math.Sqrt2 * mid.Dist((*v)[q]); d <= s || d <= scale(q) {
					split = false
				}
			}
			if !split {
				continue
			}
			m := int32(len(*v))
			*v = append(*v, mid)
			rimEdge[m] = s
			t[k] = [3]int32{a, b, m}
			t = append(t, [3]int32{b, c, m}, [3]int32{c, a, m})
		}
		turned := w.relax(t, chord)
		if len(t) == n && !turned || len(t) > 20000 {
			break
		}
	}
	return t
}

// relax turns inner edges of a patch; it reports whether any was turned.
func (w *work) relax(t [][3]int32, chord map[[2]int32]bool) bool {
	v := w.m.V
	type side struct{ t, k int32 }
	any := false
	for range 8 {
		at := make(map[[2]int32]side, 3*len(t))
		for i, f := range t {
			for k := range 3 {
				at[[2]int32{f[k], f[(k+1)%3]}] = side{int32(i), int32(k)}
			}
		}
		turned := false
		dirty := make([]bool, len(t))
		for i := range t {
			for k := 0; k < 3 && !dirty[i]; k++ {
				a, b, c := t[i][k], t[i][(k+1)%3], t[i][(k+2)%3]
				o, ok := at[[2]int32{b, a}]
				if !ok || dirty[o.t] || int(o.t) < i {
					continue
				}
				d := t[o.t][(o.k+2)%3]
				if c == d || chord[pair(c, d)] {
					continue
				}
				if _, ok := at[[2]int32{c, d}]; ok {
					continue
				}
				if _, ok := at[[2]int32{d, c}]; ok {
					continue
				}
				if angleAt(v[c], v[a], v[b])+angleAt(v[d], v[a], v[b]) <= math.Pi+1e-9 {
					continue
				}
				// Both new triangles must look the same way.
				n1 := v[d].Sub(v[a]).Cross(v[c].Sub(v[a]))
				n2 := v[c].Sub(v[b]).Cross(v[d].Sub(v[b]))
				if n1.Dot(n2) <= 0 {
					continue
				}
				t[i] = [3]int32{a, d, c}
				t[o.t] = [3]int32{b, c, d}
				dirty[i], dirty[o.t] = true, true
				turned = true
				// The edges of this round stay as they were listed, so both are left alone.
				at[[2]int32{c, d}], at[[2]int32{d, c}] = side{int32(i), 0}, side{o.t, 0}
			}
		}
		if !turned {
			return any
		}
		any = true
	}
	return any
}

func pair(a, b int32) [2]int32 { return [2]int32{min(a, b), max(a, b)} }

// angleAt returns the angle at p between a and b.
func angleAt(p, a, b vec.V3) float64 {
	x, y := a.Sub(p), b.Sub(p)
	return math.Atan2(x.Cross(y).Len(), x.Dot(y))
}

// fair moves the corners from old on to where the thin-plate energy, the sum of
// the squared umbrella vectors
//
//	U(v) = v - mean of its neighbours
//
// over them and the rims' corners, is least (Kobbelt, Campagna, Vorsatz &
// Seidel 1998, Interactive multi-resolution modeling on arbitrary meshes): the
// covers leave the rim along the surface round it. Solved by conjugate
// gradients on the normal equations.
func (w *work) fair(old int, rims []*rim) {
	n := len(w.m.V) - old
	if n == 0 {
		return
	}
	var row []int32 // corners whose umbrella counts
	for _, r := range rims {
		row = append(row, r.v...)
	}
	slices.Sort(row)
	row = slices.Compact(row)
	for i := old; i < len(w.m.V); i++ {
		row = append(row, int32(i))
	}
	place := make(map[int32]int32, len(row))
	for k, v := range row {
		place[v] = int32(k)
	}
	type link struct{ k, to int32 }
	var links []link
	for _, f := range w.m.F {
		for c := range 3 {
			if k, ok := place[f[c]]; ok {
				links = append(links, link{k, f[(c+1)%3]}, link{k, f[(c+2)%3]})
			}
		}
	}
	slices.SortFunc(links, func(a, b link) int { return cmp.Or(cmp.Compare(a.k, b.k), cmp.Compare(a.to, b.to)) })
	links = slices.Compact(links)
	from := make([]int32, len(row)+1)
	for _, l := range links {
		from[l.k+1]++
	}
	for k := range row {
		from[k+1] += from[k]
	}
	// apply writes U of x at the new corners; fixed adds the corners that stay.
	at := func(x []vec.V3, v int32, fixed bool) vec.V3 {
		if int(v) >= old {
			return x[int(v)-old]
		}
		if fixed {
			return w.m.V[v]
		}
		return vec.V3{}
	}
	u := make([]vec.V3, len(row))
	apply := func(x []vec.V3, fixed bool) {
		for k, v := range row {
			l := links[from[k]:from[k+1]]
			var s vec.V3
			for _, e := range l {
				s = s.Add(at(x, e.to, fixed))
			}
			u[k] = at(x, v, fixed).Sub(s.Mul(1 / float64(len(l))))
		}
	}
	back := func(g []vec.V3) { // g = U^T u
		clear(g)
		for k, v := range row {
			if int(v) >= old {
				g[int(v)-old] = g[int(v)-old].Add(u[k])
			}
			l := links[from[k]:from[k+1]]
			s := u[k].Mul(-1 / float64(len(l)))
			for _, e := range l {
				if int(e.to) >= old {
					g[int(e.to)-old] = g[int(e.to)-old].Add(s)
				}
			}
		}
	}
	dot := func(a, b []vec.V3) float64 {
		s := 0.0
		for i := range a {
			s += a[i].Dot(b[i])
		}
		return s
	}
	x := slices.Clone(w.m.V[old:])
	r := make([]vec.V3, n)
	apply(x, true)
	back(r)
	for i := range r {
		r[i] = r[i].Mul(-1)
	}
	p := slices.Clone(r)
	q := make([]vec.V3, n)
	rr := dot(r, r)
	stop := 1e-16 * rr
	for range min(20*n+100, 3000, 30_000_000/n+100) {
		if !(rr > stop) {
			break
		}
		apply(p, false)
		back(q)
		a := rr / dot(p, q)
		if math.IsNaN(a) || math.IsInf(a, 0) {
			break
		}
		for i := range x {
			x[i] = x[i].Add(p[i].Mul(a))
			r[i] = r[i].Sub(q[i].Mul(a))
		}
		next := dot(r, r)
		for i := range p {
			p[i] = r[i].Add(p[i].Mul(next / rr))
		}
		rr = next
	}
	for i := range x {
		if !x[i].Finite() {
			return
		}
	}
	copy(w.m.V[old:], x)
}

// chords lists the edges of the surface between two corners of rims, which a
// cover may not use again.
func chords(m *mesh.Mesh, rims []rim) map[[2]int32]bool {
	on := make(map[int32]bool)
	for _, r := range rims {
		for _, v := range r.v {
			on[v] = true
		}
	}
	set := make(map[[2]int32]bool)
	for _, f := range m.F {
		for k := range 3 {
			if a, b := f[k], f[(k+1)%3]; on[a] && on[b] {
				set[pair(a, b)] = true
			}
		}
	}
	return set
}
