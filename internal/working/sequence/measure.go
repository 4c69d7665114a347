package sequence

import (
	"fmt"
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/chord"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/working/judge"
)

// Bounds of the places to measure; our own figures, no source.
const (
	facing    = 0.998 // cosine between the faces that jaws lie on: 3.6 degrees
	proud     = 0.002 // of the longest side: how far the master may stand over a jaw
	ample     = 0.6   // of the greatest width, which a clear length must have to be taken for it
	wellApart = 0.15  // of the longest side, between two thin walls
	safe      = 2.0   // times the limit of pouring: no verdict hangs on walls above it
	alike     = 2.0   // times the thinnest: up to it the next wall is worth a reading
	mostSpans = 3000  // chords that are looked at for a clear length
	mostBalls = 20000 // chords that are tried for the thickest section
	round     = 0.95  // of the ball's radius, in which nothing of the surface may lie
)

// spots names the three places where calipers tell most about a prepared master:
// the thinnest wall, the longest length between two places that jaws can lie on,
// and where a reading would then change most: the next thinnest wall well apart
// from the first where it is near the limit of pouring or near the first, else
// the thickest section, by which the casting freezes.
func spots(m *Master) []plan.Spot {
	r := []plan.Spot{}
	if len(m.Section) == 0 {
		return r
	}
	w := m.Wall
	r = append(r, wallSpot(plan.SpotWall, w, "the thinnest wall: whether the metal fills and freezes there hangs on it, and scans thicken thin parts"))
	if a, b, ok := m.span(); ok {
		l := a.Dist(b)
		r = append(r, plan.Spot{Kind: plan.SpotLength, At: a.Array(), To: b.Array(), Scan: l,
			Key: fmt.Sprintf("control = [[%s, %s, X]]", key(a), key(b)),
			Why: "the longest clear length: it sets the scale of the scan"})
	}
	if n, ok := m.nextWall(); ok {
		r = append(r, wallSpot(plan.SpotNextWall, n, "the next thinnest wall: a reading here changes most after the first"))
	} else if a, b, ok := m.thickest(); ok {
		l := a.Dist(b)
		r = append(r, plan.Spot{Kind: plan.SpotThick, At: a.Array(), To: b.Array(), Scan: l,
			Key: fmt.Sprintf("thickness = [[%s, X]]", key(a)), Why: "the thickest section: it freezes last and sets the time to open"})
	}
	return r
}

func wallSpot(kind string, c chord.Chord, why string) plan.Spot {
	return plan.Spot{Kind: kind, At: c.At.Array(), To: c.At.Sub(c.Normal.Mul(c.Length)).Array(), Scan: c.Length,
		Key: fmt.Sprintf("thickness = [[%s, X]]", key(c.At)), Why: why}
}

// key writes a point as the job file takes it.
func key(p vec.V3) string { return fmt.Sprintf("[%.2f, %.2f, %.2f]", p.X+0, p.Y+0, p.Z+0) }

// span returns the two ends of the longest chord between parallel faces beyond
// which nothing of the master stands, so that flat jaws lie on both. Where it is
// short beside the greatest width of the master, the two points of that, on whose
// planes across it jaws rest as well. Of several bodies the largest is taken: what
// lies between two of them is no length of either.
func (m *Master) span() (a, b vec.V3, ok bool) {
	body, section := m.Mesh, m.Section
	if m.Largest != nil {
		body = m.Largest
		section = chord.Measure(body, bvh.Build(body))
	}
	hull := corners(body)
	slack := proud * body.Box().Longest()
	reach := func(list []vec.V3, d vec.V3) (lo, hi float64) {
		lo, hi = math.Inf(1), math.Inf(-1)
		for _, p := range list {
			x := p.Dot(d)
			lo, hi = math.Min(lo, x), math.Max(hi, x)
		}
		return lo, hi
	}
	wide := widest(hull)
	looked := 0
	for k := len(section) - 1; k >= 0 && looked < mostSpans; k-- {
		c := section[k]
		if c.Length < ample*wide[0].Dist(wide[1]) {
			break
		}
		if c.Facing < facing {
			continue
		}
		looked++
		near := c.At.Dot(c.Normal)
		clear := func(list []vec.V3) bool {
			lo, hi := reach(list, c.Normal)
			return hi <= near+slack && lo >= near-c.Length-slack
		}
		if clear(hull) && clear(body.V) {
			return c.At, c.At.Sub(c.Normal.Mul(c.Length)), true
		}
	}
	return wide[0], wide[1], wide[0] != wide[1]
}

// corners returns the corners that stand out farthest along many directions, each
// once, in the order in which they were met.
func corners(m *mesh.Mesh) []vec.V3 {
	const n = 400
	best := make([]int, 2*n)
	dir := make([]vec.V3, n)
	golden := math.Pi * (3 - math.Sqrt(5))
	for k := range dir {
		z := 1 - (float64(k)+0.5)/n
		s, c := math.Sincos(golden * float64(k))
		q := math.Sqrt(1 - z*z)
		dir[k] = vec.V3{X: q * c, Y: q * s, Z: z}
	}
	used := make([]bool, len(m.V))
	for _, f := range m.F {
		for _, v := range f {
			used[v] = true
		}
	}
	for k, d := range dir {
		lo, hi := math.Inf(1), math.Inf(-1)
		for i, p := range m.V {
			if !used[i] {
				continue
			}
			x := p.Dot(d)
			if x < lo {
				lo, best[2*k] = x, i
			}
			if x > hi {
				hi, best[2*k+1] = x, i
			}
		}
	}
	seen := map[int]bool{}
	var r []vec.V3
	for _, i := range best {
		if !seen[i] {
			seen[i] = true
			r = append(r, m.V[i])
		}
	}
	return r
}

// widest returns the two points farthest apart.
func widest(list []vec.V3) (r [2]vec.V3) {
	far := 0.0
	for i, p := range list {
		for _, q := range list[i+1:] {
			if d := p.Dist(q); d > far {
				far, r = d, [2]vec.V3{p, q}
			}
		}
	}
	return r
}

// nextWall returns the thinnest wall that lies well apart from the first, if it is
// thin enough to matter: near the first and near the limit of pouring. As with the
// first, 0.2 % of the area must be as thin, so that no needle point counts.
func (m *Master) nextWall() (chord.Chord, bool) {
	if m.Wall.Length > safe*judge.ThinLimit {
		return chord.Chord{}, false
	}
	away := math.Max(wellApart*m.Mesh.Box().Longest(), 2*m.Wall.Length)
	left := len(m.Section) / 500
	for _, c := range m.Section {
		if c.Length > math.Max(alike*m.Wall.Length, 1.5*judge.ThinLimit) {
			break
		}
		// A chord of a wall is no other place when seen from its back.
		back := c.At.Sub(c.Normal.Mul(c.Length))
		if c.Facing < math.Cos(math.Pi/6) || c.Length < m.Wall.Length || c.At.Dist(m.Wall.At) < away || back.Dist(m.Wall.At) < away {
			continue
		}
		if left--; left <= 0 {
			return c, true
		}
	}
	return chord.Chord{}, false
}

// thickest returns the ends of the longest chord between faces that look against
// each other whose ball, with the chord as diameter, lies in the master: a section
// that is no thicker along another way, and that jaws can take. Where no ball does
// for the most part, smaller ones are asked of the chord.
func (m *Master) thickest() (a, b vec.V3, ok bool) {
	for _, part := range []float64{round, 0.8, 0.6, 0} {
		tried := 0
		for k := len(m.Section) - 1; k >= 0 && tried < mostBalls; k-- {
			c := m.Section[k]
			if c.Facing < math.Cos(math.Pi/6) {
				continue
			}
			tried++
			r := c.Length / 2
			if _, i, _ := m.Tree.Closest(c.At.Sub(c.Normal.Mul(r)), part*r); i < 0 || part == 0 {
				return c.At, c.At.Sub(c.Normal.Mul(c.Length)), true
			}
		}
	}
	return a, b, false
}
