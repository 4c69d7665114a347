package parting

import (
	"math"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// halfColumns is rubber above (dir +1) or below the surface, less the metal.
func halfColumns(s *Surface, m *voxel.Columns, dir float64) func(int) []voxel.Span {
	all := make([][]voxel.Span, m.Len())
	for q := range all {
		z := s.At(m.X0+m.H*float64(q%m.NX), m.Y0+m.H*float64(q/m.NX))
		a, b := z, 1e6
		if dir < 0 {
			a, b = -1e6, z
		}
		for _, k := range m.Of(q) {
			if k.Lo > a {
				all[q] = append(all[q], voxel.Span{Lo: a, Hi: min(k.Lo, b)})
			}
			a = max(a, k.Hi)
			if a >= b {
				break
			}
		}
		if a < b {
			all[q] = append(all[q], voxel.Span{Lo: a, Hi: b})
		}
	}
	return func(q int) []voxel.Span { return all[q] }
}

// opened returns the worst overlap outside the listed undercuts of both halves
// that the split's own surface would give, as a share of the volume.
func opened(r *Split, m *mesh.Mesh, cell, step float64) [2]Drag {
	in := m.Into(r.Frame)
	b := bounds(in)
	s := b.Size()
	c := voxel.Cast(in, int(s.X/cell)+1, int(s.Y/cell)+1, b.Min.X+0.2713*cell, b.Min.Y+0.2179*cell, cell)
	listed := func(p vec.V3) bool {
		p = r.Frame.From(p)
		for _, u := range r.Undercuts {
			k := u.Box.Grow(2 * cell)
			if p.Max(k.Min) == p && p.Min(k.Max) == p {
				return true
			}
		}
		return false
	}
	return [2]Drag{
		drag(halfColumns(r.Sheet, c, 1), c, 1, step, listed),
		drag(halfColumns(r.Sheet, c, -1), c, -1, step, listed),
	}
}

func TestOpening(t *testing.T) {
	for _, o := range meshes(t, "exact", "sound") {
		if o.v.Kind == "sound" && (o.v.Castable == nil || !*o.v.Castable) {
			continue
		}
		r := splitOf(t, o)
		long := o.m.Box().Longest()
		d := opened(r, o.m, long/140, long/240)
		for k, x := range d {
			if x.Outside > 1e-3*r.Volume {
				t.Errorf("%s: half %d meets %.2e of the volume outside the undercuts after %.3g", o.name, k+1, x.Outside/r.Volume, x.At)
			}
		}
		if testing.Verbose() {
			t.Logf("%-18s outside %.1e %.1e inside %.1e %.1e locked %.1e", o.name, d[0].Outside/r.Volume, d[1].Outside/r.Volume, d[0].Inside/r.Volume, d[1].Inside/r.Volume, r.Locked/r.Volume)
		}
		checkSplit(t, o.name, o.m, r)
	}
}

// checkSplit holds what every split must keep: the line on the master, the
// listed volumes against the locked volume, each triangle's half reachable.
func checkSplit(t *testing.T, name string, m *mesh.Mesh, r *Split) {
	t.Helper()
	long := m.Box().Longest()
	sum := 0.0
	for _, u := range r.Undercuts {
		sum += u.Volume
	}
	if d := sum - r.Locked; d > 0.05*r.Locked+1e-3*r.Volume || d < -0.05*r.Locked-1e-3*r.Volume {
		t.Errorf("%s: undercuts add up to %.3g of the volume, locked are %.3g", name, sum/r.Volume, r.Locked/r.Volume)
	}
	if len(r.Line) == 0 {
		t.Errorf("%s: no line", name)
	}
	n := 0
	for _, l := range r.Line {
		for i, p := range l {
			if n++; n%7 != 0 {
				continue
			}
			best := long
			for f := range m.F {
				a, b, c := m.Tri(f)
				if min(a.X, b.X, c.X)-best > p.X || max(a.X, b.X, c.X)+best < p.X || min(a.Y, b.Y, c.Y)-best > p.Y || max(a.Y, b.Y, c.Y)+best < p.Y {
					continue
				}
				best = min(best, nearest(p, a, b, c).Dist(p))
			}
			if best > 1e-6*long {
				t.Errorf("%s: point %d of the line is %.2e of the length off the master", name, i, best/long)
			}
		}
	}
	if len(r.Label) != len(m.F) {
		t.Fatalf("%s: %d labels for %d triangles", name, len(r.Label), len(m.F))
	}
	if len(m.F) > 10000 {
		return
	}
	// Of 300 triangles, the share of the area seen along the pull that its
	// half cannot leave.
	in := m.Into(r.Frame)
	wrong, all := 0.0, 0.0
	for f := 0; f < len(m.F); f += 1 + len(m.F)/300 {
		a, b, c := in.Tri(f)
		p := a.Add(b).Add(c).Mul(1. / 3)
		w := math.Abs(b.Sub(a).Cross(c.Sub(a)).Z)
		all += w
		s := voxel.Cast(in, 1, 1, p.X, p.Y, 1).Of(0)
		if len(s) == 0 || r.Label[f] == 1 && s[len(s)-1].Hi <= p.Z+1e-3*long || r.Label[f] == 2 && s[0].Lo >= p.Z-1e-3*long {
			continue
		}
		q := r.Frame.From(p)
		if !slices.ContainsFunc(r.Undercuts, func(u Place) bool {
			k := u.Box.Grow(long / 50)
			return q.Max(k.Min) == q && q.Min(k.Max) == q
		}) {
			wrong += w
		}
	}
	if wrong > 0.02*all {
		t.Errorf("%s: %.1f %% of the face is given to a half that does not reach it", name, 100*wrong/all)
	}
}
