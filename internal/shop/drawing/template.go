package drawing

import (
	"fmt"
	"math"

	"pourwright/internal/ground/fault"
)

// Templates returns the templates at full size as a PDF: both faces, the bed
// plan, mask, profile strips, wall strips, board, list of cuts and key plan. A
// plan without a block has none, and that is an error.
func Templates(in *Input) ([]byte, error) {
	pages, err := templatePages(in)
	if err != nil {
		return nil, err
	}
	return finish(in, "Templates", pages)
}

func templatePages(in *Input) ([]*sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	if in.Plan.Block == nil {
		return nil, fault.New(fault.Internal, "templates", "", "the plan has no block, so there is nothing to cut to size")
	}
	in.look()
	c := &card{in: in}
	c.stock, _ = stockOf(in.Paper)
	t := &tray{c: c}
	for half := range 2 {
		part := "Half " + grouped(float64(half+1), 0)
		how := "you look into the mould, this face up"
		if half == 1 {
			how = "mirrored, " + how
		}
		t.begin("Template, half "+grouped(float64(half+1), 0), part, how)
		t.beside(in.halfItem(half, t.wide(), t.high()), in.halfNotes(half))
	}
	t.begin("Template, bed", "Half 1", "seen from above, half 1 is cast over it")
	t.beside(in.bedItem(t.wide(), t.high()), in.bedNotes())
	t.begin("Mask and profile strips", "Half 1", "the true edge is the middle of the line")
	t.putAll(in.maskItems())
	t.putAll(in.stripItems())
	t.begin("Master with the line", "Half 1", "line full where it is seen, broken behind")
	t.putAll(in.viewItems())
	t.begin("Wall strips", "Both halves", "seen from inside the box")
	t.putAll(in.wallItems())
	t.begin("Board", "Both halves", "")
	t.put(in.boardItem(t.wide(), t.high()))
	c.feet()
	return c.pages, nil
}

// item is one drawing at full size, with its upper left corner at the origin.
type item struct {
	page
	name string
}

// Room kept free on a template sheet: a title above, a check bar below and one
// at the right.
const (
	titleHigh = 11
	barHigh   = 16
	barWide   = 22
	between   = 6 // mm between two drawings
)

// tray lays drawings on template sheets, in rows from left to right, and cuts
// those that are larger than a sheet into tiles.
type tray struct {
	c           *card
	title, part string
	how         string // in words, which way it is seen
	s           *sheet
	x, y, row   float64 // next free place, height of the row so far
}

// begin starts a new sheet with a title of its own.
func (t *tray) begin(title, part, how string) {
	t.title, t.part, t.how = title, part, how
	t.s = nil
}

func (t *tray) sheet() {
	s := t.c.sheet("Template", t.part)
	w := s.print(wordsBold, 16, s.x0, s.top+6, left, t.title)
	w += 3 + s.print(words, sizeWords.pt, s.x0+w+3, s.top+6, left, "full size, print at 100"+nb+"%")
	s.print(label, sizeLabel.pt, s.x0+w+3, s.top+6, left, cutTo(label, sizeLabel.pt, s.x1-s.x0-w-3, t.how))
	s.checkBars()
	t.s = s
	t.x, t.y, t.row = s.x0, s.top+titleHigh, 0
}

func (t *tray) wide() float64 { return t.c.stock.w - edgeLeft - edgeOther - 2*inset - barWide }

func (t *tray) high() float64 {
	return t.c.stock.h - 2*edgeOther - headBand - footBand - 4.5 - titleHigh - barHigh
}

func (t *tray) putAll(l []*item) {
	for _, i := range l {
		t.put(i)
	}
}

// put lays one drawing: beside the last, below it, or on a new sheet.
func (t *tray) put(i *item) {
	if i == nil {
		return
	}
	if i.w > t.wide() || i.h > t.high() {
		t.tiles(i)
		return
	}
	if t.s == nil {
		t.sheet()
	}
	bottom := t.s.top + titleHigh + t.high()
	if t.x > t.s.x0 && t.x+i.w > t.s.x0+t.wide() {
		t.x, t.y, t.row = t.s.x0, t.y+t.row+between, 0
	}
	if t.y+i.h > bottom {
		t.sheet()
	}
	t.s.ops = append(t.s.ops, clipped(&i.page, window{-50, -50, i.w + 50, i.h + 50}, t.x, t.y)...)
	t.x += i.w + between
	t.row = max(t.row, i.h)
}

// beside lays a drawing and its notes: at its right where they find room
// there, else below it or on a sheet of their own.
func (t *tray) beside(i *item, n *notes) {
	t.put(i)
	bottom := t.c.stock.h - edgeOther - footBand - 1.5 - barHigh
	if t.s != nil && i.w <= t.wide() && i.h <= t.high() {
		if w := min(t.s.x0+t.wide()-t.x, notesWide); w >= notesLeast {
			if l := n.items(w, math.Inf(1)); len(l) == 1 && t.y+l[0].h <= bottom {
				t.put(l[0])
				return
			}
		}
	}
	// two columns below, three where two do not hold it
	w := (t.wide() - between) / 2
	room := t.high()
	if t.s != nil && i.h <= t.high() {
		if r := bottom - t.y - t.row - between; r > 40 {
			room = r
		}
	}
	l := n.items(w, room)
	if w3 := (t.wide() - 2*between) / 3; len(l) > 2 && w3 >= notesLeast {
		if m := n.items(w3, room); len(m) <= 3 {
			l = m
		}
	}
	if !n.needed && (i.h > t.high() || i.w > t.wide() || len(l) > 3 || l[0].h > bottom-t.y-t.row-between) {
		return // the same stands on the sheet before
	}
	t.putAll(l)
}

// tiles cuts a drawing that is larger than a sheet: each tile shows 5 mm more
// than its share on the inner sides, so that two overlap by 10 mm. Crop marks
// stand 3 mm outside at the joints, a letter at each side of a joint. Small
// tiles share a sheet.
func (t *tray) tiles(i *item) {
	const crop, head = tileCrop, tileHead / 2
	nx, ny := tilesFor(i.w, t.wide(), 0), tilesFor(i.h, t.high(), tileHead)
	g := &grid{nx: nx, ny: ny, cw: i.w / float64(nx), ch: i.h / float64(ny), over: tileOver}
	g.settle(&i.page)
	for r := range ny {
		for c := range nx {
			cell, win := g.cell(r, c), g.window(r, c)
			p := &item{name: i.name}
			p.w = win.x1 - win.x0 + 2*crop
			text := fmt.Sprintf("%s: tile %d of %d, row %d, column %d; cut at the crop marks, lay edge to edge", i.name, r*nx+c+1, nx*ny, r+1, c+1)
			lines := wrapIn(label, labelBold, sizeLabel.pt, max(p.w, 30), text)
			top := head + sizeLabel.line*float64(len(lines)-1)
			p.h = win.y1 - win.y0 + 2*crop + top
			for k, l := range lines {
				p.putLine(label, labelBold, sizeLabel.pt, 0, 3+sizeLabel.line*float64(k), l)
			}
			dx, dy := crop-win.x0, crop+top-win.y0
			p.ops = append(p.ops, clipped(&i.page, win, dx, dy)...)
			p.crops(cell, win, dx, dy)
			g.joints(&p.page, &i.page, dx, dy, r, c)
			t.put(p)
		}
	}
}

// crops draws the marks at the four corners of a cell, outside the window.
func (p *page) crops(cell, win window, dx, dy float64) {
	for _, x := range [2]float64{cell.x0, cell.x1} {
		p.line(hairLine, x+dx, win.y0+dy-8, x+dx, win.y0+dy-3)
		p.line(hairLine, x+dx, win.y1+dy+3, x+dx, win.y1+dy+8)
	}
	for _, y := range [2]float64{cell.y0, cell.y1} {
		p.line(hairLine, win.x0+dx-8, y+dy, win.x0+dx-3, y+dy)
		p.line(hairLine, win.x1+dx+3, y+dy, win.x1+dx+8, y+dy)
	}
}

// barLength is the length of the check bars, mm, from tick middle to tick
// middle.
const barLength = 100

// checkBars draws the two bars at right angles: across below, down at the
// right.
func (s *sheet) checkBars() {
	y := s.bottom - 10.5
	x := s.x0 + 12
	s.bar(x, y, false)
	s.print(label, sizeLabel.pt, x+barLength/2, y-2, middle, "100"+nb+"mm across: lay a steel rule on it")
	xd := s.x1 - 11
	yd := s.top + titleHigh + 22
	s.bar(xd, yd, true)
	s.upright(label, sizeLabel.pt, xd+6.5, yd+barLength/2, "100"+nb+"mm down: lay a steel rule on it")
}

// bar draws one check bar from (x, y): a line with ticks each 5 mm, long at 0,
// 50 and 100.
func (p *page) bar(x, y float64, down bool) {
	at := func(u, v float64) (float64, float64) {
		if down {
			return x - v, y + u
		}
		return x + u, y + v
	}
	seg := func(u0, v0, u1, v1 float64) {
		a, b := at(u0, v0)
		c, d := at(u1, v1)
		p.line(ruleLine, a, b, c, d)
	}
	seg(0, 0, barLength, 0)
	for k := 0; k <= 20; k++ {
		long := 2.0
		if k%10 == 0 {
			long = 4
		}
		seg(float64(k)*5, 0, float64(k)*5, long)
		if k%10 == 0 {
			tx, ty := at(float64(k)*5, long)
			if down {
				p.print(label, sizeLabel.pt, tx-0.8, ty+1, right, grouped(float64(k)*5, 0))
			} else {
				p.print(label, sizeLabel.pt, tx, ty+3.2, middle, grouped(float64(k)*5, 0))
			}
		}
	}
}
