package photo

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/outline"
)

// Drawn is what an outline file holds: outlines with the holes in them, each
// with its own height or 0 for that of the piece.
type Drawn []Part

// Part is one outline of a file.
type Part struct {
	Outline outline.Shape // mm, the outer loop counter-clockwise, holes clockwise
	Height  float64       // mm, 0: not said
}

// The limits of an outline file.
const (
	maxText   = 4 << 20
	maxPoints = 50_000
	maxParts  = 16
	farthest  = 1000.0 // mm
)

// WriteOutline writes an outline as text, head as comments before it.
func WriteOutline(w io.Writer, s outline.Shape, head ...string) error {
	var b bytes.Buffer
	for _, h := range head {
		fmt.Fprintf(&b, "# %s\n", strings.Map(func(r rune) rune {
			if r < ' ' {
				return ' '
			}
			return r
		}, h))
	}
	b.WriteString("# x y, mm, one point a line. Move, add or delete points and read the file again.\n")
	b.WriteString("# \"outline\" begins an outline, \"outline height 2.5\" one with a height of its own, \"hole\" a hole in the last outline.\n")
	loops := slices.Clone(s)
	// Each outer loop with the holes in it.
	for _, o := range loops {
		if o.Area() <= 0 {
			continue
		}
		write := func(word string, l outline.Loop) {
			fmt.Fprintln(&b, word)
			for _, p := range l {
				fmt.Fprintf(&b, "%.3f %.3f\n", p.X+0, p.Y+0)
			}
		}
		write("outline", o)
		for _, h := range loops {
			if h.Area() < 0 && o.Winding(h[0]) > 0 {
				write("hole", h)
			}
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// ReadOutline reads an outline file.
func ReadOutline(path string) (Drawn, []byte, error) {
	f, err := os.Open(path)
	if err != nil {
		hint := "check the name and the folder"
		if errors.Is(err, fs.ErrPermission) {
			hint = "make the file readable"
		}
		return nil, nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot open the outline", Hint: hint, Cause: err}
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxText+1))
	if err != nil {
		return nil, nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot read the outline", Hint: "name a text file, not a folder", Cause: err}
	}
	d, err := ParseOutline(data, path)
	return d, data, err
}

// ParseOutline reads the bytes of an outline file; path is its name in
// messages. Errors carry file:line.
func ParseOutline(data []byte, path string) (Drawn, error) {
	if len(data) > maxText {
		return nil, fault.New(fault.Input, path, "name an outline file", "the file is over 4 MiB, too long for an outline")
	}
	var out Drawn
	var loop outline.Loop
	began, points := 0, 0 // line of the current loop's word
	hole := false
	bad := func(n int, hint, format string, args ...any) error {
		return fault.New(fault.Input, fmt.Sprintf("%s:%d", path, n), hint, format, args...)
	}
	end := func() error {
		if began == 0 {
			return nil
		}
		var l outline.Loop
		for _, p := range loop {
			if len(l) == 0 || p != l[len(l)-1] {
				l = append(l, p)
			}
		}
		if len(l) > 1 && l[0] == l[len(l)-1] {
			l = l[:len(l)-1]
		}
		if len(l) < 3 || math.Abs(l.Area()) < 1e-3 {
			return bad(began, "give at least three points that enclose an area", "this loop encloses nothing")
		}
		if hole != (l.Area() < 0) {
			l = l.Reversed()
		}
		p := &out[len(out)-1]
		if hole && p.Outline[0].Winding(l[0]) == 0 {
			return bad(began, "a hole stands below the outline it lies in", "this hole lies outside its outline")
		}
		p.Outline = append(p.Outline, l)
		loop = loop[:0]
		return nil
	}
	n := 0
	for text := range strings.SplitSeq(strings.TrimPrefix(string(data), "\ufeff"), "\n") {
		n++
		text, _, _ = strings.Cut(text, "#")
		f := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\t' || r == ',' || r == ';' || r == '\r' })
		if len(f) == 0 {
			continue
		}
		switch word := strings.ToLower(f[0]); word {
		case "outline", "hole":
			if err := end(); err != nil {
				return nil, err
			}
			began, hole = n, word == "hole"
			if hole {
				if len(out) == 0 || len(f) > 1 {
					return nil, bad(n, "write hole alone on a line, below the outline it lies in", "this hole belongs to no outline")
				}
				continue
			}
			var p Part
			switch {
			case len(f) == 1:
			case len(f) == 3 && strings.ToLower(f[1]) == "height":
				h, ok := finite(f[2])
				if !ok || !(h > 0) || h > Thickest {
					return nil, bad(n, fmt.Sprintf("give more than 0 and at most %g mm", Thickest), "%.40q is no height", f[2])
				}
				p.Height = h
			default:
				return nil, bad(n, "write outline, or outline height 2.5", "this line is not understood")
			}
			if len(out) == maxParts {
				return nil, bad(n, "leave out what is not cast", "there are more than %d outlines", maxParts)
			}
			out = append(out, p)
		default:
			x, ok := finite(f[0])
			if len(f) != 2 || !ok {
				return nil, bad(n, "write two numbers, x and y in mm", "this line is no point")
			}
			y, ok := finite(f[1])
			if !ok {
				return nil, bad(n, "write two numbers, x and y in mm", "this line is no point")
			}
			if math.Abs(x) > farthest || math.Abs(y) > farthest {
				return nil, bad(n, "points are in mm", "the point %g, %g lies more than a metre away", x, y)
			}
			if began == 0 { // a list of points alone is one outline
				began = n
				out = append(out, Part{})
			}
			if points++; points > maxPoints {
				return nil, bad(n, "leave out points", "there are more than %d points", maxPoints)
			}
			loop = append(loop, vec.V2{X: x, Y: y})
		}
	}
	if err := end(); err != nil {
		return nil, err
	}
	if len(out) == 0 {
		return nil, fault.New(fault.Input, path, "write one point a line, x and y in mm", "the outline file holds no point")
	}
	return out, nil
}

func finite(s string) (float64, bool) {
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil && !math.IsNaN(x) && !math.IsInf(x, 0)
}
