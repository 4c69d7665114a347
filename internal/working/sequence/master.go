package sequence

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/chord"
	"pourwright/internal/shape/mend"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
)

// Source is where a master comes from.
type Source struct {
	Path  string        // of the mesh file; its ending and base name also where Data is given
	Data  []byte        // the file's bytes, where it is not read from Path
	Unit  string        // mm cm m in um; empty where the file or a guess decides
	From  string        // who named Unit: flag or job
	Body  int           // take only this body, counted from 1, the largest first; 0 takes all
	Photo *Photographed // the master photographed, in place of a file
	AsIs  bool          // refuse a mesh that would have to be repaired
}

// Master is a master read and checked, in mm.
type Master struct {
	Mesh     *mesh.Mesh
	Topology *mesh.Topology
	Nest     *mesh.Nest
	Tree     *bvh.Tree
	Section  chord.Sections
	Wall     chord.Chord // the thinnest wall, for the rules: edges are not walls
	Air      *pockets.Body
	Linked   [][]int    // per body, those it is linked with; nil where none is
	Largest  *mesh.Mesh // the largest body with those that overlap it, of several; nil where it is the only one
	Said     plan.Master
	Notes    []Note

	mended  bool // the surface was repaired, so it may run through itself
	overlap bool // shells cut through each other or one through itself, or one lies in the other's metal

	asked   *mesh.Mesh   // the mesh that through was found in
	through mend.Through // see crossings
}

// Note is a remark on what was read, with the code of the finding it becomes.
type Note struct {
	Code, Say, Do string
	Severity      string // of the finding; empty is a note
	At            *vec.V3

	anew bool // said again whenever the master is measured
}

// raw is a file as it stands.
type raw struct {
	mesh   *mesh.Mesh
	facts  meshfile.Facts
	photo  *Photographed
	source Source
}

// read reads the file.
func read(s Source) (raw, error) {
	if s.Photo != nil {
		return s.Photo.raw(s)
	}
	r := raw{source: s}
	var err error
	if s.Data != nil {
		r.mesh, r.facts, err = meshfile.Parse(s.Data, s.Path, meshfile.Options{})
	} else {
		r.mesh, r.facts, err = meshfile.Read(s.Path, meshfile.Options{})
	}
	return r, err
}

// check gives the mesh its unit, refuses what has no inside and measures the
// rest.
func check(r raw) (*Master, error) {
	m := &Master{Mesh: r.mesh}
	if err := m.scale(r); err != nil {
		return nil, err
	}
	for _, n := range r.facts.Notes {
		m.note("repair", nil, "", "%s", n)
	}
	if n := r.facts.Degenerate; n > 0 {
		m.note("repair", nil, "", "%d triangles of the file name one corner twice and were left out.", n)
	}
	t := mesh.TopologyOf(m.Mesh)
	said := &m.Said
	if r.photo != nil {
		said.Photo = &r.photo.Said
		m.Notes = append(m.Notes, r.photo.Notes...)
	}
	said.File, said.SHA256 = filepath.Base(r.source.Path), r.facts.SHA256
	said.Read = plan.Read{Triangles: r.facts.Triangles, Shells: t.Shells, Watertight: t.Watertight, Genus: t.Genus, Volume: m.Mesh.Volume()}
	said.Repairs = []plan.Repair{}
	if err := flat(r.source.Path, m.Mesh); err != nil {
		return nil, err
	}
	if r.source.AsIs && !t.Watertight {
		return nil, open(r.source.Path, t)
	}
	if !r.source.AsIs && (!t.Watertight || t.Pinched > 0) {
		var err error
		if t, err = m.mend(r.source.Path); err != nil {
			return nil, err
		}
	}
	n := mesh.NestOf(m.Mesh, t)
	if r.source.AsIs && slices.Contains(n.Role, mesh.Inverted) {
		return nil, fault.New(fault.Input, r.source.Path, "leave out --as-is, or turn it round in the program that made it and save it again", "the surface is inside out: a shell faces inward and lies in no other")
	}
	t, n = m.turn(t, n)
	if r.source.Body != 0 {
		if r.source.Body < 0 || r.source.Body > len(n.Bodies) {
			return nil, fault.New(fault.Usage, "--body", fmt.Sprintf("give a number from 1 to %d; 1 is the largest", len(n.Bodies)),
				"the file holds %d bodies, not %d", len(n.Bodies), r.source.Body)
		}
		m.Mesh = mesh.Pick(m.Mesh, t, n.Bodies[r.source.Body-1])
		t = mesh.TopologyOf(m.Mesh)
		n = mesh.NestOf(m.Mesh, t)
	}
	if r.source.Body == 0 && !r.source.AsIs {
		t, n = m.unite(t, n)
	}
	var err error
	if t, n, err = m.resolve(r.source.Path, r.source.AsIs, t, n); err != nil {
		return nil, err
	}
	m.Topology, m.Nest = t, n
	m.several()
	return m, m.measure(r.source.Path)
}

// several says that the master is of several bodies.
func (m *Master) several() {
	if k := len(m.Nest.Bodies); k > 1 {
		m.note("masters", nil, "take one alone by its number (master --body N), or save each in a file of its own, if they are not to be cast together",
			"The file holds %d bodies; they are taken as one master, as they lie.", k)
	}
}

func (m *Master) note(code string, at *vec.V3, do, say string, args ...any) {
	m.Notes = append(m.Notes, Note{Code: code, Say: fmt.Sprintf(say, args...), Do: do, At: at})
}

// scale takes the corners to millimetres.
func (m *Master) scale(r raw) error {
	unit, from := r.source.Unit, r.source.From
	if unit == "" && r.facts.Unit != "" {
		unit, from = r.facts.Unit, "file"
	}
	if unit == "" {
		var why string
		unit, why = meshfile.GuessUnit(m.Mesh.Box().Longest())
		from = "guess"
		m.note("unit", nil, "measure one length of the master and name the unit", "%s.", why)
	}
	k, err := meshfile.UnitScale(unit)
	if err != nil {
		return err
	}
	switch stated := r.facts.Unit; {
	case from == "file":
		if why := meshfile.Implausible(unit, m.Mesh.Box().Longest()); why != "" {
			m.note("unit", nil, "measure one length of the master and name the unit", "%s.", why)
		}
	case stated != "" && stated != unit:
		m.note("unit", nil, "measure one length of the master to be sure", "the file states %s; its numbers were taken as %s, as named.", stated, unit)
	}
	m.Said.Unit, m.Said.UnitFrom = unit, from
	if k != 1 {
		for i, p := range m.Mesh.V {
			m.Mesh.V[i] = p.Mul(k)
		}
	}
	return nil
}

// flat refuses a surface without a thickness.
func flat(path string, m *mesh.Mesh) error {
	s := m.Box().Size()
	for k, x := range [3]float64{s.X, s.Y, s.Z} {
		if x == 0 {
			return fault.New(fault.Input, path, "give the master a thickness in the program that made it; a drawing or a single face is no body",
				"the mesh is flat: it has no thickness along %c", 'x'+rune(k))
		}
	}
	return nil
}

// open says why a surface has no inside.
func open(path string, t *mesh.Topology) error {
	what := ""
	add := func(n int, s string) {
		if n > 0 {
			if what != "" {
				what += ", "
			}
			if n == 1 {
				s = strings.Replace(s, "edges", "edge", 1)
			}
			what += fmt.Sprintf("%d %s", n, s)
		}
	}
	add(t.Open, "open edges")
	add(t.Doubled, "edges of more than two triangles")
	add(t.Misturned, "edges whose triangles disagree about the outside")
	where := ""
	if p := t.FirstFault; p != nil {
		where = fmt.Sprintf(", the first near %.5g, %.5g, %.5g mm", p.X, p.Y, p.Z)
	}
	return fault.New(fault.Input, path, "leave out --as-is, or repair the mesh in the program that made it until it is closed, and save it again",
		"the surface is not closed, so it has no inside: %s%s", what, where)
}

// mend repairs a surface that is not closed, or that touches itself, and says
// every step.
func (m *Master) mend(path string) (*mesh.Topology, error) {
	r, err := mend.Mend(m.Mesh)
	if err != nil {
		var f *fault.Error
		if errors.As(err, &f) && f.Place == "" {
			f.Place = path
		}
		return nil, err
	}
	m.Mesh, m.mended = r.Mesh, true
	for _, s := range r.Steps {
		m.Said.Repairs = append(m.Said.Repairs, plan.Repair{Step: s.Name, Count: s.Count, At: s.At.Array(), VolumeChange: s.Volume})
		m.note("repair", &s.At, "", "The mesh was repaired: %s (%d), the first near %.4g, %.4g, %.4g mm.", s.Name, s.Count, s.At.X, s.At.Y, s.At.Z)
	}
	m.Said.VolumeBand = r.Band
	if v := r.Mesh.Volume(); r.Band > told*v {
		m.note("repair", &r.BandAt, "scan or model the missing part, or look whether the cover is where the surface was (--write saves it)",
			"Surface was missing and had to be guessed: the volume may be off by %.2g %%, the most of it near %.4g, %.4g, %.4g mm.", 100*r.Band/v, r.BandAt.X, r.BandAt.Y, r.BandAt.Z)
		if r.Band > grave*v {
			m.Notes[len(m.Notes)-1].Severity = plan.Should
		}
	}
	return r.Topology, nil
}

// told is the share of the volume from which the band of a repair is a remark
// of its own, grave that from which it speaks against pouring.
const (
	told  = 2e-3
	grave = 2e-2
)

// turn turns shells round that face inward and lie in no other.
func (m *Master) turn(t *mesh.Topology, n *mesh.Nest) (*mesh.Topology, *mesh.Nest) {
	before := m.Mesh.Volume()
	count, at := mend.Outward(m.Mesh, t, n)
	if count == 0 {
		return t, n
	}
	m.Said.Repairs = append(m.Said.Repairs, plan.Repair{Step: "turned inside out", Count: count, At: at.Array(), VolumeChange: m.Mesh.Volume() - before})
	m.note("repair", &at, "", "%d shells faced inward and were turned round.", count)
	t = mesh.TopologyOf(m.Mesh)
	return t, mesh.NestOf(m.Mesh, t)
}

// measure fills the figures of the checked master.
func (m *Master) measure(path string) error {
	s, t := &m.Said, m.Topology
	box := m.Mesh.Box()
	s.Triangles, s.Shells, s.Watertight, s.Genus = len(m.Mesh.F), t.Shells, t.Watertight, t.Genus
	s.Volume, s.Area, s.Bodies = m.Mesh.Volume(), m.Mesh.Area(), len(m.Nest.Bodies)
	s.Centroid = m.Mesh.Centroid().Array()
	s.Box = [2]plan.P3{box.Min.Array(), box.Max.Array()}
	s.Size = box.Size().Array()
	l := box.Longest()
	if !(s.Volume > 1e-12*l*l*l) || s.Bodies == 0 {
		return fault.New(fault.Input, path, "repair the mesh in the program that made it, and save it again", "the surface encloses no volume (%.3g mm3)", s.Volume)
	}
	m.overlaps()
	return nil
}

// prepare does what no split needs: the thinnest section, and the body made
// ready for the search of trapped air.
func (m *Master) prepare() {
	m.Air = pockets.Prepare(m.Mesh)
	m.Tree = bvh.Build(m.Mesh)
	if m.overlap {
		var share float64
		m.Section, share = chord.MeasureUnion(m.Mesh, m.Tree)
		m.Said.Area *= share
	} else {
		m.Section = chord.Measure(m.Mesh, m.Tree)
	}
	m.Wall = m.Section.Wall()
	thin := m.Section.Thinnest()
	m.Said.Thinnest, m.Said.ThinnestAt = thin.Length, thin.At.Array()
}
