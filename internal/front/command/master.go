package command

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/working/sequence"
)

type master struct {
	File string `arg:"" help:"Mesh file: STL, OBJ, PLY or OFF."`
	Pull string `placeholder:"X,Y,Z" help:"Look along this pull instead of the best one."`
	Up   string `placeholder:"X,Y,Z" help:"Stand the master this way up instead of the best one."`
	Unit string `placeholder:"UNIT" help:"Unit of the file: mm, cm, m, in or um."`
	Body int    `placeholder:"N" help:"Take only body N of the file, the largest is 1."`
	JSON bool   `name:"json" help:"Print JSON."`
}

// Run inspects a master.
func (v master) Run(c *call) error {
	o := sequence.Look{Source: sequence.Source{Path: file(v.File), Unit: v.Unit, From: "flag", Body: v.Body}}
	if v.File == "" {
		return fault.New(fault.Usage, "", "name the mesh file", "the name of the mesh file is empty")
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
	line("size", "%.2f x %.2f x %.2f mm", m.Size[0], m.Size[1], m.Size[2])
	line("surface", "%d triangles, %s, %.2f cm2", m.Triangles, plural(m.Shells, "shell"), m.Area/100)
	if m.Genus != nil {
		line("closed", "yes, %s", plural(*m.Genus, "hole")+" through it")
	}
	bodyLines(line, i.Bodies)
	line("volume", "%.3f cm3", m.Volume/1000)
	line("thinnest", "%.2f mm near %s", m.Thinnest, point(m.ThinnestAt))
	for _, r := range m.Repairs {
		line("repaired", "%s: %d, near %s", r.Step, r.Count, point(r.At))
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
