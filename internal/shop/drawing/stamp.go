package drawing

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// The stamp of the verdict: 62 x 25 mm, a double outline, turned by 1.6
// degrees. The word is drawn as outlines, for its letters serve nothing else.
const (
	stampWide = 62
	stampHigh = 25
)

// stamp draws the verdict with its upper left corner at (x, y) before it is
// turned. An open line means that a part is still an estimate.
func (p *page) stamp(x, y float64, verdict, under string, estimate bool) {
	var dash []float64
	if estimate {
		dash = []float64{3, 1.4}
	}
	word := map[string]string{plan.Pour: "POUR", plan.Care: "POUR WITH CARE", plan.No: "DO NOT POUR"}[verdict]
	s, c := math.Sincos(-1.6 * math.Pi / 180)
	turn := func(q vec.V2) vec.V2 {
		q = vec.V2{X: q.X - stampWide/2, Y: q.Y - stampHigh/2}
		return vec.V2{X: x + stampWide/2 + q.X*c - q.Y*s, Y: y + stampHigh/2 + q.X*s + q.Y*c}
	}
	skew := func(l ...[]vec.V2) [][]vec.V2 { return moved(l, turn) }
	p.strokeIn(accent, 0.9, dash, true, skew(stampEdge(verdict, 0.45))...)
	p.strokeIn(accent, 0.3, nil, true, skew(stampEdge(verdict, 1.6))...)
	if verdict == plan.No {
		p.fill(accent, skew(box(1.6, 4.4, stampWide-3.2, 0.9))...)
	}
	pt := 21.0
	loops := glyphLoops(stampHand, pt, word)
	lo, hi, ok := bounds(loops)
	if !ok {
		return
	}
	k := min(1, (stampWide-7.5)/(hi.X-lo.X))
	base := 15.4
	if verdict == plan.No {
		base = 16.2
	}
	mid := stampWide/2 - (lo.X+hi.X)/2*k
	loops = moved(loops, func(q vec.V2) vec.V2 { return turn(vec.V2{X: mid + q.X*k, Y: base + q.Y*k}) })
	p.fill(accent, loops...)
	// the line under the word is text, turned with the stamp
	pt = 9
	w := widthOf(label, pt, under)
	if w > stampWide-8 {
		pt *= (stampWide - 8) / w
		w = stampWide - 8
	}
	q := turn(vec.V2{X: (stampWide - w) / 2, Y: 21.2})
	p.ops = append(p.ops, op{kind: opText, text: under, font: label, pt: pt, at: q, angle: 1.6, col: accent, wide: w})
}

// stampEdge is the outline of a verdict, d inside the rim: square corners and
// an open notch, clipped corners and an open notch, or square without a notch.
func stampEdge(verdict string, d float64) []vec.V2 {
	w, h := float64(stampWide)-d, float64(stampHigh)-d
	const mid = stampWide / 2.0
	notch := []vec.V2{{X: mid - 5.2 + 0.4*d, Y: d}, {X: mid, Y: 6 + 0.4*d}, {X: mid + 5.2 - 0.4*d, Y: d}}
	switch verdict {
	case plan.No:
		return []vec.V2{{X: d, Y: d}, {X: w, Y: d}, {X: w, Y: h}, {X: d, Y: h}}
	case plan.Care:
		const k = 4.0
		l := []vec.V2{{X: d, Y: k + 0.4*d}, {X: k + 0.4*d, Y: d}}
		l = append(l, notch...)
		return append(l, vec.V2{X: w - k + 0.6*d, Y: d}, vec.V2{X: w, Y: k + 0.4*d}, vec.V2{X: w, Y: h - k + 0.6*d},
			vec.V2{X: w - k + 0.6*d, Y: h}, vec.V2{X: k + 0.4*d, Y: h}, vec.V2{X: d, Y: h - k + 0.6*d})
	}
	l := append([]vec.V2{{X: d, Y: d}}, notch...)
	return append(l, vec.V2{X: w, Y: d}, vec.V2{X: w, Y: h}, vec.V2{X: d, Y: h})
}
