package examples

import (
	"os"
	"path/filepath"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/shape/sculpt"
)

func TestDemoJobIsTheExample(t *testing.T) {
	b, err := os.ReadFile(filepath.Join("fern-pull", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if string(b) != sculpt.DemoJob {
		t.Error("fern-pull/job.toml and sculpt.DemoJob differ")
	}
}

func TestJobsRead(t *testing.T) {
	for _, p := range Pieces() {
		j, err := job.Load(filepath.Join(p.Name, "job.toml"))
		if err != nil {
			t.Errorf("%s: %v", p.Name, err)
			continue
		}
		if j.Master.Mesh != p.Mesh {
			t.Errorf("%s: the job names %s, the piece writes %s", p.Name, j.Master.Mesh, p.Mesh)
		}
	}
}
