package meshfile

import (
	"bytes"

	"pourwright/internal/ground/vec"
)

// isOFF reports whether a file begins with OFF or a name of the same family.
func isOFF(head []byte) bool {
	for len(head) > 0 && head[0] == '#' {
		i := bytes.IndexByte(head, '\n')
		if i < 0 {
			return false
		}
		head = bytes.TrimLeft(head[i:], " \t\r\n")
	}
	w := newScanner(head).word()
	return bytes.HasSuffix(w, []byte("OFF")) && len(w) <= 7
}

// readOFF reads the counts of corners, faces and edges, the corners (the first
// three numbers of each line) and the faces (a count and as many corner
// numbers from 0; colours may follow).
func readOFF(data []byte, b *builder) error {
	s := newScanner(data)
	w := s.offWord()
	if isOFF(w) {
		if bytes.ContainsAny(w, "4n") {
			return b.fail(at(b.name, s.line), saveAs, "%s has four or more numbers a corner", quote(w))
		}
		w = s.offWord()
	}
	if is(w, "binary") {
		return b.fail(at(b.name, s.line), saveAs, "binary OFF cannot be read")
	}
	var n [3]int
	for k := range n {
		x, ok := integer(w)
		if !ok || x < 0 {
			return b.fail(at(b.name, s.line), "export it again", "the header should say how many corners, faces and edges follow, but there stands %s", quote(w))
		}
		n[k] = x
		if k < 2 {
			w = s.offWord()
		}
	}
	s.skipLine()
	// A corner needs six bytes at least, a face of three corners eight.
	if left := len(data) - s.pos + 8; n[0] > left/6 || n[1] > left/4 {
		return b.fail(b.name, "the file was cut or is damaged; export or copy it again",
			"the header says %d corners and %d faces, more than the %d bytes of the file can hold", n[0], n[1], len(data))
	}
	if !b.room(n[0], n[1]) {
		return b.full()
	}
	b.v = make([]vec.V3, n[0])
	for i := range b.v {
		for k := range 3 {
			w := s.offWord()
			x, ok := b.coordinate(s, w)
			if !ok {
				return b.notNumber(s, w)
			}
			switch k {
			case 0:
				b.v[i].X = x
			case 1:
				b.v[i].Y = x
			default:
				b.v[i].Z = x
			}
		}
		s.skipLine()
	}
	return b.offFaces(s, n[1])
}

func (b *builder) offFaces(s *scanner, n int) error {
	b.f = make([][3]int32, 0, n)
	var poly []int32
	for i := range n {
		w := s.offWord()
		k, ok := integer(w)
		if w == nil {
			return b.fail(at(b.name, s.line), "the file was cut; export or copy it again", "the header says %d faces and the file holds %d", n, i)
		}
		if !ok || k < 0 {
			return b.fail(at(b.name, s.line), "export it again", "%s should be the number of a face's corners", quote(w))
		}
		if k > maxCorners {
			return b.tooMany(at(b.name, s.line))
		}
		poly = poly[:0]
		for range k {
			w := s.offWord()
			c, ok := integer(w)
			switch {
			case w == nil:
				return b.fail(at(b.name, s.line), "the file was cut; export or copy it again", "the file ends inside face %d of %d", i+1, n)
			case !ok || c < 0 || c >= len(b.v):
				return b.fail(at(b.name, s.line), "export it again", "face %d names corner %s; corners are numbered from 0 to %d", i+1, quote(w), len(b.v)-1)
			}
			poly = append(poly, int32(c))
		}
		if b.fan(poly); b.over || b.lack {
			return nil
		}
		s.skipLine()
	}
	return nil
}

// offWord returns the next word that is not part of a comment.
func (s *scanner) offWord() []byte {
	w := s.word()
	for w != nil && w[0] == '#' {
		s.skipLine()
		w = s.word()
	}
	return w
}
