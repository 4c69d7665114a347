package snapshot

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"testing"

	"pourwright/internal/ground/fault"
)

// withNotes puts an Exif block behind the first marker of a JPEG.
func withNotes(b []byte, turn, f35 uint16) []byte {
	var t bytes.Buffer
	w := func(x any) { binary.Write(&t, binary.BigEndian, x) }
	t.WriteString("Exif\x00\x00MM")
	w(uint16(42))
	w(uint32(8))
	w(uint16(2))
	w([]uint16{tagOrientation, 3, 0, 1, turn, 0})
	w([]uint16{tagExif, 4, 0, 1, 0, 38})
	w(uint32(0))
	w(uint16(1))
	w([]uint16{tagFocal35, 3, 0, 1, f35, 0})
	w(uint32(0))
	out := append([]byte{}, b[:2]...)
	out = append(out, 0xFF, 0xE1)
	out = binary.BigEndian.AppendUint16(out, uint16(t.Len()+2))
	out = append(out, t.Bytes()...)
	return append(out, b[2:]...)
}

// sample is grey with a red upper left and a green upper right corner.
func sample() image.Image {
	m := image.NewRGBA(image.Rect(0, 0, 300, 240))
	for y := range 240 {
		for x := range 300 {
			c := color.RGBA{90, 90, 90, 255}
			if y < 60 && x < 60 {
				c = color.RGBA{250, 0, 0, 255}
			} else if y < 60 && x >= 240 {
				c = color.RGBA{0, 250, 0, 255}
			}
			m.Set(x, y, c)
		}
	}
	return m
}

func (p *Picture) hue(x, y int) string {
	c := p.Pix[3*(y*p.W+x):]
	switch {
	case c[0] > 180 && c[1] < 80:
		return "red"
	case c[1] > 180 && c[0] < 80:
		return "green"
	}
	return "grey"
}

// Exif 2.32, 4.6.4 A: the place of row 0 and column 0 for each value.
func TestTurnedUpright(t *testing.T) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, sample(), nil); err != nil {
		t.Fatal(err)
	}
	red := map[uint16][2]int{1: {0, 0}, 2: {1, 0}, 3: {1, 1}, 4: {0, 1}, 5: {0, 0}, 6: {1, 0}, 7: {1, 1}, 8: {0, 1}}
	green := map[uint16][2]int{1: {1, 0}, 2: {0, 0}, 3: {0, 1}, 4: {1, 1}, 5: {0, 1}, 6: {1, 1}, 7: {1, 0}, 8: {0, 0}}
	for turn := uint16(1); turn <= 8; turn++ {
		p, err := Parse(withNotes(b.Bytes(), turn, 26), "a.jpg")
		if err != nil {
			t.Fatal(err)
		}
		if turn >= 5 != (p.W == 240) {
			t.Errorf("turn %d: %d x %d", turn, p.W, p.H)
		}
		at := func(c [2]int) string { return p.hue(20+c[0]*(p.W-40), 20+c[1]*(p.H-40)) }
		if at(red[turn]) != "red" || at(green[turn]) != "green" {
			t.Errorf("turn %d: red corner %s, green corner %s", turn, at(red[turn]), at(green[turn]))
		}
		if want := 26 * math.Hypot(300, 240) / math.Hypot(36, 24); math.Abs(p.Focal-want) > 1e-9 {
			t.Errorf("focal %g, want %g", p.Focal, want)
		}
	}
}

func TestPNGWithoutNotes(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, sample()); err != nil {
		t.Fatal(err)
	}
	p, err := Parse(b.Bytes(), "a.png")
	if err != nil || p.Focal != 0 || p.hue(10, 10) != "red" || len(p.SHA256) != 64 {
		t.Error(p, err)
	}
}

func TestRefused(t *testing.T) {
	var small bytes.Buffer
	png.Encode(&small, image.NewGray(image.Rect(0, 0, 50, 50)))
	var cut bytes.Buffer
	png.Encode(&cut, sample())
	huge := append([]byte{}, cut.Bytes()...)
	binary.BigEndian.PutUint32(huge[16:], 60000)
	binary.BigEndian.PutUint32(huge[20:], 60000)
	var strip bytes.Buffer
	png.Encode(&strip, image.NewGray(image.Rect(0, 0, 200, 900)))
	for name, b := range map[string][]byte{"strip": strip.Bytes(), "empty": nil, "text": []byte("hello"), "small": small.Bytes(), "cut": cut.Bytes()[:cut.Len()/2], "huge": huge} {
		_, err := Parse(b, "x.png")
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Read("no/such.jpg"); fault.KindOf(err) != fault.Input {
		t.Error(err)
	}
}

func FuzzParse(f *testing.F) {
	var j, p bytes.Buffer
	jpeg.Encode(&j, image.NewGray(image.Rect(0, 0, 200, 200)), &jpeg.Options{Quality: 5})
	png.Encode(&p, image.NewGray(image.Rect(0, 0, 200, 200)))
	f.Add(j.Bytes())
	f.Add(p.Bytes())
	f.Add(withNotes(j.Bytes(), 6, 26))
	f.Fuzz(func(t *testing.T, b []byte) {
		if m, err := Parse(b, "x"); err == nil {
			if len(m.Pix) != 3*m.W*m.H || m.W < leastSide || m.H < leastSide || math.IsNaN(m.Focal) {
				t.Error(m.W, m.H, m.Focal)
			}
		} else if fault.KindOf(err) != fault.Input {
			t.Error(err)
		}
	})
}

func BenchmarkParse12MP(b *testing.B) {
	m := image.NewYCbCr(image.Rect(0, 0, 4000, 3000), image.YCbCrSubsampleRatio420)
	for i := range m.Y {
		m.Y[i] = uint8(i * 7 >> 3)
	}
	var j bytes.Buffer
	jpeg.Encode(&j, m, nil)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Parse(j.Bytes(), "x"); err != nil {
			b.Fatal(err)
		}
	}
}

// The camera's notes alone: decoding pictures would slow the search down.
func FuzzNotes(f *testing.F) {
	var j bytes.Buffer
	jpeg.Encode(&j, image.NewGray(image.Rect(0, 0, 16, 16)), &jpeg.Options{Quality: 5})
	f.Add(withNotes(j.Bytes(), 6, 26))
	f.Add([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x08eXIfII\x2a\x00\x08\x00\x00\x00\x00\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, kind := range []string{"jpeg", "png"} {
			if n := notesOf(b, kind); n.turn < 1 || n.turn > 8 || n.f35 < 0 || n.f35 > 800 {
				t.Error(n)
			}
		}
	})
}
