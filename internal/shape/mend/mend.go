// Package mend makes a closed body of a broken surface, in steps that a person
// can follow, or says why there is none.
//
// Main function: Mend. The steps, each told with what it did, how often, where
// and how it changed the signed volume: doubles dropped, corners that lie all
// but together joined, T-joints made whole, facets turned to agree, loose
// shards dropped, bodies that touch parted, holes closed, shells turned
// outward. Where none of that closes the surface, it is built anew from its
// generalised winding number. What is guessed, the cover of a hole, carries a
// band: by how much the volume may be off. A surface whose volume cannot be
// told within Trust of itself is refused.
//
// Lengths are in the unit of the mesh; all tolerances scale with its box, so
// the answer does not depend on the unit. The mesh given is never changed.
// Errors are fault.Input without a place; the caller knows the file.
package mend

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Trust is the largest band, as a share of the volume, with which a body is
// still handed out; our own figure, no source.
const Trust = 0.1

// Step is one thing done to the mesh.
type Step struct {
	Name   string
	Count  int
	At     vec.V3  // the first place
	Volume float64 // change of the signed sum of tetrahedra about the box centre
}

// Result is a mended mesh. Every edge has two triangles of opposite sense.
type Result struct {
	Mesh     *mesh.Mesh
	Topology *mesh.Topology
	Steps    []Step
	Band     float64 // the volume may be off by this much, either way
	BandAt   vec.V3  // the place that adds the most to Band
	Cell     float64 // side of the cells of a surface built anew, 0 where it was not
}

// work is a mesh under repair.
type work struct {
	m      *mesh.Mesh
	opp    []int32 // of m, as mesh.Opposite; nil after a change
	odd    [][]int32
	size   float64 // diagonal of the box, as sizeOf
	volume float64 // signed sum after the last step
	band   float64
	worst  float64 // largest share of band
	at     vec.V3  // its place
	cell   float64
	most   int // longest rim for dynamic programming
	open   int // open edges when holes were looked for
	steps  []Step
}

func newWork(m *mesh.Mesh) *work {
	w := &work{m: &mesh.Mesh{V: slices.Clone(m.V)}, size: sizeOf(m), volume: m.Volume()}
	w.m.F = make([][3]int32, 0, len(m.F))
	for _, f := range m.F {
		if mesh.Proper(f) {
			w.m.F = append(w.m.F, f)
		}
	}
	return w
}

// Mend repairs a mesh of finite corners. A mesh that is in order comes back as
// a copy without steps.
func Mend(m *mesh.Mesh) (*Result, error) {
	w := newWork(m)
	if len(w.m.F) == 0 || !(w.size > 0) {
		return nil, refuse("export the master again", "no triangle of the mesh has three different corners")
	}
	w.dropDoubles()
	w.join()
	if err := w.scattered(); err != nil {
		return nil, err
	}
	w.splitSeams()
	if err := w.orient(); err != nil {
		return nil, err
	}
	w.dropShards()
	if err := w.dropWalls(); err != nil {
		return nil, err
	}
	w.part()
	if err := w.closeHoles(); err != nil {
		return nil, err
	}
	w.part()
	if len(w.groups()) > 0 {
		if err := w.rebuild(m, w.tangled()); err != nil {
			return nil, err
		}
	}
	t, err := w.turnOutward()
	if err != nil {
		return nil, err
	}
	r := &Result{Mesh: w.m, Topology: t, Steps: w.steps, Band: w.band, BandAt: w.at, Cell: w.cell}
	if v := w.volume; !(w.band <= Trust*v) {
		return nil, refuse("scan or export the missing part and try again",
			"the holes of the surface are too large to guess what was there: the volume might be anything from %.3g to %.3g; the worst hole is near %s",
			math.Max(v-w.band, 0), v+w.band, place(w.at))
	}
	return r, nil
}

// scattered refuses a surface of which more than half, by area, are triangles
// with two or three open edges: they do not hang together.
func (w *work) scattered() error {
	free := make(map[int32]int)
	open := 0
	for _, g := range w.groups() {
		if len(g) == 1 {
			open++
			free[g[0]/3]++
		}
	}
	if len(free) == 0 {
		return nil
	}
	all, loose, n := 0.0, 0.0, 0
	for i := range w.m.F {
		a := areaOf(w.m, i)
		all += a
		if free[int32(i)] > 1 {
			loose += a
			n++
		}
	}
	if loose <= all/2 {
		return nil
	}
	return refuse("scan or model the master as a closed body; single faces and sheets are none",
		"the surface is not closed: it has %d open edges, and %d of its %d triangles hang on one other or on none, so it encloses nothing", open, n, len(w.m.F))
}

// changed forgets what was known of the edges.
func (w *work) changed() { w.opp, w.odd = nil, nil }

// did records a step.
func (w *work) did(name string, count int, at vec.V3) {
	v := w.m.Volume()
	w.steps = append(w.steps, Step{Name: name, Count: count, At: at, Volume: v - w.volume})
	w.volume = v
}

// edges returns, per half-edge, the other one of a clean pair, or -1.
func (w *work) edges() []int32 {
	if w.opp == nil {
		w.opp = mesh.Opposite(w.m)
	}
	return w.opp
}

// groups returns the half-edges of every edge that is not a clean pair, edges
// by their corners, half-edges in rising order.
func (w *work) groups() [][]int32 {
	if w.odd == nil {
		w.odd = oddEdges(w.m, w.edges())
	}
	return w.odd
}

func oddEdges(m *mesh.Mesh, opp []int32) [][]int32 {
	type side struct{ a, b, h int32 }
	var list []side
	for h, o := range opp {
		if o < 0 && mesh.Proper(m.F[h/3]) {
			a, b := m.Tail(int32(h)), m.Head(int32(h))
			list = append(list, side{min(a, b), max(a, b), int32(h)})
		}
	}
	slices.SortFunc(list, func(x, y side) int {
		return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b), cmp.Compare(x.h, y.h))
	})
	odd := [][]int32{}
	for i := 0; i < len(list); {
		j := i
		var g []int32
		for ; j < len(list) && list[j].a == list[i].a && list[j].b == list[i].b; j++ {
			g = append(g, list[j].h)
		}
		odd = append(odd, g)
		i = j
	}
	return odd
}

// faults counts edges of one triangle and of more than two.
func faults(odd [][]int32) (open, many int) {
	for _, g := range odd {
		switch {
		case len(g) == 1:
			open++
		case len(g) > 2:
			many++
		}
	}
	return open, many
}

// middle returns the middle of half-edge h.
func middle(m *mesh.Mesh, h int32) vec.V3 { return m.V[m.Tail(h)].Lerp(m.V[m.Head(h)], 0.5) }

// centre returns the centroid of triangle i.
func centre(m *mesh.Mesh, i int) vec.V3 {
	a, b, c := m.Tri(i)
	return a.Add(b).Add(c).Mul(1.0 / 3)
}

// areaOf returns the area of triangle i.
func areaOf(m *mesh.Mesh, i int) float64 {
	a, b, c := m.Tri(i)
	return b.Sub(a).Cross(c.Sub(a)).Len() / 2
}

// keep leaves only the triangles for which f is true.
func (w *work) keep(f func(i int) bool) {
	n := 0
	for i, t := range w.m.F {
		if f(i) {
			w.m.F[n] = t
			n++
		}
	}
	w.m.F = w.m.F[:n]
	w.changed()
}

func refuse(hint, text string, args ...any) *fault.Error {
	return fault.New(fault.Input, "", hint, text, args...)
}
