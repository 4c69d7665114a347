package tension

// Jump returns p_metal - p_gas, Pa, over a side (0 .. 5, as in cells.Nb) of metal
// cell i; the surface cuts the line between the two centres at theta cells from i.
//
// The curvature there is that of the two cells' pieces, weighted by nearness; where a section is
// thin the meniscus acts at the advancing angle, and of two sections the thinner
// one counts, so that it already does at the mouth. Where Both is set the curvature counts if
// it presses harder.
func (f *Field) Jump(i int32, side int, theta float64) float64 {
	o := f.c.Nb[side][i]
	t := f.section(i, o)
	v := 0.0
	if t.Blend < 1 {
		v = (1 - t.Blend) * f.sigma * f.across(i, o, side, theta) / f.c.H
	}
	if t.Blend > 0 {
		cos, _ := f.limits()
		v -= t.Blend * f.sigma * cos * t.Wet * f.begun(i, o, cos)
		if t.Both {
			v = max(v, f.sigma*f.across(i, o, side, theta)/f.c.H)
		}
	}
	return v
}

// Resolved says whether the cells show the surface between two of them, and no thin section acts.
func (f *Field) Resolved(i, o int32) bool { return f.section(i, o).Blend == 0 }

// begun is the part of its full pressure that the meniscus at the mouth of a thin section has: it stands
// on the rim while it bulges in, and its pressure rises with what is in the mouth, from none
// to all as the advancing angle is reached. The bulge is then on the mean 0.16 w deep in a slot and
// 0.125 d in a hole at 140 degrees (segment of a circle, cap of a sphere), 0.32 and 0.5 of 1/Wet; 0.4
// is taken for both. All at once the mouth would be a switch, in which metal swings until it is through.
func (f *Field) begun(i, o int32, cos float64) float64 {
	if cos >= 0 || int(o) >= f.c.N || f.thin[i].Blend >= f.thin[o].Blend {
		return 1
	}
	return min(f.f[o]*f.c.H*f.thin[o].Wet/0.4, 1)
}

// Range returns the least and the largest jump between which a meniscus in a thin
// section stands still, Pa: receding and advancing; both are Jump where the
// section is not thin or lines are free.
func (f *Field) Range(i int32, side int, theta float64) (least, most float64) {
	most = f.Jump(i, side, theta)
	t := f.section(i, f.c.Nb[side][i])
	lo, hi := f.limits()
	return most - t.Blend*f.sigma*(hi-lo)*t.Wet, most
}

// section is that of the two cells which is thinner.
func (f *Field) section(i, o int32) Thin {
	if f.thin == nil {
		return Thin{}
	}
	t := f.thin[i]
	if int(o) < f.c.N {
		if u := f.thin[o]; u.Blend > t.Blend || u.Blend == t.Blend && u.Wet > t.Wet {
			t = u
		}
	}
	return t
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
	if theta != theta {
		theta = 0.5
	}
	theta = min(max(theta, 0), 1)
	if !f.patch[a].fitted && !f.patch[b].fitted {
		return f.fit[a].kappa*(1-theta) + f.fit[b].kappa*theta
	}
	p := f.c.I[i]
	x := [3]float64{float64(p[0]) + 0.5, float64(p[1]) + 0.5, float64(p[2]) + 0.5}
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
