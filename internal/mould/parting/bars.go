package parting

import (
	"fmt"
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// shell is one part of a mesh.
type shell struct {
	box    vec.Box
	volume float64 // signed
	area   float64
	euler  int
	open   bool // an edge without a partner: no inside of its own
}

func shellsOf(m *mesh.Mesh, top *mesh.Topology) []shell {
	r := make([]shell, top.Shells)
	seen := make([]bool, len(m.V))
	for i := range r {
		r[i].box = vec.Empty()
	}
	o := m.Box().Centre()
	for t, k := range top.Shell {
		if k < 0 {
			continue
		}
		s := &r[k]
		a, b, c := m.Tri(t)
		a, b, c = a.Sub(o), b.Sub(o), c.Sub(o)
		s.volume += a.Dot(b.Cross(c)) / 6
		s.area += b.Sub(a).Cross(c.Sub(a)).Len() / 2
		s.euler--
		for h := 3 * t; h < 3*t+3; h++ {
			s.open = s.open || top.Opp[h] < 0
		}
		for _, v := range m.F[t] {
			s.box = s.box.Add(m.V[v])
			if !seen[v] {
				seen[v] = true
				s.euler += 2
			}
		}
	}
	for i := range r { // V - E + F with E = 3 F / 2; above: 2 V - F
		r[i].euler /= 2
	}
	return r
}

// voids returns a bar for every closed hollow inside metal: a shell that looks
// inward, and, where there are several shells, every hollow that its columns
// show shut in on all sides. A single shell without self-intersection bounds
// one body and one outside, so it has none.
func (b *body) voids(m *mesh.Mesh, shells []shell, places []Place) []Bar {
	var r []Bar
	v := math.Abs(b.volume)
	add := func(at vec.V3, volume float64) {
		for _, x := range r {
			if x.At.Dist(at) < 0.02*b.long {
				return
			}
		}
		r = append(r, Bar{
			Code: "closed-void", At: at, Computed: volume, Limit: 0,
			Say: fmt.Sprintf("a hollow of %.3g mm3 is shut in metal on all sides; no rubber gets in and no core gets out", volume),
			Do:  "open the hollow to the outside, cast the piece in two parts and join them, or fill the hollow in the model so that it is cast solid",
		})
	}
	closed := 0
	for _, s := range shells {
		if !s.open {
			closed++
		}
	}
	if closed < 2 {
		return nil
	}
	for _, p := range places {
		if p.Enclosed && p.Volume > 1e-4*v {
			add(p.At, p.Volume)
		}
	}
	for i := range shells {
		s := &shells[i]
		if !s.open && s.volume < 0 && -s.volume > 1e-6*v {
			add(s.box.Centre(), -s.volume)
		}
	}
	return r
}

// buried returns a bar for every body that the parting surface does not meet,
// so that it lies wholly in the rubber of one half and no metal reaches it: a
// loose ball in a cup, a captive clapper. Shells that overlap others are part of
// a larger body and are left out.
func (b *body) buried(m *mesh.Mesh, top *mesh.Topology, shells []shell, r *Split) []Bar {
	if len(shells) < 2 {
		return nil
	}
	side := make([]uint8, len(shells))
	above := make([]uint8, len(m.V))
	for i, p := range m.V {
		q := r.Frame.To(p)
		above[i] = 1
		if q.Z < r.Sheet.At(q.X, q.Y) {
			above[i] = 2
		}
	}
	for t, k := range top.Shell {
		if k >= 0 {
			for _, v := range m.F[t] {
				side[k] |= above[v]
			}
		}
	}
	var bars []Bar
	for i := range shells {
		s := &shells[i]
		if side[i] == 3 || s.open || s.volume < 1e-4*b.volume {
			continue
		}
		alone := true
		for j := range shells {
			alone = alone && (i == j || shells[j].open || apart(s.box, shells[j].box) || !b.union || !meet(m, top, int32(i), int32(j)))
		}
		if !alone {
			continue
		}
		half := 1
		if side[i] == 2 {
			half = 2
		}
		bars = append(bars, Bar{
			Code: "needs-piece", At: s.box.Centre(), Computed: s.volume, Limit: 0,
			Say: fmt.Sprintf("body %d lies wholly in the rubber of half %d: the parting does not meet it, no metal reaches it and nothing releases it", i+1, half),
			Do:  "mould this body by itself and put it in afterwards, or make a core that carries it",
		})
	}
	return bars
}

// Most segment pairs looked at for one pair of shells.
const mostCrossings = 40_000_000

// links returns a bar for every pair of bodies that are linked: two shells of
// genus above 0 that do not meet, with a loop on one and a loop on the other
// whose linking number is not zero. No motion parts them, so no mould that
// opens can make them in one pour.
func links(m *mesh.Mesh, top *mesh.Topology, shells []shell) []Bar {
	if top.Shells < 2 || !top.Watertight {
		return nil
	}
	basis := make([][][]vec.V3, len(shells))
	done := make([]bool, len(shells))
	of := func(i int) [][]vec.V3 {
		if !done[i] {
			done[i] = true
			basis[i] = loops(m, top, int32(i))
		}
		return basis[i]
	}
	var r []Bar
	for i := range shells {
		for j := i + 1; j < len(shells); j++ {
			a, b := &shells[i], &shells[j]
			if a.euler >= 2 || b.euler >= 2 || apart(a.box, b.box) || meet(m, top, int32(i), int32(j)) {
				continue
			}
			if n := linkedBy(of(i), of(j)); n != 0 {
				c := vec.Box{Min: a.box.Min.Max(b.box.Min), Max: a.box.Max.Min(b.box.Max)}.Centre()
				r = append(r, Bar{
					Code: "linked", At: c, Computed: math.Abs(float64(n)), Limit: 0, Shells: [2]int{i, j},
					Say: fmt.Sprintf("bodies %d and %d are linked (linking number %d); no mould opens round both", i+1, j+1, n),
					Do:  "mould them one by one with one of them cut open, and close the cut after casting",
				})
			}
		}
	}
	return r
}

func linkedBy(a, b [][]vec.V3) int {
	work := 0
	for _, x := range a {
		for _, y := range b {
			if work += len(x) * len(y); work > mostCrossings {
				return 0
			}
			if n := linking(x, y); n != 0 {
				return n
			}
		}
	}
	return 0
}

func apart(a, b vec.Box) bool {
	return a.Min.X > b.Max.X || b.Min.X > a.Max.X || a.Min.Y > b.Max.Y || b.Min.Y > a.Max.Y || a.Min.Z > b.Max.Z || b.Min.Z > a.Max.Z
}

// meet reports whether two shells overlap, by the columns of both together:
// somewhere the union is shorter than the sum.
func meet(m *mesh.Mesh, top *mesh.Topology, i, j int32) bool {
	p := &mesh.Mesh{V: m.V}
	for t, k := range top.Shell {
		if k == i || k == j {
			p.F = append(p.F, m.F[t])
		}
	}
	b := newBody(p)
	b.settle()
	return b.union
}

// compact leaves out the corners that no triangle uses; m itself where there
// are none.
func compact(m *mesh.Mesh) *mesh.Mesh {
	id := make([]int32, len(m.V))
	n := 0
	for _, f := range m.F {
		for _, v := range f {
			if id[v] == 0 {
				id[v] = 1
				n++
			}
		}
	}
	if n == len(m.V) {
		return m
	}
	r := &mesh.Mesh{V: make([]vec.V3, 0, n), F: make([][3]int32, len(m.F))}
	for v := range id {
		if id[v] != 0 {
			r.V = append(r.V, m.V[v])
			id[v] = int32(len(r.V))
		}
	}
	for t, f := range m.F {
		r.F[t] = [3]int32{id[f[0]] - 1, id[f[1]] - 1, id[f[2]] - 1}
	}
	return r
}
