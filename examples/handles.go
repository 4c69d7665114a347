package examples

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// drawerPull is a bar handle of 90 x 30 x 22 mm on two round feet, the arch in
// the x-y plane, the screwed foot faces on y = 0. A section swept along the
// arch: 22 mm round and 1.8 mm upright at the feet, an oval of 7.8 x 9.7 mm along the bar.
func drawerPull() (*mesh.Mesh, error) {
	const reach, top, bend = 34, 26.1, 13
	var p []vec.V3
	line := func(a, b vec.V3, n int) {
		for i := range n {
			p = append(p, a.Lerp(b, float64(i)/float64(n)))
		}
	}
	corner := func(cx, from float64) {
		for i := range 20 {
			s, c := math.Sincos(from - math.Pi/2*float64(i)/20)
			p = append(p, v(cx+bend*c, top-bend+bend*s, 0))
		}
	}
	line(v(-reach, 0, 0), v(-reach, top-bend, 0), 16)
	corner(-reach+bend, math.Pi)
	line(v(-reach+bend, top, 0), v(reach-bend, top, 0), 40)
	corner(reach-bend, math.Pi/2)
	line(v(reach, top-bend, 0), v(reach, 0, 0), 16)
	p = append(p, v(reach, 0, 0))
	frames := sculpt.Path(p, v(-1, 0, 0))
	sections := make([]sculpt.Ring, len(p))
	for i, q := range p {
		foot := 0.0
		if math.Abs(q.X) > reach-bend {
			foot = math.Exp(-math.Pow(max(q.Y-1.8, 0)/4.4, 2))
		}
		swell := 0.95 * math.Pow(math.Cos(math.Pi/2*min(math.Abs(q.X)/reach, 1)), 2)
		sections[i] = sculpt.Oval(3.9*(1-foot)+11*foot, (4.15+swell)*(1-foot)+11*foot, 56)
	}
	return sculpt.Swept(frames, sections, false)
}

// escutcheon is an oval key plate of 60 x 32 mm and the given thickness, back
// on z = 0, with a keyhole; a rim 3 mm wide stands 0.9 mm above the plate and
// slopes down to it.
func escutcheon(t float64) (*mesh.Mesh, error) {
	const n = 144
	oval := func(in float64) sculpt.Ring { return sculpt.Oval(30-in, 16-in, n) }
	// A keyhole: a round of 8 mm over a slot that widens to 6 mm.
	var key sculpt.Ring
	open := math.Asin(2.0 / 4)
	for i := range 33 {
		a := -math.Pi/2 + open + (2*math.Pi-2*open)*float64(i)/32
		key = append(key, vec.V2{X: 3 + 4*math.Sin(a), Y: 4 * math.Cos(a)})
	}
	key = append(key, vec.V2{X: -9, Y: -3}, vec.V2{X: -9, Y: 3})
	return sculpt.Lofted([]sculpt.Level{
		{Ring: oval(0), Z: 0}, {Ring: oval(0), Z: t + 0.5}, {Ring: oval(0.4), Z: t + 0.9},
		{Ring: oval(2.4), Z: t + 0.9}, {Ring: oval(3.3), Z: t},
	}, key)
}

// buckle is a belt buckle frame of 60 x 45 x 5 mm: a rounded oblong ring of
// oval section with a 3 mm bar for the tongue across its middle, all in the
// x-y plane.
func buckle() (*mesh.Mesh, error) {
	const w, t, corner = 8.0, 5.0, 14.0
	flat := func(p vec.V2) float64 { // distance to the middle line of the ring
		x, y := math.Abs(p.X)-(30-w/2-corner), math.Abs(p.Y)-(22.5-w/2-corner)
		return math.Hypot(max(x, 0), max(y, 0)) + min(max(x, y), 0) - corner
	}
	ring := func(p vec.V3) float64 {
		u := flat(vec.V2{X: p.X, Y: p.Y}) / (w / 2)
		z := p.Z / (t / 2)
		k := math.Sqrt(u*u + z*z)
		g := math.Sqrt(u*u/(w*w/4) + z*z/(t*t/4))
		if g < 1e-9 {
			return -t / 2
		}
		return k * (k - 1) / g
	}
	bar := sculpt.Rod(v(-4, -18.5, 0), v(-4, 18.5, 0), 1.5)
	return sculpt.Contour(sculpt.Blend(0.8, ring, bar), vec.Box{Min: v(-31, -24, -3), Max: v(31, 24, 3)}, 0.5)
}
