package material

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pourwright/internal/ground/fault"
)

// invented rows
func redRubber() OwnRubber {
	return OwnRubber{Name: "red-30-may", Base: "condensation-heat-30", Words: `tin "red", 1:20`, Values: []OwnValue{
		{Property: "conductivity", Value: 0.313, Low: 0.297, High: 0.331, Level: 0.95, Date: "2026-05-12", Log: "pour-7.csv", Note: "two beads"},
		{Property: Interface, Value: 1800, Low: 780, Level: 0.95, Date: "2026-05-12", Log: "pour-7.csv"},
	}}
}

func TestOwnRowsComeBack(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "deep", OwnFile)
	if err := SaveOwn(path, redRubber()); err != nil {
		t.Fatal(err)
	}
	second := redRubber()
	second.Name, second.Words = "blue-20", ""
	before, _ := os.ReadFile(path)
	before = append(before, []byte("# a remark of the maker\n")...)
	os.WriteFile(path, before, 0o600)
	os.Chmod(path, 0o600)
	if err := SaveOwn(path, second); err != nil {
		t.Fatal(err)
	}
	after, _ := os.ReadFile(path)
	if !strings.HasPrefix(string(after), string(before)) {
		t.Error("what stood in the file was changed")
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v", info.Mode())
	}
	if list, _ := os.ReadDir(filepath.Dir(path)); len(list) != 1 {
		t.Errorf("%d files are left", len(list))
	}
	o, err := LoadOwn(filepath.Join(dir, "none", OwnFile), path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]OwnRubber{redRubber(), second}, o.Rows()); d != "" {
		t.Error(d)
	}
	r, err := o.FindRubber("red-30-may")
	if err != nil {
		t.Fatal(err)
	}
	base, _ := FindRubber("condensation-heat-30")
	k := r.Conductivity
	if k.X != 0.313 || k.Low != 0.297 || k.High != 0.331 || k.Source != OwnSource || !k.Measured() || !strings.Contains(k.Note, "pour-7.csv") || r.Density != base.Density || r.Name != "red-30-may" {
		t.Errorf("%+v", r)
	}
	if SourceText(OwnSource) == OwnSource {
		t.Error("the source has no text")
	}
	if h, ok := o.Interface("red-30-may"); !ok || h.X != 1800 || h.Low != 780 || h.High < 1e5 {
		t.Errorf("interface %+v", h)
	}
	if _, ok := o.Interface("condensation-heat-30"); ok {
		t.Error("the table has no interface coefficient")
	}
	if _, err := o.FindRubber("condensation-heat-30"); err != nil {
		t.Error(err)
	}
	if _, err := o.FindRubber("red-30-mai"); err == nil || !strings.Contains(fault.HintOf(err), "red-30-may") {
		t.Errorf("%v (%s)", err, fault.HintOf(err))
	}
	var none *Own
	if _, err := none.FindRubber("addition-heat-40"); err != nil || none.Rows() != nil {
		t.Error("no own rows")
	}
	if err := SaveOwn(path, second); err == nil || !strings.Contains(err.Error(), "there is a row blue-20") {
		t.Errorf("the same name again: %v", err)
	}
	if now, _ := os.ReadFile(path); string(now) != string(after) {
		t.Error("a refused row changed the file")
	}
}

// The file beside the job wins over the one among the settings.
func TestEarlierFileWins(t *testing.T) {
	a, b := filepath.Join(t.TempDir(), OwnFile), filepath.Join(t.TempDir(), OwnFile)
	near, far := redRubber(), redRubber()
	near.Values[0].Value = 0.3
	for p, r := range map[string]OwnRubber{a: near, b: far} {
		if err := SaveOwn(p, r); err != nil {
			t.Fatal(err)
		}
	}
	o, err := LoadOwn(a, b)
	if err != nil {
		t.Fatal(err)
	}
	if r, _ := o.FindRubber("red-30-may"); r.Conductivity.X != 0.3 || len(o.Rows()) != 1 {
		t.Errorf("%+v", o.Rows())
	}
	if p := OwnPaths(filepath.Join("jobs", "pull.toml")); p[0] != filepath.Join("jobs", OwnFile) {
		t.Errorf("%v", p)
	}
}

func TestOwnRowErrors(t *testing.T) {
	good := redRubber().toml(false)
	edit := func(from, to string) string { return strings.Replace(good, from, to, 1) }
	for _, c := range []struct{ name, text, place, word, hint string }{
		{"syntax", edit("value = 0.313", "value = 0,313"), "m:7:", "not a file of own rows", "TOML"},
		{"unknown key", edit("low =", "lower ="), "m:8:1", "unknown key lower", "low"},
		{"unknown property", edit("rubber.conductivity", "rubber.conductivty"), "m:6:9", "no property conductivty", "conductivity"},
		{"unit", edit(`unit = "W/mK"`, `unit = "W/cmK"`), "m:10:1", "kept in W/mK", "W/mK"},
		{"outside", edit("value = 0.313", "value = 31.3"), "m:6:9", "outside", "W/mK"},
		{"limits", edit("low = 0.297", "low = 0.35"), "m:6:9", "limits", "low <= value"},
		{"text", edit("value = 0.313", `value = "0.313"`), "m:7:1", "not a number", "point"},
		{"no value", edit("value = 0.313\n", ""), "m:6:9", "no value", "value"},
		{"base", edit(`base = "condensation-heat-30"`, `base = "condensation-heat-31"`), "m:4:1", "no rubber", "condensation-heat-30"},
		{"name of the table", edit("red-30-may", "addition-20"), "m:3:1", "the table has a row", "another name"},
		{"name", edit("red-30-may", "Red 30"), "m:3:1", "small letters", "as in"},
		{"date", edit("2026-05-12", "12.5.26"), "m:6:9", "date", "year"},
		{"twice", good + good, "m:26:1", "stands twice", "another name"},
		{"one bracket", strings.Replace(good, "[[rubber]]", "[rubber]", 1), "m:2:2", "not a list", "two brackets"},
		{"alloy", good + "[[alloy]]\nname = \"x\"\n", "m:24:3", "unknown key alloy", "[[rubber]]"},
		{"empty row", "[[rubber]]\nname = \"a\"\nbase = \"addition-20\"\n", "m:1:3", "no value of its own", "conductivity"},
	} {
		_, err := ParseOwn("m", []byte(c.text))
		if err == nil || !strings.HasPrefix(err.Error(), c.place) || !strings.Contains(err.Error(), c.word) || !strings.Contains(fault.HintOf(err), c.hint) || fault.KindOf(err) != fault.Input {
			t.Errorf("%s: %v (%s)", c.name, err, fault.HintOf(err))
		}
	}
	bad := redRubber()
	bad.Values[0].High = 0.1
	path := filepath.Join(t.TempDir(), OwnFile)
	if SaveOwn(path, bad) == nil {
		t.Error("limits that do not hold the value were saved")
	}
	os.WriteFile(path, []byte("[[rubber\n"), 0o644)
	if err := SaveOwn(path, redRubber()); err == nil {
		t.Error("a broken file was added to")
	}
	if now, _ := os.ReadFile(path); string(now) != "[[rubber\n" {
		t.Error("a broken file was changed")
	}
}

func FuzzParseOwn(f *testing.F) {
	f.Add([]byte(redRubber().toml(true)))
	f.Add([]byte("rubber = [{name = \"a\", base = \"addition-20\", heat = {value = 1300}}]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := ParseOwn("f", data)
		if err != nil {
			if fault.KindOf(err) != fault.Input {
				t.Fatal(err)
			}
			return
		}
		for _, r := range list {
			again, err := ParseOwn("again", []byte(r.toml(true)))
			if err != nil || len(again) != 1 || again[0].Name != r.Name || len(again[0].Values) != len(r.Values) {
				t.Fatalf("%v: %s", err, r.toml(true))
			}
			if _, err := r.Rubber(); err != nil {
				t.Fatal(err)
			}
		}
	})
}
