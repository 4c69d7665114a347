package snapshot

import (
	"bytes"
	"encoding/binary"
)

// notes are the two things taken from the camera's notes.
type notes struct {
	turn int     // 1 to 8 as Exif 2.32 orders them, 1 upright
	f35  float64 // focal length for a film of 36 x 24 mm, mm; 0 unknown
}

// The tags that are read (Exif 2.32, 4.6).
const (
	tagOrientation = 0x0112
	tagExif        = 0x8769
	tagFocal35     = 0xA405
	maxEntries     = 512
)

// notesOf finds the Exif block of a file and reads it. Broken notes are no
// notes: the picture can still be measured.
func notesOf(data []byte, kind string) notes {
	n := notes{turn: 1}
	switch kind {
	case "jpeg":
		for i := 2; i+4 <= len(data) && data[i] == 0xFF; {
			m := data[i+1]
			if m == 0xFF { // filling
				i++
				continue
			}
			if m == 0xDA || m == 0xD9 {
				break
			}
			l := int(binary.BigEndian.Uint16(data[i+2:]))
			if l < 2 || i+2+l > len(data) {
				break
			}
			if b := data[i+4 : i+2+l]; m == 0xE1 && bytes.HasPrefix(b, []byte("Exif\x00\x00")) {
				n.tiff(b[6:])
				break
			}
			i += 2 + l
		}
	case "png":
		for i := 8; i+12 <= len(data); {
			l := int(binary.BigEndian.Uint32(data[i:]))
			if l < 0 || l > len(data)-i-12 {
				break
			}
			name := string(data[i+4 : i+8])
			if name == "eXIf" {
				n.tiff(data[i+8 : i+8+l])
				break
			}
			i += 12 + l
		}
	}
	return n
}

// tiff reads the two directories of an Exif block.
func (n *notes) tiff(b []byte) {
	if len(b) < 8 {
		return
	}
	var o binary.ByteOrder
	switch string(b[:2]) {
	case "II":
		o = binary.LittleEndian
	case "MM":
		o = binary.BigEndian
	default:
		return
	}
	if o.Uint16(b[2:]) != 42 {
		return
	}
	read := func(at uint32, entry func(tag, kind uint16, count uint32, value []byte)) {
		if uint64(at)+2 > uint64(len(b)) {
			return
		}
		k := min(int(o.Uint16(b[at:])), maxEntries)
		for i := range k {
			p := int(at) + 2 + 12*i
			if p+12 > len(b) {
				return
			}
			entry(o.Uint16(b[p:]), o.Uint16(b[p+2:]), o.Uint32(b[p+4:]), b[p+8:p+12])
		}
	}
	inner := uint32(0)
	read(o.Uint32(b[4:]), func(tag, kind uint16, count uint32, v []byte) {
		switch {
		case tag == tagOrientation && kind == 3 && count == 1:
			if t := int(o.Uint16(v)); t >= 1 && t <= 8 {
				n.turn = t
			}
		case tag == tagExif && kind == 4 && count == 1:
			inner = o.Uint32(v)
		}
	})
	if inner == 0 {
		return
	}
	read(inner, func(tag, kind uint16, count uint32, v []byte) {
		if tag == tagFocal35 && kind == 3 && count == 1 {
			if f := float64(o.Uint16(v)); f >= 8 && f <= 800 {
				n.f35 = f
			}
		}
	})
}
