package drawing

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/photo"
	"pourwright/internal/shape/snapshot"
)

// The sheet as drawn is found, and a disc of known size on it is measured: the
// page is seen straight from above at 8.5 px/mm.
func TestCheckSheetIsFound(t *testing.T) {
	const scale = 8.5
	for _, st := range []stock{a4, letter} {
		for _, f := range photo.Frames {
			if f.Name != st.name && f.Name != "small" {
				continue
			}
			p := framePage(st, f)
			img := image.NewRGBA(image.Rect(0, 0, int(p.w*scale), int(p.h*scale)))
			for i := range img.Pix {
				img.Pix[i] = 255
			}
			putRaster(img, p, scale)
			const r = 17.0
			high := float64(f.NY-1)*photo.Pitch + photo.MarkWide
			cx, cy := p.w/2-4, 12+high/2
			for y := range img.Rect.Dy() {
				for x := range img.Rect.Dx() {
					if d := math.Hypot((float64(x)+0.5)/scale-cx, (float64(y)+0.5)/scale-cy); d < r {
						img.SetRGBA(x, y, color.RGBA{120, 60, 40, 255})
					}
				}
			}
			var b bytes.Buffer
			if err := png.Encode(&b, img); err != nil {
				t.Fatal(err)
			}
			pic, err := snapshot.Parse(b.Bytes(), "sheet.png")
			if err != nil {
				t.Fatal(err)
			}
			got, err := photo.Find(pic, "sheet.png", photo.Options{Thickness: 0.1})
			if err != nil {
				t.Errorf("%s on %s: %v", f.Name, st.name, err)
				continue
			}
			lo, hi := got.Outline.Box()
			if got.Reference != "sheet" || math.Abs(hi.X-lo.X-2*r) > 0.15 || math.Abs(hi.Y-lo.Y-2*r) > 0.15 {
				t.Errorf("%s on %s: by the %s, %.3f x %.3f mm, want %g", f.Name, st.name, got.Reference, hi.X-lo.X, hi.Y-lo.Y, 2*r)
			}
		}
	}
}

func TestCheckSheetKeepsToThePaper(t *testing.T) {
	for _, st := range []stock{a4, letter} {
		for _, f := range photo.Frames {
			if f.Name != st.name && f.Name != "small" {
				continue
			}
			var level []op
			for _, o := range framePage(st, f).ops {
				if o.kind == opText && o.angle == 0 {
					for _, q := range level {
						if math.Abs(q.at.Y-o.at.Y) < 3 && q.at.X < o.at.X+o.wide && o.at.X < q.at.X+q.wide {
							t.Errorf("%s on %s: %q lies over %q", f.Name, st.name, o.text, q.text)
						}
					}
					level = append(level, o)
				}
				lo, hi, ok := bounds(o.loops)
				if o.kind == opText {
					lo, hi, ok = o.at, o.at, true
					if o.angle == 0 {
						hi.X += o.wide
					} else {
						lo.Y -= o.wide
					}
				}
				if ok && (lo.X < 5 || lo.Y < 5 || hi.X > st.w-5 || hi.Y > st.h-5) {
					t.Errorf("%s on %s: %q from %v to %v comes within 5 mm of the paper's edge", f.Name, st.name, o.text, lo, hi)
				}
			}
		}
	}
	a, err := CheckSheet("A4")
	b, _ := CheckSheet("A4")
	if err != nil || !bytes.Equal(a, b) {
		t.Error("the sheet is not the same twice", err)
	}
	if _, err := CheckSheet("A5"); fault.KindOf(err) != fault.Usage {
		t.Error(err)
	}
}
