package material

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"pourwright/internal/ground/fault"
)

// ParseOwn reads the bytes of a file of own rows; file is its name in messages.
//
//	[[rubber]]
//	name = "red-30-may"
//	base = "condensation-heat-30"
//	[rubber.conductivity]
//	value = 0.31
//	low = 0.29
//	high = 0.33
//	unit = "W/mK"
//	date = "2026-05-12"
//	log = "pour-7.csv"
func ParseOwn(file string, data []byte) ([]OwnRubber, error) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	tree := map[string]any{}
	if err := toml.Unmarshal(data, &tree); err != nil {
		place := file
		var de *toml.DecodeError
		if errors.As(err, &de) {
			line, col := de.Position()
			place = fmt.Sprintf("%s:%d:%d", file, line, col)
		}
		return nil, &fault.Error{Kind: fault.Input, Place: place, Text: "not a file of own rows: " + strings.TrimPrefix(err.Error(), "toml: "),
			Hint: "own rows are TOML: [[rubber]], then key = value, text in quotes", Cause: err}
	}
	p := &ownParser{file: file, data: data, at: map[string]int{}}
	p.locate()
	rows := p.rows(tree)
	if p.err != nil {
		return nil, p.err
	}
	return rows, nil
}

// ownParser keeps the first error.
type ownParser struct {
	file string
	data []byte
	at   map[string]int // 0.conductivity.low to its offset
	err  error
}

// locate notes where the keys of each row stand.
func (p *ownParser) locate() {
	var parser unstable.Parser
	parser.Reset(p.data)
	row, prefix := -1, ""
	for parser.NextExpression() {
		e := parser.Expression()
		if e.Kind != unstable.Table && e.Kind != unstable.ArrayTable && e.Kind != unstable.KeyValue {
			continue
		}
		var parts []string
		off := 0
		for it := e.Key(); it.Next(); {
			parts = append(parts, string(it.Node().Data))
			off = int(it.Node().Raw.Offset)
		}
		path := clipped(strings.Join(parts, "."))
		switch e.Kind {
		case unstable.ArrayTable, unstable.Table:
			rest, ours := strings.CutPrefix(path, "rubber")
			prefix = path
			if ours && e.Kind == unstable.ArrayTable && rest == "" {
				row++
			}
			if ours && row >= 0 {
				prefix = strconv.Itoa(row) + rest
			}
			p.at[prefix] = off
		default:
			if prefix != "" {
				path = prefix + "." + path
			}
			p.at[path] = off
		}
	}
}

func (p *ownParser) fail(path, hint, format string, args ...any) {
	if p.err != nil {
		return
	}
	place := p.file
	for path != "" {
		if off, ok := p.at[path]; ok {
			start := bytes.LastIndexByte(p.data[:off], '\n') + 1
			place = fmt.Sprintf("%s:%d:%d", p.file, 1+bytes.Count(p.data[:off], []byte("\n")), 1+utf8.RuneCount(p.data[start:off]))
			break
		}
		path = path[:max(0, strings.LastIndexByte(path, '.'))]
	}
	p.err = fault.New(fault.Input, place, hint, format, args...)
}

func keysOf(m map[string]any) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// rows turns the tree into checked rows.
func (p *ownParser) rows(tree map[string]any) []OwnRubber {
	for _, k := range keysOf(tree) {
		if k != "rubber" {
			p.fail(clipped(k), "own rows begin with [[rubber]]", "unknown key %s", clipped(k))
		}
	}
	list, ok := tree["rubber"].([]any)
	if !ok && tree["rubber"] != nil {
		p.fail("rubber", "write [[rubber]] with two brackets for each row", "rubber is not a list of rows")
	}
	var out []OwnRubber
	for i, x := range list {
		at := strconv.Itoa(i)
		m, ok := x.(map[string]any)
		if !ok {
			p.fail(at, "write [[rubber]] and its keys below it", "row %d is not a table", i+1)
			continue
		}
		r := p.row(at, m)
		if key, say, hint := r.wrong(); say != "" {
			p.fail(strings.TrimSuffix(at+"."+key, "."), hint, "%s", say)
		}
		for _, o := range out {
			if o.Name == r.Name {
				p.fail(at+".name", "give one of them another name", "the row %s stands twice", r.Name)
			}
		}
		out = append(out, r)
	}
	return out
}

func (p *ownParser) row(at string, m map[string]any) OwnRubber {
	var r OwnRubber
	for _, k := range keysOf(m) {
		path := at + "." + clipped(k)
		switch k {
		case "name":
			r.Name = p.text(path, m[k])
		case "base":
			r.Base = p.text(path, m[k])
		case "words":
			r.Words = p.text(path, m[k])
		default:
			v, ok := m[k].(map[string]any)
			if !ok {
				p.fail(path, "a measured value is a table: [rubber."+clipped(k)+"] value = ...", "unknown key %s", clipped(k))
				continue
			}
			r.Values = append(r.Values, p.value(path, k, v))
		}
	}
	// in the order of the file
	sort.SliceStable(r.Values, func(i, j int) bool {
		return p.at[at+"."+clipped(r.Values[i].Property)] < p.at[at+"."+clipped(r.Values[j].Property)]
	})
	return r
}

func (p *ownParser) value(at, property string, m map[string]any) OwnValue {
	w := OwnValue{Property: property}
	known := []string{"value", "low", "high", "unit", "level", "source", "date", "log", "note"}
	for _, k := range keysOf(m) {
		path := at + "." + clipped(k)
		switch k {
		case "value":
			w.Value = p.number(path, m[k])
		case "low":
			w.Low = p.number(path, m[k])
		case "high":
			w.High = p.number(path, m[k])
		case "level":
			w.Level = p.number(path, m[k])
		case "unit":
			if unit, _, _, ok := ownUnit(property); ok && p.text(path, m[k]) != unit {
				p.fail(path, "turn the value into "+unit, "%s is kept in %s", property, unit)
			}
		case "source":
			p.text(path, m[k])
		case "date":
			if d, ok := m[k].(toml.LocalDate); ok {
				w.Date = d.String()
			} else {
				w.Date = p.text(path, m[k])
			}
		case "log":
			w.Log = p.text(path, m[k])
		case "note":
			w.Note = p.text(path, m[k])
		default:
			hint := "known here: " + strings.Join(known, ", ")
			if n := fault.Nearest(k, known); n != "" {
				hint = "nearest: " + n
			}
			p.fail(path, hint, "unknown key %s", clipped(k))
		}
	}
	if _, ok := m["value"]; !ok {
		p.fail(at, "add value = ... in the unit of the table", "%s has no value", clipped(property))
	}
	return w
}

func (p *ownParser) text(path string, x any) string {
	s, ok := x.(string)
	if !ok || len(s) > 1000 || strings.ContainsFunc(s, func(r rune) bool { return r < ' ' && r != '\t' }) {
		p.fail(path, "write one line of text in quotes", "this is not a short text")
		return ""
	}
	return s
}

func (p *ownParser) number(path string, x any) float64 {
	switch n := x.(type) {
	case float64:
		return n
	case int64:
		return float64(n)
	}
	p.fail(path, "write a number with a decimal point", "this is not a number")
	return 0
}

// SaveOwn adds a row to a file of own rows, which need not be there yet. What
// stands in the file stays as it is, byte for byte; a row of the same name is an
// error. The file is written aside and takes its place by one rename.
func SaveOwn(path string, row OwnRubber) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if err := row.Check(); err != nil {
		return err
	}
	old, err := readOwn(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	list, err := ParseOwn(path, old)
	if err != nil {
		return err
	}
	for _, r := range list {
		if r.Name == row.Name {
			return fault.New(fault.Input, path, "give the new row another name, or remove the old one by hand", "there is a row %s", row.Name)
		}
	}
	text := append(append([]byte(nil), old...), row.toml(len(old) == 0)...)
	if bytes.Contains(old, []byte("\r\n")) {
		text = append(append([]byte(nil), old...), strings.ReplaceAll(row.toml(false), "\n", "\r\n")...)
	}
	if again, err := ParseOwn(path, text); err != nil || len(again) != len(list)+1 {
		return fault.New(fault.Input, path, "move the rows into a file of their own", "a row cannot be added at the end of this file")
	}
	return writeAside(path, old, text)
}

// toml writes the row as a person would.
func (r OwnRubber) toml(first bool) string {
	var b strings.Builder
	if first {
		b.WriteString("# Rows of this workshop. A job names one under [rubber] kind. Rows are added at the\n# end; nothing else here is changed by the program.\n")
	}
	q := func(key, s string) {
		if s != "" {
			fmt.Fprintf(&b, "%s = %s\n", key, quote(s))
		}
	}
	b.WriteString("\n[[rubber]]\n")
	q("name", r.Name)
	q("base", r.Base)
	q("words", r.Words)
	for _, w := range r.Values {
		unit, _, _, _ := ownUnit(w.Property)
		fmt.Fprintf(&b, "[rubber.%s]\nvalue = %s\n", w.Property, digits(w.Value))
		for _, l := range []struct {
			key string
			x   float64
		}{{"low", w.Low}, {"high", w.High}} {
			if l.x != 0 {
				fmt.Fprintf(&b, "%s = %s\n", l.key, digits(l.x))
			}
		}
		q("unit", unit)
		if w.Level != 0 {
			fmt.Fprintf(&b, "level = %s\n", digits(w.Level))
		}
		q("source", "own measurement")
		q("date", w.Date)
		q("log", w.Log)
		q("note", w.Note)
	}
	return b.String()
}

// digits writes a number with four digits, as a TOML float.
func digits(x float64) string {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'e', 3, 64), 64)
	s := strconv.FormatFloat(x, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

// quote writes a basic string of TOML.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// writeAside puts text in the place of old by one rename; a file that changed
// meanwhile is left alone.
func writeAside(path string, old, text []byte) error {
	wrong := func(err error) error {
		return &fault.Error{Kind: fault.Input, Place: path, Text: "cannot write the workshop's own rows", Hint: "name a folder you may write into", Cause: err}
	}
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return wrong(err)
	}
	mode := os.FileMode(0o644)
	if info, err := os.Stat(path); err == nil {
		mode = info.Mode().Perm()
	}
	f, err := os.CreateTemp(dir, ".materials-*")
	if err != nil {
		return wrong(err)
	}
	defer os.Remove(f.Name())
	_, err = f.Write(text)
	err = errors.Join(err, f.Chmod(mode), f.Sync())
	if err = errors.Join(err, f.Close()); err != nil {
		return wrong(err)
	}
	now, err := readOwn(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) || !bytes.Equal(now, old) {
		return fault.New(fault.Input, path, "try again", "the file changed while the row was added")
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return wrong(err)
	}
	return nil
}
