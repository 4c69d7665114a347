// Package meshfile reads and writes triangle meshes: STL (binary and ASCII),
// OBJ, PLY (ASCII and both binaries), OFF, 3MF and glTF 2.0 (GLB, or text with
// its buffers in it) in; binary STL and 3MF out. Any of them but 3MF may be
// packed with gzip, and texts may be UTF-16.
//
// What a file is, its content says first and its name second. Polygons are cut
// into fans from their first corner. Corners are joined only where their three
// numbers are equal (-0 equals 0), after all transforms; triangles that then
// name one corner twice are counted and left out. Nothing else is repaired here.
// Numbers are those of the file; Facts.Unit names their unit where it states one.
//
// Limits, whatever a header, a directory or a count claims:
//
//   - every count is held against the bytes that follow before memory is taken
//     for it; memory stays within about thirty times the size of the file, or
//     300 MB where that is more;
//   - packed data (gzip, 3MF) unfold to at most 64 MiB, or 25 times the file where
//     that is more; corners and triangles, 3MF components and glTF nodes multiplied
//     out, take at most 40 MiB, or 12 times the file;
//   - 3MF: 20 000 parts, elements 128 deep, components 100 deep, tags of 1 MiB, no
//     document types, no part outside the package; glTF: lists of 100 000 entries,
//     nodes 256 deep, no other file and no address is ever opened.
//
// Errors are fault.Input with the file, the line (text) or the byte (binary),
// and what to do next. Numbers must be finite.
//
// Another format needs one entry in formatOf and one function that hands its
// triangles to a builder.
package meshfile

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf16"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/mesh"
)

// Options of reading. The zero value is ready to use.
type Options struct {
	// MaxBytes refuses larger files; 0 stands for 2 GiB.
	MaxBytes int64
	// KeepOrder leaves corners and triangles in the order of the file instead
	// of the order of mesh.Canonical.
	KeepOrder bool
}

// Facts is what the file itself says.
type Facts struct {
	Format     string // STL binary, STL ASCII, OBJ, PLY ASCII, PLY binary, OFF, 3MF, GLB, glTF
	Unit       string // as the format states it; empty where it states none
	SHA256     string // of the file's bytes
	Bytes      int64
	Polygons   int      // faces as in the file
	Triangles  int      // after fanning, those of no use included
	Degenerate int      // triangles that name one corner twice, left out of the mesh
	Notes      []string // what the reader had to decide, in whole sentences
}

const defaultMax = 2 << 30

// Read reads the mesh file at path. Errors are of kind fault.Input.
func Read(path string, opt Options) (*mesh.Mesh, Facts, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, Facts{}, openFault(path, err)
	}
	defer f.Close()
	if st, err := f.Stat(); err == nil && st.IsDir() {
		return nil, Facts{}, fault.New(fault.Input, path, "name the mesh file itself", "this is a folder, not a mesh file")
	} else if err == nil && st.Mode().IsRegular() && st.Size() > opt.max() {
		return nil, Facts{}, tooLarge(path, st.Size(), opt.max())
	}
	return ReadFrom(f, path, opt)
}

// ReadFrom reads a mesh from r; name stands for the file in messages, and its
// ending helps where the content does not say what it is.
func ReadFrom(r io.Reader, name string, opt Options) (*mesh.Mesh, Facts, error) {
	var buf bytes.Buffer
	if f, ok := r.(*os.File); ok {
		if st, err := f.Stat(); err == nil && st.Mode().IsRegular() {
			buf.Grow(int(min(st.Size(), opt.max())) + bytes.MinRead)
		}
	}
	n, err := buf.ReadFrom(io.LimitReader(r, opt.max()+1))
	if err != nil {
		return nil, Facts{}, &fault.Error{Kind: fault.Input, Place: name, Text: "cannot be read: " + reason(err), Hint: "check the disk or copy the file again", Cause: err}
	}
	if n > opt.max() {
		return nil, Facts{}, tooLarge(name, n, opt.max())
	}
	return Parse(buf.Bytes(), name, opt)
}

// Parse reads a mesh from the bytes of a file. data is not kept.
func Parse(data []byte, name string, opt Options) (*mesh.Mesh, Facts, error) {
	facts := Facts{Bytes: int64(len(data))}
	sum := make(chan string, 1)
	go func(data []byte) {
		h := sha256.Sum256(data)
		sum <- hex.EncodeToString(h[:])
	}(data)
	m, err := parse(data, name, &facts, opt)
	facts.SHA256 = <-sum
	if err != nil {
		return nil, facts, err
	}
	return m, facts, nil
}

func parse(data []byte, name string, facts *Facts, opt Options) (*mesh.Mesh, error) {
	b := newBuilder(name, facts)
	kind := name
	if bytes.HasPrefix(data, []byte("\x1f\x8b")) {
		var err error
		if data, err = b.gunzip(data); err != nil {
			return nil, err
		}
		b.packed = true
		kind = strings.TrimSuffix(strings.TrimSuffix(name, ".gz"), ".GZ")
	}
	data, note, err := plainText(data, name)
	if err != nil {
		return nil, err
	}
	if note != "" {
		b.note("%s", note)
	}
	f, err := formatOf(data, kind)
	if err != nil {
		return nil, err
	}
	if b.packed && f.name == threeMF.name {
		return nil, b.fail(name, "unpack it first", "this is a 3MF file inside a gzip file")
	}
	facts.Format = f.name
	if err := f.read(data, b); err != nil {
		return nil, err
	}
	if err := b.checkCommas(); err != nil {
		return nil, err
	}
	return b.finish(opt)
}

func (o Options) max() int64 {
	if o.MaxBytes > 0 {
		return o.MaxBytes
	}
	return defaultMax
}

func tooLarge(name string, size, limit int64) error {
	return fault.New(fault.Input, name, "thin the mesh out to a few million triangles and save it again",
		"the file holds %d bytes or more, the limit is %d", size, limit)
}

func openFault(path string, err error) error {
	hint := "check the name and the folder"
	if errors.Is(err, fs.ErrPermission) {
		hint = "give yourself the right to read it"
	}
	return &fault.Error{Kind: fault.Input, Place: path, Text: "cannot be opened: " + reason(err), Hint: hint, Cause: err}
}

// reason returns the innermost text of a file error, without its path.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// plainText takes off a byte order mark and turns UTF-16 into UTF-8. Without a
// mark, text is UTF-16 where every second of its first bytes is zero.
func plainText(data []byte, name string) ([]byte, string, error) {
	little, marked := true, true
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		return data[3:], "", nil
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		little = false
	case len(data) >= 84 && int64(len(data)) == stlSize(data):
		return data, "", nil
	default:
		marked = false
		even, odd := wide(data, 0), wide(data, 1)
		if !even && !odd {
			return data, "", nil
		}
		little = odd
	}
	if len(data)%2 != 0 {
		return nil, "", fault.New(fault.Input, name, "save it again as UTF-8 or plain ASCII text", "the file is UTF-16 text of an odd number of bytes, so it was cut")
	}
	if marked {
		data = data[2:]
	}
	out := make([]byte, 0, len(data)/2)
	for i := 0; i+1 < len(data); i += 2 {
		c := uint16(data[i])<<8 | uint16(data[i+1])
		if little {
			c = c<<8 | c>>8
		}
		if c < 0x80 {
			out = append(out, byte(c))
		} else if utf16.IsSurrogate(rune(c)) {
			out = append(out, '?')
		} else {
			out = append(out, string(rune(c))...)
		}
	}
	return out, "The file is UTF-16 text and was read as such.", nil
}

// wide reports whether the bytes at zero, zero+2 and so on of the first 64 are
// zero and those between are printed ones.
func wide(data []byte, zero int) bool {
	if len(data) < 16 {
		return false
	}
	for i, c := range data[:min(len(data), 64)] {
		if (i%2 == zero) != (c == 0) || c != 0 && c < 32 && c != '\n' && c != '\r' && c != '\t' {
			return false
		}
	}
	return true
}

// format is one kind of file.
type format struct {
	name string
	read func(data []byte, b *builder) error
}

var (
	stlBinary = format{"STL binary", readSTLBinary}
	stlASCII  = format{"STL ASCII", readSTLASCII}
	objText   = format{"OBJ", readOBJ}
	plyFile   = format{"PLY", readPLY}
	offText   = format{"OFF", readOFF}
	threeMF   = format{"3MF", read3MF}
	glbFile   = format{"GLB", readGLB}
	gltfText  = format{"glTF", readGLTF}
)

const saveAs = "save it again as STL, OBJ or PLY"

// formatOf decides what the bytes are.
func formatOf(data []byte, name string) (format, error) {
	no := func(hint, text string, args ...any) (format, error) {
		return format{}, fault.New(fault.Input, name, hint, text, args...)
	}
	ext := strings.ToLower(filepath.Ext(name))
	if len(data) == 0 {
		return no("export the master again", "the file is empty")
	}
	head := bytes.TrimLeft(data[:min(len(data), 1024)], " \t\r\n")
	low := bytes.ToLower(head)
	starts := func(s string) bool { return bytes.HasPrefix(low, []byte(s)) }
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("PK\x05\x06")):
		return threeMF, nil
	case bytes.HasPrefix(data, []byte("glTF")):
		return glbFile, nil
	case bytes.HasPrefix(data, []byte("\x1f\x8b")) || bytes.HasPrefix(data, []byte("7z\xbc\xaf")) || bytes.HasPrefix(data, []byte("BZh")) || bytes.HasPrefix(data, []byte("\xfd7zXZ")):
		return no("unpack it first", "this is a compressed file, not a mesh")
	case foreign(data) != "":
		return no("name the mesh file itself; a picture or a document is no master", "this is %s, not a mesh", foreign(data))
	case starts("<!doctype html") || starts("<html") || starts("<head") || starts("<body"):
		return no("download or copy the mesh file itself again", "this is a web page, not a mesh")
	case starts("<"):
		return no(saveAs, "this is an XML file, not a mesh of a format that can be read")
	case starts("{") && (ext == ".gltf" || bytes.Contains(data, []byte(`"asset"`))):
		return gltfText, nil
	case bytes.HasPrefix(data, []byte("ply\n")) || bytes.HasPrefix(data, []byte("ply\r")):
		return plyFile, nil
	case len(data) >= 84 && int64(len(data)) == stlSize(data):
		return stlBinary, nil
	case starts("solid") && !notText(data):
		return stlASCII, nil
	case notText(data):
		if ext == ".stl" || starts("solid") {
			return stlBinary, nil
		}
		return no("check that it is the mesh file, and save it as STL, OBJ or PLY", "this is no mesh of a format that can be read")
	case isOFF(head) || ext == ".off":
		return offText, nil
	case ext == ".obj" || looksLikeOBJ(data):
		return objText, nil
	case ext == ".stl" && len(data) < 84:
		return no("export or copy it again", "the file holds %d bytes, less than the 84 of a binary STL header, and it is no ASCII STL", len(data))
	case ext == ".stl":
		return no("export or copy it again", `this is text that does not begin with "solid", so it is no STL`)
	case ext == ".ply":
		return no("export or copy it again", `the file does not begin with "ply"`)
	}
	return no("check that it is the mesh file, and save it as STL, OBJ or PLY", "this is no mesh of a format that can be read")
}

// foreign names a file of another kind by its first bytes, "" for all others.
func foreign(data []byte) string {
	for _, f := range []struct{ magic, what string }{
		{"\x89PNG\r\n\x1a\n", "a PNG picture"}, {"\xff\xd8\xff", "a JPEG picture"}, {"GIF8", "a GIF picture"}, {"%PDF-", "a PDF document"},
		{"RIFF", "a sound, picture or film file"}, {"ISO-10303-21", "a STEP file, surfaces and no triangles"}, {"\x7fELF", "a program"}, {"SQLite format 3\x00", "a database"},
	} {
		if bytes.HasPrefix(data, []byte(f.magic)) {
			return f.what
		}
	}
	return ""
}

// notText reports whether the first bytes hold any that no text holds.
func notText(data []byte) bool {
	for _, c := range data[:min(len(data), 4096)] {
		if c < 9 || c > 13 && c < 32 && c != 27 {
			return true
		}
	}
	return false
}

// looksLikeOBJ looks for a line of a corner or a face near the start.
func looksLikeOBJ(data []byte) bool {
	for i, line := range bytes.Split(data[:min(len(data), 65536)], []byte("\n")) {
		if f := bytes.Fields(line); len(f) >= 4 && (string(f[0]) == "v" || string(f[0]) == "f") {
			return true
		}
		if i > 2000 {
			break
		}
	}
	return false
}

// at names a line of the file for messages.
func at(name string, line int) string { return fmt.Sprintf("%s:%d", name, line) }
