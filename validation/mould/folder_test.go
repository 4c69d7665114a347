package mould

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/working/sequence"
)

// finished is a plan read back from the files of its own folder.
type finished struct {
	plan                 *plan.Plan
	job                  *job.Job
	master               *mesh.Mesh   // in the block frame, as the first cavity has it
	masters              []*mesh.Mesh // the same for every cavity
	half1, half2, cavity *mesh.Mesh
}

// finish plans m by the job in text, writes the folder and reads it back.
func finish(t *testing.T, m *mesh.Mesh, text string) *finished {
	t.Helper()
	j, err := job.Parse(filepath.Join(t.TempDir(), "job.toml"), []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return finishJob(t, m, j)
}

func finishJob(t *testing.T, m *mesh.Mesh, j *job.Job) *finished {
	t.Helper()
	var b bytes.Buffer
	if err := meshfile.WriteSTL(&b, m); err != nil {
		t.Fatal(err)
	}
	dir := write(t, j, b.Bytes())
	text, err := os.ReadFile(filepath.Join(dir, "plan.json"))
	if err != nil {
		t.Fatal(err)
	}
	checkSchema(t, text)
	f := &finished{plan: &plan.Plan{}, job: j}
	if err := json.Unmarshal(text, f.plan); err != nil {
		t.Fatal(err)
	}
	if f.plan.Verdict == plan.No {
		return f
	}
	for name, to := range map[string]**mesh.Mesh{"half-1.stl": &f.half1, "half-2.stl": &f.half2, "cavity.stl": &f.cavity} {
		if *to, _, err = meshfile.Read(filepath.Join(dir, name), meshfile.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	stl, _, err := meshfile.Parse(b.Bytes(), "piece.stl", meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range f.plan.Master.Repairs {
		if r.Step == "left out dust" {
			stl = clean(stl)
		}
	}
	for _, p := range f.plan.Block.Placements {
		f.masters = append(f.masters, stl.Into(p.Vec()))
	}
	f.master = f.masters[0]
	return f
}

// clean leaves out bodies under 1e-4 of the volume, as the plan says it did.
func clean(m *mesh.Mesh) *mesh.Mesh {
	t := mesh.TopologyOf(m)
	n := mesh.NestOf(m, t)
	var keep []int32
	for _, b := range n.Bodies {
		if n.Volume[b[0]] >= 1e-4*m.Volume() {
			keep = append(keep, b...)
		}
	}
	return mesh.Pick(m, t, keep)
}

// write makes the plan and writes its folder.
func write(t *testing.T, j *job.Job, mesh []byte) string {
	t.Helper()
	r, err := sequence.Make(context.Background(), j, sequence.Setting{Mesh: mesh})
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "plan")
	if err := sequence.Save(context.Background(), r, dir); err != nil {
		t.Fatal(err)
	}
	return dir
}
