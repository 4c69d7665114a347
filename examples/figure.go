package examples

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// figurine is a night watchman, 54 mm from the underside of his plinth (y = 0)
// to the tip of his hood, looking along +z. His right hand holds a staff of
// the given diameter, 40 mm long, upright at x = 13.5 and clear of the body
// but for the hand; the left rests on the belt. The cape hangs close at the
// shoulders and stands off at the hem, behind the robe: rubber is caught there.
func figurine(staff float64) (*mesh.Mesh, error) {
	plinth := func(p vec.V3) float64 {
		r := math.Hypot(p.X/11, p.Z/8.5)
		x, y := (r-1)*8.5, math.Abs(p.Y-1.25)-1.25
		return math.Hypot(max(x, 0), max(y, 0)) + min(max(x, y), 0)
	}
	robe := func(p vec.V3) float64 { // a cone that narrows to the waist
		r := 7.4 - 0.14*(p.Y-2)
		return 0.85 * max((math.Hypot(p.X/r, p.Z/(0.82*r))-1)*0.82*r, p.Y-23, 1-p.Y)
	}
	boots := sculpt.Union(sculpt.Egg(v(-3, 3.6, 4.4), v(2.3, 2.0, 3.4)), sculpt.Egg(v(3, 3.6, 4.0), v(2.3, 2.0, 3.4)))
	belt := sculpt.Egg(v(0, 22.5, 0), v(5.3, 1.1, 4.5))
	legs := sculpt.Blend(0.5, sculpt.Blend(0.6, robe, belt), boots)
	trunk := sculpt.Egg(v(0, 27, 0), v(5, 11, 4.3))
	shoulders := sculpt.Limb(v(-4.6, 34.5, 0), 3, v(4.6, 34.5, 0), 3)
	body := sculpt.Blend(2, sculpt.Blend(1.5, legs, trunk), shoulders)
	hood := sculpt.Blend(2, sculpt.Sphere(v(0, 43.2, -0.6), 4.6), sculpt.Limb(v(0, 46, -0.8), 2.4, v(0.3, 53.3, -1.9), 0.65))
	hood = sculpt.Carve(0.5, hood, sculpt.Egg(v(0, 41.6, 4.3), v(2.9, 4.2, 3.6)))
	head := sculpt.Blend(0.5, sculpt.Egg(v(0, 42, 0.4), v(2.8, 3.7, 3.0)), sculpt.Egg(v(0, 39, 2.4), v(2.1, 3.0, 1.5)))
	head = sculpt.Blend(0.4, head, sculpt.Sphere(v(0, 42, 3.4), 0.8))
	head = sculpt.Blend(0.3, hood, head)
	neck := sculpt.Limb(v(0, 36, 0), 3.2, v(0, 40, 0), 3)
	body = sculpt.Blend(1.2, body, sculpt.Blend(1, neck, head))
	upper := sculpt.Limb(v(6, 34, 0), 2.7, v(10, 28.4, 0.8), 2.2)
	fore := sculpt.Limb(v(10, 28.4, 0.8), 2.2, v(13, 31, 1.4), 1.8)
	hand := sculpt.Sphere(v(13.5, 31.6, 1.2), 2.1)
	other := sculpt.Limb(v(-4.8, 34.2, 0), 2.7, v(-11.8, 28, -0.4), 2.2)
	lower := sculpt.Limb(v(-11.8, 28, -0.4), 2.2, v(-5, 22.6, 1.4), 1.8)
	arms := sculpt.Blend(1, sculpt.Blend(1, upper, fore), sculpt.Blend(0.6, hand, sculpt.Blend(1, other, lower)))
	body = sculpt.Blend(0.8, body, arms)
	body = sculpt.Blend(0.8, body, cape())
	f := sculpt.Blend(0.6, body, plinth)
	pole := sculpt.Rod(v(13.5, 8, 1.2), v(13.5, 48, 1.2), staff/2)
	f = sculpt.Blend(0.3, f, pole)
	f = sculpt.Common(f, sculpt.Below(v(0, -1, 0), 0))
	return sculpt.Contour(f, vec.Box{Min: v(-15, -1, -12), Max: v(17, 55, 10)}, min(0.4, staff*0.4))
}

// cape is a shell of 2 mm with rounded borders behind the figure, from the
// shoulders to a hem at y = 11, where it stands off and waves a little.
func cape() sculpt.Field {
	shell := func(p vec.V3) float64 {
		t := min(max((36-p.Y)/25, 0), 1)
		a := math.Atan2(p.X, -p.Z)
		r := 4.5 + 2.8*t*t*t + 0.4*t*math.Cos(5*a)
		return 0.8 * (math.Abs(math.Hypot(p.X/1.12, p.Z)-r) - 1)
	}
	border := func(p vec.V3) float64 {
		a := math.Atan2(p.X, -p.Z)
		side := 0.8 * (math.Abs(a) - 0.95) * max(math.Hypot(p.X/1.12, p.Z), 2)
		return max(p.Y-36.5, 11-p.Y, side)
	}
	return sculpt.Carve(1.6, shell, func(p vec.V3) float64 { return -border(p) })
}
