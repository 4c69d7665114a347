package photo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"pourwright/internal/shape/photo"
)

// shapes returns the loops of a piece of about the given half size, mm.
func shapes(kind int, r float64, rng *rand.Rand) (string, [][]p2) {
	polar := func(n int, f func(t float64) float64) []p2 {
		l := make([]p2, n)
		for i := range l {
			t := 2 * math.Pi * float64(i) / float64(n)
			l[i] = p2{f(t) * math.Cos(t), f(t) * math.Sin(t)}
		}
		return l
	}
	stretch := func(l []p2, x, y float64) []p2 {
		for i := range l {
			l[i].x *= x
			l[i].y *= y
		}
		return l
	}
	rounded := func(hx, hy, c float64) []p2 {
		var l []p2
		for q := range 4 {
			sx, sy := []float64{1, -1, -1, 1}[q], []float64{1, 1, -1, -1}[q]
			for k := range 13 {
				a := math.Pi/2*float64(q) + math.Pi/2*float64(k)/12
				l = append(l, p2{sx*(hx-c) + c*math.Cos(a), sy*(hy-c) + c*math.Sin(a)})
			}
		}
		return l
	}
	switch kind % 8 {
	case 0:
		return "oval", [][]p2{stretch(polar(160, func(float64) float64 { return r }), 1, 0.55+0.3*rng.Float64())}
	case 1:
		return "plate", [][]p2{rounded(r, r*(0.5+0.3*rng.Float64()), 2+2*rng.Float64())}
	case 2:
		a := 0.10 + 0.08*rng.Float64()
		return "flower", [][]p2{polar(240, func(t float64) float64 { return 0.85 * r * (1 + a*math.Cos(5*t)) })}
	case 3: // heart (a cardioid-like curve with a rounded notch)
		return "heart", [][]p2{polar(240, func(t float64) float64 {
			return 0.72 * r * (1 + 0.28*math.Sin(t) - 0.16*math.Cos(2*t) - 0.05*math.Sin(3*t))
		})}
	case 4:
		return "leaf", [][]p2{stretch(polar(240, func(t float64) float64 { return r * (0.9 + 0.1*math.Cos(2*t) + 0.04*math.Cos(9*t)) }), 1, 0.6)}
	case 5: // bone: two knobs and a waist
		return "bone", [][]p2{stretch(polar(240, func(t float64) float64 { return 0.78 * r * (1 + 0.28*math.Cos(2*t)) }), 1, 0.9)}
	case 6:
		ring := polar(160, func(float64) float64 { return 0.8 * r })
		hole := polar(80, func(float64) float64 { return 0.35 * r })
		for i, j := 0, len(hole)-1; i < j; i, j = i+1, j-1 {
			hole[i], hole[j] = hole[j], hole[i]
		}
		return "washer", [][]p2{ring, hole}
	}
	var c []float64
	for range 4 {
		c = append(c, 0.07*(2*rng.Float64()-1), 2*math.Pi*rng.Float64())
	}
	return "pebble", [][]p2{polar(240, func(t float64) float64 {
		g := 0.85
		for k := range 4 {
			g += c[2*k] * math.Cos(float64(k+2)*t+c[2*k+1])
		}
		return r * g
	})}
}

func tint(rng *rand.Rand, lo, hi float64) p3 {
	return p3{lo + (hi-lo)*rng.Float64(), lo + (hi-lo)*rng.Float64(), lo + (hi-lo)*rng.Float64()}
}

// apart is the distance of two linear colours as the eye of the file sees them,
// in levels of 255.
func apart(a, b p3) float64 {
	d := p3{srgb(a.x) - srgb(b.x), srgb(a.y) - srgb(b.y), srgb(a.z) - srgb(b.z)}
	return 255 * math.Sqrt(d.dot(d))
}

// cloth returns a ground and its colours.
func cloth(rng *rand.Rand) (string, func(x, y float64) p3, []p3) {
	base := tint(rng, 0.05, 0.6)
	other := tint(rng, 0.05, 0.6)
	for apart(base, other) > 130 {
		other = lerp3(base, other, 0.8)
	}
	pitch := 5 + 9*rng.Float64()
	turn := math.Pi * rng.Float64()
	sn, cs := math.Sincos(turn)
	fine := func(c p3, x, y float64) p3 { return c.mul(1 + 0.10*wave(x*2.3, y*2.3) + 0.05*wave(x*0.21, y*0.21)) }
	blend := func(f func(x, y float64) float64) func(x, y float64) p3 {
		return func(x, y float64) p3 {
			u, v := cs*x+sn*y, -sn*x+cs*y
			t := min(1, max(0, 0.5+2*f(u, v)))
			return fine(lerp3(base, other, t), x, y)
		}
	}
	w := 2 * math.Pi / pitch
	switch rng.IntN(5) {
	case 0:
		return "plain", func(x, y float64) p3 { return fine(base, x, y) }, []p3{base}
	case 1:
		return "stripes", blend(func(u, v float64) float64 { return math.Sin(w * u) }), []p3{base, other}
	case 2:
		return "checks", blend(func(u, v float64) float64 { return math.Sin(w*u) * math.Sin(w*v) }), []p3{base, other}
	case 3:
		return "dots", blend(func(u, v float64) float64 { return math.Cos(w*u) + math.Cos(w*v) - 0.9 }), []p3{base, other}
	}
	return "wood", blend(func(u, v float64) float64 { return math.Sin(w*u*0.6 + 2.5*wave(u*0.1, v*0.03)) }), []p3{base, other}
}

// piece is the piece of picture n, of a size of least to least + more, with thickness, edge and tilt; nothing
// lies beside it yet.
func piece(n, stream uint64, least, more float64) (*scene, string, [][]p2) {
	rng := rand.New(rand.NewPCG(n, stream))
	s := &scene{rng: rng}
	s.edge = []edge{flat, flat, round, chamfered}[n%4]
	r := least + more*rng.Float64()
	name, loops := shapes(rng.IntN(8), r, rng)
	s.thick = 1.5 + 3.5*rng.Float64()
	most := 40.0
	switch s.edge {
	case round:
		most = 20
	case chamfered:
		s.run = s.thick * (0.25 + 0.35*rng.Float64())
	}
	s.tilt = most * math.Pi / 180 * math.Sqrt(rng.Float64())
	return s, name, loops
}

// cardScene makes picture n with a card.
func cardScene(n uint64) *scene {
	s, name, loops := piece(n, 20, 14, 10)
	rng := s.rng
	// the piece beside the card, both turned a little
	turn := 2 * math.Pi * rng.Float64()
	sn, cs := math.Sincos(turn)
	gap := 6 + 6*rng.Float64()
	reach := 0.0
	for i, l := range loops {
		for k, p := range l {
			loops[i][k] = p2{cs*p.x - sn*p.y, sn*p.x + cs*p.y}
			reach = max(reach, -loops[i][k].x)
		}
	}
	off := p2{54.0/2 + gap + s.thick*0.8 + reach, (rng.Float64() - 0.5) * 30}
	for i, l := range loops {
		for k := range l {
			loops[i][k].x += off.x
			loops[i][k].y += off.y
		}
	}
	s.loops = loops
	s.piece = distances(loops, 8, 0.2)
	if s.edge == round { // a quarter circle of the thickness, or what fits
		s.run = min(s.thick, slices.Max(s.piece.v))
	}
	_, card := shapesCard((rng.Float64() - 0.5) * 0.2)
	s.card, s.cardLoops = distances(card, 4, 0.2), card
	var colours []p3
	var under string
	under, s.ground, colours = cloth(rng)
	far := func(c p3, least float64) bool {
		for _, g := range colours {
			if apart(c, g) < least {
				return false
			}
		}
		return true
	}
	for s.cardCol = tint(rng, 0.55, 0.95); !far(s.cardCol, 70); {
		s.cardCol = tint(rng, 0.3, 0.95)
	}
	for s.pieceCol = tint(rng, 0.04, 0.8); !far(s.pieceCol, 70); {
		s.pieceCol = tint(rng, 0.02, 0.9)
	}
	s.finish(under)
	s.aim(p3{(27 + off.x + reach*0 - 27) * 0.5, off.y * 0.4, 0}, loops, card)
	s.name = fmt.Sprintf("%d %s on %s, tilt %.0f, t %.1f, edge %d", n, name, under, s.tilt*180/math.Pi, s.thick, s.edge)
	return s
}

// finish draws lens, light and sensor.
func (s *scene) finish(under string) {
	rng := s.rng
	s.f = 1800 / math.Hypot(36, 24) * (30 + 40*rng.Float64())
	s.k1 = 0.08 * (rng.Float64() - 0.5)
	s.exif = rng.IntN(3) > 0
	az, el := 2*math.Pi*rng.Float64(), (40+45*rng.Float64())*math.Pi/180
	s.light = p3{math.Cos(az) * math.Cos(el), math.Sin(az) * math.Cos(el), math.Sin(el)}
	s.soft = 0.3 + 1.2*rng.Float64()
	s.dark = 0.15 + 0.3*rng.Float64()
	s.contact = 0.3 * rng.Float64()
	s.tone = p3{0.9 + 0.2*rng.Float64(), 0.95, 0.85 + 0.25*rng.Float64()}
	s.falloff = p2{0.004 * (rng.Float64() - 0.5), 0.004 * (rng.Float64() - 0.5)}
	s.blur = 0.6 + 0.8*rng.Float64()
	s.noise = 1.5 + 3*rng.Float64()
	s.grain = 0.08 * rng.Float64()
}

// aim stands the camera so that no part of the piece has less than 8 px to the
// millimetre,
// and gives the picture the size that holds everything round its middle.
func (s *scene) aim(target p3, piece [][]p2, others ...[][]p2) {
	sets := append(others, piece)
	turn := 2 * math.Pi * s.rng.Float64()
	roll := 2 * math.Pi * s.rng.Float64()
	s.w, s.h = 0, 0 // pixels count from the axis
	for dist := s.f / 8; ; dist *= 0.985 {
		last := dist < s.f/20
		var b [4]float64
		for range 3 { // bring the middle of all to the axis
			s.look(target, s.tilt, turn, roll, dist)
			b = [4]float64{1e9, 1e9, -1e9, -1e9}
			for _, loops := range sets {
				for _, l := range loops {
					for _, p := range l {
						for _, z := range [2]float64{0, s.thick} {
							q := s.pixel(p3{p.x, p.y, z})
							b = [4]float64{min(b[0], q.x), min(b[1], q.y), max(b[2], q.x), max(b[3], q.y)}
						}
					}
				}
			}
			d := s.ray((b[0]+b[2])/2, (b[1]+b[3])/2)
			target = s.eye.add(d.mul(-s.eye.z / d.z))
		}
		least := 1e9
		for _, l := range piece {
			for _, p := range l {
				for k := range 8 { // the direction in which a millimetre takes the fewest pixels
					sn, cs := math.Sincos(math.Pi / 8 * float64(k))
					a, c := s.pixel(p3{p.x - cs/2, p.y - sn/2, 0}), s.pixel(p3{p.x + cs/2, p.y + sn/2, 0})
					least = min(least, math.Hypot(a.x-c.x, a.y-c.y))
				}
			}
		}
		if least >= 8.1 || last {
			margin := 60 + 100*s.rng.Float64()
			s.w, s.h = 2*int(max(-b[0], b[2])+margin), 2*int(max(-b[1], b[3])+margin)
			return
		}
	}
}

func shapesCard(turn float64) (string, [][]p2) {
	// ISO/IEC 7810:2019 ID-1, standing upright left of the middle
	const hx, hy, c = 53.98 / 2, 85.60 / 2, 3.18
	var l []p2
	sn, cs := math.Sincos(turn)
	for q := range 4 {
		sx, sy := []float64{1, -1, -1, 1}[q], []float64{1, 1, -1, -1}[q]
		for k := range 13 {
			a := math.Pi/2*float64(q) + math.Pi/2*float64(k)/12
			x, y := sx*(hx-c)+c*math.Cos(a), sy*(hy-c)+c*math.Sin(a)
			l = append(l, p2{cs*x - sn*y, sn*x + cs*y})
		}
	}
	return "card", [][]p2{l}
}

// sheetScene makes picture n on the small frame of the check sheet; in every
// third a coin-like thing covers some marks.
func sheetScene(n uint64) *scene {
	s, name, loops := piece(n, 21, 11, 9)
	rng := s.rng
	sn, cs := math.Sincos(2 * math.Pi * rng.Float64())
	off := p2{20 * (rng.Float64() - 0.5), 8 * (rng.Float64() - 0.5)}
	for i, l := range loops {
		for k, p := range l {
			loops[i][k] = p2{cs*p.x - sn*p.y + off.x, sn*p.x + cs*p.y + off.y}
		}
	}
	s.loops = loops
	s.piece = distances(loops, 8, 0.2)
	if s.edge == round {
		s.run = min(s.thick, slices.Max(s.piece.v))
	}
	// The marks as they are printed: dots and rings of the given measures.
	type mark struct {
		x, y float64
		ring bool
	}
	cells := map[[2]int]mark{}
	f := photo.Frames[2]
	var box []p2
	for _, m := range f.Marks() {
		cells[[2]int{int(math.Floor(m.At.X / photo.Pitch)), int(math.Floor(m.At.Y / photo.Pitch))}] = mark{m.At.X, m.At.Y, m.Ring}
		box = append(box, p2{m.At.X, m.At.Y})
	}
	s.marks = func(x, y float64) float64 {
		for i := -1; i <= 1; i++ {
			for j := -1; j <= 1; j++ {
				m, ok := cells[[2]int{int(math.Floor(x/photo.Pitch)) + i, int(math.Floor(y/photo.Pitch)) + j}]
				if !ok {
					continue
				}
				if d := math.Hypot(x-m.x, y-m.y); d < photo.MarkWide/2 && (!m.ring || d > photo.RingHole/2) {
					return 1
				}
			}
		}
		return 0
	}
	paper := p3{0.82, 0.83, 0.80}.mul(0.85 + 0.15*rng.Float64())
	s.ground = func(x, y float64) p3 { return paper.mul(1 + 0.02*wave(x*3, y*3)) }
	covered := ""
	if n%3 == 0 {
		c := box[rng.IntN(len(box))]
		coin, free, marks := tint(rng, 0.1, 0.6), s.ground, s.marks
		in := func(x, y float64) bool { return math.Hypot(x-c.x*1.1, y-c.y*1.1) < 11 }
		s.ground = func(x, y float64) p3 {
			if in(x, y) {
				return coin
			}
			return free(x, y)
		}
		s.marks = func(x, y float64) float64 {
			if in(x, y) {
				return 0
			}
			return marks(x, y)
		}
		covered = ", marks covered"
	}
	for s.pieceCol = tint(rng, 0.04, 0.8); apart(s.pieceCol, paper) < 80; {
		s.pieceCol = tint(rng, 0.02, 0.7)
	}
	s.finish("paper")
	s.f *= 1.4 // the whole frame from near would need a very wide lens
	s.aim(p3{}, loops, [][]p2{box})
	s.name = fmt.Sprintf("%d %s on the sheet%s, tilt %.0f, t %.1f, edge %d", n, name, covered, s.tilt*180/math.Pi, s.thick, s.edge)
	return s
}
