package readings

import (
	"strings"
	"unicode/utf8"
)

// cut parts a line at a separator; ' ' stands for runs of spaces and tabs.
// Quotes hold a field together; a doubled quote inside is one quote.
func cut(line string, sep byte, out []cell) []cell {
	out = out[:0]
	col, i := 1, 0
	advance := func(to int) {
		col += utf8.RuneCountInString(line[i:to])
		i = to
	}
	blank := func(c byte) bool { return c == ' ' || c == '\t' && sep != '\t' }
	for {
		j := i
		for j < len(line) && blank(line[j]) {
			j++
		}
		if sep == ' ' && j >= len(line) {
			return out
		}
		advance(j)
		at := col
		if i < len(line) && line[i] == '"' {
			if text, end, ok := quoted(line, i+1); ok {
				out = append(out, cell{text, at})
				advance(end)
				for i < len(line) && blank(line[i]) && sep != ' ' {
					advance(i + 1)
				}
				if i >= len(line) {
					return out
				}
				if line[i] == sep || sep == ' ' {
					if sep != ' ' {
						advance(i + 1)
					}
					continue
				}
			}
		}
		j = i
		for j < len(line) && line[j] != sep && !(sep == ' ' && line[j] == '\t') {
			j++
		}
		out = append(out, cell{strings.TrimSpace(line[i:j]), at})
		advance(j)
		if i >= len(line) {
			return out
		}
		advance(i + 1)
	}
}

// quoted returns the text up to the closing quote and the place behind it.
func quoted(line string, i int) (text string, end int, ok bool) {
	from := i
	doubled := false
	for ; i < len(line); i++ {
		if line[i] != '"' {
			continue
		}
		if i+1 < len(line) && line[i+1] == '"' {
			doubled = true
			i++
			continue
		}
		text = line[from:i]
		if doubled {
			text = strings.ReplaceAll(text, `""`, `"`)
		}
		return strings.TrimSpace(text), i + 1, true
	}
	return "", 0, false
}

// separators in the order in which ties are decided.
const separators = "\t;|, "

// separate finds the separator and the lines that hold readings: the one under
// which most lines fall into the same number of cells that are all numbers,
// times or missing readings.
func (r *reader) separate() error {
	first := 0
	order := separators
	if low := strings.ToLower(strings.Trim(strings.TrimSpace(r.lines[0]), `"`)); strings.HasPrefix(low, "sep=") && len(low) == 5 {
		first, order = 1, low[4:5]
	}
	var sample []int
	step := max(1, len(r.lines)/500)
	for i := first; i < len(r.lines); i += step {
		if s := r.lines[i]; len(s) < 1<<14 && !comment(s) {
			sample = append(sample, i)
		}
	}
	best, width, sep := 0.0, 0, byte(0)
	for k := range len(order) {
		if score, w := r.score(sample, order[k]); score > best*1.0001 {
			best, width, sep = score, w, order[k]
		}
	}
	if best == 0 {
		return r.fail(0, 0, "a log needs a column of times and one of temperatures, parted by commas, semicolons or tabs",
			"no rows of readings found")
	}
	if width > maxColumns {
		return r.fail(0, 0, "export the channels of the pour alone", "%d columns, more than %d", width, maxColumns)
	}
	r.width = width
	r.sep = sep
	r.gather(first, sep)
	return nil
}

// score returns how well a separator parts the sampled lines, and the number
// of cells that most of them then have.
func (r *reader) score(sample []int, sep byte) (float64, int) {
	share := map[int]float64{}
	var cells []cell
	best, width := 0.0, 0
	for _, i := range sample {
		cells = cut(r.lines[i], sep, cells)
		n, good, numbers := len(cells), 0, 0
		for _, c := range cells {
			switch kindOf(c.text) {
			case number:
				numbers++
				good++
			case clock, date, dateClock:
				good++
			case blank:
				good++
			}
		}
		if n < 2 && !(r.o.Step > 0 && n == 1) || numbers == 0 {
			continue
		}
		share[n] += float64(good) / float64(n)
		if s := share[n]; s > best || s == best && n < width {
			best, width = s, n
		}
	}
	return best, width
}

// comment reports whether a line is empty or marked as a remark.
func comment(s string) bool {
	s = strings.TrimSpace(s)
	if s == "" {
		return true
	}
	if s[0] == '#' {
		return !strings.HasPrefix(strings.ToUpper(s), "#N") // #N/A opens a row of missing readings
	}
	return s[0] == '%' || s[0] == '!' || strings.HasPrefix(s, "//") || strings.Trim(s, "-=*_;,\t ") == ""
}

// gather cuts all lines and parts those that may hold readings from the lines
// above the first of them, of which the nearest are the header.
func (r *reader) gather(first int, sep byte) {
	for i := first; i < len(r.lines); i++ {
		s := r.lines[i]
		if comment(s) {
			continue
		}
		cells := cut(s, sep, nil)
		for len(cells) > r.width && cells[len(cells)-1].text == "" {
			cells = cells[:len(cells)-1]
		}
		r.rows = append(r.rows, row{i + 1, cells})
	}
}
