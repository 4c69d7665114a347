package tension

import "math"

// Jump returns p_metal - p_gas, Pa, over a side (0 .. 5, as in cells.Nb) of metal
// cell i; the surface cuts the line between the two centres at theta cells from i.
//
// The curvature there is that of the two cells' pieces, weighted by nearness; where a section is
// thin the meniscus acts, and of two sections the thinner one counts, so that it
// already does at the mouth.
func (f *Field) Jump(i int32, side int, theta float64) float64 {
	o := f.c.Nb[side][i]
	blend, wet := 0.0, 0.0
	if f.thin != nil {
		t := f.thin[i]
		if u := f.thin[o]; int(o) < f.c.N && (u.Blend > t.Blend || u.Blend == t.Blend && u.Wet > t.Wet) {
			t = u
		}
		blend, wet = t.Blend, t.Wet
	}
	v := 0.0
	if blend < 1 {
		v = f.sigma * f.across(i, o, side, theta) / f.c.H
	}
	if blend > 0 {
		v = (1-blend)*v - blend*f.sigma*f.meniscus(i)*wet
	}
	return v
}

// meniscus is the cosine with which a meniscus in a thin section moves on.
func (f *Field) meniscus(i int32) float64 {
	lo, _ := f.limits()
	return lo
}

// across is the curvature where the surface cuts the line of centres, 1/cell.
func (f *Field) across(i, o int32, side int, theta float64) float64 {
	a, b := f.slot[i], f.slot[o]
	if a < 0 && b < 0 {
		return 0
	}
	if b < 0 {
		return f.fit[a].kappa
	}
	if a < 0 {
		return f.fit[b].kappa
	}
	p := f.c.I[i]
	x := [3]float64{float64(p[0]) + 0.5, float64(p[1]) + 0.5, float64(p[2]) + 0.5}
	if math.IsNaN(theta) {
		theta = 0.5
	}
	theta = min(max(theta, 0), 1)
	x[side/2] += theta * float64(2*(side%2)-1)
	wa, wb := f.hold(a, x), f.hold(b, x)
	return (f.fit[a].kappa*wa + f.fit[b].kappa*wb) / (wa + wb)
}

// hold is the weight of a piece at x: its area over the distance squared.
func (f *Field) hold(k int32, x [3]float64) float64 {
	p := &f.patch[k]
	dx, dy, dz := p.x.X-x[0], p.x.Y-x[1], p.x.Z-x[2]
	return (p.area + 0.01) / (dx*dx + dy*dy + dz*dz + 0.05)
}
