package drawing

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"regexp"
	"sort"
	"strconv"

	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/pdf"
)

// writePDF writes the pages as one document. Fonts are embedded as subsets;
// nothing in the bytes depends on the clock or the machine.
func writePDF(title string, pages []*page) ([]byte, error) {
	press.Lock()
	defer press.Unlock()
	var buf bytes.Buffer
	var doc *pdf.PDF
	for i, p := range pages {
		if i == 0 {
			doc = pdf.New(&buf, p.w, p.h, nil)
			doc.SetInfo(title, "", "", "", "pourwright")
		} else {
			doc.NewPage(p.w, p.h)
		}
		for k := range p.ops {
			putPDF(doc, p.h, &p.ops[k])
		}
	}
	if doc == nil {
		return nil, fmt.Errorf("no page to write")
	}
	if err := doc.Close(); err != nil {
		return nil, err
	}
	return undated(buf.Bytes())
}

func putPDF(doc *pdf.PDF, h float64, o *op) {
	switch o.kind {
	case opText:
		x := 0.0
		m := canvas.Identity.Translate(o.at.X, h-o.at.Y).Rotate(o.angle)
		for _, r := range runsOf(o.font, o.text) {
			f := faceOf(r.h, o.pt, o.col)
			doc.RenderText(canvas.NewTextLine(f, r.s, canvas.Left), m.Translate(x, 0))
			x += widthLocked(r.h, o.pt, r.s)
		}
	case opFill, opStroke:
		path := &canvas.Path{}
		for _, l := range o.loops {
			if len(l) == 0 {
				continue
			}
			path.MoveTo(l[0].X, h-l[0].Y)
			for _, q := range l[1:] {
				path.LineTo(q.X, h-q.Y)
			}
			if o.kind == opFill || o.closed {
				path.Close()
			}
		}
		if path.Empty() {
			return
		}
		st := canvas.DefaultStyle
		st.Fill, st.Stroke = canvas.Paint{}, canvas.Paint{}
		paint := canvas.Paint{Color: o.col.rgba()}
		if o.kind == opFill {
			st.Fill, st.FillRule = paint, canvas.EvenOdd
		} else {
			st.Stroke, st.StrokeWidth = paint, o.width
			st.StrokeCapper, st.StrokeJoiner = canvas.ButtCap, canvas.RoundJoin
			for _, d := range o.dash {
				st.Dashes = append(st.Dashes, d/o.width) // the library counts in line widths
			}
		}
		doc.RenderPath(path, st, canvas.Identity)
	}
}

var (
	dateEntry  = regexp.MustCompile(`/CreationDate ?\(D:[^)]*\)`)
	xrefStart  = regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`)
	xrefOffset = regexp.MustCompile(`(?m)^(\d{10}) 00000 n `)
	packedHead = []byte("<</Filter/FlateDecode/Length ")
)

// undated takes the clock out of a document: the library dates the document
// itself and each subset of a font. Objects change their lengths by that, so
// the table of objects is written anew.
func undated(b []byte) ([]byte, error) {
	tail := xrefStart.FindSubmatch(b)
	if tail == nil {
		return nil, fmt.Errorf("the PDF does not end in a table of objects")
	}
	xref, err := strconv.Atoi(string(tail[1]))
	if err != nil || xref > len(b) {
		return nil, fmt.Errorf("the PDF's table of objects is not where it says")
	}
	type object struct{ no, at int }
	var list []object
	for i, m := range xrefOffset.FindAllSubmatch(b[xref:], -1) {
		at, _ := strconv.Atoi(string(m[1]))
		if at <= 0 || at >= xref {
			return nil, fmt.Errorf("object %d of the PDF lies outside it", i+1)
		}
		list = append(list, object{i + 1, at})
	}
	offset := make([]int, len(list))
	sort.Slice(list, func(i, j int) bool { return list[i].at < list[j].at })
	if len(list) == 0 {
		return nil, fmt.Errorf("the PDF holds no objects")
	}
	out := append([]byte{}, b[:list[0].at]...)
	for i, o := range list {
		end := xref
		if i+1 < len(list) {
			end = list[i+1].at
		}
		offset[o.no-1] = len(out)
		body, err := undatedObject(b[o.at:end])
		if err != nil {
			return nil, err
		}
		out = append(out, body...)
	}
	start := len(out)
	out = fmt.Appendf(out, "xref\n0 %d\n0000000000 65535 f \n", len(offset)+1)
	for _, at := range offset {
		out = fmt.Appendf(out, "%010d 00000 n \n", at)
	}
	k := bytes.Index(b[xref:], []byte("trailer\n"))
	e := bytes.LastIndex(b, []byte("startxref\n"))
	if k < 0 || e < xref+k {
		return nil, fmt.Errorf("the PDF has no trailer")
	}
	out = append(out, b[xref+k:e]...)
	return fmt.Appendf(out, "startxref\n%d\n%%%%EOF\n", start), nil
}

// undatedObject returns one object with a fixed date in the place of the
// clock's; only the document's properties and embedded fonts carry one.
func undatedObject(b []byte) ([]byte, error) {
	if dateEntry.Match(b) && !bytes.Contains(b, []byte("stream\n")) {
		return dateEntry.ReplaceAll(b, []byte("/CreationDate (D:20000101000000Z)")), nil
	}
	h := bytes.Index(b, packedHead)
	s := bytes.Index(b, []byte("stream\n"))
	e := bytes.LastIndex(b, []byte("\nendstream"))
	if h < 0 || s < h || e < s+7 || s-h > 60 {
		return b, nil
	}
	z, err := zlib.NewReader(bytes.NewReader(b[s+7 : e]))
	if err != nil {
		return nil, fmt.Errorf("a stream of the PDF cannot be unpacked: %w", err)
	}
	var magic [4]byte
	if _, err := io.ReadFull(z, magic[:]); err != nil || magic != [4]byte{0, 1, 0, 0} {
		return b, nil
	}
	rest, err := io.ReadAll(z)
	if err != nil {
		return nil, fmt.Errorf("a font of the PDF cannot be unpacked: %w", err)
	}
	font := append(magic[:], rest...)
	undateFont(font)
	var packed bytes.Buffer
	w := zlib.NewWriter(&packed)
	w.Write(font)
	if err := w.Close(); err != nil {
		return nil, err
	}
	out := append([]byte{}, b[:h]...)
	out = fmt.Appendf(out, "%s%d>>stream\n", packedHead, packed.Len())
	out = append(out, packed.Bytes()...)
	return append(out, b[e:]...), nil
}

// undateFont sets the date of change of a TrueType font to its date of making
// and mends the sums that hang on it (OpenType 1.9, table head).
func undateFont(f []byte) {
	n := int(binary.BigEndian.Uint16(f[4:]))
	sum := func(b []byte) uint32 {
		s := uint32(0)
		for i := 0; i < len(b); i += 4 {
			var w [4]byte
			copy(w[:], b[i:])
			s += binary.BigEndian.Uint32(w[:])
		}
		return s
	}
	for i := range n {
		r := 12 + 16*i
		if r+16 > len(f) || string(f[r:r+4]) != "head" {
			continue
		}
		at := int(binary.BigEndian.Uint32(f[r+8:]))
		if at+54 > len(f) {
			return
		}
		head := f[at : at+54]
		copy(head[28:36], head[20:28])
		binary.BigEndian.PutUint32(head[8:], 0)
		binary.BigEndian.PutUint32(f[r+4:], sum(head))
		binary.BigEndian.PutUint32(head[8:], 0xB1B0AFBA-sum(f))
		return
	}
}
