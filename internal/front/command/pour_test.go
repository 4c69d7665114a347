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
	if _, _, err := do("pour", dir, "--cell", "0.06"); strings.Contains(err, "pours on") {
		t.Errorf("a grid that does not fit is told after the filling:\n%s", err)
	}
	if b, _ := os.ReadFile(filepath.Join(dir, pour.Name)); !strings.Contains(string(b), `"mould": 80`) {
		t.Error("a refused call has changed pour.json")
	}
}

// TestFillingOfAFolder computes the filling of a plan's folder on coarse cells, with the options of a
// hand; what is told and what stands in the folder agree.
func TestFillingOfAFolder(t *testing.T) {
	t.Setenv("POURWRIGHT_CACHE", t.TempDir())
	dir := filepath.Join(t.TempDir(), "plan")
	if code, _, err := do("demo", "--no-pour", "--out", dir); code != 0 {
		t.Fatal(err)
	}
	args := []string{"pour", dir, "--fill", "--fill-cell", "4.5", "--pours", "1", "--rate", "9", "--height", "30", "--ladle", "4", "--pause", "0.1s", "--tilt", "-5", "--tap"}
	code, out, err := do(args...)
	if code != 0 || !strings.Contains(err, "The filling is computed on") {
		t.Fatalf("exit code %d\n%s", code, err)
	}
	for _, w := range []string{"at 9 cm3/s from 2 ladles from 30 mm; one pour by a steady hand on cells of 4.5 mm", "Air that stays:", "Coldest metal at the end", "Metal left over:", "; heat "} {
		if !strings.Contains(out, w) {
			t.Errorf("no %q in\n%s", w, out)
		}
	}
	if strings.Contains(out, "Solid") {
		t.Error("freezing is told and was not asked for")
	}
	text, _ := os.ReadFile(filepath.Join(dir, pour.Name))
	d := &pour.Doc{}
	if e := json.Unmarshal(text, d); e != nil {
		t.Fatal(e)
	}
	p := d.Filling.Pouring
	if !d.Filling.Computed || d.Freeze.Computed || len(d.Filling.Runs) != 1 || *p.Ladle != 4000 || *p.Rate != 9000 || p.Pause != 0.1 || p.Tilt[0] != -5 || !p.Tap {
		t.Errorf("%+v", d.Filling)
	}
	for _, name := range []string{"fill.png", "filling.png"} {
		if b, e := os.ReadFile(filepath.Join(dir, name)); e != nil || !strings.HasPrefix(string(b), "\x89PNG") {
			t.Errorf("%s: %v", name, e)
		}
	}
	b, e := os.ReadFile(filepath.Join(dir, pour.FramesName))
	if e != nil {
		t.Fatal(e)
	}
	if f, e := pour.ParseFrames(b, pour.FramesName); e != nil || len(f.Times) < 10 {
		t.Error("frames", e)
	}
	if _, e := os.Stat(filepath.Join(dir, "solid.png")); e == nil {
		t.Error("a picture of a freezing that was not computed")
	}
	refused(t, "a pause of a minute", "pause", 1, "pour", dir, "--fill", "--pause", "2m")
	refused(t, "a flood", "rate", 1, "pour", dir, "--fill", "--rate", "1e7")
	refused(t, "upside down", "tilt", 1, "pour", dir, "--fill", "--tilt", "90")
	refused(t, "fine cells", "larger cells", 1, "pour", dir, "--fill", "--fill-cell", "0.15")
	refused(t, "cells of dust", "cell", 1, "pour", dir, "--fill", "--fill-cell", "0.05")
}
