package mould

import (
	"math"
	"slices"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// plane is z = a + b (x - x0) + c (y - y0).
type plane struct{ x0, y0, a, b, c float64 }

func (p plane) at(x, y float64) float64 { return p.a + p.b*(x-p.x0) + p.c*(y-p.y0) }

// peg is one key of the plan with the parting surface round it, as half-1.stl
// has it.
type peg struct {
	at              vec.V3
	diameter, depth float64
	foot            plane
}

// rubber returns the key's stretch of the column (x, y): from the parting
// surface as it would run without the key to the key's face.
func (k *peg) rubber(x, y float64) (voxel.Span, bool) {
	const slope = 20 * math.Pi / 180 // of the flank from the axis
	d := math.Hypot(x-k.at.X, y-k.at.Y)
	tall := min(math.Abs(k.depth), (k.diameter/2-d)/math.Tan(slope)) // over the middle of the foot
	foot := k.foot.at(x, y)
	s := voxel.Span{Lo: foot, Hi: k.at.Z + tall}
	if k.depth < 0 {
		s = voxel.Span{Lo: k.at.Z - tall, Hi: foot}
	}
	return s, s.Hi > s.Lo
}

// pegs reads the keys of the plan, and the surface round them from the file.
func (f *finished) pegs(t *testing.T) []peg {
	var list []peg
	for _, k := range f.plan.Block.Keys {
		p := peg{at: vec.FromArray(k.At), diameter: k.Diameter, depth: k.Depth}
		// z over a ring just outside the foot; cos and sin are orthogonal on it
		const n = 24
		r := k.Diameter/2 + 0.3
		p.foot.x0, p.foot.y0 = p.at.X, p.at.Y
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / n)
			col := voxel.Cast(f.half1, 1, 1, p.at.X+r*c, p.at.Y+r*s, 1).Of(0)
			if len(col) != 1 {
				t.Fatalf("half 1 is not one stretch beside the key at %v: %v", p.at, col)
			}
			p.foot.a += col[0].Lo / n
			p.foot.b += 2 * c * col[0].Lo / n / r
			p.foot.c += 2 * s * col[0].Lo / n / r
		}
		list = append(list, p)
	}
	return list
}

// rim returns the height of the parting surface at the left, right and bottom
// of the block: the lowest of half 1 there.
func (f *finished) rim() float64 {
	s := f.plan.Block.Size
	low := math.Inf(1)
	for _, p := range f.half1.V {
		if math.Abs(p.X) > s[0]/2-1e-3 || p.Y < -s[1]/2+1e-3 {
			low = min(low, p.Z)
		}
	}
	return low
}

// checkKeys turns half 2 by 180 degrees about x, y and z of the block. Turned
// over it is pushed back to its own side: its flat back to the height at which
// the halves part at the block's sides. Each time more than 50 mm3 of the
// rubber of keys of either half must lie in the other half's rubber; relief of
// the parting surface does not count.
func (f *finished) checkKeys(t *testing.T) {
	pegs := f.pegs(t)
	if len(pegs) == 0 {
		t.Error("the plan has no keys")
		return
	}
	const h = 0.2
	s := f.plan.Block.Size
	nx, ny := int(s[0]/h), int(s[1]/h)
	one := f.spans(f.half1, h)
	edge := f.rim()
	for i, sign := range []vec.V3{{X: 1, Y: -1, Z: -1}, {X: -1, Y: 1, Z: -1}, {X: -1, Y: -1, Z: 1}} {
		axis := "xyz"[i : i+1]
		push := 0.0
		if sign.Z < 0 {
			push = edge - s[2]/2
		}
		turned := &mesh.Mesh{F: f.half2.F} // a turn keeps the sense of the triangles
		for _, p := range f.half2.V {
			turned.V = append(turned.V, vec.V3{X: sign.X * p.X, Y: sign.Y * p.Y, Z: sign.Z*p.Z + push})
		}
		two := f.spans(turned, h)
		keys, all := 0.0, 0.0
		for q := range nx * ny {
			x, y := one.X0+float64(q%nx)*h, one.Y0+float64(q/nx)*h
			var met []voxel.Span
			for _, a := range one.Of(q) {
				for _, b := range two.Of(q) {
					if w := (voxel.Span{Lo: max(a.Lo, b.Lo), Hi: min(a.Hi, b.Hi)}); w.Hi > w.Lo {
						met = append(met, w)
						all += w.Hi - w.Lo
					}
				}
			}
			if len(met) > 0 {
				keys += common(met, rubberAt(pegs, x, y, sign, push), 0)
			}
		}
		keys, all = keys*h*h, all*h*h
		t.Logf("half 2 turned about %s meets %.0f mm3 of keys, %.0f mm3 in all", axis, keys, all)
		if keys <= 50 {
			t.Errorf("half 2 turned about %s meets only %.1f mm3 of keys", axis, keys)
		}
		name := "keys in the way of half 2 turned about " + axis
		i := slices.IndexFunc(f.plan.Figures, func(x plan.Figure) bool { return x.Name == name })
		if i < 0 {
			t.Errorf("the plan has no figure %q", name)
		} else if v := f.plan.Figures[i].Value; math.Abs(v-keys) > 0.05*keys+3 {
			t.Errorf("%s: the plan says %.1f mm3, the files give %.1f", name, v, keys)
		}
	}
}

// rubberAt lists the rubber of keys in the column (x, y): of half 1 as it
// stands, of half 2 turned and pushed; joined where they overlap.
func rubberAt(pegs []peg, x, y float64, sign vec.V3, push float64) []voxel.Span {
	var list []voxel.Span
	for i := range pegs {
		if pegs[i].depth < 0 {
			if r, ok := pegs[i].rubber(x, y); ok {
				list = append(list, r)
			}
		} else if r, ok := pegs[i].rubber(sign.X*x, sign.Y*y); ok {
			a, b := sign.Z*r.Lo+push, sign.Z*r.Hi+push
			list = append(list, voxel.Span{Lo: min(a, b), Hi: max(a, b)})
		}
	}
	slices.SortFunc(list, func(a, b voxel.Span) int {
		if a.Lo < b.Lo {
			return -1
		}
		return 1
	})
	var joined []voxel.Span
	for _, r := range list {
		if n := len(joined); n > 0 && r.Lo <= joined[n-1].Hi {
			joined[n-1].Hi = max(joined[n-1].Hi, r.Hi)
		} else {
			joined = append(joined, r)
		}
	}
	return joined
}
