package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// pad is a support under the master in the bed.
type pad struct {
	cav               int
	at                vec.V2 // block frame, seen from above: x to the right
	high              float64
	name              string
	fromLeft, fromTop float64
}

// pads returns three supports for each master, far apart, under places of its
// underside that are flat enough to stand on: the underside may rise by no
// more than 0.5 mm within 1.5 mm where there is such a place.
func (in *Input) pads() []pad {
	v := in.look()
	v.padOnce.Do(func() { v.pads = in.findPads(v) })
	return v.pads
}

func (in *Input) findPads(v *view) []pad {
	if in.Plan.Block == nil {
		return nil
	}
	var out []pad
	for c, m := range v.masters {
		e := in.envelopeOf(c)
		b := m.Box()
		lo, hi := vec.V2{X: b.Min.X, Y: b.Min.Y}, vec.V2{X: b.Max.X, Y: b.Max.Y}
		for _, q := range threeFeet(e) {
			_, bot, ok := e.at(q.X, q.Y)
			if !ok {
				continue
			}
			name := "pad " + grouped(float64(len(out)+1), 0) + ", " + placeName(q, lo, hi)
			if len(v.masters) > 1 {
				name += " of " + cavityName(in, c)
			}
			out = append(out, pad{cav: c, at: q, high: bot + v.size.Z/2, name: name, fromLeft: q.X + v.size.X/2, fromTop: v.size.Y/2 - q.Y})
		}
	}
	return out
}

// envelopeOf returns the envelope of one master.
func (in *Input) envelopeOf(c int) *envelope {
	v := in.look()
	if len(v.masters) == 1 {
		return v.env
	}
	o := &v.own[c]
	o.once.Do(func() { o.env = envelopeOf(v.masters[c:c+1], 900) })
	return o.env
}

// threeFeet picks three places of the underside: the candidates lie on a
// coarse lattice, away from the edge; the first two are the farthest pair, the
// third spans the largest triangle with them. Where fewer than three places
// are flat, slope is allowed.
func threeFeet(e *envelope) []vec.V2 {
	for _, rise := range []float64{0.5, 1.5, math.Inf(1)} {
		c := footing(e, rise)
		if len(c) < 3 {
			continue
		}
		var a, b vec.V2
		best := -1.0
		for i := range c {
			for j := i + 1; j < len(c); j++ {
				if d := c[i].Sub(c[j]).Len(); d > best+1e-9 {
					best, a, b = d, c[i], c[j]
				}
			}
		}
		var third vec.V2
		area := 0.0
		for _, q := range c {
			if s := math.Abs(q.Sub(a).Cross(b.Sub(a))); s > area+1e-9 {
				area, third = s, q
			}
		}
		// a triangle that is nearly a line holds nothing
		if area < 0.1*best*best && !math.IsInf(rise, 1) {
			continue
		}
		return []vec.V2{a, b, third}
	}
	return nil
}

// footing lists lattice places whose neighbourhood is covered and rises by no
// more than rise.
func footing(e *envelope, rise float64) []vec.V2 {
	if e.nx == 0 {
		return nil
	}
	r := max(1, int(math.Round(1.5/e.h)))
	stride := max(1, max(e.nx, e.ny)/26)
	var out []vec.V2
	for j := r; j+r < e.ny; j += stride {
		for i := r; i+r < e.nx; i += stride {
			lo, hi, ok := math.Inf(1), math.Inf(-1), true
			for dj := -r; dj <= r && ok; dj += r {
				for di := -r; di <= r; di += r {
					k := (j+dj)*e.nx + i + di
					if e.top[k] < e.bot[k] {
						ok = false
						break
					}
					lo, hi = min(lo, float64(e.bot[k])), max(hi, float64(e.bot[k]))
				}
			}
			if ok && hi-lo <= rise {
				out = append(out, vec.V2{X: e.x0 + (float64(i)+0.5)*e.h, Y: e.y0 + (float64(j)+0.5)*e.h})
			}
		}
	}
	return out
}

// cavityName names a cavity: upper and lower where two stand over each other,
// else by its number. Left and right are not used, for they change places
// between the two halves.
func cavityName(in *Input, c int) string {
	v := in.look()
	if len(v.masters) == 2 {
		a, b := v.masters[c].Box().Centre(), v.masters[1-c].Box().Centre()
		if math.Abs(a.Y-b.Y) > math.Abs(a.X-b.X) {
			if a.Y > b.Y {
				return "upper piece"
			}
			return "lower piece"
		}
	}
	return "piece " + grouped(float64(c+1), 0)
}
