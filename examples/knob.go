package examples

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// stopKnob is the turned knob of an organ stop: 28 mm across the face, 32 mm
// long, waisted, with a blind shank hole 8 mm wide and 15 mm deep in its foot
// (z = 0) and letters 0.6 mm deep in its face (z = 32), which is slightly
// domed. The letters are worked into the heights of the face alone.
func stopKnob() (*mesh.Mesh, error) {
	const sectors, top, rim = 288, 32.0, 13.0
	dome := func(r float64) float64 { return top - 0.8*(r/rim)*(r/rim) }
	p := []vec.V2{{Y: 15}, {X: 4, Y: 15}, {X: 4}, {X: 10.7}, {X: 11.5, Y: 0.8}}
	// The waist: from the foot's ring in to 8 mm and out to the head.
	for i := 1; i <= 24; i++ {
		t := float64(i) / 24
		p = append(p, vec.V2{X: 11.5*(1-t)*(1-t) + 3.6*2*t*(1-t) + 13.5*t*t, Y: 0.8 + 21.2*t})
	}
	p = append(p, vec.V2{X: 14, Y: 22.6}, vec.V2{X: 14, Y: 29.6}, vec.V2{X: 13.6, Y: 30.6})
	first := len(p)
	const rings = 72
	for i := range rings {
		r := rim * (1 - float64(i)/rings)
		p = append(p, vec.V2{X: r, Y: dome(r)})
	}
	p = append(p, vec.V2{Y: top})
	m := sculpt.Turned(p, false, sectors)
	// Turned keeps the points of the profile in order, so the face is the tail.
	for i := range m.V {
		q := &m.V[i]
		if r := math.Hypot(q.X, q.Y); q.Z >= p[first].Y-1e-9 && r <= rim+1e-9 {
			q.Z -= 0.6 * groove(letters(q.X, q.Y)-0.3, 0.8)
		}
	}
	return m, nil
}

// groove is the share of the full depth at a distance d from a stroke's flat
// bottom whose flank is w wide.
func groove(d, w float64) float64 {
	t := min(max(1-d/w, 0), 1)
	return t * t * (3 - 2*t)
}

// letters is the distance to the strokes of the engraving: a fine ring, and
// the roman numeral IV under a bar.
func letters(x, y float64) float64 {
	d := math.Abs(math.Hypot(x, y) - 10.8)
	for _, s := range [][4]float64{
		{-4.6, -4, -4.6, 4}, {-1.8, 4, 1.4, -4}, {1.4, -4, 4.6, 4},
		{-6, 5.6, 6, 5.6}, {-6, -5.6, 6, -5.6},
	} {
		ex, ey := s[2]-s[0], s[3]-s[1]
		t := min(max(((x-s[0])*ex+(y-s[1])*ey)/(ex*ex+ey*ey), 0), 1)
		d = min(d, math.Hypot(x-s[0]-t*ex, y-s[1]-t*ey))
	}
	return d
}

// bell is a toy bell of 45 mm with walls of 2 mm, mouth along -z: inside its
// crown a staple, and through the staple the eye of a clapper that is meant to
// be cast in one piece with it and swing. Two bodies, linked.
func bell() (*mesh.Mesh, error) {
	shell := sculpt.Near(v(0, 0, 18), 30, sculpt.Spun(bellWall()))
	loop := sculpt.Hoop(v(0, 0, 39.5), v(0, 1, 0), 4, 1.4)
	staple := sculpt.Hoop(v(0, 0, 32.4), v(0, 1, 0), 4, 1.2)
	inside := sculpt.Common(staple, sculpt.Below(v(0, 0, 1), 35))
	body := sculpt.Blend(0.8, sculpt.Union(shell, inside), sculpt.Common(loop, sculpt.Below(v(0, 0, -1), -35)))
	eye := sculpt.Hoop(v(0, 0, 28.4), v(1, 0, 0), 3.6, 1.1)
	stem := sculpt.Limb(v(0, 0, 24.6), 1.2, v(0, 0, 6), 1.2)
	ball := sculpt.Sphere(v(0, 0, 4), 4.5)
	clapper := sculpt.Blend(1, sculpt.Blend(0.8, eye, stem), ball)
	return sculpt.Contour(sculpt.Union(body, clapper), vec.Box{Min: v(-23, -23, -1), Max: v(23, 23, 46)}, 0.5)
}

// bellWall is half the section of the bell: an outer curve that flares to the
// mouth and the same 2 mm further in.
func bellWall() sculpt.Ring {
	out := []vec.V2{{X: 8, Y: 36}}
	for i := range 7 { // the shoulder
		s, c := math.Sincos(math.Pi / 2 * float64(i) / 6)
		out = append(out, vec.V2{X: 8 + 6*s, Y: 30 + 6*c})
	}
	for i := 1; i <= 24; i++ {
		t := float64(i) / 24
		out = append(out, vec.V2{X: 14 + 4*t + 4.5*math.Pow(t, 5), Y: 30 - 29*t})
	}
	out = append(out, vec.V2{X: 22.5})
	r := sculpt.Ring{{X: -1, Y: 36}}
	r = append(r, out[1:]...)
	for i := len(out) - 1; i > 0; i-- {
		d := out[min(i+1, len(out)-1)].Sub(out[i-1])
		n := vec.V2{X: d.Y, Y: -d.X}
		q := out[i].Add(n.Mul(2 / n.Len()))
		r = append(r, vec.V2{X: q.X, Y: max(q.Y, 0)})
	}
	return append(r, vec.V2{X: -1, Y: 34})
}
