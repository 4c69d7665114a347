package drawing

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"

	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/pdf"
)

// writePDF writes the pages as one document. Fonts are embedded as subsets;
// nothing in the bytes depends on the clock or the machine.
func writePDF(title string, pages []*page) ([]byte, error) {
	press.Lock()
	defer press.Unlock()
	defer forget(label, labelBold)
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
)

// undated puts a fixed date in the place of the clock's, whose length depends
// on the time zone, and moves the offsets of the cross-reference table along.
func undated(b []byte) ([]byte, error) {
	at := dateEntry.FindAllIndex(b, -1)
	tail := xrefStart.FindSubmatchIndex(b)
	if len(at) == 0 || tail == nil {
		return nil, fmt.Errorf("the PDF has no date or no table of objects where they were expected")
	}
	from, to := at[len(at)-1][0], at[len(at)-1][1]
	const fixed = "/CreationDate (D:20000101000000Z)"
	shift := len(fixed) - (to - from)
	xref, err := strconv.Atoi(string(b[tail[2]:tail[3]]))
	if err != nil || xref <= to || xref > len(b) {
		return nil, fmt.Errorf("the PDF's table of objects is not where it says")
	}
	table := xrefOffset.ReplaceAllFunc(b[xref:tail[0]], func(e []byte) []byte {
		n, _ := strconv.Atoi(string(e[:10]))
		if n > from {
			n += shift
		}
		return fmt.Appendf(nil, "%010d 00000 n ", n)
	})
	out := append([]byte{}, b[:from]...)
	out = append(out, fixed...)
	out = append(out, b[to:xref]...)
	out = append(out, table...)
	return fmt.Appendf(out, "startxref\n%d\n%%%%EOF\n", xref+shift), nil
}
