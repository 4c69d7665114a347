package readings

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"pourwright/internal/ground/fault"
)

// Log is what a logger wrote, in order.
type Log struct {
	File     string    // base name
	Start    string    // date and clock of the first reading as 2006-01-02 15:04:05, empty where the log has no date
	Time     []float64 // s from the first reading, strictly rising
	Channels []Channel
	Notes    []Note
}

// Channel is one column of temperatures.
type Channel struct {
	Name    string // of the header, without the unit; T1, T2 .. where there is none
	Unit    string // as the file has it: C, F or K
	Column  int    // counted from 1
	T       []float64
	Missing int // rows without a reading
	Open    int // rows with the reading of an open circuit
}

// Note is one thing that was mended, left out or guessed.
type Note struct {
	Line  int // the first line it concerns, 0 for the whole file
	Count int // rows or cells
	Text  string
}

// Options overrule what the file does not say.
type Options struct {
	Unit string  // C, F or K of channels whose header names no unit
	Time string  // s, ms, min, h or day for a column of plain numbers; hh:mm or mm:ss for a clock of two parts
	Step float64 // s between rows of a log that has no times at all
}

// MaxSize is the largest file that is read, bytes.
const MaxSize = 16 << 20

const (
	leastRows  = 10
	maxColumns = 256
	coldest    = -60.0 // degC; outside these a reading is that of an open circuit
	hottest    = 900.0
)

// Load reads the log of a file.
func Load(path string, o Options) (*Log, error) {
	f, err := os.Open(path)
	if err != nil {
		hint := "check the name and the folder"
		if errors.Is(err, os.ErrPermission) {
			hint = "make the file readable"
		}
		return nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot open the log", Hint: hint, Cause: err}
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxSize+1))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot read the log", Hint: "name a CSV file, not a folder", Cause: err}
	}
	return Parse(path, data, o)
}

// Parse reads the bytes of a log; file is its name in messages. Errors are of
// kind Input and carry file:line:column where there is one.
func Parse(file string, data []byte, o Options) (*Log, error) {
	r := &reader{file: file, o: o}
	steps := []func() error{r.options, func() error { return r.decode(data) }, r.separate, r.pickTime, r.pickChannels, r.order}
	for _, step := range steps {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return &r.log, nil
}

// reader holds what is known so far.
type reader struct {
	file  string
	o     Options
	lines []string
	rows  []row // the lines that hold readings, in the file's order
	head  []string
	width int
	sep   byte
	kinds []kind
	time  timing
	sec   []float64    // of each row, raw
	used  map[int]bool // columns that are part of the time
	log   Log
}

// row is one line cut into cells.
type row struct {
	line  int // from 1
	cells []cell
}

// column returns where cell j begins, 0 where the row has none.
func (w row) column(j int) int {
	if j < 0 || j >= len(w.cells) {
		return 0
	}
	return w.cells[j].col
}

// cell is a field without the space and quotes round it.
type cell struct {
	text string
	col  int // in characters from 1
}

func (r *reader) fail(line, col int, hint, format string, args ...any) error {
	place := r.file
	if line > 0 {
		place = fmt.Sprintf("%s:%d", place, line)
		if col > 0 {
			place = fmt.Sprintf("%s:%d", place, col)
		}
	}
	return fault.New(fault.Input, place, hint, format, args...)
}

func (r *reader) note(line, count int, format string, args ...any) {
	r.log.Notes = append(r.log.Notes, Note{line, count, fmt.Sprintf(format, args...)})
}

func (r *reader) options() error {
	r.log.File = filepath.Base(r.file)
	bad := func(what, got, want string) error {
		return fault.New(fault.Usage, "", "one of "+want, "%s cannot be %.20q", what, got)
	}
	switch r.o.Unit {
	case "", "C", "F", "K":
	default:
		return bad("the unit of a log", r.o.Unit, "C, F, K")
	}
	switch r.o.Time {
	case "", "s", "ms", "min", "h", "day", "hh:mm", "mm:ss":
	default:
		return bad("the time of a log", r.o.Time, "s, ms, min, h, day, hh:mm, mm:ss")
	}
	if !(r.o.Step >= 0) || math.IsInf(r.o.Step, 0) {
		return fault.New(fault.Usage, "", "give the seconds between two rows", "the step of a log is %g s", r.o.Step)
	}
	return nil
}

// Find returns the channel of that name, or of that column where name is a
// number.
func (l *Log) Find(name string) (*Channel, error) {
	var names []string
	for i := range l.Channels {
		c := &l.Channels[i]
		if c.Name == name || strconv.Itoa(c.Column) == name {
			return c, nil
		}
		names = append(names, c.Name)
	}
	hint := "it has: " + strings.Join(names, ", ")
	if n := fault.Nearest(name, names); n != "" {
		hint = "nearest: " + n
	}
	return nil, fault.New(fault.Input, l.File, hint, "the log has no channel %.40q", name)
}
