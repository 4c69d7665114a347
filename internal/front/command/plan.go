package command

import (
	"fmt"
	"path/filepath"
	"strings"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/working/sequence"
)

type planVerb struct {
	Job    string `arg:"" name:"job.toml" help:"Job file."`
	Out    string `placeholder:"DIR" help:"Folder of the plan; by default named after the job file, with -plan."`
	NoPour bool   `help:"Leave the pour uncomputed."`
	NoFill bool   `help:"Compute freezing only: leave the filling out."`
	JSON   bool   `name:"json" help:"Print plan.json as well."`
}

// Run plans a job.
func (v planVerb) Run(c *call) error {
	if v.Job == "" {
		return fault.New(fault.Usage, "", "name the job file", "the name of the job file is empty")
	}
	name := file(v.Job)
	j, err := job.Load(name)
	if err != nil {
		return err
	}
	out := file(v.Out)
	if out == "" {
		base := filepath.Base(name)
		out = strings.TrimSuffix(base, filepath.Ext(base)) + "-plan"
	}
	return makePlan(c, j, sequence.Setting{Version: Version, Pour: !v.NoPour, NoFill: v.NoFill}, out, v.JSON)
}

type demo struct {
	Out    string `default:"pourwright-demo" placeholder:"DIR" help:"Folder of the plan (./pourwright-demo)."`
	NoPour bool   `help:"Leave the pour uncomputed."`
	NoFill bool   `help:"Compute freezing only: leave the filling out."`
	JSON   bool   `name:"json" help:"Print plan.json as well."`
}

// Run plans the example.
func (v demo) Run(c *call) error {
	j, data, err := sequence.Demo()
	if err != nil {
		return err
	}
	return makePlan(c, j, sequence.Setting{Version: Version, Mesh: data, Pour: !v.NoPour, NoFill: v.NoFill}, file(v.Out), v.JSON)
}

func makePlan(c *call, j *job.Job, s sequence.Setting, out string, asJSON bool) error {
	if err := sequence.Fits(out); err != nil {
		return err
	}
	bar := newProgress(c.err, "write")
	s.Progress = bar.stage
	s.Solver = solver(c, bar, false)
	r, err := sequence.Make(c.ctx, j, s)
	if err == nil {
		err = sequence.Save(c.ctx, r, out)
	}
	bar.end()
	if err != nil {
		return err
	}
	if asJSON {
		_, err := c.out.Write(r.JSON)
		return err
	}
	return tell(c, r.Plan, out)
}

// tell says how it ended.
func tell(c *call, p *plan.Plan, out string) error {
	verdict := map[string]string{plan.Pour: "Pour.", plan.Care: "Pour with care.", plan.No: "Do not pour."}[p.Verdict]
	if verdict == "" {
		return fault.New(fault.Internal, "", "", "the verdict %q is unknown", p.Verdict)
	}
	fmt.Fprintln(c.out, verdict)
	for _, f := range p.Findings {
		if f.Severity == plan.Note {
			continue
		}
		fmt.Fprintf(c.out, "  %s: %s\n", f.Severity, f.Say)
		if f.Do != "" {
			fmt.Fprintf(c.out, "    %s\n", f.Do)
		}
	}
	if f := p.Fill; f.Computed && f.CastShare != nil && f.TrappedShare != nil && f.Spread != nil && f.Time != nil {
		fmt.Fprintf(c.out, "Computed, the castings fill to %.1f %% in %.1f s; air keeps %.1f %%, within %.1f by the hand that pours.\n", 100**f.CastShare, *f.Time, 100**f.TrappedShare, 100**f.Spread)
	}
	_, err := fmt.Fprintf(c.out, "The plan is in %s; begin with card.pdf.\n", out)
	return err
}
