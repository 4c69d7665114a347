package drawing

// column is one column of a table: its head, its width in mm and whether it
// stands on its right edge.
type column struct {
	head  string
	wide  float64
	right bool
}

// table sets rows with hairlines between them. Cells wrap; the head is set
// again where the table goes on on another sheet.
func (f *flow) table(cols []column, rows [][]string) { f.tableIn(sizeWords, cols, rows) }

const cellGap = 3

func (f *flow) tableIn(z size, cols []column, rows [][]string) {
	head := func() {
		x := f.x0
		for _, c := range cols {
			if c.right {
				f.s.print(label, sizeLabel.pt, x+c.wide-cellGap, f.y+3.4, right, c.head)
			} else {
				f.s.print(label, sizeLabel.pt, x, f.y+3.4, left, c.head)
			}
			x += c.wide
		}
		f.y += 5.2
		f.s.line(ruleLine, f.x0, f.y, f.x1, f.y)
	}
	f.room(5.2 + z.line + 2)
	head()
	for _, r := range rows {
		cells := make([][][]span, len(cols))
		h := 1
		for i := range cols {
			if i < len(r) {
				cells[i] = wrap(z.pt, cols[i].wide-cellGap, r[i])
			}
			h = max(h, len(cells[i]))
		}
		high := float64(h)*z.line + 1.7
		if f.room(high) {
			head()
		}
		x := f.x0
		for i, c := range cols {
			y := f.y + 0.76*z.line + 0.9
			for _, l := range cells[i] {
				lx := x
				if c.right {
					w := 0.0
					for _, s := range l {
						w += widthOf(spanHand(s), z.pt, s.s)
					}
					lx = x + c.wide - cellGap - w
				}
				f.s.putLine(words, wordsBold, z.pt, lx, y, l)
				y += z.line
			}
			x += c.wide
		}
		f.y += high
		f.s.line(hairLine, f.x0, f.y, f.x1, f.y)
	}
	f.y += 2
}

func spanHand(s span) hand {
	if s.strong {
		return wordsBold
	}
	return words
}
