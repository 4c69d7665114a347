package photo

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/outline"
)

func TestOutlineComesBack(t *testing.T) {
	s := outline.Shape{
		{{X: -20, Y: -10}, {X: 20, Y: -10}, {X: 20.1234, Y: 10}, {X: -20, Y: 10}},
		{{X: -5, Y: -5}, {X: -5, Y: 5}, {X: 5, Y: 5}, {X: 5, Y: -5}},
	}
	var b bytes.Buffer
	if err := WriteOutline(&b, s, "of a picture\nnot a point"); err != nil {
		t.Fatal(err)
	}
	d, err := ParseOutline(b.Bytes(), "o.txt")
	if err != nil || len(d) != 1 || len(d[0].Outline) != 2 {
		t.Fatalf("%v %v\n%s", d, err, b.String())
	}
	if a := d[0].Outline.Area(); math.Abs(a-s.Area()) > 0.05 {
		t.Errorf("area %g, was %g", a, s.Area())
	}
}

func TestOutlineByHand(t *testing.T) {
	d, err := ParseOutline([]byte("0,0\r\n0;10 # corner\n10 10\n10\t0\n\noutline height 2.5\n2 2\n4 2\n4 4\n"), "o.txt")
	if err != nil || len(d) != 2 || d[1].Height != 2.5 || d[0].Outline.Area() != 100 {
		t.Fatal(d, err)
	}
}

func TestOutlineRefused(t *testing.T) {
	for text, line := range map[string]string{
		"":                    "o.txt",
		"# nothing\n":         "o.txt",
		"1 2\n3 x\n":          ":2",
		"1 2 3\n":             ":1",
		"1 2\n3 4\n":          ":1",
		"hole\n1 2\n":         ":1",
		"outline height -1\n": ":1",
		"outline depth 2\n":   ":1",
		"1 1\n5000 1\n":       ":2",
		"NaN 1\n":             ":1",
		"0 0\n9 0\n9 9\nhole\n20 20\n21 20\n21 21\n":   ":4",
		strings.Repeat("outline\n0 0\n1 0\n0 1\n", 17): ":65",
	} {
		_, err := ParseOutline([]byte(text), "o.txt")
		if fault.KindOf(err) != fault.Input || !strings.Contains(err.Error(), line) || fault.HintOf(err) == "" {
			t.Errorf("%.40q: %v", text, err)
		}
	}
}

func FuzzParseOutline(f *testing.F) {
	f.Add([]byte("outline\n0 0\n10 0\n10 10\nhole\n2 2\n4 2\n4 4\n"))
	f.Add([]byte("0,0\n1e3,-4\n.5;7 #x\noutline height 3\n1 1\n2 2\n3 1"))
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := ParseOutline(b, "x")
		if err != nil {
			if fault.KindOf(err) != fault.Input {
				t.Error(err)
			}
			return
		}
		for _, p := range d {
			if len(p.Outline) == 0 || p.Outline[0].Area() <= 0 {
				t.Error("an outline without an inside")
			}
			var w bytes.Buffer
			WriteOutline(&w, p.Outline)
		}
	})
}
