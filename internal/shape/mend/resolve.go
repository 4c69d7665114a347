package mend

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
	"pourwright/internal/shape/solid"
	"pourwright/internal/shape/thin"
)

// Of a surface that runs through itself; our own figures, no source.
const (
	foldOff  = 5e-4  // of the volume, by which a fold taken out may be off
	cutOff   = 5e-3  // by which a surface that was cut or built anew may be off
	mostAway = 0.025 // of the longest side, that a surface built anew may lie off the old one
)

// Resolved is a surface that no longer runs through itself.
type Resolved struct {
	Mesh *mesh.Mesh
	Step string  // what was done
	Away float64 // the old and the new surface lie no further apart, but for what lies within; 0 where it was cut
	Cell float64 // side of the cells of a surface built anew, 0 where it was not
}

// Resolve returns the surface round the points of the closed surface m, in mm,
// that have a winding number above 0, which are known to hold want. Of three
// ways the first that comes out closed, free of crossings and with that volume is taken:
// the surface is cut along the lines where it runs through itself
// (solid.Outer), a small fold is smoothed out (solid.Unfold), or it is drawn anew by dual
// contouring on 64, 96 or 128 cells of the longest side. The first two need a body within 500 mm of the
// centre of its box. The error, fault.Input without a place, says by how much the last was off.
func Resolve(m *mesh.Mesh, want float64) (*Resolved, error) {
	box := m.Box()
	if box.Longest() < 500 && want > 0 {
		o := box.Centre()
		in := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
		old := make(map[vec.V3]vec.V3, len(m.V)) // by place on the lattice
		for i, p := range m.V {
			in.V[i] = p.Sub(o)
			old[onLattice(in.V[i])] = p
		}
		if r, _, err := solid.Outer(in); err == nil {
			if r, ok := put(r, o, old, want, cutOff); ok {
				return &Resolved{Mesh: r, Step: "cut where the surface runs through itself"}, nil
			}
		}
		b := solid.Prepare(in)
		if f := b.Unfold(); f.Pairs > 0 && f.Left == 0 {
			if r, ok := put(b.Mesh(), o, old, want, foldOff); ok {
				return &Resolved{Mesh: r, Step: "took out a fold", Away: f.Moved}, nil
			}
		}
	}
	return redraw(m, want)
}

func onLattice(p vec.V3) vec.V3 {
	r := func(x float64) float64 { return math.RoundToEven(x/solid.Lattice)*solid.Lattice + 0 }
	return vec.V3{X: r(p.X), Y: r(p.Y), Z: r(p.Z)}
}

// put moves a mesh on the lattice by o, the corners that it has from before to
// where they were, and tells whether it then is a body of volume want.
func put(m *mesh.Mesh, o vec.V3, old map[vec.V3]vec.V3, want, off float64) (*mesh.Mesh, bool) {
	a, b := &mesh.Mesh{F: m.F}, &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		q, ok := old[p]
		if !ok {
			q = p.Add(o)
		}
		a.V, b.V = append(a.V, q), append(b.V, p.Add(o))
	}
	for _, r := range []*mesh.Mesh{a, b} {
		r = mesh.Canonical(r)
		if resolved(r, want, off) {
			return r, true
		}
	}
	return nil, false
}

// resolved tells whether m is closed, does not run through itself and holds
// want within the share off.
func resolved(m *mesh.Mesh, want, off float64) bool {
	if len(m.F) == 0 || !(math.Abs(m.Volume()-want) <= off*want) {
		return false
	}
	t := mesh.TopologyOf(m)
	if !t.Watertight || t.Pinched > 0 {
		return false
	}
	x := Crossings(m, t)
	return x.Whole && len(x.Places) == 0
}

// redraw builds the surface anew round the points of winding number above a
// half.
func redraw(m *mesh.Mesh, want float64) (*Resolved, error) {
	const hint = "part it where it runs through itself, and join the parts, in the program that made it"
	box := m.Box()
	long := box.Longest()
	tree := bvh.Build(m)
	field := func(p vec.V3) float64 {
		_, _, d := tree.Closest(p, math.Inf(1))
		return math.Copysign(d, 0.5-tree.Winding(p))
	}
	volume, away := 0.0, math.Inf(1)
	for _, n := range []float64{64, 96, 128} {
		h := long / n
		r, err := sculpt.Contour(field, box.Grow(2*h), h)
		if err != nil {
			continue
		}
		volume = r.Volume()
		if !resolved(r, want, cutOff) {
			continue
		}
		away = math.Max(thin.From(r, m, h/20).Most, outerFrom(m, tree, r))
		if away <= mostAway*long {
			return &Resolved{Mesh: r, Step: "built anew round what the surface holds", Away: away, Cell: h}, nil
		}
	}
	switch {
	case !math.IsInf(away, 1):
		return nil, refuse(hint, "a surface built anew lies %.3g mm off the old one, and %.3g at most are allowed", away, mostAway*long)
	case volume > 0:
		return nil, refuse(hint, "a surface built anew holds %.6g mm3 for %.6g, or runs through itself again", volume, want)
	}
	return nil, refuse(hint, "no surface could be built anew")
}

// outerFrom returns how far the corners and middles of the triangles of m that
// have nothing in front of them and metal behind lie from r at most.
func outerFrom(m *mesh.Mesh, tree *bvh.Tree, r *mesh.Mesh) float64 {
	other := bvh.Build(r)
	step := 1e-6 * m.Box().Longest()
	const chunk = 1024
	most := make([]float64, (len(m.F)+chunk-1)/chunk)
	par.For(len(m.F), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			n, c := m.Normal(i), centre(m, i)
			if tree.Crossed(c.Add(n.Mul(step)), n) != 0 {
				continue
			}
			for k := range 4 {
				p := c
				if k < 3 {
					p = m.V[m.F[i][k]].Lerp(c, 0.02)
					if tree.Crossed(p.Add(n.Mul(step)), n) != 0 {
						continue
					}
				}
				_, _, d := other.Closest(p, math.Inf(1))
				most[lo/chunk] = math.Max(most[lo/chunk], d)
			}
		}
	})
	d := 0.0
	for _, x := range most {
		d = math.Max(d, x)
	}
	return d
}
