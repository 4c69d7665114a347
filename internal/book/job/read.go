package job

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"pourwright/internal/book/material"
	"pourwright/internal/ground/fault"
)

// MaxSize is the largest job file that is read, bytes.
const MaxSize = 1 << 18

// Load reads and checks a job file.
func Load(path string) (*Job, error) {
	f, err := os.Open(path)
	if err != nil {
		hint := "check the name and the folder"
		if errors.Is(err, os.ErrPermission) {
			hint = "make the file readable"
		}
		return nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot open the job file", Hint: hint, Cause: err}
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxSize+1))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Input, Place: path, Text: "cannot read the job file", Hint: "name a job file, not a folder", Cause: err}
	}
	return parse(path, data, func() (*material.Own, error) { return material.LoadOwn(material.OwnPaths(path)...) })
}

// Parse checks the bytes of a job file; file is its name in messages and the
// place its own file names are relative to. All errors are of kind Input and
// carry file:line:column where there is one. The workshop's own rows are known to
// Load alone.
func Parse(file string, data []byte) (*Job, error) { return parse(file, data, nil) }

func parse(file string, data []byte, own func() (*material.Own, error)) (*Job, error) {
	if len(data) > MaxSize {
		return nil, fault.New(fault.Input, file, "name the job file, not the mesh", "this file is over 256 KiB, too long for a job")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff")) // as some editors write it
	if len(strings.TrimSpace(string(data))) == 0 {
		return nil, fault.New(fault.Input, file, "write [master] mesh, [rubber] kind, [alloy] kind, [order] castings and use", "this job file is empty")
	}
	tree := map[string]any{}
	if err := toml.Unmarshal(data, &tree); err != nil {
		return nil, syntax(file, err)
	}
	p := locate(file, data)
	j := &Job{File: file}
	d := &decoder{places: p, own: own}
	d.table("", tree, j)
	if d.err == nil {
		d.check(j)
	}
	if d.err != nil {
		return nil, d.err
	}
	return j, nil
}

// syntax turns the parser's error into one with a place.
func syntax(file string, err error) error {
	text := strings.TrimPrefix(err.Error(), "toml: ")
	place := file
	var de *toml.DecodeError
	if errors.As(err, &de) {
		line, col := de.Position()
		place = fmt.Sprintf("%s:%d:%d", file, line, col)
	}
	return &fault.Error{Kind: fault.Input, Place: place, Text: "not a job file: " + text,
		Hint: "a job is TOML: key = value, text in quotes, sections in [ ]", Cause: err}
}

// check holds what tags cannot say.
func (d *decoder) check(j *Job) {
	m := &j.Master
	switch p := m.Photo; {
	case m.Mesh == "" && m.Measured == nil && p == nil:
		d.fail("master", "name the mesh file: [master] mesh = \"part.stl\"", "master.mesh is missing")
	case m.Mesh != "" && p != nil:
		d.fail("master.photo", "keep one of the two", "master.mesh and [master.photo] exclude each other")
	case m.Measured != nil && p != nil:
		d.fail("master.photo", "keep one of the two", "[master.measured] and [master.photo] exclude each other")
	case p != nil && m.Unit != "" && m.Unit != "mm":
		d.fail("master.unit", "leave it out", "a photographed master is in mm")
	case p != nil:
		d.photo(p)
	case m.Mesh != "" && m.Measured != nil:
		d.fail("master.measured", "keep one of the two", "master.mesh and [master.measured] exclude each other")
	case m.Measured != nil:
		d.measured(m)
	case m.Mesh != "" && strings.ContainsRune(m.Mesh, 0):
		d.fail("master.mesh", "", "master.mesh is not a file name")
	case m.Mesh != "" && filepath.Base(filepath.FromSlash(m.Mesh)) == ".":
		d.fail("master.mesh", "name the mesh file", "master.mesh is not a file name")
	}
	for i, c := range m.Control {
		if c.From == c.To {
			d.fail(fmt.Sprintf("master.control[%d]", i), "give two points of the master", "master.control[%d] measures from a point to itself", i)
		}
	}
	d.direction("split.pull", j.Split.Pull)
	d.direction("stand.up", j.Stand.Up)
	if p, u := j.Split.Pull, j.Stand.Up; p != nil && u != nil && along(*p, *u) {
		d.fail("stand.up", "give a direction across [split] pull", "stand.up lies along split.pull: the block stands on its edge when poured")
	}
	for i := range j.Insert {
		d.direction(fmt.Sprintf("insert[%d].direction", i), &j.Insert[i].Direction)
	}
	if j.Bench.Pump != nil && j.Bench.PumpGauge != nil {
		d.fail("bench.pump_gauge_mbar", "keep the absolute one", "bench.pump_mbar and bench.pump_gauge_mbar exclude each other")
	}
	if (j.Bench.LidSpan == nil) != (j.Bench.LidThickness == nil) {
		d.fail("bench", "give both or none", "bench.lid_span and bench.lid_thickness belong together")
	}
	d.materials(j)
}

// measured refuses what goes with a mesh alone.
func (d *decoder) measured(m *Master) {
	for _, k := range []struct {
		there bool
		key   string
		hint  string
	}{
		{m.Unit != "" && m.Unit != "mm", "unit", "leave it out; measures are in mm"},
		{len(m.Control) > 0, "control", "leave it out; the three lengths are by caliper as they are"},
		{len(m.Thickness) > 0, "thickness", "give thinnest and thickest under [master.measured]"},
		{m.Mass != nil, "mass", "give it under [master.measured]"},
		{m.Density != nil, "density", "give it under [master.measured]"},
	} {
		if k.there {
			d.fail("master."+k.key, k.hint, "master.%s goes with a mesh, not with [master.measured]", k.key)
		}
	}
}

// photo holds what the tags of a photographed master cannot say.
func (d *decoder) photo(p *Photo) {
	for _, f := range []struct{ key, name string }{{"file", p.File}, {"outline", p.Outline}} {
		if f.name != "" && (strings.ContainsRune(f.name, 0) || filepath.Base(filepath.FromSlash(f.name)) == ".") {
			d.fail("master.photo."+f.key, "name the file", "master.photo.%s is not a file name", f.key)
		}
	}
	switch cut := p.Edge == "chamfer"; {
	case p.File == "":
		d.fail("master.photo", "name the picture: file = \"piece.jpg\"", "master.photo.file is empty")
	case cut && p.Chamfer == nil:
		d.fail("master.photo", "write chamfer = 0.8, what is cut off in mm", "master.photo.chamfer is missing")
	case !cut && p.Chamfer != nil:
		d.fail("master.photo.chamfer", "write edge = \"chamfer\", or leave it out", "master.photo.chamfer needs the edge chamfer")
	case cut && *p.Chamfer >= p.Thickness:
		d.fail("master.photo.chamfer", "give less than the thickness", "master.photo.chamfer is %g, the piece only %g thick", *p.Chamfer, p.Thickness)
	}
}

// along reports whether two directions lie within half a degree of one line.
func along(a, b P3) bool {
	dot, aa, bb := 0.0, 0.0, 0.0
	for k := range 3 {
		dot, aa, bb = dot+a[k]*b[k], aa+a[k]*a[k], bb+b[k]*b[k]
	}
	return dot*dot >= 0.99992*aa*bb
}

// direction refuses a vector without a direction.
func (d *decoder) direction(path string, v *P3) {
	if v != nil && *v == (P3{}) {
		d.fail(path, "give a direction, as in [0, 0, 1]", "%s has no length", path)
	}
}

// materials looks the two rows up and puts the job's own values in place.
func (d *decoder) materials(j *Job) {
	if d.err != nil {
		return
	}
	r, err := material.FindRubber(j.Rubber.Kind)
	if err != nil && d.own != nil { // a name the table does not have: the workshop's own rows
		own, fail := d.own()
		if fail != nil {
			d.err = fail
			return
		}
		if r, err = own.FindRubber(j.Rubber.Kind); err == nil {
			if v, ok := own.Interface(j.Rubber.Kind); ok {
				j.Interface = &v
			}
		}
	}
	if err != nil {
		d.wrap("rubber.kind", err)
		return
	}
	a, err := material.FindAlloy(j.Alloy.Kind)
	if err != nil {
		d.wrap("alloy.kind", err)
		return
	}
	d.sheet("rubber", &j.Rubber, r.Set)
	d.sheet("alloy", &j.Alloy, a.Set)
	if err := a.Check(); err != nil {
		d.wrap("alloy", err)
	}
	if p := j.Alloy.Lead; p != nil {
		x := *p / 100
		a.LeadMax = &x
	}
	if p := j.Alloy.Cadmium; p != nil {
		x := *p / 100
		a.CadmiumMax = &x
	}
	j.RubberRow, j.AlloyRow = r, a
}

// wrap keeps an error of another room and adds the place.
func (d *decoder) wrap(path string, err error) {
	if d.err == nil {
		d.err = &fault.Error{Kind: fault.Input, Place: d.places.place(path), Text: err.Error(), Hint: fault.HintOf(err), Cause: err}
	}
}
