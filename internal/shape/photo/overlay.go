package photo

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"

	"pourwright/internal/ground/vec"
)

// overlaySide is the longest side of an overlay, px: enough to judge an outline
// by, and no copy of the photograph.
const overlaySide = 1100

// Overlay returns a PNG of the found outline over the picture: the part of it
// round piece and reference, small and grey, the outline in red, the reference
// in blue.
func (r *Result) Overlay() ([]byte, error) {
	p := r.picture
	lo, hi := vec.V2{X: math.Inf(1), Y: math.Inf(1)}, vec.V2{X: math.Inf(-1), Y: math.Inf(-1)}
	grow := func(q vec.V2) {
		lo.X, lo.Y, hi.X, hi.Y = min(lo.X, q.X), min(lo.Y, q.Y), max(hi.X, q.X), max(hi.Y, q.Y)
	}
	for _, l := range r.Silhouette {
		for _, q := range l {
			grow(q)
		}
	}
	for _, l := range r.Marks {
		for _, q := range l {
			grow(q)
		}
	}
	m := 0.04 * max(hi.X-lo.X, hi.Y-lo.Y)
	x0, y0 := max(0, lo.X-m), max(0, lo.Y-m)
	x1, y1 := min(float64(p.W), hi.X+m), min(float64(p.H), hi.Y+m)
	k := max(1, max(x1-x0, y1-y0)/overlaySide)
	w, h := max(1, int((x1-x0)/k)), max(1, int((y1-y0)/k))
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	n := max(1, int(k+0.5))
	for j := range h {
		for i := range w {
			sum := float32(0)
			for a := range n {
				for b := range n {
					c := at(p, int(x0+(float64(i)+(float64(a)+0.5)/float64(n))*k), int(y0+(float64(j)+(float64(b)+0.5)/float64(n))*k))
					sum += 0.3*c[0] + 0.59*c[1] + 0.11*c[2]
				}
			}
			g := uint8(min(255, max(0, 40+0.8*sum/float32(n*n))))
			img.SetRGBA(i, j, color.RGBA{g, g, g, 255})
		}
	}
	draw := func(l []vec.V2, c color.RGBA, half float64) {
		for i, a := range l {
			b := l[(i+1)%len(l)]
			d := b.Sub(a)
			steps := int(d.Len()/k*2) + 1
			for t := range steps {
				q := a.Add(d.Mul(float64(t) / float64(steps)))
				u, v := (q.X-x0)/k, (q.Y-y0)/k
				for y := int(v - half); y <= int(v+half); y++ {
					for x := int(u - half); x <= int(u+half); x++ {
						if x >= 0 && y >= 0 && x < w && y < h {
							img.SetRGBA(x, y, c)
						}
					}
				}
			}
		}
	}
	for _, l := range r.Marks {
		draw(l, color.RGBA{0x20, 0x60, 0xd0, 255}, 0.3)
	}
	for _, l := range r.Silhouette {
		draw(l, color.RGBA{0xd0, 0x20, 0x30, 255}, 0.6)
	}
	var b bytes.Buffer
	err := png.Encode(&b, img)
	return b.Bytes(), err
}
