package sculpt

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// DemoFile is the name that DemoJob gives the mesh of Demo.
const DemoFile = "fern-pull.stl"

// DemoJob is the job of the demo, as TOML. The workshop and the order are
// invented.
const DemoJob = `# Invented: Pennywhin Castings, its customer and this order do not exist.
title = "Fern-curl drawer pull"

[master]
mesh = "fern-pull.stl"
unit = "mm"
material = "resin print, sealed"
show = [[-13.0, 5.5, 3.7]]
hide = [[0.0, -30.0, 0.0]]
in_hand = 1

[rubber]
kind = "condensation-heat-30"

[alloy]
kind = "pewter-92-7-1"
origin = "certified"

[order]
castings = 12
use = "decor"

[stand]
up = [0.0, -1.0, 0.0] # the foot up: the scar hides behind it

[bench]
room_c = 21
scale_step = 0.1
ladle_g = 400
melting_pot_kg = 2
paper = "A4"
`

// Demo returns the master of the demo: a drawer pull in the shape of a young
// fern frond. A stout stem (7-8 mm) rises from an oval foot whose flat face is
// screwed to the drawer, and rolls up into a crozier that ends in a bud: with
// more than a full turn, some part of it keeps its air whichever way the mould
// stands. A thin leaf (1.8 mm) grows from the stem and its tip rolls forward
// over itself: an undercut that rubber stretches off. The pull lies along z;
// about 34 x 58 x 14 mm.
func Demo() (*mesh.Mesh, error) {
	stem := crozier()
	leaf := curledLeaf()
	foot := Near(v(0, -31, 0), 9, Egg(v(0, -31, 0), v(9, 6.5, 7)))
	f := Blend(3, stem, foot)
	f = Blend(1.6, f, leaf)
	f = Common(f, Below(v(0, -1, 0), 30))
	return Contour(f, vec.Box{Min: v(-25, -31, -8), Max: v(26, 34, 13)}, 0.5)
}

func v(x, y, z float64) vec.V3 { return vec.V3{X: x, Y: y, Z: z} }

// bezier returns n+1 points of the cubic through a and d with handles b and c.
func bezier(a, b, c, d vec.V3, n int) []vec.V3 {
	p := make([]vec.V3, n+1)
	for i := range p {
		t := float64(i) / float64(n)
		s := 1 - t
		p[i] = a.Mul(s * s * s).Add(b.Mul(3 * s * s * t)).Add(c.Mul(3 * s * t * t)).Add(d.Mul(t * t * t))
	}
	return p
}

// crozier is the stem: from the foot up the left side into a logarithmic
// spiral, section an ellipse with a raised rib along both faces and furrows
// that run to it like folded leaflets, a round bud at the end.
func crozier() Field {
	const start, decay, turn = 205 * math.Pi / 180, 0.155, 7.25
	c := v(2, 12.5, 0)
	on := func(phi float64) vec.V3 {
		s, k := math.Sincos(start - phi)
		r := 16.5 * math.Exp(-decay*phi)
		return c.Add(v(r*k, r*s, 0))
	}
	head := on(0)
	ahead := on(0.01).Sub(head).Unit()
	p := bezier(v(0, -32, 0), v(0, -19, 0), head.Sub(ahead.Mul(12)), head, 40)
	for i := 1; i <= 120; i++ {
		p = append(p, on(turn*float64(i)/120))
	}
	curve := NewCurve(p)
	rolls := curve.At[40]
	end := p[len(p)-1]
	bud := Egg(end, v(3.4, 3.4, 3.6))
	stem := func(q vec.V3) float64 {
		n, s, along := curve.Near(v(q.X, q.Y, 0))
		side := v(-along.Y, along.X, 0)
		u, w := q.Sub(n).Dot(side), math.Abs(q.Z)
		t := s / curve.Len()
		a, b := 3.9-1.5*t, 4.1-1.5*t
		over := q.Sub(n).Dot(along) // not 0 beyond an end
		k := math.Sqrt(u/a*u/a + over/a*over/a + w/b*w/b)
		g := math.Sqrt(u/a/a*u/a/a + over/a/a*over/a/a + w/b/b*w/b/b)
		if g < 1e-9 {
			return -b
		}
		d := k * (k - 1) / g
		face := (w / b) * (w / b) / (k*k + 1e-9)
		d -= 0.4 * face * math.Exp(-u*u/0.8)
		in := min(max((s-rolls+6)/12, 0), 1) * min(max((curve.Len()-s)/8, 0), 1)
		d += 0.22 * in * face * (1 - math.Exp(-u*u/0.8)) * math.Cos(2*math.Pi*(s+1.1*math.Abs(u))/3.1)
		return 0.8 * d
	}
	return Blend(1.2, stem, bud)
}

// curledLeaf grows from the stem to the right: a lens-shaped blade along a
// line that rises, bends forward and rolls back over itself.
func curledLeaf() Field {
	base, out := v(-3.5, -15.5, -1.2), v(0.95, 0.31, 0).Unit()
	const reach, bend, rise = 17.5, 3.2, 0.013
	// The midrib in the plane of out (u) and z (w).
	var p []vec.V3
	for i := range 21 {
		u := reach * float64(i) / 20
		p = append(p, v(u, rise*u*u-0.1*u, 0))
	}
	last := p[20]
	slope := math.Atan(2*rise*reach - 0.1)
	mid := last.Add(v(-bend*math.Sin(slope), bend*math.Cos(slope), 0))
	for i := 1; i <= 28; i++ {
		s, k := math.Sincos(slope - math.Pi/2 + 2.3*float64(i)/28)
		p = append(p, mid.Add(v(bend*k, bend*s, 0)))
	}
	rib := NewCurve(p)
	across := v(-out.Y, out.X, 0)
	return Near(v(8, -11.5, 2), 15, func(q vec.V3) float64 {
		d := q.Sub(base)
		side := d.Dot(across)
		w := d.Z - 0.035*side*side // the blade is a little hollow in front
		n, s, along := rib.Near(v(d.Dot(out), w, 0))
		o := v(d.Dot(out), w, 0).Sub(n)
		t := s / rib.Len()
		width := 1.6 + 5.6*math.Sin(math.Pi*math.Pow(min(0.05+0.95*t, 1), 0.8))
		over := o.Dot(v(-along.Y, along.X, 0))
		thick := 0.9 + 0.4*math.Exp(-side*side/0.6)*(1-t)
		if over > 0 { // shallow veins that leave the rib at a slant
			vein := math.Cos(math.Pi * (s - 0.9*math.Abs(side)) / 3.4)
			fade := min(max(width-math.Abs(side)-0.8, 0)/1.5, math.Abs(side), 1, over/0.5)
			thick -= 0.2 * vein * vein * vein * vein * fade
		}
		return 0.75 * -smooth(thick-o.Len(), width-math.Abs(side), 1.2)
	})
}
