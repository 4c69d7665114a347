package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// POURWRIGHT_PICTURES=folder writes the pictures there, to be looked at.
func TestWritePictures(t *testing.T) {
	dir := os.Getenv("POURWRIGHT_PICTURES")
	if dir == "" {
		t.Skip("POURWRIGHT_PICTURES=folder writes the pictures")
	}
	for _, n := range []uint64{0, 1, 2, 3} {
		t0 := time.Now()
		s := cardScene(n)
		t1 := time.Now()
		b := s.shoot()
		t.Log(s.name, t1.Sub(t0), time.Since(t1))
		os.WriteFile(filepath.Join(dir, fmt.Sprintf("p%02d.jpg", n)), b, 0o644)
		shrunk(t, b, filepath.Join(dir, fmt.Sprintf("p%02d.png", n)))
	}
}

// shrunk writes a PNG of half the size.
func shrunk(t *testing.T, jpg []byte, path string) {
	m, err := jpeg.Decode(bytes.NewReader(jpg))
	if err != nil {
		t.Fatal(err)
	}
	b := m.Bounds()
	o := image.NewRGBA(image.Rect(0, 0, b.Dx()/2, b.Dy()/2))
	for y := range b.Dy() / 2 {
		for x := range b.Dx() / 2 {
			o.Set(x, y, m.At(2*x, 2*y))
		}
	}
	f, _ := os.Create(path)
	defer f.Close()
	png.Encode(f, o)
}
