package meshfile

import (
	"bytes"
	"math"
	"strconv"
	"unsafe"
)

// scanner walks over the words of a text and counts its lines. Words are parts
// of the data, so nothing is copied.
type scanner struct {
	data []byte
	pos  int
	line int
}

func newScanner(data []byte) *scanner { return &scanner{data: data, line: 1} }

// space tells blanks within a line; the zero byte counts as one.
var space = [256]bool{' ': true, '\t': true, '\v': true, '\f': true, '\r': true, 0: true}

// word returns the next word, on whatever line, or nil at the end.
func (s *scanner) word() []byte {
	d, i := s.data, s.pos
	for i < len(d) && (space[d[i]] || d[i] == '\n') {
		if d[i] == '\n' {
			s.line++
		}
		i++
	}
	from := i
	for i < len(d) && !space[d[i]] && d[i] != '\n' {
		i++
	}
	s.pos = i
	if i == from {
		return nil
	}
	return d[from:i]
}

// field returns the next word on this line, or nil where the line is over. A
// backslash at the end of a line carries it on to the next.
func (s *scanner) field() []byte {
	d, i := s.data, s.pos
	for i < len(d) {
		if space[d[i]] {
			i++
		} else if n := continued(d[i:]); n > 0 {
			i += n
			s.line++
		} else {
			break
		}
	}
	from := i
	for i < len(d) && !space[d[i]] && d[i] != '\n' && (d[i] != '\\' || continued(d[i:]) == 0) {
		i++
	}
	s.pos = i
	if i == from {
		return nil
	}
	return d[from:i]
}

// continued returns the length of a backslash with its line end, 0 if d does
// not begin with one.
func continued(d []byte) int {
	switch {
	case len(d) > 1 && d[0] == '\\' && d[1] == '\n':
		return 2
	case len(d) > 2 && d[0] == '\\' && d[1] == '\r' && d[2] == '\n':
		return 3
	}
	return 0
}

// skipLine goes to the start of the next line.
func (s *scanner) skipLine() {
	i := bytes.IndexByte(s.data[s.pos:], '\n')
	if i < 0 {
		s.pos = len(s.data)
		return
	}
	s.pos += i + 1
	s.line++
}

// is reports whether w is the lower-case word, in whatever case.
func is(w []byte, word string) bool {
	if len(w) != len(word) {
		return false
	}
	for i, c := range w {
		if c|0x20 != word[i] {
			return false
		}
	}
	return true
}

func hasComma(w []byte) bool { return bytes.IndexByte(w, ',') >= 0 }

// powers of ten that a float64 holds exactly.
var power = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads a decimal number, rounded to the nearest float64. Up to 15
// digits with a power of ten up to 22 need one exact product or quotient
// (Clinger 1990); anything else goes to strconv.
func number(w []byte) (float64, bool) {
	i, neg := 0, false
	if len(w) > 0 && (w[0] == '-' || w[0] == '+') {
		neg = w[0] == '-'
		i++
	}
	var m uint64
	digits, exp := 0, 0
	dot := false
	for ; i < len(w); i++ {
		c := w[i]
		if c == '.' && !dot {
			dot = true
			continue
		}
		if c -= '0'; c > 9 {
			break
		}
		m = m*10 + uint64(c)
		if digits++; digits > 18 {
			return slowNumber(w)
		}
		if dot {
			exp--
		}
	}
	if digits == 0 {
		return slowNumber(w)
	}
	if i < len(w) {
		e, ok := exponent(w[i:])
		if !ok {
			return slowNumber(w)
		}
		exp += e
	}
	x := float64(m)
	switch {
	case m >= 1<<53 || exp < -22 || exp > 22:
		return slowNumber(w)
	case exp < 0:
		x /= power[-exp]
	default:
		x *= power[exp]
	}
	if neg {
		x = -x
	}
	return x, true
}

// exponent reads e+12 and the like, up to three digits.
func exponent(w []byte) (int, bool) {
	if w[0]|0x20 != 'e' {
		return 0, false
	}
	i, neg := 1, false
	if len(w) > 1 && (w[1] == '-' || w[1] == '+') {
		neg = w[1] == '-'
		i++
	}
	if i == len(w) || len(w)-i > 3 {
		return 0, false
	}
	e := 0
	for ; i < len(w); i++ {
		c := w[i] - '0'
		if c > 9 {
			return 0, false
		}
		e = e*10 + int(c)
	}
	if neg {
		e = -e
	}
	return e, true
}

// slowNumber leaves the work to strconv; NaN and Inf pass here and are refused
// with their triangle.
func slowNumber(w []byte) (float64, bool) {
	if len(w) == 0 || len(w) > 400 || bytes.IndexByte(w, '_') >= 0 {
		return 0, false
	}
	x, err := strconv.ParseFloat(unsafe.String(&w[0], len(w)), 64)
	if err != nil && !math.IsInf(x, 0) {
		return 0, false
	}
	return x, true
}

// integer reads a whole number.
func integer(w []byte) (int, bool) {
	i, neg := 0, false
	if len(w) > 0 && (w[0] == '-' || w[0] == '+') {
		neg = w[0] == '-'
		i++
	}
	if i == len(w) || len(w)-i > 18 {
		return 0, false
	}
	n := 0
	for ; i < len(w); i++ {
		c := w[i] - '0'
		if c > 9 {
			return 0, false
		}
		n = n*10 + int(c)
	}
	if neg {
		n = -n
	}
	return n, true
}
