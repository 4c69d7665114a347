package meshfile

import "bytes"

// commas keeps count of decimal commas, which some programs write where the
// computer is set to them.
type commas struct {
	count int
	sure  bool // one of them cannot stand between thousands
	mixed int  // line where a number with a point meets one with a comma, 0 if none
}

// coordinate reads a number of a text; 0,5 is read as 0.5 and counted.
func (b *builder) coordinate(s *scanner, w []byte) (float64, bool) {
	x, ok := number(w)
	if ok {
		if b.commas.count > 0 && b.commas.mixed == 0 && bytes.IndexByte(w, '.') >= 0 {
			b.commas.mixed = s.line
		}
		return x, true
	}
	i := bytes.IndexByte(w, ',')
	if i < 0 || len(w) > 400 || bytes.IndexByte(w[i+1:], ',') >= 0 || bytes.IndexByte(w, '.') >= 0 {
		return 0, false
	}
	var buf [64]byte
	p := append(buf[:0], w...)
	p[i] = '.'
	if x, ok = number(p); !ok {
		return 0, false
	}
	if b.commas.count == 0 && pointBefore(s.data[:s.pos]) {
		b.commas.mixed = s.line
	}
	b.commas.count++
	b.commas.sure = b.commas.sure || notThousands(w, i)
	return x, true
}

// notThousands reports whether the comma at i is no mark between thousands:
// those have one to three digits before them, not beginning with 0, and exactly
// three after.
func notThousands(w []byte, i int) bool {
	head := bytes.TrimLeft(w[:i], "+-")
	return len(w)-i-1 != 3 || len(head) == 0 || len(head) > 3 || head[0] == '0'
}

// pointBefore reports whether a number with a decimal point stands in the lines
// of corners and normals so far.
func pointBefore(data []byte) bool {
	for len(data) > 0 {
		line := data
		if i := bytes.IndexByte(data, '\n'); i >= 0 {
			line, data = data[:i], data[i+1:]
		} else {
			data = nil
		}
		f := bytes.Fields(line)
		if len(f) == 0 {
			continue
		}
		if _, ok := number(f[len(f)-1]); !ok || f[0][0] == '#' || is(f[0], "comment") || is(f[0], "format") || is(f[0], "solid") || is(f[0], "obj_info") {
			continue
		}
		for _, w := range f {
			if _, ok := number(w); ok && bytes.IndexByte(w, '.') >= 0 {
				return true
			}
		}
	}
	return false
}

// checkCommas says what was made of decimal commas, and refuses what could be
// read in two ways.
func (b *builder) checkCommas() error {
	c := &b.commas
	const hint = "export it again with decimal points"
	switch {
	case c.count == 0:
		return nil
	case c.mixed > 0:
		return b.fail(at(b.name, c.mixed), hint, "the file has numbers with decimal commas and numbers with decimal points")
	case !c.sure:
		return b.fail(b.name, hint, "the commas of the numbers could stand before decimals or between thousands")
	}
	b.note("The file has decimal commas (%d numbers); they were read as decimal points.", c.count)
	return nil
}
