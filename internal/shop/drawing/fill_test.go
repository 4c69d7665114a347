package drawing

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"os"
	"strings"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// ballFilling is an invented filling of ballPour's mould: metal falls through the neck and
// rises in the ball, air stays under its top beside the neck, and a rod at the left runs short.
func ballFilling(h float64) (*Filling, *pour.Frames) {
	b := ballPour(h)
	f := &Filling{Grid: b.Grid, Dist: b.Dist, Half: b.Half, Plan: b.Plan}
	n := b.Grid.Len()
	f.Time, f.Closed = make([]float32, n), make([]bool, n)
	fr := &pour.Frames{Cells: [3]int{b.Grid.NX, b.Grid.NY, b.Grid.NZ}, Origin: b.Grid.Origin.Array(), H: b.Grid.H}
	for q := range n {
		p := f.Grid.Centre(f.Grid.Cell(q))
		if d := rod(p, vec.V3{X: -8}, vec.V3{X: -24, Y: -6}, 2.5, 2.5); d < float64(f.Dist[q]) {
			f.Dist[q] = float32(d)
		}
		f.Time[q] = -1
		if f.Dist[q] >= 0 {
			continue
		}
		fr.Open = append(fr.Open, int32(q))
		switch {
		case p.Y > 12:
			f.Time[q] = float32(0.02 + (40-p.Y)/1000)
		case p.X < -18: // runs short
		case p.Y > 7 && p.X > 2.2: // air stays
			f.Closed[q] = true
		default:
			f.Time[q] = float32(0.1 + 1.1*math.Pow((p.Y+12)/24, 1.2) + 0.01*math.Abs(p.X))
			if p.X < -11 {
				f.Time[q] = float32(0.7 + (-11-p.X)/20)
			}
			if math.IsNaN(float64(f.Time[q])) {
				f.Time[q] = 0.1
			}
		}
	}
	for k := range 31 {
		t := float32(0.045 * float64(k))
		s := make([]float64, len(fr.Open))
		for i, q := range fr.Open {
			if c := f.Time[q]; c >= 0 {
				s[i] = math.Max(0, math.Min(1, float64(t-c)/0.03+0.5))
			}
		}
		fr.Add(float64(t), s)
	}
	run := pour.Run{Name: "steady", Cell: h, Rate: 21e3, Time: 1.3, Filled: 0.93, Meetings: []pour.Meeting{
		{At: plan.P3{0, -4, 0}, Line: []plan.P3{{-4, -6, 0}, {-1, -4, 0}, {2, -4, 0}, {5, -2, 0}}, Length: 10, Coldest: 263},
		{At: plan.P3{-15, -3, 0}, Line: []plan.P3{{-14, -1, 0}, {-16, -5, 0}}, Length: 4, Coldest: 238, Cold: true},
	}}
	f.Doc = &pour.Filling{Computed: true, Runs: make([]pour.Run, 7), Picture: &run,
		Air:   []pour.Air{{At: plan.P3{5, 9, 0}, Volume: pour.Spread{Median: 140, Low: 90, High: 310}, Runs: 7}},
		Short: []pour.Place{{At: plan.P3{-21, -5, 0}, Volume: 130, Frozen: true}}}
	f.Plan.Findings = append(f.Plan.Findings, plan.Finding{Code: "pocket", Severity: plan.Should, At: &plan.P3{5, 9, 0}, Computed: plan.Ptr(140.0), Say: "air stays"})
	return f, fr
}

func TestFillPicture(t *testing.T) {
	f, _ := ballFilling(1)
	b, err := FillPicture(f)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil || img.Bounds().Dx() != pictureWide || img.Bounds().Dy() != pictureHigh {
		t.Fatal(err, img.Bounds())
	}
	again, _ := FillPicture(f)
	if !bytes.Equal(b, again) {
		t.Error("other bytes the second time")
	}
	kept(t, "fill.png", b)
	s := f.see()
	var words []string
	for _, o := range s.page().ops {
		if o.kind == opText {
			words = append(words, o.text)
		}
	}
	text := strings.ReplaceAll(strings.Join(words, " "), nb, " ")
	for _, w := range []string{"When metal comes", "air stays:", "90 mm³ to 310 mm³ by the hand that pours", "runs short for cold:", "cold shut,", "fronts meet,", "air from 7 pours", "upright lines: air that stays"} {
		if !strings.Contains(text, w) {
			t.Errorf("no %q in %q", w, text)
		}
	}
	if s.at != (vec.V3{X: 5, Y: 9}) {
		t.Error("cut at", s.at)
	}
}

// kept writes a picture where POURWRIGHT_LOOK names a folder, to be looked at.
func kept(t *testing.T, name string, b []byte) {
	if dir := os.Getenv("POURWRIGHT_LOOK"); dir != "" {
		if err := os.WriteFile(dir+"/"+name, b, 0o644); err != nil {
			t.Error(err)
		}
	}
}

func TestFillPictureWithoutMuch(t *testing.T) {
	for name, change := range map[string]func(f *Filling){
		"nothing kept":  func(f *Filling) { f.Doc.Air, f.Doc.Short, f.Doc.Picture.Meetings = nil, nil, nil },
		"no plan":       func(f *Filling) { f.Plan, f.Half = nil, nil },
		"no metal came": func(f *Filling) { clearTo(f.Time, -1) },
		"at once":       func(f *Filling) { clearTo(f.Time, 0) },
		"one point":     func(f *Filling) { f.Doc.Picture.Meetings[0].Line = f.Doc.Picture.Meetings[0].Line[:1] },
	} {
		f, fr := ballFilling(3)
		change(f)
		if b, err := FillPicture(f); err != nil || len(b) == 0 {
			t.Errorf("%s: %v", name, err)
		}
		fr.Times, fr.Shares = fr.Times[:2], fr.Shares[:2]
		if b, err := FillMovie(f, fr); err != nil || len(b) == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	f, _ := ballFilling(3)
	clearTo(f.Dist, 1)
	if b, err := FillPicture(f); err != nil || b != nil {
		t.Error("a picture of no metal", err)
	}
	for name, change := range map[string]func(f *Filling){
		"no doc": func(f *Filling) { f.Doc = nil }, "no picture": func(f *Filling) { f.Doc.Picture = nil }, "short": func(f *Filling) { f.Time = f.Time[1:] },
	} {
		f, fr := ballFilling(3)
		change(f)
		if _, err := FillPicture(f); err == nil {
			t.Error(name, "drawn")
		}
		if _, err := FillMovie(f, fr); err == nil {
			t.Error(name, "moves")
		}
	}
	f, _ = ballFilling(3)
	if _, err := FillMovie(f, &pour.Frames{}); err == nil {
		t.Error("moves without frames")
	}
}

// A grid laid over the cavity alone shows what one over the whole block shows.
func TestFillPictureOfACavitysGrid(t *testing.T) {
	whole, _ := ballFilling(1)
	lo, hi := [3]int{1 << 30, 1 << 30, 1 << 30}, [3]int{}
	for q, d := range whole.Dist {
		if d < 0 {
			i, j, k := whole.Grid.Cell(q)
			for d, x := range [3]int{i, j, k} {
				lo[d], hi[d] = min(lo[d], x), max(hi[d], x+1)
			}
		}
	}
	g := whole.Grid
	g.Origin = g.Origin.Add(vec.V3{X: float64(lo[0]), Y: float64(lo[1]), Z: float64(lo[2])}.Mul(g.H))
	g.NX, g.NY, g.NZ = hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2]
	tight := &Filling{Doc: whole.Doc, Plan: whole.Plan, Grid: g}
	for q := range g.Len() {
		i, j, k := g.Cell(q)
		a := whole.Grid.At(i+lo[0], j+lo[1], k+lo[2])
		tight.Dist, tight.Time, tight.Closed = append(tight.Dist, whole.Dist[a]), append(tight.Time, whole.Time[a]), append(tight.Closed, whole.Closed[a])
	}
	a, b := whole.see(), tight.see()
	for k := range a.cut {
		if len(a.cut[k].dist) != len(b.cut[k].dist) {
			t.Fatalf("%d and %d nodes", len(a.cut[k].dist), len(b.cut[k].dist))
		}
		n, apart := 0, 0
		for q, d := range a.cut[k].dist {
			in := d < 0
			if in {
				n++
			}
			if in != (b.cut[k].dist[q] < 0) {
				apart++
			}
		}
		if n == 0 || apart > n/20 { // the rim lies half a cell off where no distance is known
			t.Errorf("section %d: %d of %d nodes differ", k, apart, n)
		}
	}
	if a.size != b.size || a.at != b.at {
		t.Error(a.size, b.size, a.at, b.at)
	}
}

// The bands show the first moments apart, and one band holds what fills long after.
func TestFillBands(t *testing.T) {
	for _, c := range []struct{ lo, hi, most float64 }{{0, 1.8, 0.5}, {0.01, 1.8, 1.7}, {0, 0.02, 0.018}, {0, 0, 0}, {0.2, 60, 0.9}, {0, 40, 11}} {
		s := fillBands(c.lo, c.hi, c.most)
		if s.below || s.bands() > 7 || s.edge(0) > c.lo+1e-9 {
			t.Errorf("%+v: %+v", c, s)
		}
		if !s.above && s.edge(s.n) < c.hi-1e-9 {
			t.Errorf("%+v: ends at %g", c, s.edge(s.n))
		}
		if s.above && s.edge(s.n) < 0.6*c.most {
			t.Errorf("%+v: most is in the last band from %g on", c, s.edge(s.n))
		}
	}
}

func clearTo(f []float32, x float32) {
	for q := range f {
		f[q] = x
	}
}

func TestFillMovie(t *testing.T) {
	f, fr := ballFilling(1)
	b, err := FillMovie(f, fr)
	if err != nil {
		t.Fatal(err)
	}
	kept(t, "fill-movie.png", b)
	if len(b) > 1<<20 {
		t.Errorf("%d bytes", len(b))
	}
	still, frames := played(t, b)
	if len(frames) != len(fr.Times) {
		t.Fatalf("%d frames of %d", len(frames), len(fr.Times))
	}
	if !bytes.Equal(still.Pix, frames[len(frames)-1].Pix) {
		t.Error("the still picture is not the last frame")
	}
	// metal grows from frame to frame, and each frame is what was drawn
	pal := moviePalette()
	s := f.see()
	was := -1
	for k, img := range frames {
		n := 0
		for q := 0; q < len(img.Pix); q += 4 {
			if c := washes[4]; img.Pix[q] == c.R && img.Pix[q+1] == c.G && img.Pix[q+2] == c.B {
				n++
			}
		}
		if n < was {
			t.Errorf("frame %d: %d pixels of metal after %d", k, n, was)
		}
		was = n
		if k%10 == 3 {
			want := image.NewRGBA(img.Bounds())
			draw.Draw(want, want.Bounds(), s.still(fr, k, fr.Slots(), pal, nearest(pal)), image.Point{}, draw.Src)
			if !bytes.Equal(want.Pix, img.Pix) {
				t.Errorf("frame %d is not what was drawn", k)
			}
		}
		if k == 17 {
			var o bytes.Buffer
			if err := png.Encode(&o, img); err != nil {
				t.Fatal(err)
			}
			kept(t, "fill-frame.png", o.Bytes())
		}
	}
	if was == 0 {
		t.Error("no metal in the end")
	}
}

// played decodes an animated PNG with nothing of what made it: each frame becomes a PNG of
// its own, put over the one before.
func played(t *testing.T, b []byte) (still *image.RGBA, frames []*image.RGBA) {
	t.Helper()
	var head, pal []byte
	var data []byte
	var box image.Rectangle
	var next uint32
	inFrame := false
	var shown *image.RGBA
	put := func(w io.Writer, kind string, d []byte) {
		binary.Write(w, binary.BigEndian, uint32(len(d)))
		io.WriteString(w, kind)
		w.Write(d)
		binary.Write(w, binary.BigEndian, crc32.ChecksumIEEE(append([]byte(kind), d...)))
	}
	flush := func() {
		if len(data) == 0 {
			return
		}
		h := bytes.Clone(head)
		if inFrame {
			binary.BigEndian.PutUint32(h, uint32(box.Dx()))
			binary.BigEndian.PutUint32(h[4:], uint32(box.Dy()))
		}
		one := bytes.NewBufferString("\x89PNG\r\n\x1a\n")
		put(one, "IHDR", h)
		put(one, "PLTE", pal)
		put(one, "IDAT", data)
		put(one, "IEND", nil)
		img, err := png.Decode(one)
		if err != nil {
			t.Fatal(err)
		}
		if !inFrame {
			still = image.NewRGBA(img.Bounds())
			draw.Draw(still, still.Bounds(), img, image.Point{}, draw.Src)
		} else {
			now := image.NewRGBA(still.Bounds())
			if shown != nil {
				copy(now.Pix, shown.Pix)
			}
			draw.Draw(now, box, img, image.Point{}, draw.Src)
			shown = now
			frames = append(frames, now)
		}
		data = nil
	}
	count := uint32(0)
	for d := b[8:]; len(d) > 0; {
		n := binary.BigEndian.Uint32(d)
		kind, body := string(d[4:8]), d[8:8+n]
		if sum := crc32.ChecksumIEEE(d[4 : 8+n]); sum != binary.BigEndian.Uint32(d[8+n:]) {
			t.Fatalf("sum of %s", kind)
		}
		number := func() {
			if binary.BigEndian.Uint32(body) != next {
				t.Fatalf("%s numbered %d, not %d", kind, binary.BigEndian.Uint32(body), next)
			}
			next++
		}
		switch kind {
		case "IHDR":
			head = body
		case "PLTE":
			pal = body
		case "acTL":
			count = binary.BigEndian.Uint32(body)
		case "IDAT":
			data = append(data, body...)
		case "fcTL":
			flush()
			number()
			at := func(k int) int { return int(binary.BigEndian.Uint32(body[k:])) }
			box = image.Rect(at(12), at(16), at(12)+at(4), at(16)+at(8))
			inFrame = true
		case "fdAT":
			number()
			data = append(data, body[4:]...)
		case "IEND":
			flush()
		}
		d = d[12+n:]
	}
	if int(count) != len(frames) {
		t.Errorf("%d frames announced, %d there", count, len(frames))
	}
	return still, frames
}

// Every colour of the look comes out of the palette as itself, and mixtures near themselves.
func TestMoviePalette(t *testing.T) {
	pal := moviePalette()
	at := nearest(pal)
	for _, c := range []colour{white, black, washes[4]} {
		if got := pal[at(c.rgba())].(color.RGBA); got != c.rgba() {
			t.Errorf("%v becomes %v", c, got)
		}
	}
	for _, c := range pal {
		a, b := c.(color.RGBA), pal[at(c.(color.RGBA))].(color.RGBA)
		if d := math.Abs(float64(a.R)-float64(b.R)) + math.Abs(float64(a.G)-float64(b.G)) + math.Abs(float64(a.B)-float64(b.B)); d > 36 {
			t.Errorf("%v becomes %v", a, b)
		}
	}
}
