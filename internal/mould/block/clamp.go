package block

import (
	"fmt"
	"math"

	"pourwright/internal/ground/vec"
)

// clamp works out the force that opens the mould and what holds it.
//
// Opening force: rho g times the integral of depth below the rim over the
// projected area of the metal. Clamps hold 3 to 5 times that (common practice),
// here 4, less where the rubber would be strained by more than 1 %. A board is
// a beam between clamps, w = 5 q L^4 / (384 E I) per width, and must not bend
// by more than the gap that metal enters, 2 gamma |cos| / (rho g h).
func (k *work) clamp() {
	l, d := k.l, &k.d
	f := l.away
	top := l.Size.Y / 2
	area, depth, deepest := 0.0, 0.0, 0.0
	for q := range f.lo {
		if p := f.xy(q); f.metal(q) && p.Y <= top && math.Abs(p.X) <= l.Size.X/2 {
			area++
			depth += top - p.Y
			deepest = math.Max(deepest, top-p.Y)
		}
	}
	area, depth = area*f.h*f.h, depth*f.h*f.h
	c := &l.Clamps
	c.Opening = d.DensityLiquid * Gravity * depth * 1e-9
	face := l.Size.X*l.Size.Y - area
	strain := func(n float64) float64 { return n / (face * 1e-6) / d.Modulus }
	times := 4.0
	if strain(times*c.Opening) > 0.01 {
		times = 3
	}
	c.Force = times * c.Opening
	c.Strain = strain(c.Force)
	c.Squeeze = c.Strain * l.Size.Z
	c.Gap = d.SlotHead(deepest, d.CosVent)
	in := map[string]float64{"area, mm2": area, "deepest, mm": deepest, "mean depth, mm": depth / math.Max(area, 1e-9), "rho, kg/m3": d.DensityLiquid}
	l.figure("opening force", c.Opening, "N", "rho g mean depth x area, the integral of depth under the rim over the metal's projected area", "hydrostatics", in)
	l.figure("clamp force", c.Force, "N", "times x opening force", practice+" (3 to 5 times)", map[string]float64{"times": times, "opening force, N": c.Opening})
	l.figure("squeeze", c.Squeeze, "mm", "force / (rubber x E) x thickness", "E by Gent, Rubber Chem. Technol. 31 (1958) 896, from memory; trade practice closes 0.2-0.3 mm", map[string]float64{"force, N": c.Force, "E, Pa": d.Modulus, "rubber, mm2": face, "thickness, mm": l.Size.Z})
	l.figure("gap that metal enters", c.Gap, "mm", "2 gamma |cos| / (rho g h) at the deepest metal", youngLap, map[string]float64{"gamma, N/m": d.Tension, "cos": d.CosVent, "rho, kg/m3": d.DensityLiquid, "h, mm": deepest})
	if c.Strain > 0.01 {
		limited(l.finding("clamp", "should", nil, fmt.Sprintf("the clamps strain the rubber by %.1f %%, so the casting comes out thinner", 100*c.Strain), "wider margins, a harder rubber, or a lower head"), c.Strain, 0.01)
	}
	k.boards()
}

// boards chooses the number of clamps and the thickness of the boards.
func (k *work) boards() {
	l, d := k.l, &k.d
	c := &l.Clamps
	w, h := l.Size.X, l.Size.Y
	if h > w {
		w, h = h, w
	}
	q := c.Force / (w * h * 1e-6) // Pa on the board
	counts := []int{2, 4, 6, 8}
	if d.Clamps > 0 {
		counts = []int{d.Clamps}
	}
	thick := []float64{9, 12, 15, 18, 22, 25, 30, 36, 40}
	if d.BoardThick > 0 {
		thick = []float64{d.BoardThick}
	}
	done, long := false, 0.0
	for _, t := range thick {
		for _, n := range counts {
			// n/2 clamps on each of the two long sides, in the middle of equal
			// parts; with two, one at the middle of each short side.
			span := w
			if n >= 4 {
				span = math.Max(w/float64(n/2), h)
			}
			long = span
			c.Count, c.Deflexion = n, beam(q, span, d.BoardModulus, t)
			c.BoardSize = vec.V3{X: math.Ceil(l.Size.X), Y: math.Ceil(l.Size.Y), Z: t}
			if done = c.Deflexion <= c.Gap; done {
				break
			}
		}
		if done {
			break
		}
	}
	c.BoardName = d.BoardName
	l.figure("board deflexion", c.Deflexion, "mm", "5 q L^4 / (384 E I), I = t^3 / 12 per width", "beam of Euler and Bernoulli", map[string]float64{"q, Pa": q, "L, mm": long, "E, Pa": d.BoardModulus, "t, mm": c.BoardSize.Z, "clamps": float64(c.Count)})
	if !done {
		limited(l.finding("clamp", "should", nil, fmt.Sprintf("boards of %.0f mm bend by %.2f mm between %d clamps; metal enters a gap of %.2f mm", c.BoardSize.Z, c.Deflexion, c.Count, c.Gap),
			"more clamps, thicker boards, or stiffeners across them"), c.Deflexion, c.Gap)
	}
}

// beam returns the middle deflexion in mm of a board t mm thick under q Pa
// between supports span mm apart, E in Pa.
func beam(q, span, e, t float64) float64 {
	l, i := span*1e-3, math.Pow(t*1e-3, 3)/12
	return 1e3 * 5 * q * l * l * l * l / (384 * e * i)
}
