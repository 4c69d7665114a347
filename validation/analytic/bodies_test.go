// Package analytic holds bodies with closed forms against the whole geometry:
// volume, silhouette, locked volume, air pockets, hanging ends, bars to a
// two-part mould. The forms are derived in the comments; where a mesh stands
// for a round body the values are those of the mesh itself (regular n-gons in
// place of circles), so that the tolerances are those of the method alone.
package analytic

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

const n, m = 96, 48 // sectors round an axis and round a tube

// gon is the area of a regular n-gon over the square of its corner radius.
func gon() float64 { return n * math.Sin(2*math.Pi/n) / 2 }

// view is what a body shows along a direction.
type view struct {
	along      vec.V3
	silhouette float64
	locked     float64
}

// pool is what a body traps when it stands with up upwards.
type pool struct {
	up      vec.V3
	pockets []pocket
}

type pocket struct{ volume, saddle float64 }

// hang is a hanging dead end.
type hang struct{ bore, depth float64 }

type body struct {
	name   string
	mesh   *mesh.Mesh
	volume float64
	views  []view
	pools  []pool
	hangs  []hang // with +z up
	bar    string // code of what forbids two parts, "" where nothing does
}

func v(x, y, z float64) vec.V3 { return vec.V3{X: x, Y: y, Z: z} }

// tube returns the corners of the torus' section from angle t0 to t1 in steps
// of 2 pi/m.
func tube(R, r, t0, t1 float64) []vec.V2 {
	k := int(math.Round((t1 - t0) / (2 * math.Pi / m)))
	p := make([]vec.V2, k+1)
	for i := range p {
		s, c := math.Sincos(t0 + 2*math.Pi/m*float64(i))
		p[i] = vec.V2{X: R + r*c, Y: r * s}
	}
	return p
}

// under is the area between a polyline of (radius, height) and the axis.
func under(p []vec.V2) float64 {
	s := 0.0
	for i := 1; i < len(p); i++ {
		s += (p[i].X + p[i-1].X) / 2 * (p[i].Y - p[i-1].Y)
	}
	return math.Abs(s)
}

func ballOutline(r float64) []vec.V2 {
	p := make([]vec.V2, n/2+1)
	for i := range p {
		s, c := math.Sincos(-math.Pi/2 + 2*math.Pi/n*float64(i))
		p[i] = vec.V2{X: r * c, Y: r * s}
	}
	return p
}

func bodies() []body {
	x, y, z := v(1, 0, 0), v(0, 1, 0), v(0, 0, 1)
	down := v(0, 0, -1)
	none := func(up vec.V3) pool { return pool{up: up} }
	var list []body
	put := func(name string, b sculpt.Body, bar string, views []view, pools []pool, hangs ...hang) {
		list = append(list, body{name, b.Mesh, b.Volume, views, pools, hangs, bar})
	}

	// A convex body locks nothing along any direction. Along z a turned body
	// shows its largest n-gon; along x or y, n being a multiple of 4, twice the
	// area under its outline.
	put("ball", sculpt.Ball(10, n), "", []view{
		{z, gon() * 100, 0}, {x, 2 * under(ballOutline(10)), 0}, {v(1, 2, 3), 0, 0},
	}, []pool{none(z), none(x), none(v(1, 2, 3))})
	put("cone", sculpt.Cone(10, 25, n), "", []view{
		{z, gon() * 100, 0}, {x, 10 * 25, 0}, {v(1, 1, 1), 0, 0},
	}, []pool{none(z), none(down), none(x)})

	// Torus: along z the ring between two n-gons. Along x, every level section
	// is a ring whose hole, convex, is crossed by lines of the section: locked
	// is the plug of the hole between the tube's lowest and highest points; for
	// circles pi (2 r R^2 - pi R r^2 + 4 r^3/3).
	R, r := 12.0, 4.0
	put("torus", sculpt.Torus(R, r, n, m), "", []view{
		{z, gon() * ((R+r)*(R+r) - (R-r)*(R-r)), 0},
		{x, 2 * under(tube(R, r, -math.Pi/2, math.Pi/2)), sculpt.TurnedVolume(append([]vec.V2{{Y: r}}, append(tube(R, r, math.Pi/2, 3*math.Pi/2), vec.V2{Y: -r})...), true, n)},
	}, []pool{none(z), none(x)})

	// U of posts w, gap g, heights a and b over the yoke, depth d. Along x the
	// lines between the posts run through the gap up to the lower post's top.
	// Upright, the lower post is a pocket down to the yoke's top.
	w, g, a, b, d := 6.0, 8.0, 20.0, 14.0, 7.0
	put("U", sculpt.U(w, g, a, b, d), "", []view{
		{y, (2*w+g)*w + w*(a+b), 0}, {z, (2*w + g) * d, 0}, {x, d * (w + a), g * b * d},
	}, []pool{{z, []pocket{{w * b * d, w}}}, none(down), none(x), none(y)})

	// Two towers on a base: along x the lines between the towers cross the
	// gap. Upright, the lower tower is a pocket down to the base's top.
	l, t, s, e := 40.0, 6.0, 8.0, 4.0
	put("two towers", sculpt.Towers(l, t, s, e, 20, 12), "", []view{
		{z, l * (s + 2*e), 0}, {y, l*t + s*(20+12), 0}, {x, (s+2*e)*t + s*20, s * 12 * (l - 2*e - 2*s)},
	}, []pool{{z, []pocket{{s * s * 12, t}}}, none(down)})

	// A closed void is locked along every direction; the shell round it traps
	// no air of its own.
	put("hollow ball", sculpt.HollowBall(12, 8, n), "closed-void", []view{
		{z, gon() * 144, sculpt.Ball(8, n).Volume}, {v(1, 2, 3), 0, sculpt.Ball(8, n).Volume},
	}, []pool{none(z), none(x)})

	// Cup: nothing locked along its axis. Across it, the bore, convex in every
	// level section, is locked from floor to rim. Mouth down or up, the wall
	// is one ring at every level: no air stays.
	put("cup", sculpt.Cup(12, 9, 20, 3, n), "", []view{
		{z, gon() * 144, 0}, {x, 2 * 12 * 20, gon() * 81 * 17},
	}, []pool{none(down), none(z)})

	// Block with a pin below: along z nothing is locked, across neither.
	for _, bore := range []float64{3, 8} {
		put([]string{"hanging bore 3", "hanging bore 8"}[int(bore)/8], sculpt.Hanging(12, 8, bore, 12, n), "", []view{
			{z, gon() * 144, 0}, {x, 24*8 + bore*12, 0},
		}, []pool{none(z), none(down)}, hang{bore, 12})
	}

	put("linked rings", sculpt.Links(10, 2.5, 2, n, m), "linked", nil, nil)
	put("pierced plate", sculpt.Pierced(60, 20, 4, 8, 3, n), "", []view{
		// Across, each hole is crossed over its whole width.
		{z, 60*20 - 3*gon()*16, 0}, {y, 60 * 4, 3 * gon() * 16 * 4}, {x, 20 * 4, 3 * gon() * 16 * 4},
	}, []pool{none(z), none(y)})
	return list
}
