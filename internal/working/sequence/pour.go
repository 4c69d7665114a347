package sequence

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shop/drawing"
	"pourwright/internal/working/judge"
	"pourwright/internal/working/rig"
)

// pour computes the pour and puts it in place of the estimates. Without
// Setting.Pour only pour.json is written, with what it would be computed from. The
// solids are taken in the order in which Pour takes them from their files, so that
// it gives the same.
func (t *trace) pour() error {
	if t.layout == nil || t.lump != nil { // no shape to pour into
		return nil
	}
	p := t.plan
	s := rig.SettingOf(t.job, rig.Ask{
		Metal: p.Metal.PourTemperature, Mould: p.Metal.MouldTemperature, Shots: whole(p.Order.Shots), Moulds: p.Cycle.Moulds,
		BoardName: t.layout.Clamps.BoardName, BoardThick: t.layout.Clamps.BoardSize.Z, Fan: t.job.Bench.Fan, Thin: t.asked().Thinnest, Fill: !t.set.NoFill,
	})
	t.poured = &rig.Result{Doc: pour.Empty(s)}
	// A pour that the figures already refuse is not computed.
	if !t.set.Pour || !s.Flows() || t.refused() {
		return nil
	}
	m := rig.NewMould(t.plan, mesh.Canonical(t.solids.Cavity), mesh.Canonical(t.solids.Half1))
	o := t.set.Solver
	o.Progress = t.current.part
	r, err := rig.Pour(t.current.ctx, m, s, o)
	if err != nil {
		return err
	}
	t.poured = r
	t.tellPour()
	return nil
}

func whole(n *int) int {
	if n == nil {
		return 1
	}
	return *n
}

// refused tells whether the sheet of figures bars the pour.
func (t *trace) refused() bool {
	for _, f := range t.sheet.Findings {
		if f.Severity == plan.Must && (f.Code == "too-hot" || f.Code == "mould-hot") {
			return true
		}
	}
	return false
}

// tellPour puts the computed pour into the plan.
func (t *trace) tellPour() {
	p, d := t.plan, t.poured.Doc
	t.tellFilling()
	p.Freeze = d.Freeze
	p.Computed = p.Fill.Computed && p.Freeze.Computed
	// Last place: the plan's own frame.
	if q := p.Freeze.LastPlace; q != nil {
		p.Freeze.LastPlace = plan.Ptr(t.layout.Frame.From(vec.FromArray(*q)).Array())
	}
	if d.Cycle.Computed {
		p.Cycle = d.Cycle
		if f, ok := t.sheet.Paced(*d.Cycle.ShotsPerHour); ok {
			p.Order.Time = plan.Ptr(f.Value)
			p.Figures = append(p.Figures, f)
		}
	}
	p.Figures = append(p.Figures, rig.Figures(d)...)
	p.Findings = append(p.Findings, rig.Findings(d, t.layout.Frame)...)
}

// tellFilling puts the computed filling into the plan. Its places go into the
// frame of the first cavity's master, as those of all but the block do.
func (t *trace) tellFilling() {
	p, f, s := t.plan, &t.poured.Doc.Filling, &t.poured.Doc.Setting
	master := func(q plan.P3) plan.P3 { return t.layout.Frame.From(vec.FromArray(q)).Array() }
	if f.Failed != "" {
		p.Findings = append(p.Findings, plan.Finding{Code: "not-computed", Severity: plan.Note,
			Say: "The filling could not be computed: " + f.Failed + ".", Do: "Compute it again on other cells: pourwright pour DIR --fill-cell. Until then watch the first shot for short places."})
	}
	if !f.Computed {
		return
	}
	p.Fill = f.Plan()
	lines := [][]plan.P3{}
	for _, l := range *p.Fill.Meeting {
		var x []plan.P3
		for _, q := range l {
			x = append(x, master(q))
		}
		lines = append(lines, x)
	}
	p.Fill.Meeting = &lines
	p.Figures = append(p.Figures, rig.FillFigures(s, f)...)
	p.Findings = append(p.Findings, judge.Fill(f, s.Alloy.Liquidus(), master)...)
}

// Changes are the settings of a pour that a call replaces; nil leaves one as it
// is in the folder.
type Changes struct {
	Metal, Mould, Room, Conductivity, Contact *float64
	Wait, Rest                                *float64 // s
	How                                       *string
	Moulds, Shots                             *int
	Cell                                      *float64 // mm
	Fan                                       *bool

	Fill, Freeze               bool     // compute this part only; both or none: all
	Pours                      *int     // of the ensemble
	Fine                       bool     // one pour on the full grid too
	Ladle, Rate, Height, Pause *float64 // mm3, mm3/s, mm, s
	TiltX, TiltZ               *float64 // degrees
	Tap                        *bool
	FillCell                   *float64 // mm
	Gap                        *float64 // m
}

func (c Changes) apply(s *pour.Setting) {
	p := &s.Pouring
	for _, x := range []struct{ from, to *float64 }{
		{c.Metal, &s.Metal}, {c.Mould, &s.Mould}, {c.Room, &s.Room}, {c.Conductivity, &s.Rubber.Conductivity}, {c.Contact, &s.Contact},
		{c.Height, &p.Height}, {c.Pause, &p.Pause}, {c.Gap, &s.Flow.Gap}, {c.TiltX, &p.Tilt[0]}, {c.TiltZ, &p.Tilt[1]},
	} {
		if x.from != nil {
			*x.to = *x.from
		}
	}
	for _, x := range []struct {
		from *float64
		to   **float64
	}{{c.Wait, &s.Wait}, {c.Rest, &s.Rest}, {c.Cell, &s.Cell}, {c.Ladle, &p.Ladle}, {c.Rate, &p.Rate}, {c.FillCell, &s.FillCell}} {
		if x.from != nil {
			*x.to = x.from
		}
	}
	if c.How != nil {
		s.How = c.How
	}
	if c.Moulds != nil {
		s.Moulds = c.Moulds
	}
	if c.Shots != nil {
		s.Shots = *c.Shots
	}
	if c.Fan != nil {
		s.FanAtHand = *c.Fan
	}
	s.Fill, s.FillOnly = c.Fill || !c.Freeze, c.Fill && !c.Freeze
	s.Fine = c.Fine
	s.Pours = c.Pours
	if c.Tap != nil {
		p.Tap = *c.Tap
	}
}

// Pour computes the pour of a plan's folder again with changed settings, and
// writes pour.json, the fields and the pictures there. The plan itself stays.
func Pour(ctx context.Context, dir string, c Changes, o rig.Options) (*pour.Doc, error) {
	m, p, d, err := folder(dir)
	if err != nil {
		return nil, err
	}
	s := d.Setting
	c.apply(&s)
	r, err := rig.Pour(ctx, m, s, o)
	if err != nil {
		return nil, err
	}
	files, err := pourFiles(r, p)
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if err := replaceFile(dir, f); err != nil {
			return nil, err
		}
	}
	// What was computed before and is not now must not stand beside the new pour.json.
	for _, name := range ofPour {
		if !slices.ContainsFunc(files, func(f File) bool { return f.Name == name }) {
			if err := os.Remove(filepath.Join(dir, name)); err != nil && !os.IsNotExist(err) {
				return nil, folderFault(dir, err)
			}
		}
	}
	return r.Doc, nil
}

// ofPour are the names of the files of pourFiles.
var ofPour = []string{pour.Name, "fields.vti", "solid.png", "peak.png", "shots.png", "fill.png", "filling.png", pour.FramesName}

// heat is a computed pour as the paper takes it, nil where it was not computed.
func heat(r *rig.Result, p *plan.Plan) *drawing.Heat {
	if r == nil || r.Fields == nil {
		return nil
	}
	f := r.Fields
	return &drawing.Heat{Doc: r.Doc, Grid: f.Grid, Dist: f.Dist, Solid: f.Solid, Peak: f.Peak, Half: f.Half, Plan: p}
}

// filling is a computed filling as the paper takes it.
func filling(r *rig.Result, p *plan.Plan) *drawing.Filling {
	f := r.Filling
	return &drawing.Filling{Doc: &r.Doc.Filling, Grid: f.Grid, Dist: f.Dist, Time: f.Time, Closed: f.Closed, Half: f.Half, Plan: p}
}

// pourFiles are the files of a pour: pictures and fields first, pour.json last.
func pourFiles(r *rig.Result, p *plan.Plan) ([]File, error) {
	var list []File
	if r.Filling != nil {
		f := filling(r, p)
		still, err := drawing.FillPicture(f)
		if err != nil {
			return nil, err
		}
		movie, err := drawing.FillMovie(f, r.Filling.Frames)
		if err != nil {
			return nil, err
		}
		for i, name := range []string{"fill.png", "filling.png"} {
			if b := [][]byte{still, movie}[i]; len(b) > 0 {
				list = append(list, bytesFile(name, b))
			}
		}
		list = append(list, bytesFile(pour.FramesName, r.Filling.Frames.Encode()))
	}
	if h := heat(r, p); h != nil {
		solid, peak, series, err := drawing.HeatPictures(h)
		if err != nil {
			return nil, err
		}
		for i, name := range []string{"solid.png", "peak.png", "shots.png"} {
			if b := [][]byte{solid, peak, series}[i]; len(b) > 0 {
				list = append(list, bytesFile(name, b))
			}
		}
		var b bytes.Buffer
		if err := r.Fields.WriteVTI(&b); err != nil {
			return nil, err
		}
		list = append(list, bytesFile("fields.vti", b.Bytes()))
	}
	var b bytes.Buffer
	if err := pour.Write(&b, r.Doc); err != nil {
		return nil, err
	}
	return append(list, bytesFile(pour.Name, b.Bytes())), nil
}

func bytesFile(name string, data []byte) File {
	return File{name, func(w io.Writer) error { _, err := w.Write(data); return err }}
}

// replaceFile writes one file of a folder aside and moves it into place.
func replaceFile(dir string, f File) error {
	tmp, err := os.CreateTemp(dir, ".pourwright-")
	if err != nil {
		return folderFault(dir, err)
	}
	defer os.Remove(tmp.Name())
	err = f.Write(tmp)
	if e := tmp.Chmod(0o644); err == nil {
		err = e
	}
	if e := tmp.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(tmp.Name(), filepath.Join(dir, f.Name))
	}
	if err != nil {
		return folderFault(dir, err)
	}
	return nil
}

// Folder reads what a pour needs from a plan's folder.
func Folder(dir string) (*rig.Mould, *pour.Doc, error) {
	m, _, d, err := folder(dir)
	return m, d, err
}

func folder(dir string) (*rig.Mould, *plan.Plan, *pour.Doc, error) {
	read := func(name string) ([]byte, error) {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			return nil, &fault.Error{Kind: fault.Input, Place: filepath.Join(dir, name), Text: "cannot be read: " + reason(err),
				Hint: "name the folder of a plan; the verb plan makes one", Cause: err}
		}
		return b, nil
	}
	text, err := read("plan.json")
	if err != nil {
		return nil, nil, nil, err
	}
	p := &plan.Plan{}
	if err := json.Unmarshal(text, p); err != nil || !strings.HasPrefix(p.Schema, "pourwright/plan/") {
		return nil, nil, nil, fault.New(fault.Input, filepath.Join(dir, "plan.json"), "make the plan again with the verb plan", "this is no plan of ours")
	}
	if p.Block == nil || p.Metal == nil {
		return nil, nil, nil, fault.New(fault.Input, dir, "see its findings", "this plan's verdict is no: there is no mould to pour")
	}
	if p.Master.Measured != nil {
		return nil, nil, nil, fault.New(fault.Input, dir, "scan or model the master, name its mesh in the job and plan it again", "this plan was made from measures: there is no shape to pour into")
	}
	if text, err = read(pour.Name); err != nil {
		return nil, nil, nil, err
	}
	d, err := pour.Parse(text, filepath.Join(dir, pour.Name))
	if err != nil {
		return nil, nil, nil, err
	}
	var solids [2]*mesh.Mesh
	for i, name := range []string{"cavity.stl", "half-1.stl"} {
		if text, err = read(name); err != nil {
			return nil, nil, nil, err
		}
		if solids[i], _, err = meshfile.Parse(text, filepath.Join(dir, name), meshfile.Options{}); err != nil {
			return nil, nil, nil, err
		}
		solids[i] = mesh.Canonical(solids[i])
	}
	m := rig.NewMould(p, solids[0], solids[1])
	return m, p, d, nil
}

func reason(err error) string {
	if os.IsNotExist(err) {
		return "it is not there"
	}
	return err.Error()
}
