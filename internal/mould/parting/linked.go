package parting

import (
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// loops returns a basis of the first homology of one closed shell, two loops
// for each handle, as closed polygons on its edges: the edges that neither a
// spanning tree of the triangles crosses nor a spanning tree of the remaining
// edges holds (tree and cotree: Eppstein 2003; Erickson & Whittlesey 2005).
func loops(m *mesh.Mesh, top *mesh.Topology, shell int32) [][]vec.V3 {
	first := int32(-1)
	for t, s := range top.Shell {
		if s == shell {
			first = int32(t)
			break
		}
	}
	if first < 0 {
		return nil
	}
	crossed := make([]bool, 3*len(m.F))
	seen := make([]bool, len(m.F))
	seen[first] = true
	tris := []int32{first}
	for i := 0; i < len(tris); i++ {
		for h := 3 * tris[i]; h < 3*tris[i]+3; h++ {
			o := top.Opp[h]
			if o < 0 {
				return nil
			}
			if t := o / 3; !seen[t] {
				seen[t] = true
				crossed[h], crossed[o] = true, true
				tris = append(tris, t)
			}
		}
	}
	// Spanning tree of the corners over the edges that are not crossed.
	out := make([][]int32, len(m.V)) // half-edges that leave a corner
	for _, t := range tris {
		for h := 3 * t; h < 3*t+3; h++ {
			if !crossed[h] {
				out[m.Tail(h)] = append(out[m.Tail(h)], h)
			}
		}
	}
	parent := make([]int32, len(m.V)) // the half-edge by which a corner was reached
	for i := range parent {
		parent[i] = -2
	}
	root := m.F[first][0]
	parent[root] = -1
	corners := []int32{root}
	for i := 0; i < len(corners); i++ {
		for _, h := range out[corners[i]] {
			if v := m.Head(h); parent[v] == -2 {
				parent[v] = h
				crossed[h], crossed[top.Opp[h]] = true, true
				corners = append(corners, v)
			}
		}
	}
	way := func(v int32) (w []int32) { // from the root to v
		for ; ; v = m.Tail(parent[v]) {
			w = append(w, v)
			if parent[v] < 0 {
				break
			}
		}
		for i, j := 0, len(w)-1; i < j; i, j = i+1, j-1 {
			w[i], w[j] = w[j], w[i]
		}
		return w
	}
	var r [][]vec.V3
	for _, t := range tris {
		for h := 3 * t; h < 3*t+3; h++ {
			if crossed[h] || top.Opp[h] < h {
				continue
			}
			a, b := way(m.Tail(h)), way(m.Head(h))
			k := 0
			for k+1 < len(a) && k+1 < len(b) && a[k+1] == b[k+1] {
				k++
			}
			var l []vec.V3
			for _, v := range a[k:] {
				l = append(l, m.V[v])
			}
			for i := len(b) - 1; i > k; i-- {
				l = append(l, m.V[b[i]])
			}
			r = append(r, l)
		}
	}
	return r
}

// linking returns Gauss's linking number of two closed polygons that do not
// meet: the signed crossings, seen along a direction, at which a passes over b.
// Counting those at which b passes over a must give the same; where it does not
// (a corner seen exactly on an edge) another direction is taken.
func linking(a, b []vec.V3) int {
	for k := range 6 {
		x := float64(k)
		f := vec.AlongZ(vec.V3{X: 0.3217 + 0.13*x, Y: 0.5791 - 0.21*x, Z: 0.7489 + 0.05*x})
		over, under := crossings(turned(a, f), turned(b, f))
		if over == under {
			return over
		}
	}
	return 0
}

func turned(p []vec.V3, f vec.Frame) []vec.V3 {
	r := make([]vec.V3, len(p))
	for i := range p {
		r[i] = f.To(p[i])
	}
	return r
}

func crossings(a, b []vec.V3) (over, under int) {
	side := func(p, q, r vec.V3) float64 { return (q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X) }
	for i, p := range a {
		q := a[(i+1)%len(a)]
		xl, xh, yl, yh := min(p.X, q.X), max(p.X, q.X), min(p.Y, q.Y), max(p.Y, q.Y)
		for j, r := range b {
			s := b[(j+1)%len(b)]
			if max(r.X, s.X) < xl || min(r.X, s.X) > xh || max(r.Y, s.Y) < yl || min(r.Y, s.Y) > yh {
				continue
			}
			d1, d2 := side(r, s, p), side(r, s, q)
			d3, d4 := side(p, q, r), side(p, q, s)
			if (d1 > 0) == (d2 > 0) || (d3 > 0) == (d4 > 0) {
				continue
			}
			za := p.Z + (q.Z-p.Z)*d1/(d1-d2)
			zb := r.Z + (s.Z-r.Z)*d3/(d3-d4)
			sign := 1
			if (q.X-p.X)*(s.Y-r.Y)-(q.Y-p.Y)*(s.X-r.X) < 0 {
				sign = -1
			}
			if za > zb {
				over += sign
			} else {
				under -= sign // the order of the two turns round
			}
		}
	}
	return over, under
}
