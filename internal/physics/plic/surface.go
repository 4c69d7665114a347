package plic

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// Surface holds the planes of all mixed cells as they lie between two steps: exact in
// cut cells, so that a flat level is found again from its shares to rounding, whatever its tilt and
// the walls'. All lists go by place in Cells.
type Surface struct {
	Cells  []int32   // open cells neither empty nor full, in order; none deep in the metal, no traces beside more
	Normal []vec.V3  // unit vectors out of the metal
	Offset []float64 // metal where Normal . x <= Offset, x in cells from the cell's low corner
	Centre []vec.V3  // centroid of the polygon in the cell's open part, in the same
	Area   []float64 // of the polygon, in sides of a cell
	// Rounds bounds how often the planes are fitted to each other; 0 stands for 12, enough for flat
	// levels to 1e-8 cells. One is enough for a surface in motion.
	Rounds int
	// Moving makes planes for metal in motion, as a move needs them: each turned once by its neighbours, all alike
	// whatever their polygons' areas (Advection.Planes, a third of the work).
	Moving bool
	// Up is the normal to begin with in cells at walls with four neighbours or fewer that hold a
	// plane, too few to tell: against gravity, say. Zero: the mixed normal there too.
	Up vec.V3

	web
	slot   []int32
	fixed  []bool
	moved  []float64
	facets []facet
	next   []facet
	change []float64
}

// rounds is how often the planes are fitted to each other at most, still the turn of a normal
// from which on it is at rest. A plane whose neighbours' centroids lie further from it than
// curved, after the first few rounds, is left: more rounds make flat surfaces exact, no others better.
const (
	rounds = 12
	few    = 3
	still  = 1e-10
	curved = 3e-3
)

// NewSurface makes room for a list of cells.
func NewSurface(c *cells.Cells) *Surface { return newSurface(newWeb(c)) }

// Surface makes room for the same cells, sharing what is known of neighbours.
func (a *Advection) Surface() *Surface { return newSurface(a.web) }

func newSurface(w web) *Surface {
	s := &Surface{web: w, slot: make([]int32, w.c.Wall+1)}
	for i := range s.slot {
		s.slot[i] = -1
	}
	return s
}

// Update finds the planes for the shares f (Wall+1). normal, nil or one for each cell, holds
// normals that stand as they are, say from a contact angle; where it is zero, and without
// it, the mixed normal of the shares is turned until the plane passes through the
// centroids of its neighbours as well as it can.
//
// A polygon turned about its centroid keeps volume and centroid but for
// second order, so each round squares the error where the surface is flat.
func (s *Surface) Update(f []float64, normal []vec.V3) {
	for _, i := range s.Cells {
		s.slot[i] = -1
	}
	s.Cells = s.Cells[:0]
	for i, x := range f[:s.c.N] {
		if x > Empty && x < 1-Empty && !s.deep(int32(i), f) && (s.Moving || !s.faint(int32(i), f)) {
			s.slot[i] = int32(len(s.Cells))
			s.Cells = append(s.Cells, int32(i))
		}
	}
	n := len(s.Cells)
	s.grow(n)
	par.For(n, 256, func(lo, hi int) {
		var g [27]float64
		for k := lo; k < hi; k++ {
			i := s.Cells[k]
			s.fixed[k] = normal != nil && normal[i] != vec.V3{} && normal[i].Finite()
			m := [3]float64{}
			if s.fixed[k] {
				m = normal[i].Array()
			} else {
				if s.Up != (vec.V3{}) && s.lone(i) {
					m = s.Up.Array()
				} else {
					s.gather(i, f, &g)
					m = mixed(&g)
				}
			}
			if m == ([3]float64{}) {
				m[2] = 1
			}
			s.facets[k] = s.facet(i, unit(m), f[i])
			s.moved[k] = 1
		}
	})
	n = rounds
	switch {
	case s.Moving:
		n = 0
		s.lead(f)
	case s.Rounds > 0:
		n = s.Rounds
	}
	for r := range n {
		if !s.fit(f, r < few) {
			break
		}
	}
	par.For(len(s.Cells), 256, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			s.set(k, f)
		}
	})
}

// trace is the share up to which metal in a cell, or lack of it, makes no plane beside a cell where
// there is more.
const trace = 1e-6

// faint says whether a cell's share is but a trace, beside one where the surface lies: its
// plane along their common side would lean the other's to itself.
func (s *Surface) faint(i int32, f []float64) bool {
	mixed := func(x float64) bool { return x > trace && x < 1-trace }
	if mixed(f[i]) {
		return false
	}
	for k := range 6 {
		if n := s.c.Nb[k][i]; int(n) < s.c.N && mixed(f[n]) {
			return true
		}
	}
	return false
}

func (s *Surface) grow(n int) {
	s.Normal, s.Offset, s.Centre, s.Area = sized(s.Normal, n), sized(s.Offset, n), sized(s.Centre, n), sized(s.Area, n)
	s.fixed, s.moved, s.change, s.facets, s.next = sized(s.fixed, n), sized(s.moved, n), sized(s.change, n), sized(s.facets, n), sized(s.next, n)
}

// lone reports whether a cell at a wall has too few neighbours to turn its plane by.
func (s *Surface) lone(i int32) bool {
	if s.inner[i] {
		return false
	}
	n := 0
	for _, c := range &s.round[s.rim[i]] {
		if s.slot[c] >= 0 {
			n++
		}
	}
	return n <= 5 // with itself
}

// beside lists the neighbours of cell i that hold a plane: where they stand among the 27, and their
// places in the lists.
func (s *Surface) beside(i int32, at, place *[26]int32) int {
	n := 0
	add := func(j, o int32) {
		if o >= 0 && j != 13 {
			at[n], place[n] = j, o
			n++
		}
	}
	if !s.inner[i] {
		for j, c := range &s.round[s.rim[i]] {
			add(int32(j), s.slot[c])
		}
		return n
	}
	for k, r := range s.centres(i) {
		x := s.slot[r-1 : r+2 : r+2]
		j := int32(3 * k)
		add(j, x[0])
		add(j+1, x[1])
		add(j+2, x[2])
	}
	return n
}

// fit turns each plane by its neighbours once, all or the flat ones, and reports whether any still turns.
func (s *Surface) fit(f []float64, all bool) bool {
	par.For(len(s.Cells), 256, func(lo, hi int) {
		var at, place [26]int32
		for k := lo; k < hi; k++ {
			s.next[k], s.change[k] = s.facets[k], 0
			if s.fixed[k] {
				continue
			}
			i := s.Cells[k]
			count := s.beside(i, &at, &place)
			busy := s.moved[k] > still
			for _, o := range place[:count] {
				busy = busy || s.moved[o] > still
			}
			if !busy {
				continue
			}
			l := lean{at: s.facets[k]}
			l.across()
			for m, o := range place[:count] {
				l.add(&s.facets[o], int(at[m]))
			}
			if !all && l.bent() > curved {
				s.fixed[k] = true
				continue
			}
			n := unit(l.normal(1e-6))
			if l.ss+l.tt == 0 && count > 1 {
				n = s.mean(place[:count], n)
			}
			old := &s.facets[k].normal
			s.change[k] = math.Abs(n[0]-old[0]) + math.Abs(n[1]-old[1]) + math.Abs(n[2]-old[2])
			if s.change[k] > 0 {
				s.next[k] = s.facet(i, n, f[i])
			}
		}
	})
	s.facets, s.next = s.next, s.facets
	s.moved, s.change = s.change, s.moved
	for _, x := range s.moved {
		if x > still {
			return true
		}
	}
	return false
}

// lead turns each plane by its neighbours once, in the way of a move. The planes of cut cells are then good to second
// order of the turn, as in a move (swung).
func (s *Surface) lead(f []float64) {
	par.For(len(s.Cells), 256, func(lo, hi int) {
		var at, place [26]int32
		for k := lo; k < hi; k++ {
			s.next[k] = s.facets[k]
			if s.fixed[k] {
				continue
			}
			i := s.Cells[k]
			l := lean{at: s.facets[k], even: true}
			l.across()
			l.add(&l.at, 13)
			count := s.beside(i, &at, &place)
			for m, o := range place[:count] {
				l.add(&s.facets[o], int(at[m]))
			}
			n := unit(l.normal(stiff))
			part := s.c.Part(i)
			if part == nil {
				s.next[k] = s.facet(i, n, f[i])
				continue
			}
			v := vec.FromArray(n)
			var ok bool
			if _, s.next[k], ok = newton(part, v, v.Dot(vec.FromArray(l.at.centre)), f[i]); !ok {
				s.next[k] = s.facet(i, n, f[i])
			}
		}
	})
	s.facets, s.next = s.next, s.facets
}

// mean is the mean normal of planes that agree, n of those that do not: for a plane that stands askew
// alone.
func (s *Surface) mean(list []int32, n [3]float64) [3]float64 {
	var sum vec.V3
	for _, o := range list {
		sum = sum.Add(vec.FromArray(s.facets[o].normal))
	}
	if sum.Len() > 0.9*float64(len(list)) {
		return sum.Unit().Array()
	}
	return n
}

// facet is the polygon of cell i with normal n and share f; its area is its weight, so that
// specks do not turn others.
func (s *Surface) facet(i int32, n [3]float64, f float64) facet {
	if p := s.c.Part(i); p != nil {
		v := vec.FromArray(n)
		_, area, x := p.Cut(v, p.Plane(v, f))
		return facet{n, x.Array(), area}
	}
	p := through(n, f)
	area, x := p.polygon()
	return facet{n, x, area}
}

// set writes what is told of a plane. The centroid lies on it.
func (s *Surface) set(k int, f []float64) {
	x := &s.facets[k]
	n := vec.FromArray(x.normal)
	s.Normal[k], s.Centre[k], s.Area[k] = n, vec.FromArray(x.centre), x.size
	s.Offset[k] = n.Dot(s.Centre[k])
	if !(x.size > 1e-9) {
		s.Offset[k] = s.c.Plane(s.Cells[k], n, f[s.Cells[k]])
	}
}

// At returns the place of a cell in the lists, -1 where it was not mixed at the last Update.
func (s *Surface) At(cell int32) int { return int(s.slot[cell]) }

// Height returns how far above the plane of a cell a point lies, in cells: > 0 outside the metal.
// x counts in cells from the cell's low corner. It is false where the cell holds no plane.
func (s *Surface) Height(cell int32, x vec.V3) (float64, bool) {
	k := s.slot[cell]
	if k < 0 {
		return 0, false
	}
	return s.Normal[k].Dot(x) - s.Offset[k], true
}
