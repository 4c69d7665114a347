package command

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/working/rig"
	"pourwright/internal/working/sequence"
)

type thermocouple struct {
	Dir  string   `arg:"" name:"DIR" help:"Folder of the plan whose mould was poured."`
	Log  string   `arg:"" name:"LOG.csv" help:"What the logger wrote."`
	Bead []string `sep:"none" placeholder:"COLUMN=X,Y,Z" help:"Column of the log and place of its bead, once for each bead: mm from the middle of the block, x to the right on the template of half 2, y up to the cup, z towards half 1."`

	DepthError *float64 `placeholder:"MM" help:"How well the depth of a bead is known (standard deviation), 0.15 mm if not given."`
	Unit       string   `placeholder:"C|F|K" help:"Unit of channels whose header names none."`
	Time       string   `placeholder:"FORM" help:"Form of the times where the log does not say: s, ms, min, h, day, hh:mm or mm:ss."`
	Step       float64  `placeholder:"S" help:"Seconds between rows of a log without times."`

	Metal *float64       `placeholder:"C" help:"Metal temperature when poured, C."`
	Mould *float64       `placeholder:"C" help:"Mould temperature before the pour, C, instead of what the beads read then."`
	Room  *float64       `placeholder:"C" help:"Room temperature, C."`
	Wait  *time.Duration `placeholder:"TIME" help:"Time from pour to opening, as in 8m30s; without it the mould stayed shut as long as the log goes."`
	Cell  *float64       `placeholder:"MM" help:"Edge of a cell, mm."`

	Keep string `placeholder:"NAME" help:"Keep the values as the workshop's own row of this name."`
	Date string `placeholder:"YYYY-MM-DD" help:"Date of the pour, with --keep."`
	To   string `placeholder:"FILE" help:"File of own rows, instead of the one in the folder of settings."`
	JSON bool   `name:"json" help:"Print JSON."`
}

// Run fits a recorded pour.
func (v thermocouple) Run(c *call) error {
	r, err := v.recording()
	if err != nil {
		return err
	}
	bar := newProgress(c.err, "")
	r.Room = rig.Free()
	r.Progress = bar.part
	r.Before = func(x sequence.Cost) {
		bar.end()
		fmt.Fprintf(c.err, "Each pour is computed on %.2g million cells of %.3g mm and takes about %s on a quiet machine, with about %d MB; it takes %d pours at most, and 7 to 11 as a rule.\n",
			float64(x.Cells)/1e6, x.Cell, clock(math.Max(x.Seconds, 0.1)), (x.Bytes+1<<19)>>20, x.Most)
	}
	f, err := sequence.Thermocouple(c.ctx, *r)
	bar.end()
	if err != nil {
		return err
	}
	if v.JSON {
		err = jsonFitted(c.out, f)
	} else {
		for _, n := range f.Log.Notes {
			fmt.Fprintln(c.err, "note: "+n.String())
		}
		_, err = io.WriteString(c.out, tellFitted(r, f))
	}
	if err != nil {
		return err
	}
	return f.NotKept
}

// recording turns flags into what is asked for.
func (v thermocouple) recording() (*sequence.Recording, error) {
	r := &sequence.Recording{Dir: file(v.Dir), Log: file(v.Log), Unit: v.Unit, Time: v.Time, Step: v.Step,
		Changes: sequence.Changes{Metal: v.Metal, Mould: v.Mould, Room: v.Room, Cell: v.Cell}}
	if v.DepthError != nil {
		if r.DepthError = *v.DepthError; !(r.DepthError > 0) {
			return nil, fault.New(fault.Usage, "--depth-error", "give mm, as in 0.15", "no depth is known to %g mm", r.DepthError)
		}
	}
	if v.Wait != nil {
		s := v.Wait.Seconds()
		if s < 1 {
			return nil, fault.New(fault.Usage, "--wait", "give a time such as 4m30s", "the mould was opened %v after the pour", *v.Wait)
		}
		r.Changes.Wait = &s
	}
	for _, b := range v.Bead {
		column, at, found := cutLast(b, "=")
		if !found || column == "" {
			return nil, fault.New(fault.Usage, "--bead", "write COLUMN=x,y,z, as in --bead T1=0,12.5,-8", "%.60q names no column and place", b)
		}
		p, err := parsePlace("--bead", at)
		if err != nil {
			return nil, err
		}
		r.Beads = append(r.Beads, sequence.Bead{Column: file(column), At: p})
	}
	if v.Keep != "" {
		r.Keep = &sequence.Keep{Name: v.Keep, Date: v.Date, File: file(v.To)}
	} else if v.Date != "" || v.To != "" {
		return nil, fault.New(fault.Usage, "--keep", "name the row, as in --keep red-30-may", "--date and --to say how a row is kept, but none is")
	}
	return r, nil
}

func cutLast(s, sep string) (before, after string, found bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return strings.TrimSpace(s[:i]), s[i+len(sep):], true
}

// parsePlace reads x,y,z in mm.
func parsePlace(flag, s string) (vec.V3, error) {
	var p [3]float64
	parts := strings.Split(s, ",")
	ok := len(parts) == 3
	for i := range p {
		if ok {
			var err error
			p[i], err = strconv.ParseFloat(strings.TrimSpace(parts[i]), 64)
			ok = err == nil && !math.IsNaN(p[i]) && !math.IsInf(p[i], 0)
		}
	}
	if !ok {
		return vec.V3{}, fault.New(fault.Usage, flag, "three numbers with points and commas between, as in 0,12.5,-8", "%.60q is no place x,y,z", s)
	}
	return vec.FromArray(p), nil
}

// unequal is from how many K on beads that should agree are spoken of: twice what two
// probes of class 1 may differ by.
const unequal = 6

// tellFitted says what a recording says.
func tellFitted(r *sequence.Recording, f *sequence.Fitted) string {
	var b strings.Builder
	say := func(format string, x ...any) { fmt.Fprintf(&b, format+"\n", x...) }
	start := f.Start[0].Value
	say("%s: the pour begins about %.0f s into the log and is followed for %s at most.", f.Log.File, start, clock(f.Until))
	s := &f.Setting
	mould := map[string]string{"log": "as the beads read before the pour", "call": "as given", "plan": "as planned, for the log has no minute before the pour"}[f.MouldFrom]
	metal := "as planned"
	if r.Changes.Metal != nil {
		metal = "as given"
	}
	shut := "the mould shut all the while (--wait says when it was opened)"
	if s.Wait != nil {
		shut = "the mould opened after " + clock(*s.Wait)
	}
	say("Taken as known: metal of %.4g °C, %s; mould of %.1f °C, %s; room of %.4g °C; depths within %.2g mm; %s.", s.Metal, metal, s.Mould, mould, s.Room, f.Depth, shut)
	if t := f.LogMould; t != nil && f.MouldFrom == "call" && math.Abs(*t-s.Mould) > 3 {
		say("The beads read %.1f °C before the pour, not %.1f.", *t, s.Mould)
	}
	if f.LogSpread > unequal {
		say("Before the pour the beads differ by %.1f K: let the mould rest until it is of one temperature, and compare the probes in one cup of water.", f.LogSpread)
	}
	say("%d pours were computed; on cells of %.3g mm temperatures at the beads are right to about %.1f K.", f.Runs, f.Cell, f.GridError)
	say("")
	if !f.Usable() {
		say("None of this can be used; the reason stands below.")
	}
	for i := range f.Params {
		say("%s", sentence(f, i))
	}
	say("")
	for i, p := range f.Probes {
		l := f.Lines[i]
		if !p.Used {
			say("Bead %s, %.1f mm from the metal: left out.", p.Name, l.Depth)
			continue
		}
		say("Bead %s, %.1f mm from the metal: follows the computed pour within %.2f K; reads as if %.2f mm %s, and %.1f K too %s.", p.Name, l.Depth, p.RMS,
			math.Abs(p.Shift.Value), word(p.Shift.Value < 0, "nearer to the metal", "further away"), math.Abs(p.Bias.Value), word(p.Bias.Value < 0, "cold", "warm"))
	}
	for _, x := range f.Findings {
		lead := "  "
		if x.Severity != "must" && (x.Code == "one-sided" || x.Code == "not-told") { // those stand above
			lead = "To tell it better: "
		} else {
			say("%s: %s", x.Severity, x.Say)
		}
		if x.Do != "" {
			say("%s%s", lead, x.Do)
		}
	}
	say("The conductivity belongs to the heat capacity of %.4g J/kgK that the plan has: the log tells their ratio far better than either.", s.Rubber.Capacity)
	if r.Changes.Metal == nil {
		say("The metal's temperature is that of the plan; where it was measured in the pot, fit again with --metal.")
	}
	if k := f.Kept; k != nil {
		say("Kept as the row %s in %s. In a job: [rubber] kind = %q", k.Name, f.KeptIn, k.Name)
	} else if r.Keep == nil && f.Usable() {
		say("Nothing is kept; --keep NAME --date YYYY-MM-DD keeps it as a row of the workshop.")
	}
	return b.String()
}

// sentence says what the log tells of one of the two values.
func sentence(f *sequence.Fitted, i int) string {
	e := f.Params[i]
	name, was := "Conductivity of the rubber", f.Setting.Rubber.Conductivity
	if i == 1 {
		name, was = "Coefficient between metal and rubber", f.Setting.Contact
	}
	level := fmt.Sprintf("%.0f %%", 100*f.Level)
	value, low, high := three(e.Value)+" "+e.Unit, three(e.Low), three(e.High)
	switch {
	case e.LowOpen && e.HighOpen:
		return fmt.Sprintf("%s: the log does not tell it. The plan has %s.", name, three(was))
	case e.HighOpen:
		return fmt.Sprintf("%s: at least %s %s (limit of %s); above that the log does not tell, %s fits best. The plan has %s.", name, low, e.Unit, level, three(e.Value), three(was))
	case e.LowOpen:
		return fmt.Sprintf("%s: at most %s %s (limit of %s); below that the log does not tell, %s fits best. The plan has %s.", name, high, e.Unit, level, three(e.Value), three(was))
	case !e.Told:
		return fmt.Sprintf("%s: %s, but it may be anything from %s to %s (limits of %s): too wide to be used. The plan has %s.", name, value, low, high, level, three(was))
	}
	return fmt.Sprintf("%s: %s, between %s and %s (limits of %s). The plan has %s.", name, value, low, high, level, three(was))
}

// three writes a number with three digits.
func three(x float64) string {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 2, 64), 64)
	if err != nil {
		return fmt.Sprint(x)
	}
	return strconv.FormatFloat(y, 'f', -1, 64)
}

func word(c bool, yes, no string) string {
	if c {
		return yes
	}
	return no
}

// fitted is what --json prints.
type fitted struct {
	Schema    string         `json:"schema"`
	Log       string         `json:"log"`
	Setting   pour.Setting   `json:"setting"`
	MouldFrom string         `json:"mould_from"`
	Depth     float64        `json:"depth_error"`
	Cell      float64        `json:"cell"`
	GridError float64        `json:"grid_error"`
	Until     float64        `json:"until"`
	Runs      int            `json:"runs"`
	Converged bool           `json:"converged"`
	Level     float64        `json:"level"`
	Params    []fittedValue  `json:"values"`
	Start     fittedValue    `json:"start"`
	Relation  *float64       `json:"correlation"` // of the two values
	White     *float64       `json:"noise_white"`
	Slow      *float64       `json:"noise_slow"`
	Memory    *float64       `json:"noise_memory"`
	Beads     []fittedBead   `json:"beads"`
	Findings  []fittedSaying `json:"findings"`
	Notes     []string       `json:"notes"`
	Kept      *string        `json:"kept"` // name of the row
}

type fittedValue struct {
	Name  string   `json:"name"`
	Unit  string   `json:"unit"`
	Value float64  `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"` // null where the log sets no limit
	Told  bool     `json:"told"`
}

type fittedBead struct {
	Name   string     `json:"name"`
	Column int        `json:"column"`
	At     [3]float64 `json:"at"`
	Depth  float64    `json:"depth"`
	Used   bool       `json:"used"`
	Points int        `json:"points"`
	Spikes int        `json:"spikes"`
	Shift  float64    `json:"shift"`
	Bias   float64    `json:"bias"`
	Gain   float64    `json:"gain"`
	Drift  float64    `json:"drift"`
	RMS    float64    `json:"rms"`
}

type fittedSaying struct {
	Code     string `json:"code"`
	Severity string `json:"severity"`
	Say      string `json:"say"`
	Do       string `json:"do"`
}

func jsonFitted(w io.Writer, f *sequence.Fitted) error {
	d := fitted{Schema: "pourwright/thermocouple/1", Log: f.Log.File, Setting: f.Setting, MouldFrom: f.MouldFrom, Depth: f.Depth, Cell: f.Cell,
		GridError: f.GridError, Until: f.Until, Runs: f.Runs, Converged: f.Converged, Level: f.Level, Relation: plan.Known(f.Correlation[1][0]),
		White: plan.Known(f.Noise.White), Slow: plan.Known(f.Noise.Slow), Memory: plan.Known(f.Noise.Memory), Findings: []fittedSaying{}, Notes: []string{}}
	for _, e := range append(f.Params[:2:2], f.Start[0]) {
		v := fittedValue{Name: e.Name, Unit: e.Unit, Value: e.Value, Told: e.Told}
		if !e.LowOpen {
			v.Low = plan.Known(e.Low)
		}
		if !e.HighOpen {
			v.High = plan.Known(e.High)
		}
		d.Params = append(d.Params, v)
	}
	d.Params, d.Start = d.Params[:2], d.Params[2]
	for i, p := range f.Probes {
		d.Beads = append(d.Beads, fittedBead{p.Name, f.Columns[i], f.Lines[i].At.Array(), f.Lines[i].Depth, p.Used, p.Points, p.Spikes,
			p.Shift.Value, p.Bias.Value, p.Gain.Value, p.Drift.Value, p.RMS})
	}
	for _, x := range f.Findings {
		d.Findings = append(d.Findings, fittedSaying{x.Code, x.Severity, x.Say, x.Do})
	}
	for _, n := range f.Log.Notes {
		d.Notes = append(d.Notes, n.String())
	}
	if f.Kept != nil {
		d.Kept = &f.Kept.Name
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(d)
}
