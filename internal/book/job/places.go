package job

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2/unstable"
)

// places finds the line and column of every key of a document. Keys are paths
// as master.mesh or insert[1].kind.
type places struct {
	file  string
	lines []int // offset of the start of each line
	data  []byte
	at    map[string]int // path to offset
	count map[string]int // entries of an array of tables so far
}

// locate walks the document, which must already have parsed.
func locate(file string, data []byte) *places {
	p := &places{file: file, data: data, lines: []int{0}, at: map[string]int{}, count: map[string]int{}}
	for i, c := range data {
		if c == '\n' {
			p.lines = append(p.lines, i+1)
		}
	}
	var parser unstable.Parser
	parser.Reset(data)
	prefix := ""
	for parser.NextExpression() {
		e := parser.Expression()
		switch e.Kind {
		case unstable.Table:
			prefix = p.keys("", e.Key())
		case unstable.ArrayTable:
			prefix = p.keys("", e.Key())
			n := p.count[prefix]
			p.count[prefix]++
			off, ok := p.at[prefix]
			prefix += "[" + strconv.Itoa(n) + "]"
			if ok {
				p.at[prefix] = off
			}
		case unstable.KeyValue:
			p.value(p.keys(prefix, e.Key()), e.Value())
		}
	}
	return p
}

// keys notes each part of a dotted key below prefix and returns the whole path.
func (p *places) keys(prefix string, it unstable.Iterator) string {
	for depth := 0; it.Next(); depth++ {
		if depth >= maxDepth {
			continue
		}
		n := it.Node()
		if prefix != "" {
			if c := p.count[prefix]; c > 0 { // a table inside the latest entry of an array of tables
				prefix += "[" + strconv.Itoa(c-1) + "]"
			}
			prefix += "."
		}
		prefix += clip(string(n.Data))
		if _, ok := p.at[prefix]; !ok || it.IsLast() {
			p.at[prefix] = int(n.Raw.Offset)
		}
	}
	return prefix
}

// maxDepth and maxKey bound what is noted of a key: no key of a job has more
// than three parts, and a hostile file must not make long paths.
const (
	maxDepth = 6
	maxKey   = 60
)

// clip shortens a key that is too long to be one.
func clip(key string) string {
	if len(key) <= maxKey {
		return key
	}
	return strings.ToValidUTF8(key[:maxKey], "") + "..."
}

// value notes the keys inside inline tables, also in arrays.
func (p *places) value(path string, v *unstable.Node) {
	if len(path) > 4*maxDepth*maxKey {
		return
	}
	switch v.Kind {
	case unstable.InlineTable:
		it := v.Children()
		for it.Next() {
			kv := it.Node()
			if kv.Kind != unstable.KeyValue {
				continue
			}
			p.value(p.keys(path, kv.Key()), kv.Value())
		}
	case unstable.Array:
		it := v.Children()
		for i := 0; it.Next(); i++ {
			if k := it.Node().Kind; k == unstable.InlineTable || k == unstable.Array {
				p.value(path+"["+strconv.Itoa(i)+"]", it.Node())
			}
		}
	}
}

// place returns file:line:column of a path, or of the nearest part of it that
// stands in the file, or the file alone.
func (p *places) place(path string) string {
	for path != "" {
		if off, ok := p.at[path]; ok {
			line := sort.SearchInts(p.lines, off+1)
			start := p.lines[line-1]
			return fmt.Sprintf("%s:%d:%d", p.file, line, 1+utf8.RuneCount(p.data[start:off]))
		}
		path = parent(path)
	}
	return p.file
}

// parent drops the last part of a path.
func parent(path string) string {
	for i := len(path) - 1; i >= 0; i-- {
		if path[i] == '.' || path[i] == '[' {
			return path[:i]
		}
	}
	return ""
}
