package meshfile

import (
	"encoding/binary"
	"fmt"
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

const (
	stlHeader = 84
	stlRecord = 50
)

// stlSize returns the size that a binary STL of the count in data would have.
func stlSize(data []byte) int64 {
	return stlHeader + stlRecord*int64(binary.LittleEndian.Uint32(data[80:]))
}

// readSTLBinary reads 80 bytes of anything, the count as uint32 and per
// triangle the normal, three corners (float32, little endian) and two bytes.
// Stored normals are not trusted and not used.
func readSTLBinary(data []byte, b *builder) error {
	if len(data) < stlHeader {
		return b.fail(b.name, "export or copy it again", "the file holds %d bytes, less than the %d of a binary STL header", len(data), stlHeader)
	}
	says := int(binary.LittleEndian.Uint32(data[80:]))
	body := data[stlHeader:]
	holds, rest := len(body)/stlRecord, len(body)%stlRecord
	n := says
	switch {
	case (says == 0 || says == math.MaxUint32) && holds > 0 && rest == 0:
		n = holds
		b.note("The header says %d triangles; the %d whole records that follow were read.", says, holds)
	case says > holds:
		return b.fail(b.name, "the file was cut; export or copy it again", "the header says %d triangles and the file holds %d", says, holds)
	case len(body) > says*stlRecord:
		b.note("%d bytes after the %d triangles of the header were left out.", len(body)-says*stlRecord, says)
	}
	if n > maxTriangles {
		b.over = true
		return nil
	}
	if !b.room(3*n, n) {
		return b.full()
	}
	b.v = make([]vec.V3, 3*n)
	b.f = make([][3]int32, n)
	b.facts.Polygons = n
	par.For(n, 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			r := body[i*stlRecord+12 : i*stlRecord+48]
			num := func(k int) float64 {
				return float64(math.Float32frombits(binary.LittleEndian.Uint32(r[4*k:])))
			}
			for k := range 3 {
				b.v[3*i+k] = vec.V3{X: num(3 * k), Y: num(3*k + 1), Z: num(3*k + 2)}
				b.f[i][k] = int32(3*i + k)
			}
		}
	})
	return nil
}

// readSTLASCII reads one or several solids of facets. Words may be in either
// case; a loop of more than three corners is cut into a fan.
func readSTLASCII(data []byte, b *builder) error {
	s := newScanner(data)
	b.v = make([]vec.V3, 0, len(data)/80)
	b.f = make([][3]int32, 0, len(data)/240)
	var loop []int32
	inside, ended := false, true // of a facet; of the last solid
	for {
		w := s.word()
		if w == nil {
			break
		}
		switch {
		case is(w, "vertex"):
			if !inside {
				return b.fail(at(b.name, s.line), "export it again", "a vertex stands outside a facet")
			}
			p, err := b.point(s)
			if err != nil {
				return err
			}
			if !b.room(1, 0) {
				return b.full()
			}
			loop = append(loop, int32(len(b.v)))
			b.v = append(b.v, p)
		case is(w, "facet"):
			if inside {
				return b.fail(at(b.name, s.line), "export it again", "a facet begins before the last one has ended")
			}
			inside, loop = true, loop[:0]
		case is(w, "endfacet"):
			if !inside || len(loop) < 3 {
				return b.fail(at(b.name, s.line), "export it again", "a facet ends with %d of its three corners", len(loop))
			}
			inside = false
			b.fan(loop)
		case is(w, "solid"):
			s.skipLine()
			ended = false
		case is(w, "endsolid"):
			s.skipLine()
			ended = true
		case is(w, "normal"):
			for range 3 { // not used, so any text will do
				s.word()
			}
		case is(w, "outer"), is(w, "loop"), is(w, "endloop"), is(w, "color"):
		case inside:
			return b.fail(at(b.name, s.line), "export it again", "%s is no word of an ASCII STL", quote(w))
		}
	}
	if inside {
		return b.fail(at(b.name, s.line), "the file was cut; export or copy it again", "the file ends inside facet %d", b.facts.Polygons+1)
	}
	if !ended && len(b.f) > 0 {
		b.note(`The file ends without "endsolid": it may have been cut after triangle %d.`, len(b.f))
	}
	return nil
}

// point reads three numbers.
func (b *builder) point(s *scanner) (vec.V3, error) {
	var p [3]float64
	for k := range p {
		w := s.word()
		x, ok := b.coordinate(s, w)
		if !ok {
			return vec.V3{}, b.notNumber(s, w)
		}
		p[k] = x
	}
	return vec.FromArray(p), nil
}

// notNumber says why w is no number, with the likely cause.
func (b *builder) notNumber(s *scanner, w []byte) error {
	place := at(b.name, s.line)
	switch {
	case w == nil:
		return b.fail(place, "the file was cut; export or copy it again", "the file ends where a number should stand")
	case s.pos >= len(s.data) && !is(w, "nan"):
		return b.fail(place, "the file was cut; export or copy it again", "the file ends inside a number, %s", quote(w))
	case hasComma(w):
		return b.fail(place, "export it again with decimal points", "%s has commas where a decimal point should stand", quote(w))
	}
	return b.fail(place, "repair that line or export it again", "%s is not a number", quote(w))
}

func quote(w []byte) string {
	if len(w) > 40 {
		return fmt.Sprintf("%q...", w[:40])
	}
	return fmt.Sprintf("%q", w)
}
