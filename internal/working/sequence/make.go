package sequence

import (
	"bytes"
	"context"
	"math"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/block"
	"pourwright/internal/mould/followboard"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/internal/shop/batch"
	"pourwright/internal/working/rig"
)

// Setting is what a plan needs beside the job.
type Setting struct {
	Version  string
	Mesh     []byte // the bytes of the mesh file, where it is not read from the job's path
	Progress Progress
	Pour     bool        // compute the pour
	NoFill   bool        // of it, leave the filling out
	Solver   rig.Options // for it; Progress is set here
}

// Result is a finished plan: the document and the files of its folder.
type Result struct {
	Plan  *plan.Plan
	JSON  []byte
	Files []File

	clock *clock
}

// The largest and the smallest master of which a plan is made, mm.
const (
	least   = 5
	largest = 600
)

// trace is a plan on its way: each stage fills one field from those above it.
type trace struct {
	job     *job.Job
	set     Setting
	raw     raw
	lump    *lump // of a master known by measures, nil else
	master  *Master
	long    float64 // the master's longest side, mm
	rubber  parting.Rubber
	split   *parting.Split
	thin    float64 // thinnest section by the calipers, 0 where they do not say
	stand   *pockets.Stand
	layout  *block.Layout // nil where no mould can be made
	solids  *block.Solids
	board   *followboard.Result
	formers []followboard.Former
	sheet   *batch.Sheet // nil where no mould can be made
	poured  *rig.Result  // nil where no mould can be made; without fields where the pour was not computed
	plan    *plan.Plan
	files   []File
	current *clock
}

// Demo returns the job of the example piece and the bytes of its mesh.
func Demo() (*job.Job, []byte, error) {
	j, err := job.Parse("demo.toml", []byte(sculpt.DemoJob))
	if err != nil {
		return nil, nil, err
	}
	m, err := sculpt.Demo()
	if err != nil {
		return nil, nil, err
	}
	var b bytes.Buffer
	err = meshfile.WriteSTL(&b, m)
	return j, b.Bytes(), err
}

// Make plans a job. A plan with the verdict no is done too.
func Make(ctx context.Context, j *job.Job, s Setting) (*Result, error) {
	t := &trace{job: j, set: s, current: newClock(ctx, s.Progress)}
	for _, stage := range []struct {
		name string
		run  func() error
	}{
		{"read", t.readMaster},
		{"check", t.checkMaster},
		{"split", t.findSplit},
		{"stand", t.findStand},
		{"lay out", t.layOut},
		{"build", t.build},
		{"figures", t.figure},
		{"pour", t.pour},
		{"judge", t.judge},
		{"draw", t.draw},
	} {
		do := t.current.run
		if stage.name == "pour" { // it stops by itself and keeps what it has
			do = t.current.whole
		}
		if err := do(stage.name, stage.run); err != nil {
			return nil, err
		}
	}
	t.plan.Timing = t.current.timing
	var b bytes.Buffer
	if err := plan.Write(&b, t.plan); err != nil {
		return nil, err
	}
	return &Result{Plan: t.plan, JSON: b.Bytes(), Files: t.files, clock: t.current}, nil
}

func (t *trace) readMaster() error {
	s := Source{Data: t.set.Mesh, Unit: t.job.Master.Unit, From: "job"}
	var err error
	if t.job.Master.Measured != nil {
		t.lump, err = lumpOf(t.job)
		if err == nil {
			t.raw = t.lump.raw()
		}
		return err
	}
	if t.job.Master.Photo != nil {
		p := photoOf(t.job)
		if s.Photo, err = Photograph(p); err != nil {
			return err
		}
		s.Path, s.Data = p.File, nil
	} else if s.Path, err = t.job.MeshPath(); err != nil {
		return err
	}
	t.raw, err = read(s)
	return err
}

func (t *trace) checkMaster() error {
	var err error
	if t.master, err = check(t.raw); err != nil {
		return err
	}
	t.raw = raw{source: t.raw.source, facts: t.raw.facts}
	if err = t.master.dust(); err != nil {
		return err
	}
	if err = t.calipers(); err != nil {
		return err
	}
	t.weighed()
	if t.lump != nil {
		t.lump.tell(t.master)
	}
	t.long = t.master.Mesh.Box().Longest()
	if t.long < least || t.long > largest {
		return fault.New(fault.Input, t.raw.source.Path, `check the unit: write unit = "mm" (cm, m, in, um) under [master]`,
			"the master's longest side is %.4g mm taken in %s; a plan is made from %d to %d mm", t.long, t.master.Said.Unit, least, largest)
	}
	t.master.thin()
	return nil
}

func (t *trace) findSplit() error {
	j, r := t.job, &t.job.RubberRow
	o := parting.Options{
		Rubber: &parting.Rubber{Shore: r.Shore.X, Elongation: r.Elongation.X, Free: margin(j),
			Hot: true}, // castings come out at the solidus less 20 K, hot for any alloy here
		Show: points(j.Master.Show),
	}
	if p := j.Split.Pull; p != nil {
		d := vec.FromArray(*p).Unit()
		o.Pull = &d
	}
	t.rubber = *o.Rubber
	var err error
	t.split, err = split(t.current.ctx, t.master, o)
	if t.lump != nil && err == nil {
		t.lump.sections(t.master)
	}
	return err
}

// margin is the rubber beside the master that an overhang can bulge into, mm.
func margin(j *job.Job) float64 {
	if j.Block.Margin != nil {
		return *j.Block.Margin
	}
	return 12
}

func (t *trace) findStand() error {
	if err := t.pointed(); err != nil {
		return err
	}
	a := &t.job.AlloyRow
	o := standing{bore: pockets.CriticalBore(a.SurfaceTension.X, a.DensityLiquid.X), show: points(t.job.Master.Show), hide: points(t.job.Master.Hide)}
	if p := t.job.Stand.Up; p != nil {
		d := vec.FromArray(*p).Unit()
		if math.Abs(d.Dot(t.split.Pull)) > alongPull {
			z := t.split.Pull
			return fault.New(fault.Input, t.job.File, "give a direction across it, or fix [split] pull as well",
				"stand.up lies along the pull %.3f, %.3f, %.3f; the block stands on its edge when poured", z.X+0, z.Y+0, z.Z+0)
		}
		o.up = &d
	}
	var err error
	t.stand, err = stand(t.master, t.split, o)
	return err
}

// alongPull is the cosine from which a way up counts as along the pull, half a
// degree.
const alongPull = 0.99996

func points(p []job.P3) []vec.V3 {
	var r []vec.V3
	for _, q := range p {
		r = append(r, vec.FromArray(q))
	}
	return r
}
