package meshfile

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"hash/crc32"
	"io"
	"math"
	"net/url"
	"path"
	"strings"

	"pourwright/internal/ground/fault"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// What compressed data may unfold to: inflateFloor bytes, or inflateRatio times
// the file where that is more. Text of meshes packs three to fifteen times,
// ASCII STL of a plane grid up to fifty.
const (
	inflateFloor = 64 << 20
	inflateRatio = 25
)

// inflateLimit returns how many bytes a file of size n may unfold to.
func inflateLimit(n int) int64 { return max(inflateFloor, inflateRatio*int64(n)) }

var errBomb = errors.New("unfolds to more than its limit")

// budget is how many bytes a file may still unfold to.
type budget struct{ left int64 }

// limited reads until the budget is spent.
type limited struct {
	r io.Reader
	b *budget
}

func (l limited) Read(p []byte) (int, error) {
	if l.b.left < 0 {
		return 0, errBomb
	}
	n, err := l.r.Read(p[:min(int64(len(p)), l.b.left+1)])
	if l.b.left -= int64(n); l.b.left < 0 {
		return 0, errBomb
	}
	return n, err
}

// maxParts is how many parts a package may have.
const maxParts = 20_000

// parts is a package by the Open Packaging Conventions (ECMA-376 part 2): a zip
// archive whose members are named by paths. Nothing is ever written to a disk.
type parts struct {
	b      *builder
	list   []*zip.File
	budget budget
}

// openParts reads the directory of a package.
func (b *builder) openParts(data []byte) (*parts, error) {
	const hint = "the file was cut or is damaged; export or copy it again"
	// Each member takes some hundred bytes of memory, so they are counted first.
	if n := bytes.Count(data, []byte("PK\x01\x02")); n > maxParts {
		return nil, b.fail(b.name, "export the master alone", "the zip archive names %d parts, the limit is %d", n, maxParts)
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Input, Place: b.name, Text: "this is no whole zip archive (" + strings.TrimPrefix(err.Error(), "zip: ") + ")", Hint: hint, Cause: err}
	}
	return &parts{b, z.File, budget{inflateLimit(len(data))}}, nil
}

// find returns the part of a name that begins with a slash. Names of parts are
// equal in either case; two parts of one name are refused.
func (p *parts) find(name string) (*zip.File, error) {
	var found *zip.File
	for _, f := range p.list {
		if len(f.Name) != len(name)-1 || !strings.EqualFold(f.Name, name[1:]) {
			continue
		}
		if found != nil {
			return nil, p.b.fail(p.b.name, "export it again", "the package holds two parts named %s", name)
		}
		found = f
	}
	return found, nil
}

// partName makes the name of a part out of a reference in a part of the folder
// base. ok is false for anything outside the package.
func partName(base, ref string) (name string, ok bool) {
	if ref == "" || strings.ContainsAny(ref, "\\?#\x00") {
		return "", false
	}
	u, err := url.Parse(ref)
	if err != nil || u.IsAbs() || u.Host != "" || u.Opaque != "" {
		return "", false
	}
	name = u.Path
	if !strings.HasPrefix(name, "/") {
		name = base + name
	}
	for _, s := range strings.Split(name[1:], "/") {
		if s == "" || s == ".." || s == "." {
			return "", false
		}
	}
	return path.Clean(name), strings.IndexByte(name, '\\') < 0 && strings.IndexByte(name, 0) < 0
}

// open returns the text of a part as UTF-8. done tells an early end from a whole
// part: it must be called when the text has been read.
func (p *parts) open(f *zip.File, name string) (text io.Reader, done func() error, err error) {
	bad := func(text string, args ...any) error {
		return p.b.fail(p.b.name, "export it again", text, args...)
	}
	if f.Flags&1 != 0 {
		return nil, nil, bad("part %s is encrypted", name)
	}
	if f.UncompressedSize64 > math.MaxInt64 || int64(f.UncompressedSize64) > p.budget.left {
		return nil, nil, p.bomb(name)
	}
	raw, err := f.OpenRaw()
	if err != nil {
		return nil, nil, bad("part %s cannot be read: %s", name, err)
	}
	var r io.Reader
	switch f.Method {
	case zip.Store:
		r = raw
	case zip.Deflate:
		r = flate.NewReader(raw)
	default:
		return nil, nil, bad("part %s is packed in a way (%d) that is neither stored nor deflated", name, f.Method)
	}
	sum := crc32.NewIEEE()
	size := int64(0)
	r = io.TeeReader(limited{r, &p.budget}, counter{sum, &size})
	done = func() error {
		if _, err := io.Copy(io.Discard, r); err != nil {
			return err
		}
		if uint64(size) != f.UncompressedSize64 || sum.Sum32() != f.CRC32 {
			return zip.ErrChecksum
		}
		return nil
	}
	var mark [2]byte
	n, err := io.ReadFull(r, mark[:])
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, nil, bad("part %s cannot be unpacked: %s", name, err)
	}
	text = io.MultiReader(bytes.NewReader(mark[:n]), r)
	if mark == [2]byte{0xff, 0xfe} || mark == [2]byte{0xfe, 0xff} {
		text = transform.NewReader(text, unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder())
	}
	return text, done, nil
}

func (p *parts) bomb(name string) error {
	return p.b.fail(p.b.name, "thin the mesh out, or save it as binary STL", "part %s unfolds to more than the %d bytes that a file of %d bytes may hold",
		name, inflateLimit(int(p.b.facts.Bytes)), p.b.facts.Bytes)
}

// counter adds up a checksum and a length.
type counter struct {
	sum io.Writer
	n   *int64
}

func (c counter) Write(p []byte) (int, error) {
	*c.n += int64(len(p))
	return c.sum.Write(p)
}
