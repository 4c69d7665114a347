package sequence

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"time"

	"pourwright/internal/book/material"
	"pourwright/internal/book/pour"
	"pourwright/internal/book/readings"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/working/fit"
	"pourwright/internal/working/rig"
)

// Recording is a logger's recording of a pour of a plan's mould.
type Recording struct {
	Dir, Log   string // folder of the plan, file of the logger
	Unit, Time string // as readings.Options has them
	Step       float64
	Beads      []Bead
	DepthError float64 // mm, standard deviation; 0 takes UsualDepthError
	Changes    Changes // as the pour was really done; without Mould the log says it
	Keep       *Keep   // nil keeps nothing
	Room       int64   // bytes that may be used; 0 does not ask
	Before     func(Cost)
	Progress   func(stage string, done float64)
}

// Bead is the place of a thermocouple and its column in the log.
type Bead struct {
	Column string // a name of the header, or a number from 1
	At     vec.V3 // mm, block frame
}

// Keep says where a row of the workshop goes.
type Keep struct {
	Name string
	Date string // of the pour, 2006-01-02
	File string // empty: the user's folder of settings
}

// Cost is what a fit takes.
type Cost struct {
	Cell    float64 // mm
	Cells   int
	Bytes   int64
	Seconds float64 // of one pour, on a quiet machine
	Most    int     // pours
}

// UsualDepthError is how well the depth of a bead is known that was measured with
// a lens after the mould was cut there, mm; common practice, no source.
const UsualDepthError = 0.15

// Fitted is what a recording says.
type Fitted struct {
	*fit.Result
	Log       *readings.Log
	Setting   pour.Setting // of the pour; rubber and contact as they were before the fit
	Depth     float64      // mm, how well depths were taken as known
	MouldFrom string       // log, call or plan
	LogMould  *float64     // degC before the pour as the beads read it, nil where the log does not say
	LogSpread float64      // K between the warmest and the coldest bead then
	Lines     []rig.Line   // of the beads, in the order of the call
	Columns   []int
	Cell      float64 // mm
	GridError float64 // K
	Until     float64 // s after the pour to which it was computed
	Kept      *material.OwnRubber
	KeptIn    string // file
	NotKept   error  // why a row that was asked for was not kept
}

// What the fit takes as known beforehand. The instants of readings are uncertain
// by a third of a second, as metal takes about one to rise past the beads (common
// practice, no source). No pour is followed for longer than an hour.
const (
	fillJitter = 0.3
	mostUntil  = 3600.0
	mostBeads  = 32
	mostPours  = 15
)

// Bounds of the fit: conductivity of any filled rubber, coefficients from a thick
// coat of powder to perfect contact.
const (
	leastConductivity, topConductivity = 0.05, 2
	leastContact, topContact           = 50, 50000
)

// Thermocouple fits conductivity of the rubber and coefficient between metal and
// rubber of a plan's mould to a recording.
func Thermocouple(ctx context.Context, r Recording) (*Fitted, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	m, d, err := Folder(r.Dir)
	if err != nil {
		return nil, err
	}
	f := &Fitted{Setting: d.Setting, Depth: r.DepthError, MouldFrom: "plan"}
	r.Changes.apply(&f.Setting)
	var row *material.OwnRubber
	if r.Keep != nil { // before the work, so that it is not done in vain
		if row, f.KeptIn, err = r.row(f.Setting.Rubber); err != nil {
			return nil, err
		}
	}
	if f.Log, err = readings.Load(r.Log, readings.Options{Unit: r.Unit, Time: r.Time, Step: r.Step}); err != nil {
		return nil, err
	}
	p := fit.Problem{Jitter: fillJitter, MaxRuns: mostPours}
	if err := r.probes(f, &p); err != nil {
		return nil, err
	}
	r.mould(f)
	if f.Cell = rig.Cell(m, f.Setting.Thin); f.Setting.Cell != nil {
		f.Cell = *f.Setting.Cell
	}
	if err := r.computed(ctx, f, m, &p); err != nil {
		return nil, err
	}
	if row != nil {
		f.keep(ctx, row, r.Keep)
	}
	return f, nil
}

func (r *Recording) check() error {
	switch {
	case len(r.Beads) == 0:
		return fault.New(fault.Usage, "", "name each as --bead COLUMN=x,y,z, with x,y,z in mm on the templates", "no bead is named")
	case len(r.Beads) > mostBeads:
		return fault.New(fault.Usage, "", "name those nearest to the metal", "%d beads are more than %d", len(r.Beads), mostBeads)
	case !(r.DepthError >= 0 && r.DepthError <= 5):
		return fault.New(fault.Usage, "--depth-error", "give mm, as in 0.15", "a depth that is known to %g mm", r.DepthError)
	case r.Keep != nil && r.Keep.Date == "":
		return fault.New(fault.Usage, "--keep", "add the date of the pour, as in --date 2026-05-12", "a row that is kept needs the date of its pour")
	}
	if r.DepthError == 0 {
		r.DepthError = UsualDepthError
	}
	if r.Keep != nil {
		if _, err := time.Parse("2006-01-02", r.Keep.Date); err != nil {
			return fault.New(fault.Usage, "--date", "write year-month-day, as in 2026-05-12", "%.40q is no date", r.Keep.Date)
		}
	}
	return nil
}

// row makes the row that will be kept, without its values, and looks whether it
// can be.
func (r *Recording) row(rubber pour.Matter) (*material.OwnRubber, string, error) {
	k := r.Keep
	paths := material.OwnPaths("job.toml")
	file := k.File
	if file == "" {
		if len(paths) < 2 {
			return nil, "", fault.New(fault.Usage, "--keep", "name the file, as in --to materials.toml", "this system has no folder of settings")
		}
		file = paths[1]
	}
	own, err := material.LoadOwn(append([]string{file, filepath.Join(filepath.Dir(filepath.Clean(r.Dir)), material.OwnFile)}, paths...)...)
	if err != nil {
		return nil, "", err
	}
	row := material.OwnRubber{Name: k.Name, Base: rubber.Kind}
	for _, o := range own.Rows() {
		if o.Name == k.Name {
			return nil, "", fault.New(fault.Input, "--keep", "give the new row another name, or remove the old one by hand", "there is an own row %s already", k.Name)
		}
		if o.Name == rubber.Kind { // a rubber that was measured before: what is not measured again stays
			row.Base, row.Words = o.Base, o.Words
			row.Values = slices.Clone(o.Values)
		}
	}
	base, err := material.FindRubber(row.Base)
	if err != nil {
		return nil, "", fault.New(fault.Input, "", "put the file with that row in the present folder, or name it with --to", "the plan's rubber %s is in no table and in no file of own rows", rubber.Kind)
	}
	row.Values = append(row.Values, given(row.Values, "heat", rubber.Capacity, base.HeatCapacity.X, 1)...)
	row.Values = append(row.Values, given(row.Values, "density", rubber.Density, base.Density.X, 1e3)...)
	try := row
	if len(try.Values) == 0 {
		try.Values = []material.OwnValue{{Property: "conductivity", Value: 0.3, Date: k.Date}}
	}
	return &row, file, try.Check()
}

// given returns the value that the plan had in place of the table's: the fitted
// conductivity belongs to it.
func given(have []material.OwnValue, property string, x, table, factor float64) []material.OwnValue {
	if math.Abs(x-table) < 1e-6*table || slices.ContainsFunc(have, func(v material.OwnValue) bool { return v.Property == property }) {
		return nil
	}
	return []material.OwnValue{{Property: property, Value: x / factor, Low: x / factor, High: x / factor, Note: "as the job had it when the conductivity was fitted"}}
}

// probes takes the beads' columns from the log.
func (r *Recording) probes(f *Fitted, p *fit.Problem) error {
	for i, b := range r.Beads {
		c, err := f.Log.Find(b.Column)
		if err != nil {
			return err
		}
		if slices.Contains(f.Columns, c.Column) {
			return fault.New(fault.Usage, "--bead", "name a column once", "column %d, %.40q, is named for two beads", c.Column, c.Name)
		}
		f.Columns = append(f.Columns, c.Column)
		name := c.Name
		if slices.ContainsFunc(p.Probes, func(o fit.Probe) bool { return o.Name == name }) {
			name += " (column " + strconv.Itoa(c.Column) + ")"
		}
		p.Probes = append(p.Probes, fit.Probe{Name: name, Time: f.Log.Time, T: c.T, ShiftSD: r.DepthError,
			BiasSD: fit.TypeKBias, GainSD: fit.TypeKGain, DriftSD: fit.UsualDrift})
		f.Lines = append(f.Lines, rig.Line{Bead: rig.Bead{Name: name, At: r.Beads[i].At, Doubt: r.DepthError}})
	}
	first := math.Inf(1)
	for _, b := range p.Probes {
		if at, ok := fit.Rise(b.Time, b.T); ok {
			first = math.Min(first, at)
		}
	}
	if math.IsInf(first, 1) {
		return fault.New(fault.Input, f.Log.File, "check columns and plugs; log from a minute before the pour, with the beads 2 to 6 mm from the metal",
			"no bead rises by 3 K and out of its noise: the recording holds no pour")
	}
	f.LogMould, f.LogSpread = before(p.Probes, first)
	last := f.Log.Time[len(f.Log.Time)-1]
	f.Until = math.Min(1.1*(last-first)+30, mostUntil)
	if w := f.Setting.Wait; w != nil {
		f.Until = math.Min(f.Until, *w)
	}
	p.Times = rig.Times(f.Until)
	return nil
}

// Readings before the pour say how warm the mould is: those of a minute, but for
// the last seconds, in which the ladle may be over it already.
const (
	restFrom, restTo = 65.0, 5.0
	restLeast        = 5
)

// before returns the temperature at which the beads stand before the pour: the mean
// over them of the medians, nil where there are too few readings, and by how much
// these differ.
func before(list []fit.Probe, rise float64) (mean *float64, spread float64) {
	sum, n, lo, hi := 0.0, 0, math.Inf(1), math.Inf(-1)
	for _, b := range list {
		var x []float64
		for i, t := range b.Time {
			if t >= rise-restFrom && t < rise-restTo && !math.IsNaN(b.T[i]) {
				x = append(x, b.T[i])
			}
		}
		if len(x) < restLeast {
			continue
		}
		sort.Float64s(x)
		m := x[len(x)/2]
		sum, n, lo, hi = sum+m, n+1, math.Min(lo, m), math.Max(hi, m)
	}
	if n == 0 {
		return nil, 0
	}
	t := sum / float64(n)
	return &t, hi - lo
}

// mould sets the mould's temperature: that of the call, of the log, of the plan.
func (r *Recording) mould(f *Fitted) {
	switch {
	case r.Changes.Mould != nil:
		f.MouldFrom = "call"
	case f.LogMould != nil:
		f.MouldFrom, f.Setting.Mould = "log", *f.LogMould
	}
}

// computed runs the fit.
func (r *Recording) computed(ctx context.Context, f *Fitted, m *rig.Mould, p *fit.Problem) error {
	s := &f.Setting
	var list []rig.Bead
	for _, l := range f.Lines {
		list = append(list, l.Bead)
	}
	b, err := rig.NewBeads(ctx, m, *s, f.Cell, r.Room, list)
	if err != nil {
		return err
	}
	f.Lines = b.Lines
	c := 0
	for i, l := range b.Lines {
		for _, at := range l.Shift {
			p.Probes[i].Curves = append(p.Probes[i].Curves, fit.Curve{At: at, Index: c})
			c++
		}
	}
	if r.Before != nil {
		r.Before(Cost{f.Cell, b.Cells(), rig.Memory(m, f.Cell), rig.Seconds(m, s, f.Cell, f.Until), p.MaxRuns})
	}
	stage := ""
	say := func(done float64) {
		if r.Progress != nil {
			r.Progress(stage, done)
		}
	}
	k, h := s.Rubber.Conductivity, s.Contact
	p.Params = []fit.Param{
		{Name: "conductivity", Unit: "W/mK", Start: k, Low: min(leastConductivity, k/2), High: max(topConductivity, 2*k)},
		{Name: material.Interface, Unit: "W/m2K", Start: h, Low: min(leastContact, h/2), High: max(topContact, 2*h), Scale: fit.Inverse},
	}
	stage = "as planned"
	first, err := b.Pour(ctx, k, h, p.Times, say)
	if err != nil {
		return err
	}
	stage = "on coarser cells"
	if f.GridError, err = b.GridError(ctx, k, h, p.Times, first, say); err != nil {
		return err
	}
	if p.Slack = f.GridError; math.IsInf(p.Slack, 1) {
		return fault.New(fault.Input, "thermocouple", "take finer cells (--cell), or beads further from the metal",
			"cells of %.3g mm are too coarse to state an error at the beads", f.Cell)
	}
	p.Progress = func(run, of int) { stage = strconv.Itoa(run) + " of at most " + strconv.Itoa(of) }
	f.Result, err = fit.Fit(ctx, *p, func(ctx context.Context, v []float64) ([][]float64, error) {
		if v[0] == k && v[1] == h {
			return first, nil
		}
		return b.Pour(ctx, v[0], v[1], p.Times, say)
	})
	return err
}

// keep stores the row.
func (f *Fitted) keep(ctx context.Context, row *material.OwnRubber, k *Keep) {
	told, err := f.Own(row.Name, row.Base, k.Date, f.Log.File)
	if err == nil && ctx.Err() != nil {
		err = fault.New(fault.Interrupted, "thermocouple", "", "stopped; nothing was kept")
	}
	if err == nil {
		old := slices.DeleteFunc(row.Values, func(v material.OwnValue) bool {
			return slices.ContainsFunc(told.Values, func(n material.OwnValue) bool { return n.Property == v.Property })
		})
		told.Words, told.Values = row.Words, append(told.Values, old...)
		err = material.SaveOwn(f.KeptIn, told)
	}
	if err != nil {
		f.NotKept, f.KeptIn = err, ""
		return
	}
	f.Kept = &told
}
