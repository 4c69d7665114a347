package meshfile

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"unicode/utf8"
)

// The limits of an XML part. No part of a mesh file comes near them.
const (
	xmlDepth = 128     // elements in each other
	xmlTag   = 1 << 20 // bytes of one tag
	xmlAttrs = 64      // attributes of one tag, namespaces at one time
	xmlWords = 1 << 16 // bytes of the names of all open elements and of all their namespaces
)

// xmlReader walks over the elements of an XML text of any length in a window
// that moves along. It knows namespaces (Namespaces in XML 1.0, third
// edition), comments, CDATA and the entities of XML itself; text between
// elements is passed over. A document type is refused, so no entity can be
// declared and nothing outside the text is ever asked for.
//
// encoding/xml does the same with eighteen allocations an element and in five
// times the time.
type xmlReader struct {
	src  io.Reader
	end  error // of src
	buf  []byte
	pos  int
	gone int // line ends before buf

	space, local []byte // of the element that was met; valid until the next
	attr         []xmlAttr
	single       bool // the element ended where it began

	open  []byte // the names of the open elements, one after another
	at    []int  // where each begins
	bound []xmlBound
	used  int // bytes of bound
}

// xmlAttr is an attribute; its parts are valid until the next element.
type xmlAttr struct{ space, local, value []byte }

// xmlBound gives a prefix its namespace, from depth on.
type xmlBound struct {
	prefix, space []byte
	depth         int
}

func newXML(src io.Reader) *xmlReader {
	return &xmlReader{src: src, buf: make([]byte, 0, 128<<10), bound: []xmlBound{{[]byte("xml"), []byte("http://www.w3.org/XML/1998/namespace"), 0}}}
}

// line returns the line that is being read, from 1.
func (x *xmlReader) line() int { return x.gone + bytes.Count(x.buf[:x.pos], []byte("\n")) + 1 }

var (
	errXMLEnd   = errors.New("the XML ends before its last element does")
	errXMLLong  = errors.New("the XML holds a tag of more than a megabyte, or too many namespaces")
	errXMLDeep  = errors.New("the XML has elements in each other more than 128 deep")
	errXMLType  = errors.New("the XML has a document type, which this format forbids")
	errXMLCross = errors.New("the XML closes another element than the one that is open")
	errXMLTag   = errors.New("the XML has a tag that is wrong")
	errXMLSpace = errors.New("the XML uses a prefix that has no namespace")
	errXMLTwice = errors.New("the XML gives an attribute twice")
)

// fill moves what is left to the front of the window and reads on. false at the
// end of the text.
func (x *xmlReader) fill() bool {
	if x.end != nil {
		return false
	}
	if x.pos > 0 {
		x.gone += bytes.Count(x.buf[:x.pos], []byte("\n"))
		x.buf = x.buf[:copy(x.buf, x.buf[x.pos:])]
		x.pos = 0
	}
	if len(x.buf) == cap(x.buf) {
		x.buf = append(x.buf, make([]byte, cap(x.buf))...)[:len(x.buf)]
	}
	for range 100 {
		n, err := x.src.Read(x.buf[len(x.buf):cap(x.buf)])
		x.buf = x.buf[:len(x.buf)+n]
		if err != nil {
			x.end = err
		}
		if n > 0 {
			return true
		}
		if err != nil {
			return false
		}
	}
	x.end = io.ErrNoProgress
	return false
}

// find returns the place of the next stop at or after from (both counted from
// x.pos), reading on as long as that takes.
func (x *xmlReader) find(from int, stop string) (int, error) {
	for {
		if i := bytes.Index(x.buf[x.pos+from:], []byte(stop)); i >= 0 {
			return from + i, nil
		}
		from = max(from, len(x.buf)-x.pos-len(stop)+1)
		if from > xmlTag {
			return 0, errXMLLong
		}
		if !x.fill() {
			return 0, x.ended()
		}
	}
}

// ended returns why the text is over.
func (x *xmlReader) ended() error {
	if x.end != nil && x.end != io.EOF {
		return x.end
	}
	return errXMLEnd
}

// skip goes on behind the next stop, whatever lies before it.
func (x *xmlReader) skip(stop string) error {
	for {
		if i := bytes.Index(x.buf[x.pos:], []byte(stop)); i >= 0 {
			x.pos += i + len(stop)
			return nil
		}
		x.pos = max(x.pos, len(x.buf)-len(stop)+1)
		if !x.fill() {
			return x.ended()
		}
	}
}

// next goes to the next tag. start tells a start from an end; after the last
// element's end the error is io.EOF.
func (x *xmlReader) next() (start bool, err error) {
	if x.single {
		x.single = false
		x.close()
		return false, nil
	}
	for {
		i := bytes.IndexByte(x.buf[x.pos:], '<')
		if i < 0 {
			x.pos = len(x.buf)
			if !x.fill() {
				if x.end == io.EOF && len(x.at) == 0 {
					return false, io.EOF
				}
				return false, x.ended()
			}
			continue
		}
		x.pos += i
		for len(x.buf)-x.pos < 9 && x.fill() {
		}
		d := x.buf[x.pos:]
		switch {
		case len(d) < 2:
			return false, x.ended()
		case d[1] == '/':
			return false, x.endTag()
		case d[1] == '?':
			err = x.skip("?>")
		case bytes.HasPrefix(d, []byte("<!--")):
			x.pos += 4
			err = x.skip("-->")
		case bytes.HasPrefix(d, []byte("<![CDATA[")):
			err = x.skip("]]>")
		case d[1] == '!':
			err = errXMLType
		default:
			return true, x.startTag()
		}
		if err != nil {
			return false, err
		}
	}
}

// close takes the innermost element off.
func (x *xmlReader) close() {
	n := len(x.at) - 1
	x.open, x.at = x.open[:x.at[n]], x.at[:n]
	for k := len(x.bound) - 1; k > 0 && x.bound[k].depth > n; k-- {
		x.used -= len(x.bound[k].prefix) + len(x.bound[k].space)
		x.bound = x.bound[:k]
	}
}

func (x *xmlReader) endTag() error {
	n, err := x.find(2, ">")
	if err != nil {
		return err
	}
	name := bytes.TrimRight(x.buf[x.pos+2:x.pos+n], " \t\r\n")
	if len(x.at) == 0 || !bytes.Equal(name, x.open[x.at[len(x.at)-1]:]) {
		return errXMLCross
	}
	x.pos += n + 1
	x.close()
	return nil
}

// xmlName tells the bytes that may stand in a name.
var xmlName = func() (t [256]bool) {
	for i := range t {
		t[i] = i >= 0x80 || i >= 'a' && i <= 'z' || i >= 'A' && i <= 'Z' || i >= '0' && i <= '9' || i == '_' || i == '-' || i == '.' || i == ':'
	}
	return t
}()

func xmlBlank(c byte) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' }

// startTag reads a start tag with its attributes.
func (x *xmlReader) startTag() error {
	n, err := x.tagEnd()
	if err != nil {
		return err
	}
	d := x.buf[x.pos+1 : x.pos+n] // without < and >
	x.pos += n + 1
	if x.single = d[len(d)-1] == '/'; x.single {
		d = d[:len(d)-1]
	}
	i := 0
	for i < len(d) && xmlName[d[i]] {
		i++
	}
	name := d[:i]
	if i == 0 || len(x.at) >= xmlDepth || len(x.open)+i > xmlWords {
		if i == 0 {
			return errXMLTag
		}
		return errXMLDeep
	}
	x.at = append(x.at, len(x.open))
	x.open = append(x.open, name...)
	if err := x.attributes(d[i:]); err != nil {
		return err
	}
	if x.space, x.local, err = x.split(name, true); err != nil {
		return err
	}
	for k := range x.attr {
		a := &x.attr[k]
		if a.space, a.local, err = x.split(a.local, false); err != nil {
			return err
		}
		for _, o := range x.attr[:k] {
			if bytes.Equal(o.local, a.local) && bytes.Equal(o.space, a.space) {
				return errXMLTwice
			}
		}
	}
	return nil
}

// tagEnd returns the place of the > that ends the tag at x.pos.
func (x *xmlReader) tagEnd() (int, error) {
	n, err := x.find(1, ">")
	if err != nil {
		return 0, err
	}
	// A > may also stand in a value: there an odd number of quotes comes before it.
	d := x.buf[x.pos+1 : x.pos+n]
	if bytes.IndexByte(d, '\'') < 0 && bytes.Count(d, []byte{'"'})%2 == 0 && n > 1 {
		return n, nil
	}
	for from, quote := 1, byte(0); ; {
		for _, c := range x.buf[x.pos+from : x.pos+n] {
			switch {
			case quote == 0 && (c == '"' || c == '\''):
				quote = c
			case c == quote:
				quote = 0
			}
		}
		if quote == 0 {
			break
		}
		from = n + 1
		if n, err = x.find(from, ">"); err != nil {
			return 0, err
		}
	}
	if n == 1 {
		return 0, errXMLTag
	}
	return n, nil
}

// attributes reads name="value" pairs; namespaces among them are bound.
func (x *xmlReader) attributes(d []byte) error {
	x.attr = x.attr[:0]
	for i := 0; ; {
		from := i
		for i < len(d) && xmlBlank(d[i]) {
			i++
		}
		if i == len(d) {
			return nil
		}
		lo := i
		for i < len(d) && xmlName[d[i]] {
			i++
		}
		name := d[lo:i]
		for i < len(d) && xmlBlank(d[i]) {
			i++
		}
		if lo == from || len(name) == 0 || i == len(d) || d[i] != '=' {
			return errXMLTag
		}
		for i++; i < len(d) && xmlBlank(d[i]); i++ {
		}
		if i == len(d) || d[i] != '"' && d[i] != '\'' {
			return errXMLTag
		}
		q := d[i]
		i++
		n := bytes.IndexByte(d[i:], q)
		if n < 0 {
			return errXMLTag
		}
		value := d[i : i+n]
		i += n + 1
		if bytes.IndexByte(value, '&') >= 0 {
			var err error
			if value, err = unescape(value); err != nil {
				return err
			}
		}
		if bytes.HasPrefix(name, []byte("xmlns")) && (len(name) == 5 || name[5] == ':') {
			if len(name) == 6 || bytes.IndexByte(name[min(len(name), 6):], ':') >= 0 { // no name behind the colon, or two of them
				return errXMLTag
			}
			if err := x.bind(name[min(len(name), 6):], value); err != nil {
				return err
			}
			continue
		}
		if len(x.attr) == xmlAttrs {
			return errXMLTag
		}
		x.attr = append(x.attr, xmlAttr{local: name, value: value})
	}
}

func (x *xmlReader) bind(prefix, space []byte) error {
	if x.used += len(prefix) + len(space); x.used > xmlWords || len(x.bound) > xmlAttrs {
		return errXMLLong
	}
	x.bound = append(x.bound, xmlBound{bytes.Clone(prefix), bytes.Clone(space), len(x.at)})
	return nil
}

// split parts a name in its namespace and the rest. Only elements take the
// namespace that has no prefix.
func (x *xmlReader) split(name []byte, element bool) (space, local []byte, err error) {
	i := bytes.IndexByte(name, ':')
	if i < 0 {
		if !element {
			return nil, name, nil
		}
		return x.namespace(nil), name, nil
	}
	if i == 0 || i == len(name)-1 || bytes.IndexByte(name[i+1:], ':') >= 0 {
		return nil, nil, errXMLTag
	}
	if space = x.namespace(name[:i]); space == nil {
		return nil, nil, errXMLSpace
	}
	return space, name[i+1:], nil
}

// namespace returns what a prefix stands for, nil for nothing.
func (x *xmlReader) namespace(prefix []byte) []byte {
	for k := len(x.bound) - 1; k >= 0; k-- {
		if bytes.Equal(x.bound[k].prefix, prefix) {
			return x.bound[k].space
		}
	}
	return nil
}

// get returns the value of an attribute of no namespace.
func (x *xmlReader) get(local string) ([]byte, bool) {
	for i := range x.attr {
		if a := &x.attr[i]; a.space == nil && string(a.local) == local {
			return a.value, true
		}
	}
	return nil, false
}

// quick reads the next tag where it is <name a="" b="" c=""/> and nothing else,
// with the attributes in their order and no entity in them, as nearly every tag of
// a mesh is. It returns false, and nothing has happened, where it is not; next
// reads all forms. The caller knows that a name without a prefix is in its namespace.
func (x *xmlReader) quick(name string, attr *[3]string, value *[3][]byte) bool {
	d := x.buf[x.pos:]
	if x.single || len(d) < 256 {
		return false
	}
	i := 0
	for i < len(d) && xmlBlank(d[i]) {
		i++
	}
	if len(d)-i < 200 || d[i] != '<' || string(d[i+1:i+1+len(name)]) != name {
		return false
	}
	i += 1 + len(name)
	for k, a := range attr {
		if d[i] != ' ' || string(d[i+1:i+1+len(a)]) != a || d[i+1+len(a)] != '=' || d[i+2+len(a)] != '"' {
			return false
		}
		i += 3 + len(a)
		from := i
		for i < len(d) && i-from < 40 && d[i] != '"' {
			if d[i] == '&' || d[i] == '<' {
				return false
			}
			i++
		}
		if len(d)-i < 16 || d[i] != '"' {
			return false
		}
		value[k] = d[from:i]
		i++
	}
	if d[i] == ' ' {
		i++
	}
	if d[i] != '/' || d[i+1] != '>' {
		return false
	}
	x.pos += i + 2
	return true
}

// pass goes on to the end of the element that was met.
func (x *xmlReader) pass() error {
	for depth := 1; depth > 0; {
		start, err := x.next()
		switch {
		case err != nil:
			return err
		case start:
			depth++
		default:
			depth--
		}
	}
	return nil
}

// unescape puts the five entities of XML and the numbered ones in their place.
func unescape(v []byte) ([]byte, error) {
	out := make([]byte, 0, len(v))
	for {
		i := bytes.IndexByte(v, '&')
		if i < 0 {
			return append(out, v...), nil
		}
		out = append(out, v[:i]...)
		v = v[i+1:]
		n := bytes.IndexByte(v[:min(len(v), 12)], ';')
		if n < 0 {
			return nil, errXMLEntity
		}
		name := string(v[:n])
		v = v[n+1:]
		switch name {
		case "lt":
			out = append(out, '<')
		case "gt":
			out = append(out, '>')
		case "amp":
			out = append(out, '&')
		case "quot":
			out = append(out, '"')
		case "apos":
			out = append(out, '\'')
		default:
			r, ok := numbered(name)
			if !ok {
				return nil, errXMLEntity
			}
			out = utf8.AppendRune(out, r)
		}
	}
}

var errXMLEntity = errors.New("the XML names an entity that XML itself does not have")

// numbered reads #65 and #x41.
func numbered(name string) (rune, bool) {
	digits, base := "0123456789", rune(10)
	rest, ok := strings.CutPrefix(name, "#")
	if r, hex := strings.CutPrefix(rest, "x"); hex {
		rest, digits, base = r, "0123456789abcdef", 16
	}
	n := rune(0)
	for _, c := range strings.ToLower(rest) {
		d := strings.IndexRune(digits, c)
		if d < 0 || n > utf8.MaxRune {
			return 0, false
		}
		n = n*base + rune(d)
	}
	return n, ok && rest != "" && utf8.ValidRune(n) && n != 0
}
