package command

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/working/sequence"
)

type master struct {
	File  string `arg:"" optional:"" help:"Mesh file: STL, OBJ, PLY, OFF, 3MF, GLB or glTF; all but 3MF and GLB may be packed with gzip. Or a photograph (JPEG, PNG) of a flat-backed piece beside a bank card or on the check sheet, or an outline (TXT) of one. Without a file, the measures below."`
	Pull  string `placeholder:"X,Y,Z" help:"Look along this pull instead of the best one."`
	Up    string `placeholder:"X,Y,Z" help:"Stand the master this way up instead of the best one."`
	Unit  string `placeholder:"UNIT" help:"Unit of the file: mm, cm, m, in or um. 3MF, GLB and glTF state their own."`
	Body  int    `placeholder:"N" help:"Take only body N of the file, the largest is 1."`
	AsIs  bool   `name:"as-is" help:"Repair nothing: refuse a mesh that is not closed."`
	Write string `placeholder:"FIXED.stl" help:"Save the checked and repaired mesh, in mm, as STL or 3MF."`
	JSON  bool   `name:"json" help:"Print JSON."`

	Thickness float64 `placeholder:"MM" help:"Photograph: thickness of the piece by caliper."`
	Edge      string  `placeholder:"EDGE" help:"Photograph: flat, half-round or chamfer; without it flat."`
	Chamfer   float64 `placeholder:"MM" help:"Photograph: what the edge chamfer cuts off."`
	Reference string  `placeholder:"WHAT" help:"Photograph: card or sheet; without it whichever is found."`
	Outline   string  `placeholder:"FILE.txt" help:"Photograph: write the outline there, to be corrected and read again."`
	Overlay   string  `placeholder:"FILE.png" help:"Photograph: write the outline over the picture there; without it beside the outline or the body."`

	Measures measures `embed:"" group:"A master without a mesh:"`
}

// Run inspects a master.
func (v master) Run(c *call) error {
	o := sequence.Look{Source: sequence.Source{Path: file(v.File), Unit: v.Unit, From: "flag", Body: v.Body, AsIs: v.AsIs}, Write: file(v.Write)}
	if v.Measures != (measures{}) {
		return v.Measures.run(c, v)
	}
	if v.File == "" {
		return fault.New(fault.Usage, "", "give the mesh file as <file>, or --length, --width, --height and --mass with --density, or --gain", "the name of the mesh file is empty: master wants <file> or measures")
	}
	var err error
	if o.Pull, err = parseDirection("--pull", v.Pull); err != nil {
		return err
	}
	if o.Up, err = parseDirection("--up", v.Up); err != nil {
		return err
	}
	if v.Body < 0 {
		return fault.New(fault.Usage, "--body", "give a number from 1; 1 is the largest", "there is no body %d", v.Body)
	}
	wrote, err := v.photograph(&o)
	if err != nil {
		return err
	}
	for _, w := range wrote {
		fmt.Fprintln(c.err, "wrote "+w)
	}
	bar := newProgress(c.err, "stand")
	said, notes, err := sequence.Inspect(c.ctx, o, bar.stage)
	bar.end()
	if err != nil {
		return err
	}
	for _, n := range notes {
		fmt.Fprintln(c.err, "note: "+n.Say)
		if n.Do != "" {
			fmt.Fprintln(c.err, "  "+n.Do)
		}
	}
	if v.JSON {
		return plan.WriteInspection(c.out, said)
	}
	_, err = fmt.Fprint(c.out, words(said))
	return err
}

// photograph makes the body where a picture or an outline is named, and writes
// the outline and the overlay that were asked for. It returns their names.
func (v *master) photograph(o *sequence.Look) ([]string, error) {
	name := file(v.File)
	pic, drawn := sequence.IsPhoto(name), sequence.IsOutline(name)
	if !pic && !drawn {
		for _, f := range []struct {
			flag string
			set  bool
		}{{"--thickness", v.Thickness != 0}, {"--edge", v.Edge != ""}, {"--chamfer", v.Chamfer != 0}, {"--reference", v.Reference != ""},
			{"--outline", v.Outline != ""}, {"--overlay", v.Overlay != ""}} {
			if f.set {
				return nil, fault.New(fault.Usage, f.flag, "name a JPEG, a PNG, or an outline file ending in .txt", "%s belongs to a photographed master", f.flag)
			}
		}
		return nil, nil
	}
	if v.Unit != "" && v.Unit != "mm" || v.Body != 0 {
		return nil, fault.New(fault.Usage, "", "leave out --unit and --body", "a photographed master is one body in mm")
	}
	if v.Thickness == 0 {
		return nil, fault.New(fault.Usage, "--thickness", "measure the piece with a caliper and give --thickness 4", "a picture does not show how thick the piece is")
	}
	p := sequence.Photo{File: name, Thickness: v.Thickness, Edge: v.Edge, Chamfer: v.Chamfer, Reference: v.Reference}
	if drawn {
		p.File, p.Outline = "", name
		if v.Outline != "" || v.Overlay != "" {
			return nil, fault.New(fault.Usage, "", "name the picture to have its outline written", "an outline is read here, not found")
		}
	}
	got, err := sequence.Photograph(p)
	if err != nil {
		return nil, err
	}
	o.Source = sequence.Source{Path: name, Photo: got}
	var wrote []string
	text, body, over := file(v.Outline), file(v.Write), file(v.Overlay)
	if over == "" && pic {
		if base := text; base != "" || body != "" {
			if base == "" {
				base = body
			}
			over = strings.TrimSuffix(base, filepath.Ext(base)) + ".overlay.png"
		}
	}
	if text != "" {
		if err := sequence.PutNew(text, got.Text); err != nil {
			return nil, err
		}
		wrote = append(wrote, text)
	}
	if over != "" && got.Overlay != nil {
		if filepath.Clean(over) == filepath.Clean(name) {
			return wrote, fault.New(fault.Usage, "--overlay", "name another file", "the overlay would take the place of the picture")
		}
		if err := sequence.Put(over, got.Overlay); err != nil {
			return wrote, err
		}
		wrote = append(wrote, over)
	}
	return wrote, nil
}

// parseDirection reads x,y,z; an empty text is no direction.
func parseDirection(flag, s string) (*vec.V3, error) {
	if s == "" {
		return nil, nil
	}
	bad := func() (*vec.V3, error) {
		return nil, fault.New(fault.Usage, flag, "give three numbers with commas, as in "+flag+" 0,0,1", "%q is no direction", s)
	}
	f := strings.Split(s, ",")
	if len(f) != 3 {
		return bad()
	}
	var x [3]float64
	for i := range f {
		var err error
		if x[i], err = strconv.ParseFloat(strings.TrimSpace(f[i]), 64); err != nil || math.IsNaN(x[i]) || math.IsInf(x[i], 0) {
			return bad()
		}
	}
	// Scale first, so that neither tiny nor huge numbers are lost in the length.
	k := math.Max(math.Abs(x[0]), math.Max(math.Abs(x[1]), math.Abs(x[2])))
	if k == 0 {
		return bad()
	}
	d := vec.V3{X: x[0] / k, Y: x[1] / k, Z: x[2] / k}.Unit()
	return &d, nil
}

// words puts an inspection into lines.
func words(i *plan.Inspection) string {
	var b strings.Builder
	line := func(name, text string, args ...any) { fmt.Fprintf(&b, "%-12s %s\n", name, fmt.Sprintf(text, args...)) }
	m, s, u := &i.Master, &i.Split, &i.Stand
	line("file", "%s, in %s (%s)", m.File, m.Unit, map[string]string{"file": "as the file states", "flag": "as you said", "job": "as the job says", "guess": "a guess"}[m.UnitFrom])
	if p := m.Photo; p != nil {
		if p.Reference != nil {
			line("measured", "by the %s, %.0f degrees from above, %.1f px/mm, reference within %.2f mm", *p.Reference, *p.Tilt, *p.Scale, *p.Residual)
		} else {
			line("measured", "from the outline as drawn")
		}
		line("thickness", "%.2f mm, edge %s", p.Thickness, p.Edge)
	}
	line("size", "%.2f x %.2f x %.2f mm", m.Size[0], m.Size[1], m.Size[2])
	line("surface", "%d triangles, %s, %.2f cm2", m.Triangles, plural(m.Shells, "shell"), m.Area/100)
	if m.Genus != nil {
		line("closed", "yes, %s", plural(*m.Genus, "hole")+" through it")
	}
	bodyLines(line, i.Bodies)
	if m.VolumeBand > 0 {
		line("volume", "%.3f cm3, give or take %.2g cm3 for what was missing", m.Volume/1000, m.VolumeBand/1000)
	} else {
		line("volume", "%.3f cm3", m.Volume/1000)
	}
	line("thinnest", "%.2f mm near %s", m.Thinnest, point(m.ThinnestAt))
	for _, r := range m.Repairs {
		line("repaired", "%s: %d, near %s, volume %+.3g mm3", r.Step, r.Count, point(r.At), r.VolumeChange)
	}
	line("pull", "%s", dir(s.Pull))
	line("locked", "%.1f mm3 of rubber, %.2f %% of the volume", s.LockedVolume, 100*s.LockedShare)
	for n, c := range s.Undercuts {
		line("", "undercut %d: %.1f mm3, %.2f mm deep, near %s", n+1, c.Volume, c.Depth, point(c.At))
	}
	line("up", "%s", dir(u.Up))
	line("trapped", "%.1f mm3 of air, %.2f %% of the volume, before any vent", u.TrappedVolume, 100*u.TrappedShare)
	for n, p := range u.Pockets {
		line("", "pocket %d: %.1f mm3, top at %s", n+1, p.Volume, point(p.At))
	}
	for n, d := range u.DeadEnds {
		line("", "hanging dead end %d: %.2f mm wide, near %s", n+1, d.Bore, point(d.At))
	}
	spotLines(line, i.Measure)
	return b.String()
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func point(p plan.P3) string { return fmt.Sprintf("%.1f, %.1f, %.1f", p[0]+0, p[1]+0, p[2]+0) }

func dir(p plan.P3) string {
	for i := range p {
		if math.Abs(p[i]) < 5e-5 {
			p[i] = 0
		}
	}
	return fmt.Sprintf("%.4g, %.4g, %.4g", p[0], p[1], p[2])
}
