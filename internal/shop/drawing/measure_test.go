package drawing

import (
	"fmt"
	"image"
	_ "image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// rendered turns the pages of a PDF, up to the last asked for, into grey
// pictures at dpi dots an inch.
func rendered(t *testing.T, pdf []byte, dpi, last int) []image.Image {
	t.Helper()
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftoppm is not installed (package poppler-utils), so the check bars cannot be measured")
		}
		t.Log("not run: the measuring of the check bars (needs pdftoppm, package poppler-utils)")
		return nil
	}
	dir := t.TempDir()
	in := filepath.Join(dir, "in.pdf")
	if err := os.WriteFile(in, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-r", fmt.Sprint(dpi), "-l", fmt.Sprint(last), "-gray", "-png", in, filepath.Join(dir, "p")).CombinedOutput()
	if err != nil {
		t.Fatalf("pdftoppm: %v\n%s", err, out)
	}
	if s := strings.TrimSpace(string(out)); s != "" {
		t.Errorf("pdftoppm complains: %s", s)
	}
	names, _ := filepath.Glob(filepath.Join(dir, "p*.png"))
	var pages []image.Image
	for _, n := range names {
		f, err := os.Open(n)
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := image.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		pages = append(pages, img)
	}
	return pages
}

// middles returns the ink-weighted middles of the dark stretches along a line
// of pixels, in pixels.
func middles(n int, grey func(i int) float64) []float64 {
	var out []float64
	for i := 0; i < n; i++ {
		if grey(i) > 250 {
			continue
		}
		w, s := 0.0, 0.0
		for ; i < n && grey(i) <= 250; i++ {
			k := 255 - grey(i)
			w, s = w+k, s+k*(float64(i)+0.5)
		}
		out = append(out, s/w)
	}
	return out
}

func TestCheckBarsMeasureTrue(t *testing.T) {
	const dpi, px = 127, 5.0 // 5 pixels to the mm
	for name, in := range map[string]*Input{"A4": sample(2, 2), "Letter": large("Letter")} {
		pdf, err := Templates(in)
		if err != nil {
			t.Fatal(err)
		}
		pages, err := templatePages(in)
		if err != nil {
			t.Fatal(err)
		}
		imgs := rendered(t, pdf, dpi, len(pages))
		if imgs == nil {
			return
		}
		if len(imgs) != len(pages) {
			t.Fatalf("%s: %d pages rendered, %d made", name, len(imgs), len(pages))
		}
		for n, img := range imgs {
			if w, h := img.Bounds().Dx(), img.Bounds().Dy(); math.Abs(float64(w)-px*pages[n].w) > 1.5 || math.Abs(float64(h)-px*pages[n].h) > 1.5 {
				t.Errorf("%s page %d: %d x %d pixels for %.1f x %.1f mm", name, n+1, w, h, pages[n].w, pages[n].h)
			}
			grey := func(x, y int) float64 {
				r, _, _, _ := img.At(x, y).RGBA()
				return float64(r >> 8)
			}
			s := pages[n]
			// a row of pixels through the ticks of the bar across: below its line,
			// above the end of the short ticks
			row := int(px * (s.bottom - 10.5 + 1))
			x0, x1 := int(px*(s.x0+12-2)), int(px*(s.x0+12+barLength+2))
			across := middles(x1-x0, func(i int) float64 { return grey(x0+i, row) })
			col := int(px * (s.x1 - 11 - 1))
			y0, y1 := int(px*(s.top+titleHigh+22-2)), int(px*(s.top+titleHigh+22+barLength+2))
			down := middles(y1-y0, func(i int) float64 { return grey(col, y0+i) })
			for what, m := range map[string][]float64{"across": across, "down": down} {
				if len(m) != 21 {
					t.Fatalf("%s page %d: %d ticks %s, want 21", name, n+1, len(m), what)
				}
				if l := (m[20] - m[0]) / px; math.Abs(l-barLength) > 0.2 {
					t.Errorf("%s page %d: the bar %s measures %.2f mm", name, n+1, what, l)
				}
			}
		}
	}
}

// TestBlockIsDrawnTrue measures the outline of the block itself on the
// template of half 1.
func TestBlockIsDrawnTrue(t *testing.T) {
	in := sample(2, 2)
	pdf, err := Templates(in)
	if err != nil {
		t.Fatal(err)
	}
	imgs := rendered(t, pdf, 254, 1)
	if imgs == nil {
		return
	}
	img := imgs[0]
	grey := func(x, y int) float64 {
		r, _, _, _ := img.At(x, y).RGBA()
		return float64(r >> 8)
	}
	s, _ := templatePages(in)
	size := in.Plan.Block.Size
	// a column through the side of the block, left of everything inside
	x := int(10 * s[0].x0)
	top, bottom := -1, -1
	for y := int(10 * (s[0].top + titleHigh)); y < img.Bounds().Dy()-400; y++ {
		if grey(x, y) < 128 {
			if top < 0 {
				top = y
			}
			bottom = y
		} else if top >= 0 {
			break
		}
	}
	if got := float64(bottom-top+1)/10 - frameLine; math.Abs(got-size[1]) > 0.2 {
		t.Errorf("the block is drawn %.2f mm high, want %.2f", got, size[1])
	}
}
