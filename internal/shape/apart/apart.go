// Package apart answers whether the bodies of a mesh come apart: which of them
// no straight motion takes away from the others.
//
// Main function: Stuck. Lengths in the unit of the meshes.
//
// A body i leaves a body j along d where on no line parallel to d a point of j
// lies beyond a point of i, that is, where on every line that meets both
//
//	max (j along d) - min (i along d) <= tolerance
//
// (the sweep of i along d and j have no point in common; Toussaint 1985,
// "Movable separability of sets", for translations). Lines are sampled on a
// square lattice across d, so one pass over the triangles gives lowest entry and
// highest exit of every body, and with them d and -d for every pair. A body that
// can leave all others that are still there is taken away, and so on; what
// remains when no body can leave is stuck.
//
// Directions are tried in three courses, each only with what the one before left:
// those given and the axes; the axes of inertia, the largest faces' normals and the
// lines between centroids; Sphere directions on the Fibonacci half sphere (Gonzalez
// 2010). For the pairs then left the best direction is refined by a pattern
// search.
//
// Limits. Bodies that come apart by a turn or by a bent way only (a nut on its
// bolt, two hooks in each other) count as stuck: a mould opens straight. A way out
// that is narrower than the refined directions resolve, about a third of a
// degree, is missed. A line lattice of Lines across the smallest body misses
// overlaps thinner than its spacing, so wires thinner than that may seem free.
// Parts must not overlap: unite those that do first.
package apart

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Figures of the method; our own, no source.
const (
	Sphere = 400   // directions of the half sphere, each taken both ways
	Lines  = 96    // lattice lines across the smallest body
	most   = 1024  // lattice lines across all
	deep   = 2e-3  // of the smaller body's longest side: contact within it is no overlap
	share  = 5e-3  // of the smaller shadow: what may overlap for want of exact facets
	Parts  = 64    // most parts looked at
	steps  = 40    // of the pattern search
	fine   = 0.003 // rad at which it ends
)

// Result says what is stuck.
type Result struct {
	Held  []int    // parts that nothing takes away from the rest, rising
	Pairs [][2]int // pairs of Held that no direction parts, i < j
}

// Stuck returns the parts that cannot be taken away one by one along straight
// lines. Parts without triangles are free. along are directions tried first, of
// any length. Of more than Parts parts the first Parts are looked at.
func Stuck(parts []*mesh.Mesh, along []vec.V3) Result {
	parts = parts[:min(len(parts), Parts)]
	a := &assembly{}
	for i, m := range parts {
		if len(m.F) > 0 {
			a.left = append(a.left, i)
		}
		a.part = append(a.part, newPart(m))
	}
	first := append(slices.Clone(along), vec.V3{X: 1}, vec.V3{Y: 1}, vec.V3{Z: 1})
	a.course(first)
	if len(a.left) > 1 {
		a.course(append(first, a.special()...))
	}
	if len(a.left) > 1 {
		list := append(append(first, a.special()...), halfSphere(Sphere)...)
		b := a.course(list)
		// Look closer at pairs whose best direction is not good enough.
		var more []vec.V3
		for x, i := range a.left {
			for _, j := range a.left[x+1:] {
				if d, ok := a.refine(i, j, b); ok {
					more = append(more, d)
				}
			}
		}
		if len(more) > 0 {
			a.course(append(list, more...))
		}
	}
	if len(a.left) < 2 {
		return Result{}
	}
	return Result{Held: a.left, Pairs: a.pairs()}
}

type part struct {
	m    *mesh.Mesh
	box  vec.Box
	size float64
}

func newPart(m *mesh.Mesh) part {
	b := m.Box()
	return part{m: m, box: b, size: b.Longest()}
}

// assembly is the parts and what is left of them.
type assembly struct {
	part []part
	left []int
	last blocking // of the parts left, along all directions of the last course
}

// blocking tells for each direction by what share of the smaller shadow part j
// stands in the way of part i: at [(direction * n + i) * n + j], i and j places in ids.
type blocking struct {
	dir []vec.V3
	ids []int
	by  []float32
}

func (b *blocking) at(d, i, j int) float64 {
	n := len(b.ids)
	return float64(b.by[(d*n+i)*n+j])
}

// course looks along list, both ways, and takes away what can leave.
func (a *assembly) course(list []vec.V3) blocking {
	var dir []vec.V3
	for _, d := range list {
		if u := d.Unit(); u.Finite() && u.Len() > 0.5 {
			dir = append(dir, u)
		}
	}
	b := blocking{dir: dir, ids: slices.Clone(a.left)}
	n := len(b.ids)
	b.by = make([]float32, len(dir)*n*n)
	par.For(len(dir), 1, func(lo, hi int) {
		for d := lo; d < hi; d++ {
			a.look(dir[d], b.ids, b.by[d*n*n:(d+1)*n*n])
		}
	})
	here := make([]bool, n)
	for i := range here {
		here[i] = true
	}
	for again := true; again; {
		again = false
		for i := range here {
			if here[i] && b.leaves(i, here) {
				here[i], again = false, true
			}
		}
	}
	a.left = nil
	for i, id := range b.ids {
		if here[i] {
			a.left = append(a.left, id)
		}
	}
	if len(a.left) == 1 {
		a.left = nil
	}
	a.last = b
	return b
}

// leaves reports whether part i can leave all that are here along a direction.
func (b *blocking) leaves(i int, here []bool) bool {
	for d := range b.dir {
		up, down := true, true
		for j := range here {
			if here[j] && j != i {
				up = up && b.at(d, i, j) <= share
				down = down && b.at(d, j, i) <= share // what is above on the way up is below on the way down
			}
		}
		if up || down {
			return true
		}
	}
	return false
}

// pairs returns the pairs of the parts left that no direction parts.
func (a *assembly) pairs() [][2]int {
	var r [][2]int
	b := &a.last
	for i, p := range b.ids {
		for j := i + 1; j < len(b.ids); j++ {
			if q := b.ids[j]; slices.Contains(a.left, p) && slices.Contains(a.left, q) && b.together(i, j) {
				r = append(r, [2]int{p, q})
			}
		}
	}
	return r
}

func (b *blocking) together(i, j int) bool {
	for d := range b.dir {
		if b.at(d, i, j) <= share || b.at(d, j, i) <= share {
			return false
		}
	}
	return true
}

// column is the lowest and the highest point of a part on one line.
type column struct{ lo, hi float64 }

// shadow is the columns of one part over its window of the lattice.
type shadow struct {
	x0, y0, w, h int
	at           []column
	count        int
}

// look fills by for one direction.
func (a *assembly) look(d vec.V3, ids []int, by []float32) {
	n := len(ids)
	f := vec.AlongZ(d)
	step := a.spacing(ids)
	s := make([]shadow, n)
	for k, id := range ids {
		s[k] = cast(a.part[id].m, f, step)
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			tol := deep * math.Min(a.part[ids[i]].size, a.part[ids[j]].size)
			up, down := overlap(&s[i], &s[j], tol)
			least := float64(max(min(s[i].count, s[j].count), 1))
			if up > 1 { // one line may run along a face
				by[i*n+j] = float32(float64(up) / least)
			}
			if down > 1 {
				by[j*n+i] = float32(float64(down) / least)
			}
		}
	}
}

// spacing of the lattice: fine enough for the smallest part, coarse enough for
// all together.
func (a *assembly) spacing(ids []int) float64 {
	small, all := math.Inf(1), vec.Empty()
	for _, id := range ids {
		small = math.Min(small, a.part[id].size)
		all = all.Join(a.part[id].box)
	}
	return math.Max(small/Lines, all.Longest()/most)
}

// overlap counts the lines on which j is in the way of i going up, and i in the
// way of j.
func overlap(i, j *shadow, tol float64) (up, down int) {
	x0, x1 := max(i.x0, j.x0), min(i.x0+i.w, j.x0+j.w)
	y0, y1 := max(i.y0, j.y0), min(i.y0+i.h, j.y0+j.h)
	for y := y0; y < y1; y++ {
		p, q := (y-i.y0)*i.w-i.x0, (y-j.y0)*j.w-j.x0
		for x := x0; x < x1; x++ {
			a, b := &i.at[p+x], &j.at[q+x]
			if a.lo > a.hi || b.lo > b.hi {
				continue
			}
			if b.hi-a.lo > tol {
				up++
			}
			if a.hi-b.lo > tol {
				down++
			}
		}
	}
	return up, down
}

// cast returns the columns of m along f.Z. The lattice is moved by a share of its
// spacing, so that no line runs along a face of a body made on round numbers.
func cast(m *mesh.Mesh, f vec.Frame, step float64) shadow {
	const off = 0.38196601125 // 2 - golden ratio
	v := make([]vec.V3, len(m.V))
	for i, p := range m.V {
		q := f.To(p)
		v[i] = vec.V3{X: q.X/step - off, Y: q.Y/step - 0.7*off, Z: q.Z}
	}
	box := (&mesh.Mesh{V: v, F: m.F}).Box()
	s := shadow{x0: int(math.Floor(box.Min.X)), y0: int(math.Floor(box.Min.Y))}
	s.w, s.h = int(math.Floor(box.Max.X))-s.x0+1, int(math.Floor(box.Max.Y))-s.y0+1
	s.at = make([]column, s.w*s.h)
	for i := range s.at {
		s.at[i] = column{math.Inf(1), math.Inf(-1)}
	}
	for _, t := range m.F {
		a, b, c := v[t[0]], v[t[1]], v[t[2]]
		x0, x1 := math.Ceil(min(a.X, b.X, c.X)), math.Floor(max(a.X, b.X, c.X))
		y0, y1 := math.Ceil(min(a.Y, b.Y, c.Y)), math.Floor(max(a.Y, b.Y, c.Y))
		if x0 > x1 || y0 > y1 {
			continue
		}
		ux, uy, vx, vy := b.X-a.X, b.Y-a.Y, c.X-a.X, c.Y-a.Y
		det := ux*vy - uy*vx
		if math.Abs(det) < 1e-12 { // seen edge-on
			continue
		}
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				px, py := x-a.X, y-a.Y
				k, l := (px*vy-py*vx)/det, (ux*py-uy*px)/det
				if k < -1e-12 || l < -1e-12 || k+l > 1+1e-12 {
					continue
				}
				z := a.Z + k*(b.Z-a.Z) + l*(c.Z-a.Z)
				q := &s.at[(int(y)-s.y0)*s.w+int(x)-s.x0]
				if q.lo > q.hi {
					s.count++
				}
				q.lo, q.hi = math.Min(q.lo, z), math.Max(q.hi, z)
			}
		}
	}
	return s
}

// halfSphere returns n directions with z > 0, evenly spread.
func halfSphere(n int) []vec.V3 {
	r := make([]vec.V3, n)
	golden := math.Pi * (3 - math.Sqrt(5))
	for i := range r {
		z := 1 - (float64(i)+0.5)/float64(n)
		s, c := math.Sincos(golden * float64(i))
		k := math.Sqrt(1 - z*z)
		r[i] = vec.V3{X: k * c, Y: k * s, Z: z}
	}
	return r
}

// worth is how far pair i, j, places in b.ids, is from coming apart along
// direction d: the lesser of both ways.
func (b *blocking) worth(d, i, j int) float64 { return math.Min(b.at(d, i, j), b.at(d, j, i)) }

// refine looks round the three best directions of the pair of parts i, j for one
// that parts them; false where none does or one is known already.
func (a *assembly) refine(i, j int, b blocking) (vec.V3, bool) {
	x, y := slices.Index(b.ids, i), slices.Index(b.ids, j)
	order := make([]int, len(b.dir))
	for d := range order {
		order[d] = d
	}
	slices.SortStableFunc(order, func(p, q int) int { return cmp.Compare(b.worth(p, x, y), b.worth(q, x, y)) })
	if b.worth(order[0], x, y) <= share {
		return vec.V3{}, false
	}
	by := make([]float32, 4)
	value := func(d vec.V3) float64 {
		clear(by)
		a.look(d, []int{i, j}, by)
		return math.Min(float64(by[1]), float64(by[2]))
	}
	for _, start := range order[:min(3, len(order))] {
		d, best := b.dir[start], b.worth(start, x, y)
		wide := 0.06
		for n := 0; n < steps && wide > fine && best > share; n++ {
			f := vec.AlongZ(d)
			moved := false
			for _, e := range [4]vec.V3{f.X, f.Y, f.X.Mul(-1), f.Y.Mul(-1)} {
				q := d.Add(e.Mul(wide)).Unit()
				if v := value(q); v < best {
					d, best, moved = q, v, true
					break
				}
			}
			if !moved {
				wide /= 2
			}
		}
		if best <= share {
			return d, true
		}
	}
	return vec.V3{}, false
}
