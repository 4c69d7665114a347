// Package snapshot reads photographs: JPEG and PNG, turned upright by what the
// camera noted (Exif 2.32, CIPA DC-008), with the focal length where it is
// there. Nothing else of the notes is kept: no place, no date, no device.
//
// Main functions: Read, Parse.
//
// Limits: files up to 64 MiB, pictures from 200 x 200 up to 50 million pixels,
// held against the header before a pixel is decoded. Memory: 3 bytes a pixel
// kept; while decoding up to 8 more for a PNG of 16 bits, up to 15 more for a
// progressive JPEG: at most 0.9 GB. CMYK, HEIC, raw and moving pictures are
// refused.
package snapshot

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/color"
	_ "image/jpeg" // decoders of the two formats
	_ "image/png"
	"io"
	"io/fs"
	"math"
	"os"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
)

// The limits of a file.
const (
	MaxFile   = 64 << 20
	MaxPixels = 50_000_000
	leastSide = 200
)

// Picture is a photograph, upright: 3 bytes (red, green, blue, sRGB) a pixel,
// row by row from the upper left corner.
type Picture struct {
	W, H   int
	Pix    []uint8
	Focal  float64 // focal length, px, 0 where the file does not say
	SHA256 string  // of the file
}

// Read reads a file.
func Read(path string) (*Picture, error) {
	f, err := os.Open(path)
	if err != nil {
		hint := "check the name and the folder"
		if errors.Is(err, fs.ErrPermission) {
			hint = "make the file readable"
		}
		return nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot open the picture", Hint: hint, Cause: err}
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxFile+1))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot read the picture", Hint: "name a JPEG or PNG file, not a folder", Cause: err}
	}
	return Parse(data, path)
}

// Parse reads the bytes of a file; path is its name in messages.
func Parse(data []byte, path string) (*Picture, error) {
	if len(data) > MaxFile {
		return nil, fault.New(fault.Input, path, "save it smaller, as JPEG", "the picture's file is over 64 MiB")
	}
	c, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, fault.New(fault.Input, path, "give a JPEG or PNG; a phone can be set to save JPEG", "this is no picture of a known kind")
	}
	if c.Width < leastSide || c.Height < leastSide {
		return nil, fault.New(fault.Input, path, "give the photograph at its full size", "the picture has only %d x %d pixels", c.Width, c.Height)
	}
	if float64(c.Width)*float64(c.Height) > MaxPixels {
		return nil, fault.New(fault.Input, path, "save it smaller; 12 million are enough", "the picture has %d x %d pixels, more than 50 million", c.Width, c.Height)
	}
	if c.Width > 4*c.Height || c.Height > 4*c.Width {
		return nil, fault.New(fault.Input, path, "give the photograph as the phone took it", "the picture is a strip of %d x %d pixels", c.Width, c.Height)
	}
	if c.ColorModel == color.CMYKModel {
		return nil, fault.New(fault.Input, path, "save it again as an ordinary JPEG", "the picture is made for print (CMYK)")
	}
	m, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fault.New(fault.Input, path, "copy it from the phone again", "the picture is damaged: %v", err)
	}
	n := notesOf(data, kind)
	sum := sha256.Sum256(data)
	p := &Picture{W: c.Width, H: c.Height, SHA256: hex.EncodeToString(sum[:])}
	if n.f35 > 0 {
		p.Focal = n.f35 * math.Hypot(float64(p.W), float64(p.H)) / math.Hypot(36, 24)
	}
	if n.turn >= 5 {
		p.W, p.H = p.H, p.W
	}
	p.fill(m, n.turn)
	return p, nil
}

// fill takes the pixels over, turned upright.
func (p *Picture) fill(m image.Image, turn int) {
	b := m.Bounds()
	w, h := b.Dx(), b.Dy()
	p.Pix = make([]uint8, 3*w*h)
	rgb := func(x, y int) (uint8, uint8, uint8) {
		r, g, b, _ := m.At(x, y).RGBA()
		return uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)
	}
	if y, ok := m.(*image.YCbCr); ok { // the usual case, without a value for each pixel on the heap
		rgb = func(i, j int) (uint8, uint8, uint8) {
			k, c := y.YOffset(i, j), y.COffset(i, j)
			return color.YCbCrToRGB(y.Y[k], y.Cb[c], y.Cr[c])
		}
	}
	par.For(h, 64, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range w {
				i, j := x, y
				switch turn {
				case 2:
					i = w - 1 - x
				case 3:
					i, j = w-1-x, h-1-y
				case 4:
					j = h - 1 - y
				case 5:
					i, j = y, x
				case 6:
					i, j = h-1-y, x
				case 7:
					i, j = h-1-y, w-1-x
				case 8:
					i, j = y, w-1-x
				}
				k := 3 * (j*p.W + i)
				p.Pix[k], p.Pix[k+1], p.Pix[k+2] = rgb(b.Min.X+x, b.Min.Y+y)
			}
		}
	})
}
