package drawing

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// Widths of the column of notes beside a drawing, mm.
const (
	notesWide  = 62
	notesLeast = 38
)

// notes is what stands beside a drawing at full size: its legend and a list to
// work through. Blocks are not parted.
type notes struct {
	blocks []noteBlock
	needed bool // worth a sheet of their own where they find no room
}

// noteBlock draws itself at (0, y) in a width and returns the y below it. It
// may be called on a page of its own to be measured.
type noteBlock func(p *page, y, wide float64) float64

func (n *notes) add(b noteBlock) { n.blocks = append(n.blocks, b) }

// items sets the blocks in columns of the given width, at most high mm high.
func (n *notes) items(wide, high float64) []*item {
	var out []*item
	var cur *item
	for _, b := range n.blocks {
		h := b(&page{}, 0, wide)
		if cur == nil || cur.h+h > high {
			cur = &item{name: "notes"}
			cur.w = wide
			out = append(out, cur)
		}
		cur.h = b(&cur.page, cur.h, wide)
	}
	return out
}

// noteHead is a heading of the notes.
func noteHead(s string) noteBlock {
	return func(p *page, y, wide float64) float64 {
		p.print(wordsBold, sizeWords.pt, 0, y+4.2, left, cutTo(wordsBold, sizeWords.pt, wide, s))
		return y + 6.4
	}
}

// note is a small line of words under a heading.
func note(s string) noteBlock {
	return func(p *page, y, wide float64) float64 {
		for _, l := range wrapIn(label, labelBold, sizeLabel.pt, wide, s) {
			p.putLine(label, labelBold, sizeLabel.pt, 0, y+2.6, l)
			y += 3.5
		}
		return y + 1
	}
}

// sampleWide is the room of a sample of a line before its words.
const sampleWide = 11

// lineSample says what a line of the drawing means.
func lineSample(width float64, dash []float64, s string) noteBlock {
	return sampleOf(s, func(p *page, y float64) {
		p.stroke(width, dash, false, []vec.V2{{X: 0, Y: y}, {X: sampleWide - 2.5, Y: y}})
	})
}

// sampleOf sets words behind a small drawing whose middle is at y.
func sampleOf(s string, draw func(p *page, y float64)) noteBlock {
	return func(p *page, y, wide float64) float64 {
		lines := wrapIn(label, labelBold, sizeLabel.pt, wide-sampleWide, s)
		draw(p, y+2.6)
		for _, l := range lines {
			p.putLine(label, labelBold, sizeLabel.pt, sampleWide, y+3.5, l)
			y += 3.5
		}
		return y + 1.5
	}
}

// entry is one line of a list: a name in bold, words, a box to tick.
func entry(name string, words0 []string, tick bool) noteBlock {
	return func(p *page, y, wide float64) float64 {
		const nameWide, narrow = 16, 24
		room := wide - nameWide
		if tick {
			room -= 8
			p.rect(frameLine, wide-6.2, y+1, 6, 6)
		}
		p.print(wordsBold, sizeWords.pt, 0, y+4.4, left, cutTo(wordsBold, sizeWords.pt, nameWide-1, name))
		x, yy := float64(nameWide), y+3.6
		if room < narrow { // no measure fits a line there: the words stand under the name
			x, yy, room = 0, y+9.4, wide
		}
		for _, w := range words0 {
			for _, l := range wrapIn(label, labelBold, sizeLabel.pt, room, w) {
				p.putLine(label, labelBold, sizeLabel.pt, x, yy, l)
				yy += 3.5
			}
		}
		y = max(yy-1.6, y+6)
		if tick {
			y = max(y, y+0.6)
		}
		y += 1.2
		p.line(hairLine, 0, y, wide, y)
		return y
	}
}

// halfNotes is the legend of a half's template and the list of its cuts.
func (in *Input) halfNotes(half int) *notes {
	v, b := in.look(), in.Plan.Block
	n := &notes{needed: half == 0 || len(in.cutsOf(half)) > 0}
	if len(v.piece[half]) > 0 {
		what := "edge of the piece"
		if in.standsIn() {
			what = "edge of a plain body of the same size and volume: draw round your own piece"
		}
		n.add(lineSample(cutLine, nil, what))
	}
	if len(in.channelLines(half)) > 0 {
		n.add(lineSample(frameLine, []float64{2, 0.8}, "cup and channels: formed by rods or formers, not cut"))
	}
	now, later := false, false
	cuts := in.cutsOf(half)
	for _, c := range cuts {
		now, later = now || c.When == "now", later || c.When != "now"
	}
	if now {
		n.add(lineSample(outlineLine, nil, "vent: cut it now"))
	}
	if later {
		n.add(lineSample(outlineLine, []float64{1.6, 0.8}, "vent: cut it only if the casting stays short"))
	}
	if len(b.Keys) > 0 {
		n.add(ringSample("key, with its number"))
	}
	in.insertNote(n)
	if len(v.marks) > 0 {
		s := "numbered place: see the front"
		if in.cavities() > 1 {
			s += "; all pieces are alike"
		}
		n.add(sampleOf(s, func(p *page, y float64) {
			p.fill(black, disc(1.5, y, 0.55))
			p.printIn(accent, wordsBold, 11, 3.5, y+1.3, left, "1")
		}))
	}
	if len(cuts) > 0 {
		n.add(noteHead("Cuts"))
	}
	for _, c := range cuts {
		when := clean(c.When)
		if c.When != "now" {
			when = "only if short"
		}
		n.add(entry("vent "+grouped(float64(c.No), 0), []string{
			strong(when) + ", " + Built(pathLength(c.Path)) + nb + "mm" + nb + "long,", cutWidth(c.Width) + ", " + Length(c.Depth) + nb + "mm" + nb + "deep",
		}, true))
	}
	return n
}

// insertNote says what an insert is drawn by.
func (in *Input) insertNote(n *notes) {
	if len(in.Plan.Block.Inserts) == 0 {
		return
	}
	n.add(sampleOf("insert: lies in the line, half of it in either half", func(p *page, y float64) {
		p.stroke(frameLine, nil, true, box(0, y-1, sampleWide-2.5, 2))
		p.stroke(hairLine, []float64{2, 0.6, 0.4, 0.6}, false, []vec.V2{{X: -0.8, Y: y}, {X: sampleWide - 1.7, Y: y}})
	}))
}

// faceInserts draws the inserts lying in a face, with their middle lines.
func (in *Input) faceInserts(p *page, m faceMap, s *space) {
	for _, k := range in.Plan.Block.Inserts {
		at, d := vec.FromArray(k.At), vec.FromArray(k.Direction)
		if !(d.Len() > 0) {
			continue
		}
		end := at.Add(d.Unit().Mul(k.Length))
		a, b := m.at(at.X, at.Y), m.at(end.X, end.Y)
		axis := b.Sub(a)
		if axis.Len() < 0.5 {
			continue // it stands upright on the face
		}
		u := axis.Mul(1 / axis.Len())
		side := vec.V2{X: -u.Y, Y: u.X}.Mul(k.Diameter / 2 * m.scale)
		body := []vec.V2{a.Add(side), b.Add(side), b.Sub(side), a.Sub(side)}
		p.fill(white, body)
		p.stroke(frameLine, nil, true, body)
		p.stroke(hairLine, []float64{2, 0.6, 0.4, 0.6}, false, []vec.V2{a.Sub(u.Mul(1.5)), b.Add(u.Mul(1.5))})
		if s != nil {
			s.lines(true, body)
			s.lines(false, []vec.V2{a, b})
		}
	}
}

func ringSample(s string) noteBlock {
	return sampleOf(s, func(p *page, y float64) {
		p.circle(frameLine, 3, y, 1.8)
		p.line(hairLine, 2, y, 4, y)
		p.line(hairLine, 3, y-1, 3, y+1)
	})
}

// bedNotes is the legend of the bed and the list of its keys.
func (in *Input) bedNotes() *notes {
	b := in.Plan.Block
	n := &notes{needed: true}
	n.add(lineSample(cutLine, nil, "the line: clay ends here, sharp against the master"))
	if len(in.channelLines(1)) > 0 {
		n.add(lineSample(frameLine, []float64{2, 0.8}, "cup and channels: bed the formers here"))
	}
	if in.Surface != nil && len(in.Surface.Z) > 0 {
		n.add(sampleOf("height of the clay over the board there, mm; a dot marks the place", func(p *page, y float64) {
			p.fill(black, disc(0.6, y, 0.4))
			p.print(label, 7.2, 1.8, y+0.9, left, "19.4")
		}))
	}
	if len(in.pads()) > 0 {
		n.add(sampleOf("pad under the master, with its number and its height over the board, mm", func(p *page, y float64) {
			p.stroke(frameLine, nil, true, []vec.V2{{X: 3, Y: y - 2}, {X: 5.6, Y: y + 2}, {X: 0.4, Y: y + 2}})
			p.fill(black, disc(3, y+0.7, 0.4))
		}))
	}
	if len(b.Keys) > 0 {
		n.add(ringSample("key, with its number"))
	}
	in.insertNote(n)
	if len(b.Keys) > 0 {
		n.add(noteHead("Keys"))
		n.add(note("mm; places from the left edge and from the cup edge"))
	}
	for i, k := range b.Keys {
		do, deep := "pit", "deep"
		if k.Depth > 0 {
			do, deep = "bump", "high"
		}
		n.add(entry("key "+grouped(float64(i+1), 0), keyWords(b, k, do, deep), false))
	}
	return n
}

func keyWords(b *plan.Block, k plan.Key, do, deep string) []string {
	return []string{
		strong(do) + ", " + trimmed(k.Diameter) + nb + "wide, " + trimmed(math.Abs(k.Depth)) + nb + deep,
		"left " + Built(k.At[0]+b.Size[0]/2) + ", cup edge " + Built(b.Size[1]/2-k.At[1]),
	}
}
