package drawing

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/vector"

	"pourwright/internal/ground/vec"
)

// putRaster draws the page onto img at scale pixels per mm.
func putRaster(img *image.RGBA, p *page, scale float64) {
	for i := range p.ops {
		o := &p.ops[i]
		switch o.kind {
		case opFill:
			paintLoops(img, o.loops, scale, o.col)
		case opStroke:
			paintLoops(img, strokes(o.loops, o.closed, o.width, o.dash, 0.7/scale), scale, o.col)
		case opText:
			s, c := math.Sincos(o.angle * math.Pi / 180)
			loops := moved(glyphLoops(o.font, o.pt, o.text), func(q vec.V2) vec.V2 {
				return vec.V2{X: o.at.X + q.X*c + q.Y*s, Y: o.at.Y - q.X*s + q.Y*c}
			})
			paintLoops(img, loops, scale, o.col)
		}
	}
}

// paintLoops fills the loops (non-zero winding) with c, smoothed by coverage.
// Only the box of the loops is touched.
func paintLoops(img *image.RGBA, loops [][]vec.V2, scale float64, c colour) {
	lo, hi, ok := bounds(loops)
	if !ok {
		return
	}
	b := img.Bounds()
	r := image.Rect(int(math.Floor(lo.X*scale)), int(math.Floor(lo.Y*scale)), int(math.Ceil(hi.X*scale))+1, int(math.Ceil(hi.Y*scale))+1).Intersect(b)
	if r.Empty() {
		return
	}
	z := vector.NewRasterizer(r.Dx(), r.Dy())
	at := func(q vec.V2) (x, y float32) {
		return float32(q.X*scale - float64(r.Min.X)), float32(q.Y*scale - float64(r.Min.Y))
	}
	for _, l := range loops {
		if len(l) < 3 {
			continue
		}
		z.MoveTo(at(l[0]))
		for _, q := range l[1:] {
			z.LineTo(at(q))
		}
		z.ClosePath()
	}
	z.DrawOp = draw.Over
	z.Draw(img, r, image.NewUniform(color.RGBA{c.R, c.G, c.B, 255}), image.Point{})
}

// strokes turns lines into filled loops: one quad for each piece and a disc at
// each joint, all turning the same way so that overlaps stay filled. No line
// becomes thinner than least.
func strokes(lines [][]vec.V2, closed bool, width float64, dash []float64, least float64) [][]vec.V2 {
	hw := max(width, least) / 2
	var out [][]vec.V2
	quad := func(a, b vec.V2) {
		d := b.Sub(a)
		n := d.Len()
		if n == 0 {
			return
		}
		e := vec.V2{X: -d.Y, Y: d.X}.Mul(hw / n)
		out = append(out, []vec.V2{a.Add(e), a.Sub(e), b.Sub(e), b.Add(e)})
	}
	for _, l := range lines {
		if closed && len(l) > 2 {
			l = append(append([]vec.V2{}, l...), l[0])
		}
		for _, piece := range dashed(l, dash) {
			for i := 0; i+1 < len(piece); i++ {
				quad(piece[i], piece[i+1])
				joint := i > 0 || (closed && len(dash) == 0)
				if joint && hw > 0.6*least {
					out = append(out, octagon(piece[i], hw*1.05))
				}
			}
		}
	}
	return out
}

// dashed cuts a line into dashes; without a pattern it is one piece.
func dashed(l []vec.V2, dash []float64) [][]vec.V2 {
	if len(dash) == 0 || len(l) < 2 {
		return [][]vec.V2{l}
	}
	var out [][]vec.V2
	k, rest := 0, dash[0]
	cur := []vec.V2{l[0]}
	for i := 0; i+1 < len(l); i++ {
		a, b := l[i], l[i+1]
		n := b.Sub(a).Len()
		done := 0.0
		for n-done > rest {
			done += rest
			q := a.Add(b.Sub(a).Mul(done / n))
			if k%2 == 0 {
				out = append(out, append(cur, q))
			}
			cur = []vec.V2{q}
			k++
			rest = dash[k%len(dash)]
		}
		rest -= n - done
		cur = append(cur, b)
	}
	if k%2 == 0 && len(cur) > 1 {
		out = append(out, cur)
	}
	return out
}

// newImage returns a picture of w x h pixels filled with c.
func newImage(w, h int, c colour) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Bounds(), image.NewUniform(c.rgba()), image.Point{}, draw.Src)
	return img
}

// encode writes img as PNG; the encoder keeps no date.
func encode(img image.Image) ([]byte, error) {
	var buf bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := e.Encode(&buf, img); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}
