package job

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/pelletier/go-toml/v2"

	"pourwright/internal/book/material"
	"pourwright/internal/ground/fault"
)

// full is a job with every section, of an invented workshop.
const full = `title  = "Oak-leaf drawer pull"
[master]
mesh     = "pull.stl"
unit     = "mm"
material = "resin print"
control  = [[ [0,0,0], [90,0,0], 89.6 ]]
thickness = [[ [1.5,2,3], 1.4 ]]
mass     = 68
show     = [[12,4,9]]
hide     = [[0,0,-3.5], [1,2,3]]
in_hand  = 2
[rubber]
kind     = "condensation-heat-30"
density  = 1.31
rating   = 310
[alloy]
kind     = "pewter-92-7-1"
origin   = "certified"
lead     = 0.004
[order]
castings = 24
use      = "decor"
reject_pct = 8.5
[split]
pull = [0,0,1]
[stand]
up = [0,1,0]
[gate]
at = [1,2,3]
[block]
margin = 20
cavities = 2
[[insert]]
kind = "pin"
at = [1,2,3]
direction = [0,1,0]
diameter = 3
length = 20
[bench]
scale_step = 0.1
vacuum_pot_l = 6
pump_mbar = 20
altitude = 300
melting_pot_kg = 2
ladle_g = 500
clamps = 4
room_c = 21.5
humidity = 50
paper = "Letter"
[stock]
rubber_a_g = 1000
rubber_b_g = 50
alloy_g = 3000
[prices]
currency = "EUR"
rubber_kg = 30
alloy_kg = 40.5
`

const least = `[master]
mesh = "a.stl"
[rubber]
kind = "addition-heat-40"
[alloy]
kind = "tin"
[order]
castings = 1
use = "toy"
`

func TestParseReadsEverySection(t *testing.T) {
	j, err := Parse("shop/pull.toml", []byte(full))
	if err != nil {
		t.Fatal(err)
	}
	if j.Title != "Oak-leaf drawer pull" || j.Master.Unit != "mm" || *j.Master.InHand != 2 || *j.Master.Mass != 68 {
		t.Errorf("master %+v", j.Master)
	}
	if c := j.Master.Control; len(c) != 1 || c[0] != (Control{P3{}, P3{90, 0, 0}, 89.6}) {
		t.Errorf("control %+v", c)
	}
	if c := j.Master.Thickness; len(c) != 1 || c[0] != (Thickness{P3{1.5, 2, 3}, 1.4}) {
		t.Errorf("thickness %+v", c)
	}
	if *j.Split.Pull != (P3{0, 0, 1}) || *j.Stand.Up != (P3{0, 1, 0}) || *j.Gate.At != (P3{1, 2, 3}) || *j.Block.Cavities != 2 {
		t.Error("overruling keys")
	}
	if len(j.Insert) != 1 || j.Insert[0] != (Insert{"pin", P3{1, 2, 3}, P3{0, 1, 0}, 3, 20}) {
		t.Errorf("insert %+v", j.Insert)
	}
	if j.RubberRow.Density.X != 1310 || !j.RubberRow.Density.Measured() || j.RubberRow.Rating.X != 310 || j.RubberRow.Shrink.Measured() {
		t.Errorf("rubber row %+v", j.RubberRow)
	}
	if j.AlloyRow.Share("Pb") != 0.004/100 || *j.Order.Reject != 8.5 || j.Paper() != "Letter" || *j.Prices.Alloy != 40.5 {
		t.Error("alloy, order, bench or prices")
	}
	if p, err := j.MeshPath(); err != nil || p != filepath.Join("shop", "pull.stl") {
		t.Errorf("mesh path %q, %v", p, err)
	}
}

func TestOnlyFiveKeysAreRequired(t *testing.T) {
	j, err := Parse("a.toml", []byte(least))
	if err != nil {
		t.Fatal(err)
	}
	if j.Split.Pull != nil || j.Bench.ScaleStep != nil || j.Block.Cavities != nil || j.Paper() != "A4" {
		t.Error("what the job does not say is not nil")
	}
	for key, gone := range map[string]string{
		"master.mesh is missing":    "mesh = \"a.stl\"\n",
		"rubber.kind is missing":    "kind = \"addition-heat-40\"\n",
		"alloy.kind is missing":     "[alloy]\nkind = \"tin\"\n",
		"order.castings is missing": "castings = 1\n",
		"order.use is missing":      "use = \"toy\"\n",
	} {
		_, err := Parse("a.toml", []byte(strings.Replace(least, gone, "", 1)))
		if err == nil || !strings.Contains(err.Error(), key) || fault.HintOf(err) == "" {
			t.Errorf("without %q: %v", gone, err)
		}
	}
}

// Each fault is answered with its line and column, and the hint names what was
// meant.
func TestErrorsSayWhereAndWhatNext(t *testing.T) {
	add := func(s string) string { return least + s }
	for _, c := range []struct{ name, text, place, say, hint string }{
		{"unknown key", add("castngs = 2\n"), "j.toml:10:1", "unknown key order.castngs", "order.castings"},
		{"unknown section", add("[bensh]\n"), "j.toml:10:2", "unknown key bensh", "bench"},
		{"key of another section", add("[stand]\nscale_step = 1\n"), "j.toml:11:1", "stand.scale_step", "under [bench]"},
		{"case counts", strings.Replace(least, "mesh", "Mesh", 1), "j.toml:2:1", "unknown key master.Mesh", "master.mesh"},
		{"inline table", add("[prices]\ncurrency = { x = 1 }\n"), "j.toml:11:1", "must be text", ""},
		{"unknown in inline", strings.Replace(least, "[master]\nmesh = \"a.stl\"", "master = { mesh = \"a.stl\", masss = 3 }", 1), "j.toml:1:28", "master.masss", "master.mass"},
		{"insert key", add("[[insert]]\nkind=\"pin\"\nat=[1,2,3]\ndirection=[0,0,1]\ndiameter=1\nlength=2\n[[insert]]\nkint=\"pin\"\n"), "j.toml:17:1", "insert[1].kint", "kind"},
		{"insert short", add("[[insert]]\nkind=\"pin\"\n"), "j.toml:10:3", "insert[0].at is missing", "[[insert]]"},
		{"unknown rubber", strings.Replace(least, "addition-heat-40", "adition-heat-40", 1), "j.toml:4:1", "no rubber", "addition-heat-40"},
		{"unknown alloy", strings.Replace(least, "\"tin\"", "\"tn\"", 1), "j.toml:6:1", "no alloy", "tin"},
		{"use", strings.Replace(least, "toy", "toys", 1), "j.toml:9:1", "order.use cannot be \"toys\"", "nearest: toy"},
		{"no castings", strings.Replace(least, "castings = 1", "castings = 0", 1), "j.toml:8:1", "order.castings is 0", "at least 1"},
		{"half a casting", strings.Replace(least, "castings = 1", "castings = 1.5", 1), "j.toml:8:1", "whole number", ""},
		{"short vector", add("[split]\npull = [0, 1]\n"), "j.toml:11:1", "holds 2 values", "[12, 4, 9]"},
		{"long vector", add("[split]\npull = [0, 1, 2, 3]\n"), "j.toml:11:1", "holds 4 values", ""},
		{"zero vector", add("[split]\npull = [0, 0.0, -0.0]\n"), "j.toml:11:1", "no length", "[0, 0, 1]"},
		{"nan", add("[stand]\nup = [0, nan, 1]\n"), "j.toml:11:1", "NaN", "finite"},
		{"inf", add("[block]\nmargin = inf\n"), "j.toml:11:1", "+Inf", "finite"},
		{"text for number", add("[bench]\nroom_c = \"20\"\n"), "j.toml:11:1", "must be a number, not text", ""},
		{"sheet value", add("[bench]\n[prices]\n") + "", "", "", ""},
		{"density in kg/m3", strings.Replace(least, "\"addition-heat-40\"", "\"addition-heat-40\"\ndensity = 1250", 1), "j.toml:5:1", "outside 0.8 to 2.5", "unit"},
		{"liquidus under solidus", strings.Replace(least, "\"tin\"", "\"tin\"\nliquidus = 100", 1), "j.toml:5:2", "under the solidus", "both"},
		{"control", strings.Replace(least, "[rubber]", "control = [[1,2,3]]\n[rubber]", 1), "j.toml:3:1", "must be three numbers", ""},
		{"control to itself", strings.Replace(least, "[rubber]", "control = [[[1,2,3],[1,2,3],4]]\n[rubber]", 1), "j.toml:3:1", "to itself", ""},
		{"both masters", strings.Replace(least, "[rubber]", "[master.measured]\nlength = 3\nwidth = 3\nheight = 3\n[rubber]", 1), "j.toml:3:9", "exclude", ""},
		{"lid alone", add("[bench]\nlid_span = 300\n"), "j.toml:10:2", "belong together", ""},
		{"syntax", add("[bench\n"), "j.toml:10:", "not a job file", "TOML"},
		{"twice", add("use = \"toy\"\n"), "j.toml:10:1", "not a job file", ""},
		{"umlaut column", "title = \"ä\"\n\"ö\".x = 1\n" + least, "j.toml:2:1", "unknown key ö", ""},
		{"section as value", strings.Replace(least, "[order]", "bench = 3\n[order]", 1), "j.toml:7:1", "alloy.bench", ""},
		{"value as section", "bench = 3\n" + least, "j.toml:1:1", "bench is a section", "[bench]"},
	} {
		_, err := Parse("j.toml", []byte(c.text))
		if c.say == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if err == nil {
			t.Errorf("%s: taken", c.name)
			continue
		}
		if !strings.HasPrefix(err.Error(), c.place) || !strings.Contains(err.Error(), c.say) || !strings.Contains(fault.HintOf(err), c.hint) {
			t.Errorf("%s: %v (hint %q)", c.name, err, fault.HintOf(err))
		}
		if fault.KindOf(err) != fault.Input {
			t.Errorf("%s: kind %v", c.name, fault.KindOf(err))
		}
	}
}

func TestMeasuredMasterIsReadAndChecked(t *testing.T) {
	measures := "[master.measured]\nlength = 30\nwidth = 20\nheight = 10\nmass = 40\ndensity = 7.3\nclass = \"plate\"\nsection = \"round\""
	with := func(head string) (*Job, error) {
		return Parse("m.toml", []byte(strings.Replace(least, "[master]\nmesh = \"a.stl\"", head+measures, 1)))
	}
	j, err := with("")
	if err != nil {
		t.Fatal(err)
	}
	if m := j.Master.Measured; *m.Mass != 40 || m.Width != 20 || m.Section != "round" {
		t.Errorf("read as %+v", m)
	}
	if _, err := j.MeshPath(); err == nil || fault.HintOf(err) == "" {
		t.Errorf("mesh path of a measured master: %v", err)
	}
	for _, c := range []struct{ head, want string }{
		{"[master]\ncontrol = [[[0,0,0],[1,0,0],1]]\n", "master.control goes with a mesh"},
		{"[master]\nmass = 3\n", "master.mass goes with a mesh"},
		{"[master]\nunit = \"cm\"\n", "master.unit goes with a mesh"},
	} {
		if _, err := with(c.head); err == nil || !strings.Contains(err.Error(), c.want) || fault.HintOf(err) == "" {
			t.Errorf("%q: %v", c.head, err)
		}
	}
	text := strings.Replace(least, "[master]\nmesh = \"a.stl\"", strings.Replace(measures, "plate", "plat", 1), 1)
	if _, err := Parse("m.toml", []byte(text)); err == nil || !strings.Contains(fault.HintOf(err), "plate") {
		t.Errorf("a class misspelt: %v", err)
	}
}

func TestLoadAnswersFilesThatAreNone(t *testing.T) {
	dir := t.TempDir()
	if _, err := Load(filepath.Join(dir, "none.toml")); fault.KindOf(err) != fault.Input {
		t.Errorf("missing file: %v", err)
	}
	if _, err := Load(dir); fault.KindOf(err) != fault.Input {
		t.Errorf("folder: %v", err)
	}
	big := filepath.Join(dir, "big.toml")
	if err := os.WriteFile(big, bytes.Repeat([]byte("# big\n"), MaxSize/5), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(big); err == nil || !strings.Contains(err.Error(), "256 KiB") {
		t.Errorf("big file: %v", err)
	}
	if _, err := Parse("e.toml", nil); err == nil || !strings.Contains(err.Error(), "empty") {
		t.Errorf("empty file: %v", err)
	}
	ok := filepath.Join(dir, "ok.toml")
	if err := os.WriteFile(ok, []byte(full), 0o644); err != nil {
		t.Fatal(err)
	}
	j, err := Load(ok)
	if err != nil {
		t.Fatal(err)
	}
	if p, _ := j.MeshPath(); p != filepath.Join(dir, "pull.stl") {
		t.Errorf("mesh path %q", p)
	}
}

// The committed schema is the one the structs make, it takes the full and the
// least job and refuses what the reader refuses. POURWRIGHT_UPDATE=1 writes it
// anew: read the difference before it is committed.
func TestSchemaAndStructsAgree(t *testing.T) {
	want, err := makeSchema()
	if err != nil {
		t.Fatal(err)
	}
	if os.Getenv("POURWRIGHT_UPDATE") == "1" {
		if err := os.WriteFile("schema.json", want, 0o644); err != nil {
			t.Fatal(err)
		}
	} else if !bytes.Equal(want, Schema()) {
		t.Error("schema.json is not what the structs make; run with POURWRIGHT_UPDATE=1")
	}
	var s jsonschema.Schema
	if err := json.Unmarshal(want, &s); err != nil {
		t.Fatal(err)
	}
	r, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	for text, ok := range map[string]bool{
		full: true, least: true,
		least + "x = 1\n":                                              false,
		strings.Replace(least, "toy", "toys", 1):                       false,
		strings.Replace(least, "castings = 1", "castings = 0", 1):      false,
		strings.Replace(least, "mesh = \"a.stl\"", "", 1):              false,
		strings.Replace(least, "\"tin\"", "\"tin\"\ndensity = 1e9", 1): false,
		least + "[split]\npull = [1, 2]\n":                             false,
		strings.Replace(full, "[90,0,0], 89.6", "[90,0,0]", 1):         false,
	} {
		m := map[string]any{}
		if err := toml.Unmarshal([]byte(text), &m); err != nil {
			t.Fatal(err)
		}
		if err := r.Validate(m); (err == nil) != ok {
			t.Errorf("schema takes it: %v, want %v: %v\n%s", err == nil, ok, err, text)
		}
		if _, err := Parse("s.toml", []byte(text)); (err == nil) != ok {
			t.Errorf("reader takes it: %v, want %v: %v\n%s", err == nil, ok, err, text)
		}
	}
}

// Every property of the material tables can be set from the job, under its own
// name.
func TestEveryTableValueHasAKey(t *testing.T) {
	var r material.Rubber
	var a material.Alloy
	for section, c := range map[string]struct {
		t    reflect.Type
		rows []material.Row
	}{"rubber": {reflect.TypeFor[Rubber](), r.Rows()}, "alloy": {reflect.TypeFor[Alloy](), a.Rows()}} {
		have := map[string]bool{}
		for i := range c.t.NumField() {
			key, _ := keyOf(c.t.Field(i))
			if s := c.t.Field(i).Tag.Get("sheet"); s != "" && s != key {
				t.Errorf("%s.%s sets %s", section, key, s)
			}
			have[key] = true
		}
		for _, row := range c.rows {
			if !have[row.Property] {
				t.Errorf("no key %s.%s", section, row.Property)
			}
		}
	}
}

// Files made to be slow: long keys, deep keys, many keys. Each is refused with
// a short message.
func TestHostileFilesAreRefusedShortly(t *testing.T) {
	var many strings.Builder
	many.WriteString("[" + strings.Repeat("k", 100000) + "]\n")
	for i := range 12000 {
		fmt.Fprintf(&many, "k%d=1\n", i)
	}
	for name, s := range map[string]string{
		"open brackets": "a=" + strings.Repeat("[", 100000),
		"deep arrays":   least + "[split]\npull=" + strings.Repeat("[", 9000) + strings.Repeat("]", 9000),
		"deep tables":   "a=" + strings.Repeat("{a=", 9000) + "1" + strings.Repeat("}", 9000),
		"dotted key":    "a" + strings.Repeat(".a", 100000) + "=1",
		"many tables":   strings.Repeat("[[a]]\n", 40000),
		"long header":   many.String(),
		"long key":      strings.Repeat("k", 200000) + "=1",
		"long text":     strings.Replace(least, "toy", strings.Repeat("toy", 60000), 1),
		"long kind":     strings.Replace(least, "\"tin\"", "\""+strings.Repeat("tin", 60000)+"\"", 1),
	} {
		_, err := Parse("h.toml", []byte(s))
		if err == nil || len(err.Error()) > 400 || len(fault.HintOf(err)) > 1000 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{full, least, "", "a.b.c=1", "[[insert]]\n[insert.x]\n", "insert=[{kind='pin'}]", "[master]\ncontrol=[[[[[[1]]]]]]", "master={measured={length=1}}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		j, err := Parse("f.toml", data)
		if err != nil {
			if fault.KindOf(err) != fault.Input || err.Error() == "" {
				t.Fatalf("error without kind or text: %#v", err)
			}
			return
		}
		if j.Order.Castings < 1 || j.RubberRow.Density.X <= 0 || j.AlloyRow.Density.X <= 0 {
			t.Fatalf("taken without what it needs: %+v", j)
		}
	})
}

func TestPhotographedMasterIsReadAndChecked(t *testing.T) {
	with := func(section string) (*Job, error) {
		return Parse(filepath.Join("shop", "p.toml"), []byte(strings.Replace(least, "mesh = \"a.stl\"", section, 1)))
	}
	j, err := with("[master.photo]\nfile = \"leaf.jpg\"\nthickness = 3\nedge = \"chamfer\"\nchamfer = 0.8\noutline = \"leaf.txt\"")
	if err != nil {
		t.Fatal(err)
	}
	if p := j.Master.Photo; p.Thickness != 3 || *p.Chamfer != 0.8 || j.Beside(p.File) != filepath.Join("shop", "leaf.jpg") {
		t.Errorf("%+v", p)
	}
	for section, say := range map[string]string{
		"mesh = \"a.stl\"\n[master.photo]\nfile = \"a.jpg\"\nthickness = 3":                                     "exclude each other",
		"[master.photo]\nfile = \"a.jpg\"":                                                                      "thickness is missing",
		"[master.photo]\nthickness = 3":                                                                         "file is missing",
		"[master.photo]\nfile = \"a.jpg\"\nthickness = 0":                                                       "thickness is 0",
		"[master.photo]\nfile = \"a.jpg\"\nthickness = 3\nedge = \"wavy\"":                                      "cannot be",
		"[master.photo]\nfile = \"a.jpg\"\nthickness = 3\nheight = 2":                                           "unknown key",
		"[master.photo]\nfile = \"a.jpg\"\nthickness = 3\nedge = \"chamfer\"":                                   "chamfer is missing",
		"[master.photo]\nfile = \"a.jpg\"\nthickness = 3\nchamfer = 1":                                          "needs the edge",
		"unit = \"cm\"\n[master.photo]\nfile = \"a.jpg\"\nthickness = 3":                                        "in mm",
		"[master.photo]\nfile = \"\"\nthickness = 3":                                                            "file is empty",
		"[master.photo]\nfile = \"a.jpg\"\nthickness = 3\n[master.measured]\nlength = 3\nwidth = 3\nheight = 3": "exclude each other",
	} {
		if _, err := with(section); fault.KindOf(err) != fault.Input || !strings.Contains(err.Error(), say) || fault.HintOf(err) == "" {
			t.Errorf("%q: %v", section, err)
		}
	}
}
