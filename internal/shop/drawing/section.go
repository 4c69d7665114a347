package drawing

import (
	"math"

	"pourwright/internal/ground/vec"
)

// sectionAt is the x of the section: through the first ingate, else through
// the cup, else through the middle.
func (in *Input) sectionAt() float64 {
	b := in.Plan.Block
	if len(b.Ingates) > 0 {
		return b.Ingates[0].At[0]
	}
	if c := in.cups(); len(c) > 0 {
		return (c[0][0] + c[0][1]) / 2
	}
	return 0
}

// sectionLoops cuts the metal at x, as loops over (z, y). The plane is moved by
// a hair so that it meets no corner of the mesh.
func (in *Input) sectionLoops(x float64) [][]vec.V2 {
	x += 1.7e-5
	loops := levelSet(in.Metal, func(p vec.V3) float64 { return p.X - x })
	out := make([][]vec.V2, len(loops))
	for i, l := range loops {
		for _, p := range l {
			out[i] = append(out[i], vec.V2{X: p.Z, Y: p.Y})
		}
	}
	return turned(thinned(out, 0.01, 0.2))
}

// sectionPicture shows the mould cut open through the ingate, half 1 at the
// left, the cup edge up, boards outside.
func (in *Input) sectionPicture() ([]byte, error) {
	p := blankPicture()
	v, b := in.look(), in.Plan.Block
	x := in.sectionAt()
	cut := in.sectionLoops(x)
	p.caption("Section through the ingate", "half 1 at the left, half 2 at the right; "+in.leaving(cut))
	board := b.Clamps.Board.Size[2]
	if !(board > 0) {
		board = 18
	}
	total := v.size.Z + 2*board
	const labels = 40
	k := min((p.w-2*labels)/total, (p.h-32)/v.size.Y)
	// half 1 (z up to +) at the left
	oy := 22.0
	at := func(z, y float64) vec.V2 { return vec.V2{X: p.w/2 - z*k, Y: oy + (v.size.Y/2-y)*k} }
	hz, hy := v.size.Z/2, v.size.Y/2
	seam := in.seam(x, at)
	one := append([]vec.V2{at(hz, hy)}, seam...)
	one = append(one, at(hz, -hy))
	two := append([]vec.V2{at(-hz, hy)}, seam...)
	two = append(two, at(-hz, -hy))
	metal := moved(cut, func(q vec.V2) vec.V2 { return at(q.X, q.Y) })
	p.hatch(toneHalf1, [][]vec.V2{one})
	p.hatch(toneHalf2, [][]vec.V2{two})
	p.stroke(frameLine, nil, false, seam)
	p.fill(wash2, metal...)
	p.stroke(outlineLine, nil, true, metal...)
	p.stroke(frameLine, nil, true, box(at(hz, hy).X, oy, v.size.Z*k, v.size.Y*k))
	bt := board * k
	for _, bx := range []float64{at(hz, 0).X - bt, at(-hz, 0).X} {
		l := box(bx, oy, bt, v.size.Y*k)
		p.hatch(toneBoard, [][]vec.V2{l})
		p.stroke(frameLine, nil, true, l)
	}
	in.sectionLabels(p, at, bt, metal)
	img := newImage(pictureWide, pictureHigh, white)
	putRaster(img, p, pictureScale)
	return encode(img)
}

// leaving ends the remark. It says where the channel from the cup does not run in the plane of the
// section down to the piece, so that a gap in the picture is not taken for a
// blocked channel.
func (in *Input) leaving(cut [][]vec.V2) string {
	hy := in.look().size.Y / 2
	for _, l := range cut {
		lo, hi, ok := bounds([][]vec.V2{l})
		if !ok || hi.Y < hy-0.5 {
			continue
		}
		if lo.Y > hy-in.Plan.Block.Head {
			return "the channel runs on beside this plane"
		}
		return "boards outside"
	}
	return "the cup lies beside this plane"
}

// seam is the parting surface at x, from the upper to the lower edge.
func (in *Input) seam(x float64, at func(z, y float64) vec.V2) []vec.V2 {
	v := in.look()
	const n = 400
	var l []vec.V2
	for i := range n + 1 {
		y := v.size.Y/2 - v.size.Y*float64(i)/n
		z := 0.0
		if in.Surface != nil && len(in.Surface.Z) > 0 {
			z = in.Surface.At(x, y)
		}
		z = math.Max(-v.size.Z/2, math.Min(v.size.Z/2, z))
		l = append(l, at(z, y))
	}
	return l
}

func (in *Input) sectionLabels(p *page, at func(z, y float64) vec.V2, board float64, metal [][]vec.V2) {
	v := in.look()
	hz, hy := v.size.Z/2, v.size.Y/2
	p.print(label, 8, at(hz/2, hy).X, at(0, hy).Y-2, middle, "half 1")
	p.print(label, 8, at(-hz/2, hy).X, at(0, hy).Y-2, middle, "half 2")
	xl, xr := at(hz, 0).X-board, at(-hz, 0).X+board
	y := at(0, -hy).Y
	p.print(label, 8, xl+board/2, at(0, hy).Y-2, middle, "board")
	p.print(label, 8, xr-board/2, at(0, hy).Y-2, middle, "board")
	s := in.Plan.Block
	if s.Head > 0 {
		// the head, from the cavity's top to the rim, as a plain length at the side
		y0, y1 := at(0, hy).Y, at(0, hy-s.Head).Y
		x := xr + 6
		p.line(thinLine, x, y0, x, y1)
		p.line(thinLine, x-1.5, y0, x+1.5, y0)
		p.line(thinLine, x-1.5, y1, x+1.5, y1)
		p.print(label, 8, x+3, (y0+y1)/2+1, left, "head "+Built(s.Head)+nb+"mm")
	}
	x0, x1 := at(hz, 0).X, at(-hz, 0).X
	p.line(thinLine, x0, y+4, x1, y+4)
	p.line(thinLine, x0, y+2.5, x0, y+5.5)
	p.line(thinLine, x1, y+2.5, x1, y+5.5)
	p.print(label, 8, x1+3, y+5, left, Built(v.size.Z)+nb+"mm")
	xs := xl - 6
	y0, y1 := at(0, hy).Y, y
	p.line(thinLine, xs, y0, xs, y1)
	p.line(thinLine, xs-1.5, y0, xs+1.5, y0)
	p.line(thinLine, xs-1.5, y1, xs+1.5, y1)
	p.print(label, 8, xs-3, (y0+y1)/2+1, right, Built(v.size.Y)+nb+"mm")
	if len(metal) > 0 {
		p.print(label, 8, xs-3, at(0, hy).Y+2, right, "cup, this edge up")
	}
}
