package meshfile

import (
	"bytes"

	"pourwright/internal/ground/vec"
)

// readOBJ reads corners (v) and polygons (f, with /texture/normal or without;
// numbers from 1 or, negative, back from the last corner). A backslash carries
// a line on. Groups, objects, materials, lines and points are passed over; all
// objects of the file become one mesh.
func readOBJ(data []byte, b *builder) error {
	s := newScanner(data)
	b.v = make([]vec.V3, 0, len(data)/60)
	b.f = make([][3]int32, 0, len(data)/40)
	var poly []int32
	far, farLine := 0, 0 // the largest corner number that was not there yet
	curves := false
	for s.pos < len(s.data) {
		w := s.field()
		switch {
		case len(w) == 1 && w[0] == 'v':
			p, err := b.objPoint(s)
			if err != nil {
				return err
			}
			if !b.room(1, 0) {
				return b.full()
			}
			b.v = append(b.v, p)
		case len(w) == 1 && w[0] == 'f' || len(w) == 2 && string(w) == "fo":
			poly = poly[:0]
			for w = s.field(); w != nil; w = s.field() {
				if w[0] == '#' {
					break
				}
				n, ok := corner(w)
				switch {
				case !ok:
					return b.fail(at(b.name, s.line), "repair that line or export it again", "%s is no corner of a face", quote(w))
				case n < 0:
					n += len(b.v) + 1
					if n < 1 {
						return b.fail(at(b.name, s.line), "export it again", "a face counts back to a corner before the first (%s, with %d corners so far)", quote(w), len(b.v))
					}
				case n == 0:
					return b.fail(at(b.name, s.line), "export it again", "a face names corner 0, but corners are numbered from 1")
				case n > len(b.v) && n > far:
					far, farLine = n, s.line
				}
				if n > maxTriangles*3 {
					return b.fail(at(b.name, s.line), "export it again", "a face names corner %d, more than the file can hold", n)
				}
				if len(poly) == maxCorners {
					return b.tooMany(at(b.name, s.line))
				}
				poly = append(poly, int32(n-1))
			}
			if len(poly) < 3 {
				return b.fail(at(b.name, s.line), "repair that line or export it again", "a face has %d corners", len(poly))
			}
			if b.fan(poly); b.over || b.lack {
				return nil
			}
		case len(w) > 3 && (bytes.Equal(w, []byte("curv")) || bytes.Equal(w, []byte("surf"))):
			curves = true
		}
		s.skipLine()
	}
	if far > len(b.v) {
		return b.fail(at(b.name, farLine), "export it again", "a face names corner %d of %d", far, len(b.v))
	}
	if curves && len(b.f) == 0 {
		return b.fail(b.name, "turn the surfaces into triangles in the program that made them, and save again", "the file holds free-form surfaces and no polygons")
	}
	if curves {
		b.note("The file also holds free-form surfaces, which were left out.")
	}
	return nil
}

// objPoint reads the three numbers of a corner; a weight or colour may follow.
func (b *builder) objPoint(s *scanner) (vec.V3, error) {
	var p [3]float64
	for k := range p {
		w := s.field()
		x, ok := b.coordinate(s, w)
		switch {
		case ok:
		case w == nil && s.pos < len(s.data):
			return vec.V3{}, b.fail(at(b.name, s.line), "repair that line or export it again", "a corner has %d of its three numbers", k)
		default:
			return vec.V3{}, b.notNumber(s, w)
		}
		p[k] = x
	}
	return vec.FromArray(p), nil
}

// corner reads the first number of 7, 7/2, 7//3 or 7/2/3; the others must be
// numbers too, or absent.
func corner(w []byte) (int, bool) {
	i := bytes.IndexByte(w, '/')
	if i < 0 {
		return integer(w)
	}
	n, ok := integer(w[:i])
	for _, c := range w[i:] {
		ok = ok && (c == '/' || c == '-' || c >= '0' && c <= '9')
	}
	return n, ok
}
