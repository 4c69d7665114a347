package material

import (
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"pourwright/internal/ground/fault"
)

// OwnRubber is a row that a workshop measured itself: a row of the table with
// values of its own in place.
type OwnRubber struct {
	Name   string // small letters, digits and dashes; no name of the table
	Base   string // the row of the table that all other values come from
	Words  string
	Values []OwnValue
}

// OwnValue is one measured value, in the table's unit.
type OwnValue struct {
	Property  string // as Limits knows it, or Interface
	Value     float64
	Low, High float64 // limits; 0 where the measurement sets none
	Level     float64 // of the limits, 0.95; 0 where the file does not say
	Date      string  // 2006-01-02
	Log       string  // file name of the recording
	Note      string
}

// Interface is the property of the coefficient between metal and rubber, W/m2K.
// The table has no row for it: it belongs to the workshop's powder and metal.
const Interface = "interface"

const (
	leastInterface = 10.0
	topInterface   = 1e6
)

// OwnFile is the name of the file with a workshop's own rows.
const OwnFile = "materials.toml"

// OwnSource is the source code of values that the workshop measured.
const OwnSource = "OWN"

// MaxOwn is the largest file of own rows that is read, bytes.
const MaxOwn = 1 << 20

// OwnPaths returns where own rows are looked for, the first to win: beside the
// job file (or in the present folder where there is none) and in the user's
// folder of settings.
func OwnPaths(jobFile string) []string {
	list := []string{filepath.Join(filepath.Dir(jobFile), OwnFile)}
	if dir, err := os.UserConfigDir(); err == nil {
		list = append(list, filepath.Join(dir, "pourwright", OwnFile))
	}
	return list
}

// Own holds a workshop's own rows. A nil Own holds none.
type Own struct{ rubbers []OwnRubber }

// LoadOwn reads the files that are there; of two rows of one name the one in the
// earlier file counts. Errors carry file:line:column.
func LoadOwn(paths ...string) (*Own, error) {
	o := &Own{}
	for _, p := range paths {
		data, err := readOwn(p)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		list, err := ParseOwn(p, data)
		if err != nil {
			return nil, err
		}
		for _, r := range list {
			if _, twice := o.find(r.Name); !twice {
				o.rubbers = append(o.rubbers, r)
			}
		}
	}
	return o, nil
}

// readOwn reads a file; one that is not there gives fs.ErrNotExist.
func readOwn(path string) ([]byte, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	wrong := func(err error) error {
		return &fault.Error{Kind: fault.Input, Place: path, Text: "cannot read the workshop's own rows", Hint: "make it a readable file, or remove it", Cause: err}
	}
	if err != nil {
		return nil, wrong(err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxOwn+1))
	if err != nil {
		return nil, wrong(err)
	}
	if len(data) > MaxOwn {
		return nil, fault.New(fault.Input, path, "keep only own rows in it", "this file is over 1 MiB, too long for own rows")
	}
	return data, nil
}

func (o *Own) find(name string) (OwnRubber, bool) {
	if o != nil {
		for _, r := range o.rubbers {
			if r.Name == name {
				return r, true
			}
		}
	}
	return OwnRubber{}, false
}

// Rows returns the own rows in the order of the files.
func (o *Own) Rows() []OwnRubber {
	if o == nil {
		return nil
	}
	out := make([]OwnRubber, 0, len(o.rubbers))
	for _, r := range o.rubbers {
		r.Values = append([]OwnValue(nil), r.Values...)
		out = append(out, r)
	}
	return out
}

// FindRubber returns the row of that name, own or of the table.
func (o *Own) FindRubber(name string) (Rubber, error) {
	if r, ok := o.find(name); ok {
		return r.Rubber()
	}
	if o == nil || len(o.rubbers) == 0 {
		return FindRubber(name)
	}
	var names []string
	for _, r := range o.rubbers {
		names = append(names, r.Name)
	}
	for _, r := range tables().rubbers {
		if r.Name == name {
			return r, nil
		}
		names = append(names, r.Name)
	}
	return Rubber{}, unknown("rubber", name, names)
}

// Interface returns the measured coefficient between metal and the rubber of an
// own row, W/(m2 K); ok is false where nobody measured it.
func (o *Own) Interface(name string) (v Value, ok bool) {
	r, _ := o.find(name)
	for _, w := range r.Values {
		if w.Property == Interface {
			return w.value(1, leastInterface, topInterface), true
		}
	}
	return Value{}, false
}

// Rubber returns the row of the table with the own values in place.
func (r OwnRubber) Rubber() (Rubber, error) {
	out, err := FindRubber(r.Base)
	if err != nil {
		return Rubber{}, err
	}
	out.Name = r.Name
	if r.Words != "" {
		out.Words = r.Words
	}
	for _, w := range r.Values {
		for _, p := range rubberProperties {
			if p.name == w.Property {
				*p.field(&out) = w.value(p.factor, p.least, p.top)
			}
		}
	}
	return out, nil
}

// value turns an own value into one of a row. Where the measurement sets no
// limit, the range ends where no such material lies.
func (w OwnValue) value(factor, least, top float64) Value {
	lo, hi := w.Low, w.High
	if lo == 0 {
		lo = min(least, w.Value)
	}
	if hi == 0 {
		hi = max(top, w.Value)
	}
	words := []string{"own measurement"}
	for _, s := range []string{w.Date, w.Log, w.Note} {
		if s != "" {
			words = append(words, s)
		}
	}
	return Value{X: w.Value * factor, Low: lo * factor, High: hi * factor, Grade: "S", Source: OwnSource, Note: strings.Join(words, ", ")}
}

// ownUnit returns unit and bounds of a property of an own row.
func ownUnit(property string) (unit string, least, top float64, ok bool) {
	if property == Interface {
		return "W/m2K", leastInterface, topInterface, true
	}
	return limits(property, rubberProperties)
}

var (
	ownName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,59}$`)
	ownDate = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)
)

// Check reports what would keep SaveOwn from taking the row.
func (r OwnRubber) Check() error {
	if _, say, hint := r.wrong(); say != "" {
		return fault.New(fault.Input, "", hint, "%s", say)
	}
	return nil
}

// wrong says what is wrong with a row and at which key: "" for the row itself.
func (r OwnRubber) wrong() (key, say, hint string) {
	if !ownName.MatchString(r.Name) {
		return "name", "the name of an own row is small letters, digits and dashes, up to 60", "as in red-30-may"
	}
	for _, t := range tables().rubbers {
		if t.Name == r.Name {
			return "name", "the table has a row " + r.Name, "give the own row another name, so that jobs say which they mean"
		}
	}
	if _, err := FindRubber(r.Base); err != nil {
		return "base", err.Error(), fault.HintOf(err)
	}
	if len(r.Values) == 0 {
		return "", "the row holds no value of its own", "add one, as in [rubber.conductivity] value = 0.31"
	}
	for i, w := range r.Values {
		if say, hint := w.wrong(); say != "" {
			return w.Property, say, hint
		}
		for _, v := range r.Values[:i] {
			if v.Property == w.Property {
				return w.Property, w.Property + " stands twice", "keep one"
			}
		}
	}
	return "", "", ""
}

func (w OwnValue) wrong() (say, hint string) {
	unit, least, top, ok := ownUnit(w.Property)
	if !ok {
		names := []string{Interface}
		for _, p := range rubberProperties {
			names = append(names, p.name)
		}
		hint = "known: " + strings.Join(names, ", ")
		if n := fault.Nearest(w.Property, names); n != "" {
			hint = "nearest: " + n
		}
		return "no property " + clipped(w.Property), hint
	}
	number := func(x float64) bool { return !math.IsNaN(x) && x >= least && x <= top }
	switch {
	case !number(w.Value):
		return w.Property + " is outside what any such rubber has", "measure again and mind the unit, " + unit
	case w.Low != 0 && (math.IsNaN(w.Low) || w.Low < 0 || w.Low > w.Value), w.High != 0 && (math.IsNaN(w.High) || math.IsInf(w.High, 0) || w.High < w.Value):
		return "the limits of " + w.Property + " do not hold its value", "write low <= value <= high, or leave a limit out where there is none"
	case !(w.Level >= 0) || w.Level >= 1:
		return "the level of " + w.Property + " is no share", "write 0.95"
	case w.Date != "" && !ownDate.MatchString(w.Date):
		return "the date of " + w.Property + " is not of the form 2026-05-31", "write year-month-day"
	}
	return "", ""
}

func clipped(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "..."
	}
	return s
}
