package mould

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// reach is what a half cannot reach of its face of the master, as shares of
// that face: as the pull sees it and of its area.
type reach struct {
	beside, besideArea float64 // beside the fold: the parting line leaves it
	small, smallArea   float64 // in undercuts too small for the list
}

// listed says whether a point of the block frame lies in the box of a listed
// undercut, grown by so much on all sides.
func (f *finished) listed(grow float64) func(vec.V3) bool {
	frame := f.plan.Block.Frame.Vec()
	var boxes []vec.Box
	for _, u := range f.plan.Split.Undercuts {
		boxes = append(boxes, vec.Box{Min: vec.FromArray(u.Box[0]), Max: vec.FromArray(u.Box[1])}.Grow(grow))
	}
	return func(p vec.V3) bool {
		q := frame.From(p)
		for _, b := range boxes {
			if q == q.Max(b.Min).Min(b.Max) {
				return true
			}
		}
		return false
	}
}

// rays sends a ray along the pull from just off points spread evenly over the
// half's face of the master, through the half's rubber. Where it meets metal
// the point is not reached. Metal behind the point too makes it a place in an
// undercut. skin is the master, metal the cavity: the solids stand up to 0.03 mm
// beside the file.
func (f *finished) rays(half *mesh.Mesh, up vec.V3, skin, metal *bvh.Tree) reach {
	const (
		each = 0.04 // mm2 of face per point
		off  = 1e-3 // mm
	)
	listed := f.listed(2 * 0.37)
	var r reach
	seen, area, carry, u := 0.0, 0.0, 0.0, 0.5
	for i := range half.F {
		a, b, c := half.Tri(i)
		n := b.Sub(a).Cross(c.Sub(a))
		l := n.Len()
		if _, _, d := skin.Closest(a.Add(b).Add(c).Mul(1.0/3), 0.05); l == 0 || d > 0.03 {
			continue
		}
		carry += l / 2 / each
		for ; carry >= 1; carry-- {
			u = math.Mod(u+0.7548776662466927, 1) // R2 sequence (Roberts 2018)
			s, t := u, math.Mod(u*569.8402909980532, 1)
			if s+t > 1 {
				s, t = 1-s, 1-t
			}
			p := a.Add(b.Sub(a).Mul(s)).Add(c.Sub(a).Mul(t))
			w := math.Abs(n.Z) / l
			seen += w
			area++
			o := p.Sub(n.Mul(off / l))
			if len(metal.AllHits(o, up, nil)) == 0 || listed(p) {
				continue
			}
			if len(metal.AllHits(o, up.Mul(-1), nil)) > 0 {
				r.small += w
				r.smallArea++
			} else {
				r.beside += w
				r.besideArea++
			}
		}
	}
	r.beside, r.small = r.beside/seen, r.small/seen
	r.besideArea, r.smallArea = r.besideArea/area, r.smallArea/area
	return r
}

// checkReach: what each half touches of the master it reaches along its pull,
// but for the listed undercuts. Two measures: faces whose normal looks away, in
// columns without a listed gap, and rays. The limits are what is reached
// (docs/numerics/parting.md), with a little room.
func (f *finished) checkReach(t *testing.T) {
	skin, metal := bvh.Build(f.master), bvh.Build(f.cavity)
	const h = 0.37
	m := f.spans(f.master, h)
	gap := f.gaps(m)
	for k, half := range []*mesh.Mesh{f.half1, f.half2} {
		up := vec.V3{Z: 1 - 2*float64(k)}
		all, blind := 0.0, 0.0
		for i := range half.F {
			a, b, c := half.Tri(i)
			p := a.Add(b).Add(c).Mul(1.0 / 3)
			n := b.Sub(a).Cross(c.Sub(a))
			if _, _, d := skin.Closest(p, 0.05); d > 0.03 {
				continue
			}
			w := math.Abs(n.Z) / 2 // the area as the pull sees it: upright walls slide
			all += w
			if n.Z*up.Z < 0 { // the half's normal looks into the master, so it leaves freely where that is against the pull
				continue
			}
			x, y := int((p.X-m.X0)/h+0.5), int((p.Y-m.Y0)/h+0.5)
			if x < 0 || y < 0 || x >= m.NX || y >= m.NY || gap[y*m.NX+x] {
				continue
			}
			blind += w
		}
		r := f.rays(half, up, skin, metal)
		t.Logf("half %d: of its face of the master %.2f %% looks away as the pull sees it; rays: %.2f %% beside the fold, %.2f %% in small undercuts; by area %.1f and %.1f %%",
			k+1, 100*blind/all, 100*r.beside, 100*r.small, 100*r.besideArea, 100*r.smallArea)
		if blind > lookAway*all {
			t.Errorf("half %d: %.2f %% of its face of the master looks away from its pull", k+1, 100*blind/all)
		}
		if r.beside > besideFold {
			t.Errorf("half %d: %.2f %% of its face of the master, as the pull sees it, lies beyond the fold", k+1, 100*r.beside)
		}
		if r.small > smallPlaces {
			t.Errorf("half %d: %.2f %% of its face of the master, as the pull sees it, lies in undercuts that are not listed", k+1, 100*r.small)
		}
	}
}

// Limits of checkReach, shares of a half's face as the pull sees it.
const (
	lookAway    = 0.6e-2
	besideFold  = 0.4e-2
	smallPlaces = 1.0e-2
)
