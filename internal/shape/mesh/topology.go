package mesh

import (
	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
)

// Topology is what can be said of a mesh from its corners' numbers alone.
type Topology struct {
	Corners    int     // corners that a triangle uses
	Edges      int     // different edges
	Open       int     // edges of one triangle
	Doubled    int     // edges of more than two triangles
	Misturned  int     // edges whose triangles disagree about the outside
	Pinched    int     // corners whose triangles do not hang together over edges
	Watertight bool    // every edge has exactly two triangles of opposite sense
	Euler      int     // Corners - Edges + triangles
	Genus      *int    // sum over the shells; nil unless watertight without pinched corners
	Shells     int     // parts joined over edges
	Shell      []int32 // per triangle, numbered by first triangle; -1 where it names one corner twice
	FirstFault *vec.V3 // middle of the first edge that is not a clean pair, nil if there is none
	Opp        []int32 // as Opposite
}

// TopologyOf counts edges, shells and genus. Triangles that name one corner
// twice are left out of every count.
//
// With g the genus of a closed shell, V - E + F = 2 - 2g (Euler, Poincare); for
// several shells the sum is 2 Shells - 2 Genus.
func TopologyOf(m *Mesh) *Topology {
	e := edgesOf(m)
	t := &Topology{
		Edges: e.count, Open: e.open, Doubled: e.doubly, Misturned: e.turned, Opp: e.opp,
		Watertight: e.open == 0 && e.doubly == 0 && e.turned == 0 && e.count > 0,
	}
	if e.first >= 0 {
		p := m.V[m.Tail(e.first)].Lerp(m.V[m.Head(e.first)], 0.5)
		t.FirstFault = &p
	}
	faces := t.findShells(m, e)
	fans := t.findFans(m, e)
	t.Euler = t.Corners - t.Edges + faces
	t.Pinched = fans
	if t.Watertight && t.Pinched == 0 {
		g := t.Shells - t.Euler/2
		t.Genus = &g
	}
	return t
}

// Proper reports whether a triangle names three different corners.
func Proper(t [3]int32) bool { return t[0] != t[1] && t[1] != t[2] && t[2] != t[0] }

// findShells numbers the shells and returns the number of proper triangles.
func (t *Topology) findShells(m *Mesh, e *edges) int {
	u := sets.New(len(m.F))
	for h, o := range e.opp {
		if int(o) > h {
			u.Join(int32(h)/3, o/3)
		}
	}
	for _, g := range e.odd {
		for _, h := range g[1:] {
			u.Join(g[0]/3, h/3)
		}
	}
	t.Shell = make([]int32, len(m.F))
	faces := 0
	for i := range m.F {
		t.Shell[i] = -1
		if !Proper(m.F[i]) {
			continue
		}
		faces++
		// The root is the smallest triangle of its set, so it was met first.
		if r := u.Root(int32(i)); int(r) == i {
			t.Shell[i] = int32(t.Shells)
			t.Shells++
		} else {
			t.Shell[i] = t.Shell[r]
		}
	}
	return faces
}

// findFans counts the used corners and returns how many of them have triangles
// that do not hang together over edges.
func (t *Topology) findFans(m *Mesh, e *edges) int {
	fans := make([]int32, len(m.V))
	if len(e.odd) == 0 {
		walkFans(m, e.opp, fans)
	} else {
		joinFans(m, e, fans)
	}
	pinched := 0
	for _, n := range fans {
		if n > 0 {
			t.Corners++
		}
		if n > 1 {
			pinched++
		}
	}
	return pinched
}

// walkFans turns round each corner over the clean pairs; half-edge h stands
// for the corner that it leaves.
func walkFans(m *Mesh, opp []int32, fans []int32) {
	seen := make([]bool, len(opp))
	for s := range opp {
		if seen[s] || !Proper(m.F[s/3]) {
			continue
		}
		fans[m.Tail(int32(s))]++
		seen[s] = true
		for h := opp[s]; h >= 0 && !seen[NextHalf(h)]; h = opp[NextHalf(h)] {
			seen[NextHalf(h)] = true
		}
		for h := opp[PrevHalf(int32(s))]; h >= 0 && !seen[h]; h = opp[PrevHalf(h)] {
			seen[h] = true
		}
	}
}

// joinFans does the same where some edges are no clean pairs, by joining the
// triangles' corners over every edge.
func joinFans(m *Mesh, e *edges, fans []int32) {
	u := sets.New(len(e.opp))
	over := func(a, b int32) { // two half-edges of one edge
		a2, b2 := NextHalf(a), NextHalf(b)
		if m.Tail(a) != m.Tail(b) {
			b, b2 = b2, b
		}
		u.Join(a, b)
		u.Join(a2, b2)
	}
	for h, o := range e.opp {
		if int(o) > h {
			over(int32(h), o)
		}
	}
	for _, g := range e.odd {
		for _, h := range g[1:] {
			over(g[0], h)
		}
	}
	for h := range e.opp {
		if Proper(m.F[h/3]) && u.Root(int32(h)) == int32(h) {
			fans[m.Tail(int32(h))]++
		}
	}
}
