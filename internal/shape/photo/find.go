package photo

import (
	"fmt"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/lens"
	"pourwright/internal/shape/outline"
	"pourwright/internal/shape/snapshot"
)

// Edge is what the border of the piece is like.
type Edge string

// The kinds of border.
const (
	Flat    Edge = "flat"       // vertical from back to front
	Round   Edge = "half-round" // a quarter of an ellipse
	Chamfer Edge = "chamfer"    // vertical, then cut off at 45 degrees
)

// Options say what is known of the piece.
type Options struct {
	Thickness float64 // mm, from the table to its top
	Edge      Edge    // Flat where empty
	Chamfer   float64 // mm cut off, for the edge chamfer
	Reference string  // card or sheet; empty: whichever is found
}

// Flag is a doubt about the result, with what to do about it.
type Flag struct{ Say, Do string }

// Result is an outline with how it was found.
type Result struct {
	Outline    outline.Shape // mm, on the table; x right and y away as in the picture, the piece's middle at the origin
	Silhouette outline.Shape // in the picture, px
	Reference  string        // card or sheet
	Marks      [][]vec.V2    // lines over the reference in the picture, px
	Camera     lens.Camera
	Scale      float64 // px/mm where it is least along the outline
	Tilt       float64 // degrees
	Blur       float64 // of the reference's edges, standard deviation, px
	Residual   float64 // of the reference, RMS, mm
	Spread     float64 // standard deviation that camera and edge give the outline, mm; 95 % of its points
	Soft       float64 // share of the outline whose edge is softer than the reference's
	Weak       float64 // share along which the piece hardly differs from the ground
	Ragged     float64 // share that leaves its own course, smoothed over 3 mm, by more than 0.15 mm
	Foot       float64 // share of the side that faces the camera with a second edge where the foot of a wall would be
	Flags      []Flag
	picture    *snapshot.Picture
}

// Bounds of what is measured.
const (
	LeastScale  = 8.0  // px/mm
	refuseScale = 6.0  // px/mm
	MaxTilt     = 42.0 // degrees
	refuseTilt  = 55.0
	MaxRound    = 24.0 // degrees, for a half-round edge
	refuseRound = 35.0
	MaxBlur     = 0.25 // mm
	// Thickest is the thickest piece, mm.
	Thickest = 60.0
)

// working is the longest side of the picture in which the piece is parted from
// the ground, px.
const working = 720

func refuse(path, hint, format string, args ...any) error {
	return fault.New(fault.Input, path, hint, format, args...)
}

// Check refuses options that fit no piece, and fills in the edge.
func (o *Options) Check() error {
	bad := func(place, hint, format string, args ...any) error {
		return fault.New(fault.Usage, place, hint, format, args...)
	}
	if o.Edge == "" {
		o.Edge = Flat
	}
	switch {
	case !(o.Thickness > 0) || o.Thickness > Thickest:
		return bad("thickness", "measure the piece with a caliper", "a piece %g mm thick cannot be measured; give more than 0 and at most %g", o.Thickness, Thickest)
	case o.Edge != Flat && o.Edge != Round && o.Edge != Chamfer:
		return bad("edge", "one of flat, half-round, chamfer", "there is no edge %q", string(o.Edge))
	case o.Edge == Chamfer && (!(o.Chamfer > 0) || o.Chamfer >= o.Thickness):
		return bad("chamfer", "give how much is cut off, mm, less than the thickness", "a chamfer of %g mm does not fit a piece %g mm thick", o.Chamfer, o.Thickness)
	case o.Reference != "" && o.Reference != "card" && o.Reference != "sheet":
		return bad("reference", "one of card, sheet", "there is no reference %q", o.Reference)
	}
	return nil
}

// Find measures the piece in the picture. What cannot be measured is refused;
// what can, but not surely, comes with flags. path is the picture's name in
// messages.
func Find(p *snapshot.Picture, path string, o Options) (*Result, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	prior := lens.Prior{F: 28 * math.Hypot(float64(p.W), float64(p.H)) / math.Hypot(36, 24) * 1.4, SpreadF: 0.4, Radial: 0.04}
	if p.Focal > 0 {
		prior.F, prior.SpreadF = p.Focal, 0.02
	}
	ref, err := findReference(p, path, o.Reference, prior)
	if err != nil {
		return nil, err
	}
	r := &Result{Reference: ref.kind, Marks: ref.outline, Camera: ref.cam.Camera, Blur: ref.blur, Residual: ref.cam.RMS, picture: p}
	r.Tilt = ref.cam.Tilt() * 180 / math.Pi
	most, never := MaxTilt, refuseTilt
	if o.Edge == Round {
		most, never = MaxRound, refuseRound
	}
	if r.Tilt > never {
		return nil, refuse(path, "hold the phone more over the piece", "the picture is taken at %.0f degrees from above, too slanted for this edge", r.Tilt)
	}
	if r.Tilt > most {
		r.flag("hold the phone more over the piece", "the picture is taken at %.0f degrees from above; the thickness is hard to undo beyond %.0f", r.Tilt, most)
	}
	mid, ok := ref.cam.On(vec.V2{X: float64(p.W) / 2, Y: float64(p.H) / 2}, 0)
	if !ok {
		return nil, refuse(path, "hold the phone more over the piece", "the middle of the picture shows no part of the table")
	}
	if err := r.piece(ref, path, o, ref.cam.Scale(mid, 0)); err != nil {
		return nil, err
	}
	return r, nil
}

func (r *Result) flag(do, say string, args ...any) {
	r.Flags = append(r.Flags, Flag{Say: fmt.Sprintf(say, args...), Do: do})
}

// findReference looks for the sheet, then for the card.
func findReference(p *snapshot.Picture, path, want string, prior lens.Prior) (*reference, error) {
	if want != "card" {
		if ref := findSheet(p, prior); ref != nil {
			return ref, nil
		}
		if want == "sheet" {
			return nil, refuse(path, "let at least two sides of the frame of dots show, in even light; print the sheet at 100 %", "the check sheet is not found in the picture")
		}
	}
	s := reduce(p, max(1, (max(p.W, p.H)+799)/800))
	type found struct {
		ref   *reference
		score float64
		at    vec.V2
	}
	var all []found
	best := -1
	for _, q := range quads(s) {
		ref, sc, ok := cardIn(p, q, prior)
		if !ok {
			continue
		}
		all = append(all, found{ref, sc, q[0].Add(q[2]).Mul(0.5)})
		if best < 0 || sc < all[best].score {
			best = len(all) - 1
		}
	}
	if best < 0 {
		return nil, refuse(path, "lay a bank card beside the piece, blank side up, wholly in the picture, on a ground of another colour, and take it from more above; or use the check sheet",
			"no bank card and no check sheet is found in the picture")
	}
	card := all[best]
	for _, o := range all {
		// The same card found from two regions is one card, and a plate of much
		// the same shape fits a card's edges less well than a card does.
		if w, ok := card.ref.cam.On(o.at, 0); ok && !card.ref.holds(w, 0) && o.score < max(2.5*card.score, 0.03) {
			return nil, refuse(path, "leave one card in the picture, or use the check sheet", "the picture shows two things that look like a card")
		}
	}
	return card.ref, nil
}

// piece finds the outline once the camera is known.
func (r *Result) piece(ref *reference, path string, o Options, scale float64) error {
	p := r.picture
	s := reduce(p, max(1, (max(p.W, p.H)+working-1)/working))
	fixed := make([]bool, s.w*s.h)
	for j := range s.h {
		for i := range s.w {
			w, ok := ref.cam.On(s.up(float64(i), float64(j)), 0)
			fixed[j*s.w+i] = ok && ref.holds(w, r.wallReach(ref, w))
		}
	}
	per := scale / float64(s.k) // small pixels to the millimetre
	least := max(30, int(9*per*per))
	got, ok := segment(s, fixed, least)
	switch {
	case !ok:
		return refuse(path, "lay the piece on a ground of another colour, in soft light, 10 mm or more from reference and picture's edge", "no piece is found that stands out from the ground")
	case got.card:
		return refuse(path, "lay the piece at least 3 mm from it", "the piece touches the %s", map[string]string{"card": "card", "sheet": "frame of dots"}[ref.kind])
	case got.border:
		return refuse(path, "take the picture again with room round the piece", "the piece, or a shadow taken for it, touches the edge of the picture")
	}
	if got.others*4 > got.area {
		r.flag("leave one piece in the picture", "there is more than one thing beside the %s; the largest is taken", ref.kind)
	}
	if got.cut*2 > got.area {
		r.flag("take the picture again with room round the piece", "something as large as the piece is cut off by the picture's edge")
	}
	reach := min(16, int(1.5*float64(s.k))+3)
	var sharp, step []float64
	var mm outline.Shape
	feet, facing := 0, 0
	for _, l := range trace(s, got, 2) {
		b := lead(p, l, reach, ref.blur)
		again := even(b.loop, 1.5)
		if len(again) < 12 {
			continue
		}
		b2 := lead(p, again, 3, ref.blur)
		var w outline.Loop
		for _, q := range b2.loop {
			m, ok := ref.cam.On(q, 0)
			if !ok {
				return refuse(path, "hold the phone more over the piece", "part of the outline does not lie on the table")
			}
			w = append(w, m)
		}
		if o.Edge != Round {
			h, n := beyond(p, &ref.cam.Camera, b2.loop, o.Thickness-o.Chamfer)
			feet, facing = feet+h, facing+n
		}
		sharp, step = append(sharp, b2.steep...), append(step, b2.step...)
		r.Silhouette = append(r.Silhouette, b2.loop)
		for i, j := 0, len(w)-1; i < j; i, j = i+1, j-1 { // the table is seen mirrored: y up
			w[i], w[j] = w[j], w[i]
		}
		mm = append(mm, w)
	}
	if len(mm) == 0 {
		return refuse(path, "go nearer", "the piece is too small in the picture")
	}
	var err error
	if r.Outline, err = straighten(&ref.cam.Camera, mm, o); err != nil {
		return err
	}
	r.Scale = math.Inf(1)
	for _, l := range r.Outline {
		for i := 0; i < len(l); i += 4 {
			r.Scale = min(r.Scale, ref.cam.Scale(l[i], 0))
		}
	}
	if r.Scale < refuseScale {
		return refuse(path, "go nearer, or set the phone to more pixels", "the piece has only %.1f pixels to the millimetre; %.0f are needed", r.Scale, LeastScale)
	}
	if r.Scale < LeastScale-0.15 {
		r.flag("go nearer, or set the phone to more pixels", "the piece has only %.1f pixels to the millimetre; %.0f are needed", r.Scale, LeastScale)
	}
	if err := r.judge(ref, path, mm, sharp, step); err != nil {
		return err
	}
	if len(r.Outline) == 0 || !(r.Outline.Area() > 1) {
		return refuse(path, "check the thickness, or hold the phone more over the piece", "nothing is left of the outline once the thickness of %.3g mm is undone", o.Thickness)
	}
	if r.Foot = float64(feet) / max(1, float64(facing)); facing*12 > len(sharp) && r.Foot > 0.4 {
		r.flag("compare the outline with the picture; light from the phone's side helps", "the outline may follow the upper edge where it should follow the foot of the wall: a second edge lies there along %.0f %% of it", 100*r.Foot)
	}
	r.Spread = spreadOf(&ref.cam, r.Outline, o.Thickness, r.Silhouette)
	if r.Spread > 0.3 {
		r.flag("take the picture from more above, with the reference larger in it", "the place of the camera is known too loosely: the outline may be off by %.1f mm", 2*r.Spread)
	}
	// The piece's middle at the origin, x to the right as in the picture.
	x := ref.cam.R[0]
	k := math.Hypot(x.X, x.Y)
	for _, l := range r.Outline {
		for i, q := range l {
			l[i] = vec.V2{X: (x.X*q.X + x.Y*q.Y) / k, Y: (x.X*q.Y - x.Y*q.X) / k}
		}
	}
	lo, hi := r.Outline.Box()
	r.Outline = r.Outline.Moved(lo.Add(hi).Mul(-0.5))
	return nil
}

// wallReach is how far beyond its outline the card can hide the table, mm.
func (r *Result) wallReach(ref *reference, w vec.V2) float64 {
	if ref.kind != "card" {
		return 0.5
	}
	eye := ref.cam.Centre()
	d := vec.V2{X: w.X - eye.X, Y: w.Y - eye.Y}.Len()
	return 0.5 + cardThick*d/max(1, eye.Z-cardThick)
}

// judge refuses or flags an outline by blur, step and course.
func (r *Result) judge(ref *reference, path string, mm outline.Shape, sharp, step []float64) error {
	if b := ref.blur / r.Scale; b > 2*MaxBlur {
		return refuse(path, "hold the phone still and let it focus", "the picture is blurred over %.1f mm", 2*b)
	} else if b > MaxBlur {
		r.flag("hold the phone still and let it focus", "the picture is blurred over %.1f mm", 2*b)
	}
	soft, weak := 0, 0
	limit := 0.40 / (math.Sqrt(2*math.Pi) * math.Sqrt(ref.blur*ref.blur+0.6))
	for i := range sharp {
		if sharp[i] < limit {
			soft++
		}
		if step[i] < 14 {
			weak++
		}
	}
	n := float64(len(sharp))
	r.Soft, r.Weak, r.Ragged = float64(soft)/n, float64(weak)/n, ragged(mm)
	switch s := r.Soft; {
	case s > 0.5:
		return refuse(path, "use softer light or another ground", "the outline is soft along %.0f %% of its length: a shadow, or no edge", 100*s)
	case s > 0.10:
		r.flag("compare the outline with the picture; softer light or another ground helps", "the outline is soft along %.0f %% of its length: it may follow a shadow there", 100*s)
	}
	if s := r.Ragged; s > 0.02 {
		r.flag("compare the outline with the picture", "the outline is ragged along %.0f %% of its length: it may have left the piece's edge there", 100*s)
	}
	if s := r.Weak; s > 0.08 {
		r.flag("compare the outline with the picture; a ground of another colour helps", "the piece hardly differs from the ground along %.0f %% of its length", 100*s)
	}
	return nil
}

// ragged returns the share of the outline that lies more than 0.15 mm off its
// own mean over 3 mm, beyond what the smooth bend of the mean explains.
func ragged(s outline.Shape) float64 {
	const gap = 0.25
	const half = 6
	off, all := 0, 0
	for _, l := range s {
		l = even(l, gap)
		n := len(l)
		if n < 4*half {
			continue
		}
		mean := func(f func(int) vec.V2, i int) vec.V2 {
			var m vec.V2
			for k := -half; k <= half; k++ {
				m = m.Add(f((i + k + n) % n))
			}
			return m.Mul(1.0 / (2*half + 1))
		}
		once := make([]vec.V2, n)
		for i := range l {
			once[i] = mean(func(k int) vec.V2 { return l[k] }, i)
		}
		for i := range l {
			// What the mean takes off a smooth bend it takes off twice.
			twice := mean(func(k int) vec.V2 { return once[k] }, i)
			d := l[i].Sub(once[i]).Sub(once[i].Sub(twice))
			all++
			if d.Len() > 0.15 {
				off++
			}
		}
	}
	return float64(off) / max(1, float64(all))
}

// beyond counts the points of a border whose outside faces the camera, and
// those of them beyond which the picture shows what it would if the border ran
// along the top: a calm strip, a wall t high, and an edge at its foot.
func beyond(p *snapshot.Picture, c *lens.Camera, l outline.Loop, t float64) (hits, facing int) {
	n := normals(l, 6)
	for i := 0; i < len(l); i += 3 {
		w, ok := c.On(l[i], t)
		if !ok {
			continue
		}
		foot, ok := c.See(vec.V3{X: w.X, Y: w.Y})
		d := foot.Sub(l[i]).Dot(n[i])
		if !ok || d < 5 {
			continue
		}
		facing++
		f := across(p, l[i].Add(n[i].Mul(d)), n[i], d+3)
		mean := func(a, b float64) float64 {
			s, k := 0.0, 0.0
			for j := range f.slope {
				if x := float64(j)/2 - f.reach; x >= a && x <= b {
					s, k = s+float64(f.slope[j]), k+1
				}
			}
			return s / max(1, k)
		}
		_, h := f.peak(0, max(2, 0.2*d))
		if calm := mean(-0.65*d, -0.35*d); float64(h) > 5 && float64(h) > 2.2*calm && float64(h) > 2.2*mean(0.4*d, 0.9*d) {
			hits++
		}
	}
	return hits, facing
}
