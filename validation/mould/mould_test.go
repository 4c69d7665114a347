// Package mould holds finished plans to what a mould must be, from the files
// of the plan's folder alone: the solids fill the block, nothing crosses
// itself, the master is in the cavity to 0.5 % and 0.1 mm, the line lies on the
// master and both halves come off.
package mould

import (
	"encoding/json"
	"math"
	"path/filepath"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"

	"pourwright/examples"
	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/solid"
	"pourwright/internal/shape/voxel"
	"pourwright/validation/outside"
)

// checkSolids: closed, free of crossings as float32, filling the block.
func (f *finished) checkSolids(t *testing.T) {
	s := f.plan.Block.Size
	block, sum := s[0]*s[1]*s[2], 0.0
	for name, m := range map[string]*mesh.Mesh{"half 1": f.half1, "half 2": f.half2, "cavity": f.cavity} {
		if top := mesh.TopologyOf(m); !top.Watertight {
			t.Errorf("%s is not watertight: %+v", name, *top)
		}
		if top := mesh.TopologyOf(m); name != "cavity" && top.Shells != 1 {
			t.Errorf("%s falls into %d parts", name, top.Shells)
		}
		if n := len(solid.SelfCrossings(m)); n > 0 {
			t.Errorf("%s: %d pairs of triangles cross", name, n)
		}
		sum += m.Volume()
	}
	if d := math.Abs(sum/block - 1); d > 1e-6 {
		t.Errorf("the solids differ from the block by %.2e of it", d)
	}
}

// spans casts columns of m on a grid over the block.
func (f *finished) spans(m *mesh.Mesh, h float64) *voxel.Columns {
	s := f.plan.Block.Size
	return voxel.Cast(m, int(s[0]/h), int(s[1]/h), -s[0]/2+0.317*h, -s[1]/2+0.291*h, h)
}

func common(a, b []voxel.Span, lift float64) float64 {
	w := 0.0
	for _, x := range a {
		for _, y := range b {
			w += max(0, min(x.Hi+lift, y.Hi)-max(x.Lo+lift, y.Lo))
		}
	}
	return w
}

// checkMaster: of each cavity's master at least 99.5 % lies in the cavity, and
// its corners within 0.1 mm of the cavity's surface, but where channels join.
func (f *finished) checkMaster(t *testing.T) {
	const h = 0.31
	c, m := f.spans(f.cavity, h), f.spans(f.master, h)
	in, all := 0.0, 0.0
	for q := range m.Len() {
		in += common(m.Of(q), c.Of(q), 0)
		for _, s := range m.Of(q) {
			all += s.Hi - s.Lo
		}
	}
	if in < 0.995*all {
		t.Errorf("only %.4f of the master is in the cavity", in/all)
	}
	tree := bvh.Build(f.cavity)
	worst, at := 0.0, vec.V3{}
	for i := 0; i < len(f.master.V); i += max(1, len(f.master.V)/4000) {
		p := f.master.V[i]
		_, _, d := tree.Closest(p, 5)
		if d > worst && d > 0.1 && tree.Winding(p) > 0.5 {
			continue // inside: a channel covers it
		}
		if d > worst {
			worst, at = d, p
		}
	}
	if worst > 0.1 {
		t.Errorf("a corner of the master lies %.3f mm from the cavity, at %v", worst, at)
	}
}

// checkLine: the parting line lies on the master within 1e-4 of its size.
func (f *finished) checkLine(t *testing.T, m *mesh.Mesh) {
	tree := bvh.Build(m)
	size := m.Box().Longest()
	worst, n := 0.0, 0
	for _, l := range f.plan.Split.Line {
		for _, p := range l {
			_, _, d := tree.Closest(vec.FromArray(p), size)
			worst = max(worst, d)
			n++
		}
	}
	if n == 0 {
		t.Error("no parting line")
	}
	if worst > 1e-4*size {
		t.Errorf("the line leaves the master by %.2e of its size", worst/size)
	}
}

// gaps marks the columns of the listed undercuts, two cells wider.
func (f *finished) gaps(m *voxel.Columns) []bool {
	g := make([]bool, m.Len())
	frame := vec.Frame{}
	b := f.plan.Block.Frame
	frame.Origin, frame.X, frame.Y, frame.Z = vec.FromArray(b.Origin), vec.FromArray(b.X), vec.FromArray(b.Y), vec.FromArray(b.Z)
	grown := make([]vec.Box, 0)
	for _, u := range f.plan.Split.Undercuts {
		grown = append(grown, vec.Box{Min: vec.FromArray(u.Box[0]), Max: vec.FromArray(u.Box[1])}.Grow(2*m.H))
	}
	listed := func(p vec.V3) bool {
		q := frame.From(p)
		for _, b := range grown {
			if q.X >= b.Min.X && q.Y >= b.Min.Y && q.Z >= b.Min.Z && q.X <= b.Max.X && q.Y <= b.Max.Y && q.Z <= b.Max.Z {
				return true
			}
		}
		return false
	}
	for j := range m.NY {
		for i := range m.NX {
			s := m.At(i, j)
			for k := 1; k < len(s); k++ {
				p := vec.V3{X: m.X0 + float64(i)*m.H, Y: m.Y0 + float64(j)*m.H, Z: (s[k-1].Hi + s[k].Lo) / 2}
				if !listed(p) {
					continue
				}
				for y := max(0, j-2); y <= min(m.NY-1, j+2); y++ {
					for x := max(0, i-2); x <= min(m.NX-1, i+2); x++ {
						g[y*m.NX+x] = true
					}
				}
			}
		}
	}
	return g
}

// checkUndercuts: the listed volumes add up to the locked volume.
func (f *finished) checkUndercuts(t *testing.T) {
	s := f.plan.Split
	sum := 0.0
	for _, u := range s.Undercuts {
		sum += u.Volume
	}
	if d := math.Abs(sum - s.LockedVolume); d > 0.05*s.LockedVolume+1e-3*f.plan.Master.Volume {
		t.Errorf("undercuts add up to %.4g of %.4g mm3 locked", sum, s.LockedVolume)
	}
}

// checkSchema: plan.json follows the schema that ships with it.
func checkSchema(t *testing.T, text []byte) {
	t.Helper()
	var s jsonschema.Schema
	if err := json.Unmarshal(plan.SchemaJSON(), &s); err != nil {
		t.Fatal(err)
	}
	r, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatal(err)
	}
	if err := r.Validate(m); err != nil {
		t.Errorf("plan.json breaks its schema: %v", err)
	}
}

// checkBoxes: every side of the box of an undercut of more than 2e-4 of the
// volume is reached by its gaps within two cells.
func (f *finished) checkBoxes(t *testing.T) {
	const h = 0.1
	m := f.spans(f.master, h)
	frame := f.plan.Block.Frame.Vec()
	var ends []vec.V3
	for j := range m.NY {
		for i := range m.NX {
			s := m.At(i, j)
			for k := 1; k < len(s); k++ {
				x, y := m.X0+float64(i)*h, m.Y0+float64(j)*h
				ends = append(ends, frame.From(vec.V3{X: x, Y: y, Z: s[k-1].Hi}), frame.From(vec.V3{X: x, Y: y, Z: s[k].Lo}))
			}
		}
	}
	cell := h + f.master.Box().Longest()/240 // ours and the split's
	for n, u := range f.plan.Split.Undercuts {
		if u.Volume < 2e-4*f.plan.Master.Volume { // slits thinner than a cell: the columns here miss them
			continue
		}
		box := vec.Box{Min: vec.FromArray(u.Box[0]), Max: vec.FromArray(u.Box[1])}
		near, seen := box.Grow(cell), vec.Empty()
		for _, p := range ends {
			if p == p.Max(near.Min).Min(near.Max) {
				seen = seen.Add(p)
			}
		}
		lo, hi := seen.Min.Sub(box.Min), box.Max.Sub(seen.Max)
		if w := max(lo.X, lo.Y, lo.Z, hi.X, hi.Y, hi.Z); w > 2*cell {
			t.Errorf("undercut %d of %.3g mm3: its box reaches %.2f mm beyond its gaps (two cells are %.2f)", n+1, u.Volume, w, 2*cell)
		}
	}
}

func (f *finished) check(t *testing.T, m *mesh.Mesh) {
	p := f.plan
	if p.Verdict == plan.No {
		for _, x := range p.Findings {
			t.Logf("no: %s %s %s", x.Code, x.Severity, x.Say)
		}
		return
	}
	t.Logf("%s: locked %.3f %%, rise %.1f, %d undercuts, %d loops, block %.0f x %.0f x %.0f, %d triangles in half 1", p.Verdict, 100*p.Split.LockedShare,
		p.Split.LineRise, len(p.Split.Undercuts), len(p.Split.Line), p.Block.Size[0], p.Block.Size[1], p.Block.Size[2], len(f.half1.F))
	f.checkSolids(t)
	f.checkMaster(t)
	f.checkLine(t, m)
	f.checkUndercuts(t)
	f.checkBoxes(t)
	f.checkOpening(t)
	f.checkReach(t)
	f.checkKeys(t)
	f.checkAir(t)
	f.checkSides(t)
	f.checkMargins(t)
	f.checkMasses(t)
}

func TestExamples(t *testing.T) {
	for _, p := range examples.Pieces() {
		t.Run(p.Name, func(t *testing.T) {
			m, err := p.Make()
			if err != nil {
				t.Fatal(err)
			}
			j, err := job.Load(filepath.Join("..", "..", "examples", p.Name, "job.toml"))
			if err != nil {
				t.Fatal(err)
			}
			finishJob(t, m, j).check(t, m)
		})
	}
}

// TestScans plans the castable meshes of the outside set at 60 mm.
func TestScans(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names, files := outside.Values[struct {
		Format   string
		Castable bool
	}](t, dir)
	n := 0
	for _, name := range names {
		x := files[name]
		if !x.Castable || (x.Format != "stl" && x.Format != "obj" && x.Format != "ply" && x.Format != "off") {
			continue
		}
		n++
		t.Run(name, func(t *testing.T) {
			m, _, err := meshfile.Read(filepath.Join(dir, "files", name), meshfile.Options{})
			if err != nil {
				t.Fatal(err)
			}
			r := outside.At60(m)
			finish(t, r, outside.Job).check(t, r)
		})
	}
	if n < 15 {
		t.Errorf("only %d castable meshes", n)
	}
}
