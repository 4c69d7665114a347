package drawing

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// FillMovie returns the filling as an animated PNG of the two sections: metal in
// one tone, one picture for each frame, the last one held. The frames may have
// a grid of their own. APNG rather than GIF: the standard library already packs
// its pictures, text stays sharp, and what cannot play it shows the first picture, which is
// the mould full as it came out in the end.
func FillMovie(f *Filling, fr *pour.Frames) ([]byte, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	if fr == nil || len(fr.Times) == 0 || len(fr.Open) == 0 || len(fr.Shares) != len(fr.Times) {
		return nil, fault.New(fault.Internal, "pictures", "", "the filling has no frames")
	}
	s := f.see()
	if s == nil {
		return nil, nil
	}
	// the still picture first, then the frames
	order := []int{len(fr.Times) - 1}
	for k := range fr.Times {
		order = append(order, k)
	}
	all := make([]*image.Paletted, len(order))
	pal := moviePalette()
	lookup := nearest(pal)
	slot := fr.Slots()
	par.For(len(order), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			all[i] = s.still(fr, order[i], slot, pal, lookup)
		}
	})
	m := movie{frames: all[1:], first: all[0]}
	for range m.frames {
		m.delay = append(m.delay, frameTime)
	}
	m.delay[len(m.delay)-1] = holdTime
	b, err := m.encode()
	if err != nil {
		return nil, pictureFault(err)
	}
	return b, nil
}

// Of the movie: pixels for a mm of the look, and how long a picture stands, ms.
const (
	movieScale = 4.0
	frameTime  = 80
	holdTime   = 2500
)

// still draws one frame.
func (s *flowing) still(fr *pour.Frames, k int, slot []int32, pal color.Palette, lookup func(c color.RGBA) uint8) *image.Paletted {
	p := blankPicture()
	p.caption("Metal comes in", s.f.poured())
	g, x := s.lay(6, heatTop, p.w-10, p.h-heatTop-12, heatLabel) // no bar of bands below
	for i := range g {
		c := g[i].s
		share := c.sampleFrames(fr, fr.Shares[k], slot)
		c.spread(share)
		both := make([]float32, len(share))
		for q, v := range share {
			both[q] = min(v-0.5, -c.dist[q])
		}
		if l := g[i].lines(c.region(both, func(v float32) float32 { return v })); len(l) > 0 {
			p.fill(washes[4], turned(l)...)
		}
		g[i].outlines(p)
	}
	s.frame(p, g)
	p.print(wordsBold, sizeHeading.pt, x, heatTop+4, left, fixed(fr.Times[k])+nb+"s")
	p.print(label, 8, x, heatTop+8.5, left, "since the first metal")
	img := newImage(pictureWide/2, pictureHigh/2, white)
	putRaster(img, p, movieScale)
	out := image.NewPaletted(img.Bounds(), pal)
	for q := range out.Pix {
		out.Pix[q] = lookup(color.RGBA{img.Pix[4*q], img.Pix[4*q+1], img.Pix[4*q+2], 255})
	}
	return out
}

// fixed says seconds to a hundredth, so that the words keep their places.
func fixed(t float64) string {
	n := int(t*100 + 0.5)
	return grouped(float64(n)/100, 2)
}

// sampleFrames reads shares of metal on the nodes of a plane, linear between the
// open cells; nodes with none near them get NaN.
func (s *plane) sampleFrames(fr *pour.Frames, share []uint8, slot []int32) []float32 {
	h := *s.h
	h.Grid.Origin, h.Grid.H = vec.FromArray(fr.Origin), fr.H
	h.Grid.NX, h.Grid.NY, h.Grid.NZ = fr.Cells[0], fr.Cells[1], fr.Cells[2]
	t := *s
	t.h = &h
	return t.sample(func(q int) (float32, bool) {
		if slot[q] < 0 {
			return 0, false
		}
		return float32(share[slot[q]]) / 255, true
	})
}

// moviePalette holds white, black and the tone of metal with the mixtures along
// the edges between two of them.
func moviePalette() color.Palette {
	const steps = 24
	pal := color.Palette{}
	ends := [3]colour{white, black, washes[4]}
	for _, e := range [][2]int{{0, 1}, {0, 2}, {2, 1}} {
		a, b := ends[e[0]], ends[e[1]]
		for i := range steps + 1 {
			mix := func(x, y uint8) uint8 { return uint8((int(x)*(steps-i) + int(y)*i + steps/2) / steps) }
			pal = append(pal, color.RGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 255})
		}
	}
	return pal
}

// nearest returns the entry of a palette for a colour, by a table of 32 x 32 x 32.
func nearest(pal color.Palette) func(c color.RGBA) uint8 {
	table := make([]uint8, 1<<15)
	for k := range table {
		up := func(v int) uint8 { return uint8((v & 31) * 255 / 31) }
		table[k] = uint8(pal.Index(color.RGBA{up(k >> 10), up(k >> 5), up(k), 255}))
	}
	down := func(v uint8) int { return (int(v)*31 + 127) / 255 }
	return func(c color.RGBA) uint8 { return table[down(c.R)<<10|down(c.G)<<5|down(c.B)] }
}

// movie is an animated PNG: pictures of one size and palette (PNG, third edition, 2025: chunks acTL, fcTL,
// fdAT). first is the still picture and no part of the animation.
type movie struct {
	first  *image.Paletted
	frames []*image.Paletted
	delay  []int // ms
}

func (m *movie) encode() ([]byte, error) {
	still, err := chunks(m.first)
	if err != nil {
		return nil, err
	}
	b := bytes.NewBufferString("\x89PNG\r\n\x1a\n")
	put := func(kind string, data []byte) {
		var n [4]byte
		binary.BigEndian.PutUint32(n[:], uint32(len(data)))
		b.Write(n[:])
		sum := crc32.NewIEEE()
		sum.Write([]byte(kind))
		sum.Write(data)
		b.WriteString(kind)
		b.Write(data)
		binary.BigEndian.PutUint32(n[:], sum.Sum32())
		b.Write(n[:])
	}
	word := binary.BigEndian.AppendUint32
	for _, c := range still { // IHDR, PLTE, IDAT ..., IEND
		if c.kind == "IHDR" {
			put(c.kind, c.data)
			put("acTL", word(word(nil, uint32(len(m.frames))), 0)) // 0: for ever
			continue
		}
		if c.kind == "IEND" {
			break
		}
		put(c.kind, c.data)
	}
	number := uint32(0)
	for k, f := range m.frames {
		r := f.Bounds()
		if k > 0 {
			r = changed(m.frames[k-1], f)
		}
		d := word(nil, number)
		for _, x := range []int{r.Dx(), r.Dy(), r.Min.X, r.Min.Y} {
			d = word(d, uint32(x))
		}
		d = binary.BigEndian.AppendUint16(d, uint16(m.delay[k]))
		d = binary.BigEndian.AppendUint16(d, 1000)
		put("fcTL", append(d, 0, 0)) // what is drawn stays, and covers
		number++
		parts, err := chunks(f.SubImage(r).(*image.Paletted))
		if err != nil {
			return nil, err
		}
		for _, c := range parts {
			if c.kind == "IDAT" {
				put("fdAT", append(word(nil, number), c.data...))
				number++
			}
		}
	}
	put("IEND", nil)
	return b.Bytes(), nil
}

// changed is the box of the pixels that differ; one pixel where none does.
func changed(a, b *image.Paletted) image.Rectangle {
	r := image.Rectangle{}
	w := a.Bounds().Dx()
	for q := range b.Pix {
		if a.Pix[q] != b.Pix[q] {
			r = r.Union(image.Rect(q%w, q/w, q%w+1, q/w+1))
		}
	}
	if r.Empty() {
		return image.Rect(0, 0, 1, 1)
	}
	return r
}

type chunk struct {
	kind string
	data []byte
}

// chunks packs a picture as PNG and takes it apart.
func chunks(img *image.Paletted) ([]chunk, error) {
	var b bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestCompression}
	if err := e.Encode(&b, img); err != nil {
		return nil, err
	}
	var list []chunk
	for d := b.Bytes()[8:]; len(d) >= 12; {
		n := int(binary.BigEndian.Uint32(d))
		list = append(list, chunk{string(d[4:8]), d[8 : 8+n]})
		d = d[12+n:]
	}
	return list, nil
}
