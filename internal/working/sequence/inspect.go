package sequence

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mend"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
)

// Look is what to inspect, and how. Pull and Up stand in for the best ones,
// each for itself; they are unit vectors.
type Look struct {
	Source   Source
	Pull, Up *vec.V3
	Write    string // save the checked mesh here, .stl or .3mf; empty for not
}

// Check reads a master, repairs it where it is not closed and measures it: the
// first two stages of Inspect and Make.
func Check(s Source) (*Master, error) {
	r, err := read(s)
	if err != nil {
		return nil, err
	}
	return check(r)
}

// Inspect reads and measures a bare master: no channels, no vents, no rubber.
func Inspect(ctx context.Context, l Look, tell Progress) (*plan.Inspection, []Note, error) {
	c := newClock(ctx, tell)
	var (
		r   raw
		m   *Master
		s   *parting.Split
		t   *pockets.Stand
		err error
	)
	if err := c.run("read", func() error { r, err = read(l.Source); return err }); err != nil {
		return nil, nil, err
	}
	if l.Write != "" {
		if err := writable(l.Write, l.Source.Path); err != nil {
			return nil, nil, err
		}
	}
	err = c.run("check", func() error {
		if m, err = check(r); err == nil && l.Source.Body == 0 && !l.Source.AsIs {
			err = m.dust()
		}
		if err == nil && l.Write != "" {
			err = m.save(l.Write)
		}
		if err == nil {
			m.thin()
		}
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	if err := c.run("split", func() error { s, err = split(ctx, m, parting.Options{Pull: l.Pull}); return err }); err != nil {
		return nil, nil, err
	}
	if err := c.run("stand", func() error { t, err = stand(m, s, standing{up: l.Up, bare: true}); return err }); err != nil {
		return nil, nil, err
	}
	for _, b := range s.Bars {
		if b.Code == "linked" {
			m.note(b.Code, &b.At, b.Do, "%s.", b.Say)
		}
	}
	return &plan.Inspection{Master: m.Said, Split: saidSplit(m, s), Stand: saidStand(m, t), Bodies: saidBodies(m), Measure: spots(m)}, m.Notes, nil
}

// writable refuses a name that no mesh can be written under, and the input's own.
func writable(name, input string) error {
	if k := strings.ToLower(filepath.Ext(name)); k != ".stl" && k != ".3mf" {
		return fault.New(fault.Usage, "--write", "give a name that ends in .stl or .3mf", "%q is no name for a mesh that can be written", name)
	}
	same := filepath.Clean(name) == filepath.Clean(input)
	if a, err := os.Stat(name); err == nil {
		if a.IsDir() {
			return fault.New(fault.Usage, "--write", "give the name of a file", "%s is a folder", name)
		}
		if b, err := os.Stat(input); err == nil && os.SameFile(a, b) {
			same = true
		}
	}
	if same {
		return fault.New(fault.Usage, "--write", "give another name; the file that was read is never changed", "%s is the file that was read", name)
	}
	return nil
}

// save writes the checked mesh, in mm, and says where the file, with its corners
// joined again, would not be closed.
func (m *Master) save(name string) error {
	out := m.Mesh
	if m.overlap {
		if one, ok := mend.Unite(out, m.Said.Volume); ok {
			out = one
			m.note("repair", nil, "", "In the saved file what cuts through each other is one.")
		} else if m.Topology.Shells == 1 {
			m.note("repair", nil, "part it where it runs through itself, and join the parts, in the program that made it", "The saved file holds the surface as it is, running through itself.")
		} else {
			m.note("repair", nil, "join the bodies in the program that made them", "The saved file holds the shells as they are, cutting through each other: they could not be made one.")
		}
	}
	if strings.ToLower(filepath.Ext(name)) == ".3mf" {
		return meshfile.Save3MF(name, meshfile.Object{Name: "master", Mesh: out})
	}
	data, err := meshfile.STL(out)
	if err != nil {
		return err
	}
	if again, _, err := meshfile.Parse(data, name, meshfile.Options{}); err != nil || !mesh.TopologyOf(again).Watertight {
		m.note("repair", nil, "save it as .3mf, which keeps every digit; bodies that touch in an edge touch there too", "Read again, the saved STL file would have to be repaired: in its single precision some corners fall together, or bodies touch in an edge.")
	}
	return meshfile.SaveSTL(name, out)
}

// saidSplit puts a split into the plan's words; strain and action follow when
// the rubber is known.
func saidSplit(m *Master, s *parting.Split) plan.Split {
	p := plan.Split{
		Pull: s.Pull.Array(), SilhouetteArea: s.Silhouette, LockedVolume: s.Locked, LockedShare: s.Locked / m.Said.Volume,
		LineRise: s.Rise, Line: [][]plan.P3{}, Undercuts: []plan.Undercut{},
	}
	for _, l := range s.Line {
		loop := make([]plan.P3, len(l))
		for i, q := range l {
			loop[i] = q.Array()
		}
		p.Line = append(p.Line, loop)
	}
	for _, u := range s.Undercuts {
		p.Undercuts = append(p.Undercuts, plan.Undercut{
			At: u.At.Array(), Box: [2]plan.P3{u.Box.Min.Array(), u.Box.Max.Array()}, Volume: u.Volume, Depth: u.Depth,
		})
	}
	return p
}

// saidStand does the same for the stand.
func saidStand(m *Master, t *pockets.Stand) plan.Stand {
	p := plan.Stand{Up: t.Up.Array(), Pockets: []plan.Pocket{}, DeadEnds: []plan.DeadEnd{}, TrappedVolume: t.Trapped, TrappedShare: t.Trapped / m.Said.Volume}
	for _, k := range t.Pockets {
		p.Pockets = append(p.Pockets, plan.Pocket{At: k.At.Array(), Saddle: k.Saddle, Volume: k.Volume})
	}
	for _, d := range t.DeadEnds {
		p.DeadEnds = append(p.DeadEnds, plan.DeadEnd{At: d.At.Array(), Bore: d.Bore})
	}
	return p
}
