// Package measured holds plans made from measures alone against bodies whose
// volume is known in closed form, or for the figures by a sum of our own over a
// profile; nothing of it is taken from the program's meshes.
package measured

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// body is a piece with what a caliper would read on it.
type body struct {
	name, class, section string
	size                 [3]float64 // length, width, height
	volume               float64    // mm3
	thinnest, thickest   float64    // mm
	bore                 float64    // of a ring
	even                 bool       // the same on both sides of a cut through its middle, along any of its ways
}

// bodies are the families. Sizes are those of castings that fit a hand.
var bodies = []func(r *rand.Rand) body{bar, plate, ring, disc, cone, turned, limbed}

func in(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// bar is a rectangle with rounded edges or an ellipse, its ends flat or domed by
// half an ellipsoid of up to an eighth of the thickness.
func bar(r *rand.Rand) body {
	c := in(r, 8, 20)
	b, a := c*in(r, 1, 1.8), c*in(r, 3, 8)
	x := body{name: "bar", class: "bar", size: [3]float64{a, b, c}, thinnest: c, thickest: c, even: true}
	area := 0.0
	if r.IntN(2) == 0 {
		e := in(r, 0, 0.15) * c
		area, x.section, x.name = b*c-(4-math.Pi)*e*e, "square", "bar of rectangle"
	} else {
		area, x.section, x.name = math.Pi/4*b*c, "round", "round bar"
	}
	dome := 0.0
	if r.IntN(3) == 0 {
		dome = in(r, 0, 0.125) * c
	}
	x.volume = area * (a - 2*dome + 2*dome*2/3)
	return x
}

// plate is a rectangle with rounded corners or an ellipse of one thickness, or one
// with a lower part of its face: a relief.
func plate(r *rand.Rand) body {
	c := in(r, 2.5, 7)
	b := in(r, 30, 60)
	a := b * in(r, 1, 1.8)
	x := body{name: "plate", class: "plate", size: [3]float64{a, b, c}, thinnest: c, thickest: c, even: true}
	area := 0.0
	if r.IntN(2) == 0 {
		e := in(r, 0, 0.25) * b
		area, x.section = a*b-(4-math.Pi)*e*e, "square"
	} else {
		area, x.section = math.Pi/4*a*b, "round"
	}
	if r.IntN(2) == 0 { // a part of the face lies lower
		x.thinnest, x.name, x.even = c*in(r, 0.6, 1), "plate with a relief", false
		part := in(r, 0.2, 0.8)
		x.volume = area * (c*(1-part) + x.thinnest*part)
		return x
	}
	x.volume = area * c
	return x
}

// ring is a round ring of round, half-round or rectangular section (Pappus).
func ring(r *rand.Rand) body {
	h := in(r, 6, 14)
	w := in(r, 6, 14)
	d := in(r, 20, 60)
	D := d + 2*w
	x := body{name: "ring", class: "ring", size: [3]float64{D, D, h}, bore: d, thinnest: min(w, h), thickest: min(w, h), even: true}
	switch r.IntN(3) {
	case 0:
		x.section, x.volume = "round", math.Pi/4*w*h*math.Pi*(D+d)/2
	case 1:
		// flat at the bore, half an ellipse outside: its centroid lies 4 w/(3 pi) out
		x.section, x.name = "half-round", "ring of half-round section"
		x.volume = math.Pi / 4 * w * h * math.Pi * (d + 2*4*w/(3*math.Pi))
	default:
		e := in(r, 0, 0.15) * min(w, h)
		x.section, x.volume = "square", (w*h-(4-math.Pi)*e*e)*math.Pi*(D+d)/2
	}
	return x
}

// disc is a cylinder, or a cap of a paraboloid on a rim.
func disc(r *rand.Rand) body {
	c := in(r, 4, 10)
	D := in(r, 25, 60)
	x := body{name: "disc", class: "disc", size: [3]float64{D, D, c}, thinnest: c, thickest: c, even: true}
	if r.IntN(2) == 0 {
		x.volume = math.Pi / 4 * D * D * c
		return x
	}
	rim := c * in(r, 0.3, 0.95)
	x.name, x.thinnest, x.even = "domed disc", rim, false
	x.volume = math.Pi / 4 * D * D * (rim + (c-rim)/2)
	return x
}

// cone is a frustum of a round or a square outline.
func cone(r *rand.Rand) body {
	D := in(r, 20, 40)
	h := D * in(r, 1.1, 1.8)
	top := D * in(r, 0.05, 0.7)
	x := body{name: "cone", class: "cone", size: [3]float64{D, D, h}, thinnest: top, thickest: D * 0.7}
	x.volume = h * (D*D + D*top + top*top) / 3
	if r.IntN(2) == 0 {
		x.section, x.name = "square", "pyramid"
		return x
	}
	x.volume *= math.Pi / 4
	return x
}

// turned is a figure from the lathe: radius by a smooth line through five to eight
// heights (a turned baluster, a chessman, a bell), summed in 20 000 slices.
func turned(r *rand.Rand) body {
	n := 5 + r.IntN(4)
	L, R := in(r, 40, 90), in(r, 9, 18)
	k := make([]float64, n)
	most := 0.0
	for i := range k {
		k[i] = in(r, 0.25, 1)
		most = max(most, k[i])
	}
	rad := func(t float64) float64 { // cosine between the heights: never beyond them
		s := t * float64(n-1)
		i := min(int(s), n-2)
		u := (1 - math.Cos(math.Pi*(s-float64(i)))) / 2
		return R / most * (k[i]*(1-u) + k[i+1]*u)
	}
	v, least := 0.0, math.Inf(1)
	const slices = 20000
	for i := range slices {
		q := rad((float64(i) + 0.5) / slices)
		v, least = v+math.Pi*q*q*L/slices, min(least, q)
	}
	return body{name: "turned figure", class: "figure", size: [3]float64{L, 2 * R, 2 * R}, volume: v, thinnest: 2 * least, thickest: 2 * R * 0.95}
}

// limbed is a figure of a square trunk with two or four round limbs that stand out
// of its sides.
func limbed(r *rand.Rand) body {
	w, L := in(r, 7, 14), in(r, 40, 80)
	e := w * in(r, 0.4, 0.9)
	l := in(r, 8, 25)
	x := body{name: "figure with limbs", class: "figure", size: [3]float64{L, w + 2*l, w}, thinnest: e, thickest: w}
	x.volume = w*w*L + 2*math.Pi/4*e*e*l
	if r.IntN(2) == 0 {
		m := in(r, 5, 20)
		x.size[2], x.volume = w+2*m, x.volume+2*math.Pi/4*e*e*m
	}
	return x
}

// The ways to the volume.
const (
	rise = iota
	hung
	mass
	classAlone
	ways
)

var wayName = [ways]string{"rise of water", "hung in water", "mass and density", "class alone"}

// job writes the readings of a body as a job, each off by up to its error.
func (b body) job(r *rand.Rand, way int) string {
	off := func(e float64) float64 { return e * (2*r.Float64() - 1) }
	jaw := func(x float64) float64 { return math.Round((x+off(0.09))*100) / 100 }
	var t strings.Builder
	step := 0.1
	if b.volume < 7000 {
		step = 0.01 // a jeweller's scale
	}
	fmt.Fprintf(&t, "[master.measured]\nlength = %g\nwidth = %g\nheight = %g\nclass = %q\n", jaw(b.size[0]), jaw(b.size[1]), jaw(b.size[2]), b.class)
	least := min(b.size[0], b.size[1], b.size[2])
	thin, thick := jaw(b.thinnest), jaw(b.thickest)
	fmt.Fprintf(&t, "thinnest = %g\nthickest = %g\n", min(thin, thick), min(max(thin, thick), least+0.05))
	if b.section != "" {
		fmt.Fprintf(&t, "section = %q\n", b.section)
	}
	if b.bore > 0 {
		fmt.Fprintf(&t, "bore = %g\n", jaw(b.bore))
	}
	grams := func(x float64) float64 { return math.Round((x+off(0.4*step))/step) * step }
	switch way {
	case rise:
		fmt.Fprintf(&t, "volume = %.5g\n", b.volume*(1+off(0.03)))
	case hung:
		water := in(r, 16, 24)
		// Kell's density to 0.1 kg/m3 from memory: 998.2 at 20 C, 0.21 less a kelvin
		rho := 998.2 - 0.21*(water-20)
		fmt.Fprintf(&t, "gain = %.5g\nwater = %.1f\n", grams(b.volume*rho*1e-6*(1+off(0.004)))+off(0.4*step), water+off(2))
	case mass:
		rho := []float64{1.19, 2.7, 7.29, 8.5}[r.IntN(4)]
		fmt.Fprintf(&t, "mass = %.6g\ndensity = %.5g\n", grams(b.volume*rho*1e-3), rho*(1+off(0.028)))
	}
	fmt.Fprintf(&t, "[rubber]\nkind = \"condensation-heat-30\"\n[alloy]\nkind = \"pewter-92-7-1\"\n[order]\ncastings = 10\nuse = \"decor\"\n[bench]\nscale_step = %g\n", step)
	return t.String()
}
