package command

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/book/pour"
)

// TestPourOfAFolder computes the pour of a plan's folder on coarse cells, twice
// with the same bytes, and once with a warmer mould, which freezes later.
func TestPourOfAFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "plan")
	if code, _, err := do("demo", "--no-pour", "--out", dir); code != 0 {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(filepath.Join(dir, "plan.json"))
	compute := func(args ...string) *pour.Doc {
		t.Helper()
		code, out, err := do(append([]string{"pour", dir, "--freeze", "--cell", "1.6", "--json"}, args...)...)
		if code != 0 || !strings.Contains(err, "MB") {
			t.Fatalf("exit code %d\n%s", code, err)
		}
		d := &pour.Doc{}
		if e := json.Unmarshal([]byte(out), d); e != nil {
			t.Fatal(e)
		}
		if b, _ := os.ReadFile(filepath.Join(dir, pour.Name)); string(b) != out {
			t.Error("--json prints something else than pour.json")
		}
		return d
	}
	a := compute()
	first, _ := os.ReadFile(filepath.Join(dir, pour.Name))
	fields, _ := os.ReadFile(filepath.Join(dir, "fields.vti"))
	compute()
	if b, _ := os.ReadFile(filepath.Join(dir, pour.Name)); string(b) != string(first) {
		t.Error("pour.json differs the second time")
	}
	if b, _ := os.ReadFile(filepath.Join(dir, "fields.vti")); string(b) != string(fields) || len(b) == 0 {
		t.Error("fields.vti differs the second time")
	}
	if !a.Freeze.Computed || a.Freeze.OpenAfter == nil || a.Freeze.Error == nil || !a.Cycle.Computed || len(a.Shots) < 3 || len(a.Probes) < 3 {
		t.Fatalf("%+v", a.Freeze)
	}
	if s := a.Balance.Share; !(s < 1e-5 && s > -1e-5) {
		t.Errorf("heat left over: %g of what was poured", s)
	}
	b := compute("--mould", "80", "--rest", "20m", "--how", "closed", "--moulds", "2")
	if *b.Freeze.SolidAfter <= *a.Freeze.SolidAfter {
		t.Errorf("solid after %g s in a mould of 80 °C, %g in the first", *b.Freeze.SolidAfter, *a.Freeze.SolidAfter)
	}
	if *b.Cycle.Rest != 1200 || *b.Cycle.How != "closed" || *b.Cycle.Moulds != 2 || b.Setting.Mould != 80 {
		t.Errorf("%+v", b.Cycle)
	}
	if now, _ := os.ReadFile(filepath.Join(dir, "plan.json")); string(now) != string(before) {
		t.Error("the plan itself has changed")
	}
	refused(t, "cold metal", "liquid", 1, "pour", dir, "--metal", "200")
	refused(t, "no number", "rubber", 1, "pour", dir, "--conductivity", "-1")
	refused(t, "a fine grid", "free", 1, "pour", dir, "--cell", "0.06")
	refused(t, "no folder", "plan", 1, "pour", filepath.Join(dir, "none"))
	refused(t, "a negative wait", "--wait", 2, "pour", dir, "--wait", "-5m")
	refused(t, "no way", "how", 2, "pour", dir, "--how", "in the pond")
	if b, _ := os.ReadFile(filepath.Join(dir, pour.Name)); !strings.Contains(string(b), `"mould": 80`) {
		t.Error("a refused call has changed pour.json")
	}
}
