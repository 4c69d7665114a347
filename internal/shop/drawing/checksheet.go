package drawing

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/photo"
)

// CheckSheet returns the check sheet for photographed masters as a PDF at full
// size: on the first page the frame that fills the paper, on the second the
// small one for small pieces. The marks stand where photo.Frames says, to the
// 0.001 mm that the PDF's numbers keep; two bars of 100 mm at right angles show
// whether the printer kept the size.
func CheckSheet(paper string) ([]byte, error) {
	st, ok := stockOf(paper)
	if !ok {
		return nil, fault.New(fault.Usage, "--paper", "one of A4, Letter", "there is no paper %q", paper)
	}
	var pages []*page
	for _, name := range []string{st.name, "small"} {
		for _, f := range photo.Frames {
			if f.Name == name {
				pages = append(pages, framePage(st, f))
			}
		}
	}
	b, err := writePDF("Check sheet, "+st.name, pages)
	if err != nil {
		return nil, fault.New(fault.Internal, "paper", "", "the PDF could not be written: %v", err)
	}
	return b, nil
}

// framePage draws one frame in the middle of the paper's width.
func framePage(st stock, f photo.Frame) *page {
	p := &page{w: st.w, h: st.h}
	high := float64(f.NY-1)*photo.Pitch + photo.MarkWide
	top := 12.0
	cx, cy := st.w/2-4, top+high/2 // a little to the left: a bar stands at the right
	for _, m := range f.Marks() {
		x, y := cx+m.At.X, cy-m.At.Y
		loops := [][]vec.V2{round(x, y, photo.MarkWide/2)}
		if m.Ring {
			loops = append(loops, reversed(round(x, y, photo.RingHole/2)))
		}
		p.fill(black, loops...)
	}
	x0 := cx - float64(f.NX-1)/2*photo.Pitch
	y := top + high + 7
	p.print(wordsBold, 12, x0, y-2, left, "Check sheet, "+st.name+", frame "+f.Name)
	p.bar(x0+2, y+6, false)
	p.print(label, sizeLabel.pt, x0+2+barLength/2, y+4, middle, "100"+nb+"mm across: lay a steel rule on it")
	xd := st.w - 10
	p.bar(xd, top+2, true)
	p.upright(label, sizeLabel.pt, xd+4, top+2+barLength/2, "100"+nb+"mm down: lay a steel rule on it")
	for i, s := range []string{
		"Print at 100" + nb + "%. Lay the sheet flat, the piece inside the frame, at least 3" + nb + "mm from the marks.",
		"Stand the phone over it, with two sides of the frame and a corner in the picture, in soft light.",
	} {
		p.print(label, sizeLabel.pt, x0, y+18+4*float64(i), left, s)
	}
	return p
}

// round is a circle of 96 points whose polygon has the circle's area.
func round(x, y, r float64) []vec.V2 {
	const n = 96
	r *= math.Sqrt(2 * math.Pi / n / math.Sin(2*math.Pi/n))
	l := make([]vec.V2, n)
	for i := range l {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		l[i] = vec.V2{X: x + r*c, Y: y + r*s}
	}
	return l
}
