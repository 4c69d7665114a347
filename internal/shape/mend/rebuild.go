package mend

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// Of a surface built anew; our own figures, no source.
const (
	across  = 64   // cells along the longest side
	unsure  = 0.25 // a winding number this close to a half tells no side
	samples = 48   // points along the longest side that judge whether there is an inside
)

// rebuild builds the surface anew where no gentler step closes it: the body is
// where the generalised winding number of the surface as it was read, with its
// senses made to agree, is above a half (Jacobson, Kavan & Sorkine-Hornung
// 2013), drawn by dual contouring. To the band is added half of what the volumes
// at winding numbers 0.25 and 0.75 differ in, and a twentieth of a cell over the
// surface; why is given back where the former is beyond Trust, or nothing closed
// comes out.
func (w *work) rebuild(m *mesh.Mesh, why error) error {
	v := newWork(m)
	v.dropDoubles()
	v.join()
	if v.orient() != nil {
		return why
	}
	v.dropShards()
	src := v.m
	if len(src.F) == 0 {
		return why
	}
	tree := bvh.Build(src)
	box := src.Box()
	long := box.Longest()
	if s := box.Size(); !(min(s.X, s.Y, s.Z) > 4*long/across) {
		return why // a plate that the cells cannot hold
	}
	// Which way round: the winding number of a body is positive.
	side := 1.0
	if src.Volume() < 0 {
		side = -1
	}
	lo, mid, hi := shares(tree, box, side)
	if !(mid > 0) || (lo-hi)/2 > Trust*mid {
		return why
	}
	h := long / across
	field := func(p vec.V3) float64 {
		_, _, d := tree.Closest(p, math.Inf(1))
		x := 0.5 - side*tree.Winding(p)
		// Across a hole the distance does not go to zero, so it is drawn in where
		// the winding number comes near a half.
		d *= math.Min(1, 3*math.Abs(x))
		return math.Copysign(d, x)
	}
	out, err := sculpt.Contour(field, box.Grow(2*h), h)
	if err != nil {
		return why
	}
	if t := mesh.TopologyOf(out); !t.Watertight {
		return why
	}
	w.m = out
	w.cell = h
	w.changed()
	vol := out.Volume()
	w.band += (lo-hi)/2*vol/mid + out.Area()*h/20
	if w.worst == 0 {
		w.at = box.Centre()
	}
	w.steps = v.steps
	w.volume = v.volume
	w.did("built anew from the winding number", len(out.F), box.Centre())
	return nil
}

// shares counts the points of a lattice with a winding number above 0.25, 0.5
// and 0.75.
func shares(tree *bvh.Tree, box vec.Box, side float64) (lo, mid, hi float64) {
	s := box.Size()
	step := box.Longest() / samples
	nx, ny, nz := int(s.X/step)+1, int(s.Y/step)+1, int(s.Z/step)+1
	type count struct{ lo, mid, hi float64 }
	part := make([]count, nz)
	par.For(nz, 1, func(from, to int) {
		for k := from; k < to; k++ {
			for j := range ny {
				for i := range nx {
					x := side * tree.Winding(vec.V3{
						X: box.Min.X + (float64(i)+0.5)*s.X/float64(nx),
						Y: box.Min.Y + (float64(j)+0.5)*s.Y/float64(ny),
						Z: box.Min.Z + (float64(k)+0.5)*s.Z/float64(nz),
					})
					if x > 0.5-unsure {
						part[k].lo++
					}
					if x > 0.5 {
						part[k].mid++
					}
					if x > 0.5+unsure {
						part[k].hi++
					}
				}
			}
		}
	})
	for _, p := range part {
		lo, mid, hi = lo+p.lo, mid+p.mid, hi+p.hi
	}
	return lo, mid, hi
}
