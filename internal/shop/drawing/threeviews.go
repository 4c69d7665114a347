package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// viewItems draws the first master from half 1's side and from two edges at
// full size, with the parting line on it: full where it is seen, broken where
// it lies behind. The maker draws it on the master by these.
func (in *Input) viewItems() []*item {
	v := in.look()
	if len(v.masters) == 0 {
		return nil
	}
	frames := in.placements()
	if len(frames) == 0 || in.Masters != nil {
		return nil // the line is given on the one master of the plan
	}
	var line [][]vec.V3
	for _, l := range in.Plan.Split.Line {
		var r []vec.V3
		b := vec.Empty()
		for _, q := range l {
			r = append(r, frames[0].To(vec.FromArray(q)))
			b = b.Add(r[len(r)-1])
		}
		if b.Longest() > boxOf(v.masters[0]).Longest()/50 {
			line = append(line, r)
		}
	}
	views := []struct {
		name string
		f    vec.Frame
	}{
		{"from half 1, cup edge up", vec.World()},
		{"from the right, cup edge up, half 1 at the left", vec.Frame{X: vec.V3{Z: -1}, Y: vec.V3{Y: 1}, Z: vec.V3{X: 1}}},
		{"from the lower edge, half 1 above", vec.Frame{X: vec.V3{X: 1}, Y: vec.V3{Z: 1}, Z: vec.V3{Y: -1}}},
	}
	var out []*item
	for k, w := range views {
		var e *envelope
		if k == 0 {
			e = in.envelopeOf(0)
		} else {
			e = envelopeOf([]*mesh.Mesh{v.masters[0].Into(w.f)}, 450)
		}
		if i := viewItem(e, w.f, w.name, line); i != nil {
			out = append(out, i)
		}
	}
	return out
}

// viewItem draws one view: the shadow along the frame's Z, from the envelope
// there, and the line.
func viewItem(e *envelope, f vec.Frame, name string, line [][]vec.V3) *item {
	shadow := e.shadow()
	lo, hi, ok := bounds(shadow)
	if !ok {
		return nil
	}
	const foot = 8
	i := &item{name: name}
	i.w, i.h = max(hi.X-lo.X, 34), hi.Y-lo.Y+foot
	p := &i.page
	at := func(q vec.V2) vec.V2 { return vec.V2{X: q.X - lo.X, Y: hi.Y - q.Y} }
	p.stroke(ruleLine, nil, true, moved(shadow, at)...)
	slack := 0.02 * math.Max(hi.X-lo.X, hi.Y-lo.Y)
	for _, l := range line {
		var cur []vec.V2
		seen := true
		flush := func() {
			if len(cur) > 1 {
				if seen {
					p.stroke(cutLine, nil, false, cur)
				} else {
					p.stroke(thinLine, []float64{1.6, 0.8}, false, cur)
				}
			}
			cur = nil
		}
		for k := range len(l) + 1 {
			q := f.To(l[k%len(l)])
			s := e.seen(q, slack)
			if k > 0 && s != seen {
				flush()
			}
			seen = s
			cur = append(cur, at(vec.V2{X: q.X, Y: q.Y}))
		}
		flush()
	}
	y := hi.Y - lo.Y + 3.6
	for _, t := range wrapIn(label, labelBold, 7.2, min(i.w, textMost), name) {
		p.putLine(label, labelBold, 7.2, 0, y, t)
		y += 3.3
	}
	return i
}

// seen reports whether nothing lies above q by more than slack, at its cell or
// one of those round it.
func (e *envelope) seen(q vec.V3, slack float64) bool {
	for dj := -1.0; dj <= 1; dj++ {
		for di := -1.0; di <= 1; di++ {
			if top, _, ok := e.at(q.X+di*e.h, q.Y+dj*e.h); !ok || top <= q.Z+slack {
				return true
			}
		}
	}
	return false
}
