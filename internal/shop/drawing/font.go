package drawing

import (
	"bytes"
	"compress/gzip"
	"embed"
	"io"
	"strings"
	"sync"
	"unicode"

	"github.com/tdewolff/canvas"

	"pourwright/internal/ground/vec"
)

//go:embed font/*.gz font/*.woff
var fontFiles embed.FS

// hand names a cut of the letters: words for what is read, labels for units,
// table heads and drawings, stamp for the three verdicts.
type hand int

const (
	words hand = iota
	wordsBold
	label
	labelBold
	stampHand
	handCount
)

var handFile = [handCount]string{
	"CharisSIL-Regular.ttf.gz", "CharisSIL-Bold.ttf.gz", "b612-latin-400-normal.woff", "b612-latin-700-normal.woff", "routed-gothic-wide.ttf.gz",
}

// press holds the loaded fonts of the process. The library's shaper keeps
// state, so everything that touches a font runs under the lock.
var press struct {
	sync.Mutex
	font  [handCount]*canvas.Font
	face  map[faceKey]*canvas.FontFace
	width map[widthKey]float64
	glyph map[glyphKey]glyph
}

type faceKey struct {
	h   hand
	pt  float64
	ink canvas.Paint
}

type widthKey struct {
	h hand
	s string
}

// loadFont returns the font of h; the caller holds the lock. The files are
// embedded and whole, so a failure is a fault of the build.
func loadFont(h hand) *canvas.Font {
	if press.font[h] != nil {
		return press.font[h]
	}
	packed, err := fontFiles.ReadFile("font/" + handFile[h])
	if err != nil {
		panic("drawing: font file missing from the build: " + err.Error())
	}
	raw := packed
	if strings.HasSuffix(handFile[h], ".gz") {
		z, err := gzip.NewReader(bytes.NewReader(packed))
		if err != nil {
			panic("drawing: font file damaged in the build: " + err.Error())
		}
		if raw, err = io.ReadAll(z); err != nil {
			panic("drawing: font file damaged in the build: " + err.Error())
		}
	}
	f, err := canvas.LoadFont(raw, 0, canvas.FontRegular)
	if err != nil {
		panic("drawing: font file damaged in the build: " + err.Error())
	}
	f.SetFeatures("-liga") // a joined fi has no letter to copy out of the PDF
	press.font[h] = f
	return f
}

func faceOf(h hand, pt float64, c colour) *canvas.FontFace {
	paint := canvas.Paint{Color: c.rgba()}
	k := faceKey{h: h, pt: pt, ink: paint}
	if f, ok := press.face[k]; ok {
		return f
	}
	if press.face == nil {
		press.face = map[faceKey]*canvas.FontFace{}
	}
	f := loadFont(h).Face(pt, paint)
	press.face[k] = f
	return f
}

// run is a piece of a line set in one font.
type run struct {
	h hand
	s string
}

// runsOf splits s where the font of h lacks a letter: those are set in the
// words font, and a letter that lacks there too becomes a question mark.
func runsOf(h hand, s string) []run {
	var out []run
	for _, r := range s {
		g := h
		if !has(g, r) {
			if g == label {
				g = words
			} else if g == labelBold {
				g = wordsBold
			}
			if !has(g, r) {
				r = '?'
			}
		}
		if n := len(out); n > 0 && out[n-1].h == g {
			out[n-1].s += string(r)
		} else {
			out = append(out, run{g, string(r)})
		}
	}
	return out
}

func has(h hand, r rune) bool {
	if r >= ' ' && r < 0x7f {
		return true
	}
	return loadFont(h).SFNT.GlyphIndex(r) != 0
}

// widthOf returns the width of s in mm at size pt. Advance widths scale with
// the size, so they are measured once at 100 pt.
func widthOf(h hand, pt float64, s string) float64 {
	press.Lock()
	defer press.Unlock()
	return widthLocked(h, pt, s)
}

func widthLocked(h hand, pt float64, s string) float64 {
	k := widthKey{h, s}
	w, ok := press.width[k]
	if !ok {
		for _, r := range runsOf(h, s) {
			w += faceOf(r.h, 100, black).TextWidth(r.s)
		}
		if press.width == nil || len(press.width) > 20000 {
			press.width = map[widthKey]float64{}
		}
		press.width[k] = w
	}
	return w * pt / 100
}

// glyphLoops returns the outlines of s with its baseline start at the origin,
// y down, mm, letter by letter at their plain advances. The curves are
// flattened to 1/1000 of the size.
func glyphLoops(h hand, pt float64, s string) [][]vec.V2 {
	press.Lock()
	defer press.Unlock()
	var loops [][]vec.V2
	k := pt / 100
	x := 0.0
	for _, r := range runsOf(h, s) {
		for _, c := range r.s {
			g := glyphOf(r.h, c)
			for _, l := range g.loops {
				loop := make([]vec.V2, len(l))
				for i, q := range l {
					loop[i] = vec.V2{X: x + k*q.X, Y: k * q.Y}
				}
				loops = append(loops, loop)
			}
			x += k * g.advance
		}
	}
	return loops
}

// glyph is the outline of a letter at 100 pt.
type glyph struct {
	loops   [][]vec.V2
	advance float64
}

type glyphKey struct {
	h hand
	r rune
}

func glyphOf(h hand, r rune) glyph {
	if g, ok := press.glyph[glyphKey{h, r}]; ok {
		return g
	}
	const tol = 0.035 // a thousandth of 100 pt in mm
	var g glyph
	p, adv, err := faceOf(h, 100, black).ToPath(string(r))
	if err == nil { // a space has no outline
		g.advance = adv
		for _, sub := range p.Flatten(tol).Split() {
			var loop []vec.V2
			for _, q := range sub.Coords() {
				loop = append(loop, vec.V2{X: q.X, Y: -q.Y})
			}
			g.loops = append(g.loops, loop)
		}
	} else {
		g.advance = widthLocked(h, 100, string(r))
	}
	if press.glyph == nil || len(press.glyph) > 5000 {
		press.glyph = map[glyphKey]glyph{}
	}
	press.glyph[glyphKey{h, r}] = g
	return g
}

// clean makes text from outside fit for one line: control characters and runs
// of white space become one space.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\u00a0' || r == '\u2009' || r == '\u202f':
			return r
		case unicode.IsSpace(r) || unicode.IsControl(r):
			return ' '
		case r == unicode.ReplacementChar:
			return '?'
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }), " ")
}
