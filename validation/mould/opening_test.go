package mould

import (
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// opening is, for one half on its way out, how much of the master it meets as
// a function of how far it has gone: a sum of trapezoids, one for each stretch
// of rubber that passes a stretch of master on the same line. It is kept as the
// places where its slope changes, so that it is known at every step, however
// small.
type opening struct{ at []bend }

type bend struct{ lift, slope float64 }

// pass adds rubber a that moves up by lift past master b.
func (o *opening) pass(a, b voxel.Span) {
	in, out := b.Lo-a.Hi, b.Hi-a.Lo
	if out <= 0 {
		return
	}
	full, less := min(b.Lo-a.Lo, b.Hi-a.Hi), max(b.Lo-a.Lo, b.Hi-a.Hi)
	o.at = append(o.at, bend{in, 1}, bend{full, -1}, bend{less, -1}, bend{out, 1})
}

// most returns the largest value from lift 0 on, and where.
func (o *opening) most() (worst, lift float64) {
	slices.SortFunc(o.at, func(a, b bend) int {
		switch {
		case a.lift < b.lift:
			return -1
		case a.lift > b.lift:
			return 1
		}
		return 0
	})
	value, slope, here := 0.0, 0.0, 0.0
	for i, x := range o.at {
		if i > 0 {
			if here < 0 && x.lift > 0 && value+slope*-here > worst { // at the start
				worst, lift = value+slope*-here, 0
			}
			value += slope * (x.lift - here)
		}
		here = x.lift
		slope += x.slope
		if here >= 0 && value > worst {
			worst, lift = value, here
		}
	}
	return worst, lift
}

// without returns a less the stretches of b (sorted).
func without(a []voxel.Span, b []voxel.Span) []voxel.Span {
	r := slices.Clone(a)
	for _, x := range b {
		var next []voxel.Span
		for _, y := range r {
			if x.Hi <= y.Lo || x.Lo >= y.Hi {
				next = append(next, y)
				continue
			}
			if x.Lo > y.Lo {
				next = append(next, voxel.Span{Lo: y.Lo, Hi: x.Lo})
			}
			if x.Hi < y.Hi {
				next = append(next, voxel.Span{Lo: x.Hi, Hi: y.Hi})
			}
		}
		r = next
	}
	return r
}

// checkOpening moves each half out along its pull. The rule asks steps of a
// quarter of the thinnest section; here the rubber met is known at every
// height between, which no step can pass by. Rubber that stands in the gaps of
// the listed undercuts, widened by two cells, is left out; the rest may meet
// 0.1 % of the master's volume.
func (f *finished) checkOpening(t *testing.T) {
	const h = 0.25
	v := f.plan.Master.Volume
	for n, master := range f.masters {
		m := f.spans(master, h)
		gaps := f.locked(m, f.plan.Block.Placements[n].Vec())
		for k, half := range []*mesh.Mesh{f.half1, f.half2} {
			c := f.spans(half, h)
			o := &opening{}
			for q := range m.Len() {
				if len(m.Of(q)) == 0 {
					continue
				}
				for _, a := range without(c.Of(q), gaps[q]) {
					for _, b := range m.Of(q) {
						if k == 0 {
							o.pass(a, b)
						} else { // downwards: the same in the mirror
							o.pass(voxel.Span{Lo: -a.Hi, Hi: -a.Lo}, voxel.Span{Lo: -b.Hi, Hi: -b.Lo})
						}
					}
				}
			}
			worst, lift := o.most()
			worst *= h * h
			t.Logf("half %d meets %.4f %% of master %d on its way, most after %.2f mm", k+1, 100*worst/v, n+1, lift)
			if worst > 1e-3*v {
				t.Errorf("half %d meets %.4f %% of master %d outside the undercuts, after %.2f mm", k+1, 100*worst/v, n+1, lift)
			}
		}
	}
}

// locked lists for every column the gaps of the listed undercuts, two cells
// wider on all sides.
func (f *finished) locked(m *voxel.Columns, frame vec.Frame) [][]voxel.Span {
	const wide = 2
	list := make([][]voxel.Span, m.Len())
	var boxes []vec.Box
	for _, u := range f.plan.Split.Undercuts {
		boxes = append(boxes, vec.Box{Min: vec.FromArray(u.Box[0]), Max: vec.FromArray(u.Box[1])}.Grow(m.H))
	}
	listed := func(p vec.V3) bool {
		q := frame.From(p)
		return slices.ContainsFunc(boxes, func(b vec.Box) bool { return q == q.Max(b.Min).Min(b.Max) })
	}
	for j := range m.NY {
		for i := range m.NX {
			s := m.At(i, j)
			for k := 1; k < len(s); k++ {
				if !listed(vec.V3{X: m.X0 + float64(i)*m.H, Y: m.Y0 + float64(j)*m.H, Z: (s[k-1].Hi + s[k].Lo) / 2}) {
					continue
				}
				gap := voxel.Span{Lo: s[k-1].Hi - wide*m.H, Hi: s[k].Lo + wide*m.H}
				for y := max(0, j-wide); y <= min(m.NY-1, j+wide); y++ {
					for x := max(0, i-wide); x <= min(m.NX-1, i+wide); x++ {
						list[y*m.NX+x] = append(list[y*m.NX+x], gap)
					}
				}
			}
		}
	}
	return list
}
