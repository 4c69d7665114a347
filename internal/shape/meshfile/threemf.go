package meshfile

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"fmt"
	"hash/crc32"
	"io"
	"strconv"
	"strings"
	"sync"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/mesh"
)

// Object is one body of a 3MF file.
type Object struct {
	Name string
	Mesh *mesh.Mesh
}

// Write3MF writes the objects as a 3MF package (3MF Core Specification 1.x:
// content types, one relationship, one model part), unit millimetre, one build
// item each. Numbers have the fewest digits that give back the same float64.
// The archive carries no dates, and the same objects give the same bytes.
func Write3MF(w io.Writer, objects ...Object) error {
	model := modelParts(objects)
	z := zip.NewWriter(w)
	for _, f := range []struct{ name, text string }{
		{"[Content_Types].xml", `<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>
`},
		{"_rels/.rels", `<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>
`},
	} {
		if err := storePart(z, f.name, [][]byte{[]byte(f.text)}); err != nil {
			return err
		}
	}
	if err := storePart(z, "3D/3dmodel.model", model); err != nil {
		return err
	}
	return z.Close()
}

// modelParts renders the model as pieces of text in their order: pieces of a
// fixed number of lines, each made on its own.
func modelParts(objects []Object) [][]byte {
	const lines = 16384
	type piece struct {
		head   string // stands alone where it is not empty
		m      *mesh.Mesh
		faces  bool
		lo, hi int
	}
	var list []piece
	text := func(s string) { list = append(list, piece{head: s}) }
	text(`<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<resources>
`)
	build := ""
	for i, o := range objects {
		text(fmt.Sprintf("<object id=\"%d\" type=\"model\" name=\"%s\"><mesh><vertices>\n", i+1, escape(o.Name)))
		for lo := 0; lo < len(o.Mesh.V); lo += lines {
			list = append(list, piece{m: o.Mesh, lo: lo, hi: min(lo+lines, len(o.Mesh.V))})
		}
		text("</vertices><triangles>\n")
		for lo := 0; lo < len(o.Mesh.F); lo += lines {
			list = append(list, piece{m: o.Mesh, faces: true, lo: lo, hi: min(lo+lines, len(o.Mesh.F))})
		}
		text("</triangles></mesh></object>\n")
		build += fmt.Sprintf("<item objectid=\"%d\"/>\n", i+1)
	}
	text("</resources>\n<build>\n" + build + "</build>\n</model>\n")
	out := make([][]byte, len(list))
	par.For(len(list), 1, func(i, _ int) {
		switch p := list[i]; {
		case p.head != "":
			out[i] = []byte(p.head)
		case p.faces:
			out[i] = appendFaces(p.m.F[p.lo:p.hi])
		default:
			out[i] = appendCorners(p.m, p.lo, p.hi)
		}
	})
	return out
}

// escape puts a name into an attribute with the five entities that XML itself
// has: some readers know none by number. Bytes that no XML holds become ?.
func escape(name string) string {
	name = strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0xfffd || r == 0xfffe || r == 0xffff {
			return '?'
		}
		return r
	}, name)
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "'", "&apos;").Replace(name)
}

func appendCorners(m *mesh.Mesh, lo, hi int) []byte {
	b := make([]byte, 0, 80*(hi-lo))
	for _, p := range m.V[lo:hi] {
		b = append(b, `<vertex x="`...)
		b = strconv.AppendFloat(b, p.X, 'g', -1, 64)
		b = append(b, `" y="`...)
		b = strconv.AppendFloat(b, p.Y, 'g', -1, 64)
		b = append(b, `" z="`...)
		b = strconv.AppendFloat(b, p.Z, 'g', -1, 64)
		b = append(b, "\"/>\n"...)
	}
	return b
}

func appendFaces(f [][3]int32) []byte {
	b := make([]byte, 0, 48*len(f))
	for _, t := range f {
		b = append(b, `<triangle v1="`...)
		b = strconv.AppendInt(b, int64(t[0]), 10)
		b = append(b, `" v2="`...)
		b = strconv.AppendInt(b, int64(t[1]), 10)
		b = append(b, `" v3="`...)
		b = strconv.AppendInt(b, int64(t[2]), 10)
		b = append(b, "\"/>\n"...)
	}
	return b
}

// packers are kept for reuse: each holds about a megabyte.
var packers = sync.Pool{New: func() any {
	f, err := flate.NewWriter(nil, flate.BestSpeed)
	if err != nil {
		panic(err) // the level is a constant within bounds
	}
	return f
}}

// storePart compresses the pieces on their own, each ended by a flush, so that
// their bytes are one deflate stream whatever the number of cores, and adds it
// to the archive.
func storePart(z *zip.Writer, name string, parts [][]byte) error {
	packed := make([][]byte, len(parts))
	fail := make([]error, len(parts))
	par.For(len(parts), 1, func(i, _ int) {
		var b bytes.Buffer
		b.Grow(len(parts[i])/4 + 64)
		f := packers.Get().(*flate.Writer)
		defer packers.Put(f)
		f.Reset(&b)
		_, err := f.Write(parts[i])
		if err == nil && i < len(parts)-1 {
			err = f.Flush()
		} else if err == nil {
			err = f.Close()
		}
		packed[i], fail[i] = b.Bytes(), err
	})
	h := &zip.FileHeader{Name: name, Method: zip.Deflate}
	sum := crc32.NewIEEE()
	for i, p := range parts {
		if fail[i] != nil {
			return fail[i]
		}
		sum.Write(p)
		h.UncompressedSize64 += uint64(len(p))
		h.CompressedSize64 += uint64(len(packed[i]))
	}
	h.CRC32 = sum.Sum32()
	w, err := z.CreateRaw(h)
	if err != nil {
		return err
	}
	for _, p := range packed {
		if err := writeAll(w, p); err != nil {
			return err
		}
	}
	return nil
}
