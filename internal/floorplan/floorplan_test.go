// Package floorplan holds no code: its test compares the rooms' imports with
// the table in docs/architecture.md.
package floorplan

import (
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const module = "pourwright"

// below lists the groups that each group may import, beside itself.
var below = map[string][]string{
	"front":   {"working", "book", "ground"},
	"working": {"shop", "mould", "physics", "shape", "book", "ground"},
	"shop":    {"mould", "shape", "book", "ground"},
	"mould":   {"shape", "book", "ground"},
	"physics": {"shape", "ground"},
	"shape":   {"ground"},
	"book":    {"ground"},
	"ground":  {},
}

func root(t *testing.T) string {
	dir, err := os.Getwd()
	for err == nil {
		if _, e := os.Stat(filepath.Join(dir, "go.mod")); e == nil {
			return dir
		}
		if dir == filepath.Dir(dir) {
			break
		}
		dir = filepath.Dir(dir)
	}
	t.Fatal("no go.mod above the test")
	return ""
}

// table reads the import table of docs/architecture.md.
func table(t *testing.T) map[string][]string {
	data, err := os.ReadFile(filepath.Join(root(t), "docs", "architecture.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, text, found := strings.Cut(string(data), "## The import table")
	if !found {
		t.Fatal("docs/architecture.md has no import table")
	}
	rooms := map[string][]string{}
	for line := range strings.Lines(text) {
		cell := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		room := strings.TrimSpace(cell[0])
		if len(cell) != 3 || room == "room" || strings.HasPrefix(room, "-") {
			continue
		}
		if _, twice := rooms[room]; twice {
			t.Errorf("%s stands twice in the table", room)
		}
		rooms[room] = strings.Fields(cell[2])
		if strings.TrimSpace(cell[1]) == "" {
			t.Errorf("the table does not say what %s answers", room)
		}
	}
	return rooms
}

// real asks the go command for the rooms and their imports.
func real(t *testing.T) map[string][]string {
	c := exec.Command("go", "list", "-f", "{{.ImportPath}}{{range .Imports}} {{.}}{{end}}{{if not .GoFiles}} none{{end}}", "./internal/...")
	c.Dir = root(t)
	out, err := c.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	rooms := map[string][]string{}
	const inside = module + "/internal/"
	for line := range strings.Lines(string(out)) {
		f := strings.Fields(line)
		room := strings.TrimPrefix(f[0], inside)
		if f[len(f)-1] == "none" {
			continue // tests only
		}
		list := []string{}
		for _, p := range f[1:] {
			if r, ours := strings.CutPrefix(p, inside); ours {
				list = append(list, r)
			} else if strings.HasPrefix(p, module+"/") {
				t.Errorf("%s imports %s, which is above the rooms", room, p)
			}
		}
		rooms[room] = list
	}
	return rooms
}

func TestTableIsTrue(t *testing.T) {
	said, is := table(t), real(t)
	for room, list := range is {
		want, known := said[room]
		if !known {
			t.Errorf("%s is not in the table of docs/architecture.md", room)
			continue
		}
		slices.Sort(list)
		slices.Sort(want)
		if !slices.Equal(list, want) {
			t.Errorf("%s imports %v; the table says %v", room, list, want)
		}
	}
	for room := range said {
		if _, there := is[room]; !there {
			t.Errorf("%s stands in the table but is not there", room)
		}
	}
}

func TestArrowsGoDown(t *testing.T) {
	rooms := real(t)
	between := map[string]bool{} // group-internal arrows
	for room, list := range rooms {
		g := path.Dir(room)
		may, known := below[g]
		if !known {
			t.Errorf("%s is in no known group", room)
			continue
		}
		for _, o := range list {
			switch og := path.Dir(o); {
			case og == g:
				between[room+" "+o] = true
				if between[o+" "+room] {
					t.Errorf("%s and %s depend on each other", room, o)
				}
			case !slices.Contains(may, og):
				t.Errorf("%s imports %s: not downward", room, o)
			}
		}
	}
}

func TestNoRoomIsNamedAfterAStandardPackage(t *testing.T) {
	out, err := exec.Command("go", "list", "std").Output()
	if err != nil {
		t.Fatalf("go list std: %v", err)
	}
	std := map[string]bool{}
	for _, p := range strings.Fields(string(out)) {
		std[path.Base(p)] = true
	}
	for room := range real(t) {
		if n := path.Base(room); std[n] {
			t.Errorf("%s has the name of a standard package", room)
		}
	}
}

func TestEveryRoomSaysWhatItAnswers(t *testing.T) {
	c := exec.Command("go", "list", "-f", "{{.ImportPath}}\t{{.Doc}}\t{{len .GoFiles}}", "./internal/...", "./cmd/...")
	c.Dir = root(t)
	out, err := c.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	for line := range strings.Lines(string(out)) {
		if f := strings.Split(strings.TrimSpace(line), "\t"); len(f) == 3 && f[1] == "" && f[2] != "0" {
			t.Errorf("%s has no package comment", f[0])
		}
	}
}
