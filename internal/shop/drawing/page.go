package drawing

import (
	"image/color"
	"math"

	"pourwright/internal/ground/vec"
)

// colour is an sRGB colour.
type colour struct{ R, G, B uint8 }

func (c colour) rgba() color.RGBA { return color.RGBA{c.R, c.G, c.B, 255} }

// The colours of the look: print is black on white, the accent stands in the
// stamp and the numbers of findings; the screen colours serve the pictures.
var (
	black     = colour{0, 0, 0}
	white     = colour{255, 255, 255}
	accent    = colour{0x7e, 0x22, 0x51}
	wash2     = colour{0xbb, 0xc8, 0xd5}
	paperTint = colour{0xf2, 0xf2, 0xef}
	inkTint   = colour{0x1a, 0x23, 0x2f}
)

// Line widths in mm at print size.
const (
	hairLine    = 0.13
	thinLine    = 0.18
	ruleLine    = 0.25
	frameLine   = 0.35
	outlineLine = 0.5
	cutLine     = 0.7
	cautionBar  = 1.2
)

type opKind uint8

const (
	opFill opKind = iota
	opStroke
	opText
)

// op is one mark on a page. Coordinates are mm from the upper left corner, y
// down.
type op struct {
	kind   opKind
	loops  [][]vec.V2
	closed bool
	width  float64
	dash   []float64
	col    colour

	text  string
	font  hand
	pt    float64
	at    vec.V2  // start of the baseline
	angle float64 // degrees, counter-clockwise
	wide  float64 // measured width of the text, mm
}

// page is a list of marks. It is drawn on paper or on a raster afterwards, so
// that the number of sheets is known before the first foot is written.
type page struct {
	w, h float64
	ops  []op
}

func (p *page) fill(c colour, loops ...[]vec.V2) {
	p.ops = append(p.ops, op{kind: opFill, loops: loops, col: c})
}

func (p *page) stroke(width float64, dash []float64, closed bool, lines ...[]vec.V2) {
	p.strokeIn(black, width, dash, closed, lines...)
}

func (p *page) strokeIn(c colour, width float64, dash []float64, closed bool, lines ...[]vec.V2) {
	if len(lines) == 0 {
		return
	}
	p.ops = append(p.ops, op{kind: opStroke, loops: lines, closed: closed, width: width, dash: dash, col: c})
}

func (p *page) line(width, x0, y0, x1, y1 float64) {
	p.stroke(width, nil, false, []vec.V2{{X: x0, Y: y0}, {X: x1, Y: y1}})
}

func (p *page) rect(width, x, y, w, h float64) { p.stroke(width, nil, true, box(x, y, w, h)) }

func (p *page) circle(width, x, y, r float64) { p.stroke(width, nil, true, disc(x, y, r)) }

// align says which point of a text stands at the given place.
type align int

const (
	left align = iota
	middle
	right
)

// print sets s with its baseline at (x, y) and returns its width.
func (p *page) print(f hand, pt, x, y float64, a align, s string) float64 {
	return p.printIn(black, f, pt, x, y, a, s)
}

func (p *page) printIn(c colour, f hand, pt, x, y float64, a align, s string) float64 {
	if s == "" {
		return 0
	}
	w := widthOf(f, pt, s)
	switch a {
	case middle:
		x -= w / 2
	case right:
		x -= w
	}
	p.ops = append(p.ops, op{kind: opText, text: s, font: f, pt: pt, at: vec.V2{X: x, Y: y}, col: c, wide: w})
	return w
}

// upright sets s turned by 90 degrees, read from below, centred on (x, y).
func (p *page) upright(f hand, pt, x, y float64, s string) {
	w := widthOf(f, pt, s)
	p.ops = append(p.ops, op{kind: opText, text: s, font: f, pt: pt, at: vec.V2{X: x + capHeight(pt)/2, Y: y + w/2}, angle: 90, col: black, wide: w})
}

// mmPerPt is the length of a point.
const mmPerPt = 25.4 / 72

// capHeight is the height of capitals and figures of the words and label
// fonts, mm: 0.68 of the size to within 4 %.
func capHeight(pt float64) float64 { return 0.68 * pt * mmPerPt }

func box(x, y, w, h float64) []vec.V2 {
	return []vec.V2{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}

func disc(x, y, r float64) []vec.V2 {
	const n = 48
	loop := make([]vec.V2, n)
	for i := range loop {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		loop[i] = vec.V2{X: x + r*c, Y: y + r*s}
	}
	return loop
}

func reversed(l []vec.V2) []vec.V2 {
	r := make([]vec.V2, len(l))
	for i, q := range l {
		r[len(l)-1-i] = q
	}
	return r
}

// bounds returns the box of the loops; ok is false where there is no point.
func bounds(loops [][]vec.V2) (lo, hi vec.V2, ok bool) {
	lo, hi = vec.V2{X: math.Inf(1), Y: math.Inf(1)}, vec.V2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, l := range loops {
		for _, q := range l {
			lo.X, lo.Y = math.Min(lo.X, q.X), math.Min(lo.Y, q.Y)
			hi.X, hi.Y = math.Max(hi.X, q.X), math.Max(hi.Y, q.Y)
			ok = true
		}
	}
	return lo, hi, ok
}

// moved returns the loops taken through f.
func moved(loops [][]vec.V2, f func(vec.V2) vec.V2) [][]vec.V2 {
	out := make([][]vec.V2, len(loops))
	for i, l := range loops {
		out[i] = make([]vec.V2, len(l))
		for j, q := range l {
			out[i][j] = f(q)
		}
	}
	return out
}
