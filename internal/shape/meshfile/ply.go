package meshfile

import (
	"bytes"
	"encoding/binary"
	"math"

	"pourwright/internal/ground/vec"
)

// plyType is the type of one number: its size in bytes, whether it has a sign
// and whether it is a floating-point one.
type plyType struct {
	size         int
	signed, real bool
}

var plyTypes = map[string]plyType{
	"char": {1, true, false}, "int8": {1, true, false}, "uchar": {1, false, false}, "uint8": {1, false, false},
	"short": {2, true, false}, "int16": {2, true, false}, "ushort": {2, false, false}, "uint16": {2, false, false},
	"int": {4, true, false}, "int32": {4, true, false}, "uint": {4, false, false}, "uint32": {4, false, false},
	"float": {4, true, true}, "float32": {4, true, true}, "double": {8, true, true}, "float64": {8, true, true},
}

type plyProperty struct {
	name  string
	list  bool
	count plyType // of a list's length
	kind  plyType
}

type plyElement struct {
	name  string
	count int
	prop  []plyProperty
	line  int
}

// least returns the fewest bytes that one element takes.
func (e *plyElement) least(ascii bool) int {
	n := 0
	for _, p := range e.prop {
		switch {
		case ascii:
			n += 2 // a digit and a blank
		case p.list:
			n += p.count.size
		default:
			n += p.kind.size
		}
	}
	return n
}

// plySource hands out the numbers of the body one after another.
type plySource interface {
	next(t plyType) (float64, error)
	left() int     // bytes
	where() string // for messages
}

// readPLY reads a header of elements with properties of any type, and the
// body in ASCII or either byte order. Corners are x, y, z of element vertex;
// faces the list vertex_indices or vertex_index of element face; strips, where
// there are any, that of tristrips. All else is passed over.
func readPLY(data []byte, b *builder) error {
	s := newScanner(data)
	form, elements, err := b.plyHeader(s)
	if err != nil {
		return err
	}
	var src plySource
	switch form {
	case "ascii":
		b.facts.Format = "PLY ASCII"
		src = &plyASCII{s, b}
	default:
		b.facts.Format = "PLY binary"
		src = &plyBinary{data: data, pos: s.pos, big: form == "binary_big_endian", b: b}
	}
	for i := range elements {
		e := &elements[i]
		least := e.least(form == "ascii")
		if least == 0 || e.count == 0 {
			continue
		}
		if e.count > (src.left()+1)/least {
			return b.fail(b.name, "the file was cut or is damaged; export or copy it again",
				"the header says %d of element %s, more than the %d bytes that follow can hold", e.count, e.name, src.left())
		}
		if err := b.plyBody(e, src); err != nil {
			return err
		}
	}
	return b.plyCheck()
}

// plyCheck holds the corner numbers of the faces against the corners read.
func (b *builder) plyCheck() error {
	for i, t := range b.f {
		for _, k := range t {
			if int(k) >= len(b.v) || k < 0 {
				return b.fail(b.name, "export it again", "triangle %d names corner %d; corners are numbered from 0 to %d", i+1, k, len(b.v)-1)
			}
		}
	}
	return nil
}

func (b *builder) plyHeader(s *scanner) (string, []plyElement, error) {
	form := ""
	var elements []plyElement
	bad := func(text string, args ...any) (string, []plyElement, error) {
		return "", nil, b.fail(at(b.name, s.line), "export it again", text, args...)
	}
	crOnly := plyReturns(s)
	for {
		f := plyLine(s, crOnly)
		if f == nil {
			return bad("the header does not end")
		}
		if len(f) == 0 {
			continue
		}
		switch string(f[0]) {
		case "end_header":
			if form == "" {
				return bad("the header names no format")
			}
			return form, elements, nil
		case "format":
			if len(f) < 2 || !bytes.Equal(f[1], []byte("ascii")) && !bytes.Equal(f[1], []byte("binary_little_endian")) && !bytes.Equal(f[1], []byte("binary_big_endian")) {
				return bad("the format is not ascii, binary_little_endian or binary_big_endian")
			}
			form = string(f[1])
		case "element":
			if len(f) != 3 {
				return bad("an element needs a name and a count")
			}
			n, ok := integer(f[2])
			if !ok || n < 0 {
				return bad("%s is no count of elements", quote(f[2]))
			}
			elements = append(elements, plyElement{name: string(f[1]), count: n, line: s.line})
		case "property":
			p, ok := plyPropertyOf(f)
			if !ok || len(elements) == 0 {
				return bad("a property is wrong: %s", quote(bytes.Join(f, []byte(" "))))
			}
			e := &elements[len(elements)-1]
			e.prop = append(e.prop, p)
		}
	}
}

func plyPropertyOf(f [][]byte) (plyProperty, bool) {
	if len(f) == 5 && string(f[1]) == "list" {
		c, ok1 := plyTypes[string(f[2])]
		k, ok2 := plyTypes[string(f[3])]
		return plyProperty{string(f[4]), true, c, k}, ok1 && ok2 && !c.real
	}
	if len(f) != 3 {
		return plyProperty{}, false
	}
	k, ok := plyTypes[string(f[1])]
	return plyProperty{name: string(f[2]), kind: k}, ok
}

// plyReturns reports whether the lines end with a bare carriage return.
func plyReturns(s *scanner) bool {
	i := bytes.IndexAny(s.data, "\r\n")
	return i >= 0 && s.data[i] == '\r' && (i+1 == len(s.data) || s.data[i+1] != '\n')
}

// plyLine returns the words of the next line and steps over exactly one line
// end, so that a body may begin with any byte. nil stands for the end.
func plyLine(s *scanner, crOnly bool) [][]byte {
	end := byte('\n')
	if crOnly {
		end = '\r'
	}
	if s.pos >= len(s.data) {
		return nil
	}
	i := bytes.IndexByte(s.data[s.pos:], end)
	if i < 0 {
		s.pos = len(s.data)
		return nil
	}
	f := bytes.Fields(s.data[s.pos : s.pos+i])
	s.pos += i + 1
	s.line++
	if f == nil {
		f = [][]byte{}
	}
	return f
}

// plyBody reads all of one element.
func (b *builder) plyBody(e *plyElement, src plySource) error {
	axis := make([]int, len(e.prop)) // 1 2 3 for x y z, 4 for a polygon, 5 for strips
	found := 0
	for i, p := range e.prop {
		switch {
		case e.name == "vertex" && !p.list && (p.name == "x" || p.name == "y" || p.name == "z"):
			axis[i] = int(p.name[0]-'x') + 1
			found++
		case p.list && (p.name == "vertex_indices" || p.name == "vertex_index"):
			switch e.name {
			case "face":
				axis[i] = 4
			case "tristrips":
				axis[i] = 5
			}
		}
	}
	if e.name == "vertex" && !b.room(e.count, 0) || e.name == "face" && !b.room(0, e.count) {
		return b.full()
	}
	if e.name == "vertex" {
		if found != 3 {
			return b.fail(at(b.name, e.line), "export it again", "the vertices have no properties x, y and z")
		}
		if bin, ok := src.(*plyBinary); ok && b.plyFast(e, axis, bin) {
			return nil
		}
		b.v = make([]vec.V3, 0, e.count)
	}
	if e.name == "face" {
		b.f = make([][3]int32, 0, e.count)
	}
	var poly []int32
	for range e.count {
		var p [4]float64
		for i, q := range e.prop {
			if !q.list {
				x, err := src.next(q.kind)
				if err != nil {
					return err
				}
				if axis[i] > 0 {
					p[axis[i]] = x
				}
				continue
			}
			var err error
			if poly, err = b.plyList(q, src, poly[:0], axis[i]); err != nil {
				return err
			}
			switch axis[i] {
			case 4:
				b.fan(poly)
			case 5:
				b.strips(poly)
			}
		}
		if e.name == "vertex" {
			b.v = append(b.v, vec.V3{X: p[1], Y: p[2], Z: p[3]})
		}
	}
	return nil
}

// plyList reads one list; the numbers are kept as corners where role, as in
// plyBody, says so.
func (b *builder) plyList(q plyProperty, src plySource, poly []int32, role int) ([]int32, error) {
	n, err := src.next(q.count)
	if err != nil {
		return nil, err
	}
	if n < 0 || n > float64(src.left()+1) || n != math.Trunc(n) {
		return nil, b.fail(src.where(), "the file was cut or is damaged; export or copy it again", "a list says %g numbers, more than the file can hold", n)
	}
	if role == 4 && n > maxCorners {
		return nil, b.tooMany(src.where())
	}
	for range int(n) {
		x, err := src.next(q.kind)
		if err != nil {
			return nil, err
		}
		if role >= 4 {
			if !(x >= -1 && x < 3*maxTriangles) || x != math.Trunc(x) {
				return nil, b.fail(src.where(), "export it again", "%g is no corner of a face", x)
			}
			poly = append(poly, int32(x))
		}
	}
	return poly, nil
}

// strips adds strips of triangles, -1 between them; every second triangle is
// turned so that all look the same way.
func (b *builder) strips(c []int32) {
	from := 0
	for i, x := range c {
		if x < 0 {
			from = i + 1
			continue
		}
		if i < from+2 {
			continue
		}
		if (i-from)%2 == 0 {
			b.fan([]int32{c[i-2], c[i-1], x})
		} else {
			b.fan([]int32{c[i-1], c[i-2], x})
		}
	}
}

// plyFast reads binary vertices whose size is fixed; false where it is not.
func (b *builder) plyFast(e *plyElement, axis []int, src *plyBinary) bool {
	size := 0
	var off [4]int
	var kind [4]plyType
	for i, p := range e.prop {
		if p.list {
			return false
		}
		off[axis[i]], kind[axis[i]] = size, p.kind
		size += p.kind.size
	}
	if e.count > src.left()/size {
		return false // the slow way says where it was cut
	}
	b.v = make([]vec.V3, e.count)
	for i := range b.v {
		r := src.data[src.pos+i*size:]
		b.v[i] = vec.V3{X: plyNumber(r[off[1]:], kind[1], src.big), Y: plyNumber(r[off[2]:], kind[2], src.big), Z: plyNumber(r[off[3]:], kind[3], src.big)}
	}
	src.pos += e.count * size
	return true
}

// plyNumber decodes the number at the start of d.
func plyNumber(d []byte, t plyType, big bool) float64 {
	var u uint64
	switch t.size {
	case 1:
		u = uint64(d[0])
	case 2:
		u = uint64(binary.LittleEndian.Uint16(d))
		if big {
			u = uint64(binary.BigEndian.Uint16(d))
		}
	case 4:
		u = uint64(binary.LittleEndian.Uint32(d))
		if big {
			u = uint64(binary.BigEndian.Uint32(d))
		}
		if t.real {
			return float64(math.Float32frombits(uint32(u)))
		}
	default:
		u = binary.LittleEndian.Uint64(d)
		if big {
			u = binary.BigEndian.Uint64(d)
		}
		return math.Float64frombits(u)
	}
	if t.signed {
		shift := 64 - 8*t.size
		return float64(int64(u<<shift) >> shift)
	}
	return float64(u)
}

type plyBinary struct {
	data []byte
	pos  int
	big  bool
	b    *builder
}

func (p *plyBinary) left() int { return len(p.data) - p.pos }

func (p *plyBinary) where() string { return p.b.name }

func (p *plyBinary) next(t plyType) (float64, error) {
	if p.left() < t.size {
		return 0, p.b.fail(p.b.name, "the file was cut; export or copy it again", "the file ends at byte %d inside a number", len(p.data))
	}
	x := plyNumber(p.data[p.pos:], t, p.big)
	p.pos += t.size
	return x, nil
}

type plyASCII struct {
	s *scanner
	b *builder
}

func (p *plyASCII) left() int { return len(p.s.data) - p.s.pos }

func (p *plyASCII) where() string { return at(p.b.name, p.s.line) }

func (p *plyASCII) next(plyType) (float64, error) {
	w := p.s.word()
	x, ok := p.b.coordinate(p.s, w)
	if !ok {
		return 0, p.b.notNumber(p.s, w)
	}
	return x, nil
}
