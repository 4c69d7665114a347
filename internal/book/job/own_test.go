package job

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/book/material"
)

// A rubber that the workshop measured is found beside the job; the values of the
// job still overrule it, and its limits reach the plan.
func TestOwnRubberBesideTheJob(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(dir, "settings"))
	t.Setenv("HOME", dir)
	file := filepath.Join(dir, "pull.toml")
	text := "[master]\nmesh = \"pull.stl\"\n[rubber]\nkind = \"red-30-may\"\ndensity = 1.31\n[alloy]\nkind = \"tin\"\n[order]\ncastings = 2\nuse = \"decor\"\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(file); err == nil || !strings.Contains(err.Error(), "pull.toml:4:1: no rubber") {
		t.Errorf("without own rows: %v", err)
	}
	own := filepath.Join(dir, material.OwnFile)
	row := material.OwnRubber{Name: "red-30-may", Base: "condensation-heat-30", Values: []material.OwnValue{
		{Property: "conductivity", Value: 0.313, Low: 0.297, High: 0.331}, {Property: material.Interface, Value: 1800, Low: 780}}}
	if err := material.SaveOwn(own, row); err != nil {
		t.Fatal(err)
	}
	j, err := Load(file)
	if err != nil {
		t.Fatal(err)
	}
	if k := j.RubberRow.Conductivity; k.X != 0.313 || k.High != 0.331 || !k.Measured() || j.RubberRow.Density.X != 1310 || j.Interface == nil || j.Interface.Low != 780 {
		t.Errorf("%+v, %+v", j.RubberRow, j.Interface)
	}
	if err := os.WriteFile(own, []byte("[[rubber]]\nname = 3\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(file); err == nil || !strings.Contains(err.Error(), material.OwnFile+":2:1") {
		t.Errorf("a broken file of own rows: %v", err)
	}
}
