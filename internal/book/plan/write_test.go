package plan

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"

	"pourwright/internal/ground/fault"
)

// sample fills every field of a plan: each pointer set, each list with two
// entries, each number different, words from the closed lists.
func sample() *Plan {
	p := &Plan{}
	n := 0.0
	fill("", reflect.ValueOf(p).Elem(), &n)
	return p
}

func fill(path string, v reflect.Value, n *float64) {
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(path, v.Elem(), n)
	case reflect.Struct:
		for i := range v.NumField() {
			fill(strings.TrimPrefix(path+"."+keyOf(v.Type().Field(i)), "."), v.Field(i), n)
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range 2 {
			fill(path, v.Index(i), n)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(path, v.Index(i), n)
		}
	case reflect.Map:
		v.Set(reflect.ValueOf(map[string]float64{"b": 0.25, "a": 1e-7}))
	case reflect.Float64:
		*n += 0.1 + *n/3
		x := *n
		for _, s := range shares {
			if s == path {
				x = 0.123456789012
			}
		}
		v.SetFloat(x)
	case reflect.Int:
		v.SetInt(2)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.String:
		if l := closed[path]; len(l) > 0 {
			v.SetString(l[0])
		} else {
			v.SetString("a <word> \"quoted\" ä")
		}
	}
}

func written(t *testing.T, p *Plan) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The committed schema is the one the types make. POURWRIGHT_UPDATE=1 writes
// it anew: read the difference before it is committed.
func TestSchemaAndTypesAgree(t *testing.T) {
	for _, c := range []struct {
		file string
		make func() ([]byte, error)
		have []byte
	}{{"plan.schema.json", makeSchema, SchemaJSON()}, {"inspection.schema.json", makeInspectionSchema, InspectionSchemaJSON()}} {
		want, err := c.make()
		if err != nil {
			t.Fatal(err)
		}
		if os.Getenv("POURWRIGHT_UPDATE") == "1" {
			if err := os.WriteFile(c.file, want, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if !bytes.Equal(want, c.have) {
			t.Errorf("%s is not what the types make; run with POURWRIGHT_UPDATE=1", c.file)
		}
	}
}

func resolved(t *testing.T) *jsonschema.Resolved {
	t.Helper()
	b, err := makeSchema()
	if err != nil {
		t.Fatal(err)
	}
	var s jsonschema.Schema
	if err := json.Unmarshal(b, &s); err != nil {
		t.Fatal(err)
	}
	r, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestSchemaTakesFullAndEmptyPlansAndRefusesOthers(t *testing.T) {
	r := resolved(t)
	empty := &Plan{Schema: Schema, Verdict: No, Master: Master{Unit: "mm", UnitFrom: "guess"}}
	var full map[string]any
	for _, p := range []*Plan{sample(), empty} {
		var m map[string]any
		if err := json.Unmarshal(written(t, p), &m); err != nil {
			t.Fatal(err)
		}
		if err := r.Validate(m); err != nil {
			t.Errorf("refused: %v", err)
		}
		if full == nil {
			full = m
		}
	}
	finding := full["findings"].([]any)[0].(map[string]any)
	block := full["block"].(map[string]any)
	for name, c := range map[string]struct {
		m   map[string]any
		key string
		bad any
	}{
		"unknown code":       {finding, "code", "no-such-code"},
		"unknown severity":   {finding, "severity", "perhaps"},
		"half 3":             {finding, "half", 3.0},
		"unknown verdict":    {full, "verdict", "maybe"},
		"other schema":       {full, "schema", "pourwright/plan/0"},
		"list as null":       {full, "findings", nil},
		"short point":        {block, "size", []any{1.0, 2.0}},
		"text for a number":  {block, "head", "12"},
		"yield over 1":       {full["metal"].(map[string]any), "yield", 1.5},
		"computed not bool":  {full, "computed", "yes"},
		"extra key":          {full, "extra", 1.0},
		"unknown undercut":   {full["split"].(map[string]any)["undercuts"].([]any)[0].(map[string]any), "action", "hope"},
		"half as a fraction": {finding, "half", 1.5},
	} {
		old, had := c.m[c.key]
		c.m[c.key] = c.bad
		if r.Validate(full) == nil {
			t.Errorf("%s is taken", name)
		}
		c.m[c.key] = old
		if !had {
			delete(c.m, c.key)
		}
	}
	for _, key := range []string{"block", "timing", "computed", "guessed"} {
		old := full[key]
		delete(full, key)
		if r.Validate(full) == nil {
			t.Errorf("a plan without %s is taken", key)
		}
		full[key] = old
	}
	if err := r.Validate(full); err != nil {
		t.Errorf("the sample was not put back: %v", err)
	}
}

func TestWriteKeepsOrderListsAndNumbers(t *testing.T) {
	p := sample()
	p.Findings[0].Say = "never \x00 \u2028 </script>"
	b := written(t, p)
	if !bytes.Equal(b, written(t, p)) {
		t.Error("written twice, the bytes differ")
	}
	var back Plan
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	if back.Findings[0].Say != p.Findings[0].Say {
		t.Errorf("text %q", back.Findings[0].Say)
	}
	if rel := math.Abs(back.Block.Head/p.Block.Head - 1); rel > 5e-12 {
		t.Errorf("head lost %g", rel)
	}
	// keys in the order of the type, timing last
	last := -1
	for i := range reflect.TypeFor[Plan]().NumField() {
		key := "\n  \"" + keyOf(reflect.TypeFor[Plan]().Field(i)) + "\": "
		at := bytes.Index(b, []byte(key))
		if at < last || at < 0 {
			t.Errorf("key %q at %d after %d", key, at, last)
		}
		last = at
	}
	if !bytes.HasSuffix(b, []byte("\"timing\": {\"a\": 1e-07, \"b\": 0.25}\n}\n")) {
		t.Errorf("timing is not last: %q", b[len(b)-60:])
	}
	e := string(written(t, &Plan{}))
	for _, want := range []string{"\"findings\": []", "\"line\": []", "\"block\": null", "\"meeting\": null", "\"shots\": null", "\"moulds\": null", "\"timing\": {}", "\"centroid\": [0, 0, 0]", "\"cell\": null"} {
		if !strings.Contains(e, want) {
			t.Errorf("an empty plan lacks %s", want)
		}
	}
}

func TestNumber(t *testing.T) {
	for x, want := range map[float64]string{
		0: "0", math.Copysign(0, -1): "0", 1: "1", -2.5: "-2.5", 1.0 / 3: "0.333333333333", 1e21: "1e+21",
		123456789.123456: "123456789.123", 1200: "1200", 123456789012345: "1.23456789012e+14", 1e-9: "1e-09", 100: "100",
	} {
		got := string(Number(nil, x))
		if got != want {
			t.Errorf("%v: %s, want %s", x, got, want)
		}
		var back float64
		if err := json.Unmarshal([]byte(got), &back); err != nil || math.Abs(back-x) > 5e-12*math.Abs(x) {
			t.Errorf("%v reads back as %v: %v", x, back, err)
		}
	}
}

func TestNotFiniteIsNamedAndNothingIsWritten(t *testing.T) {
	for path, spoil := range map[string]func(*Plan){
		"plan.block.keys[1].at[0]":       func(p *Plan) { p.Block.Keys[1].At[0] = math.NaN() },
		"plan.master.thinnest":           func(p *Plan) { p.Master.Thinnest = math.Inf(1) },
		"plan.split.line[0][1][2]":       func(p *Plan) { p.Split.Line[0][1][2] = math.Inf(-1) },
		"plan.figures[1].inputs.b":       func(p *Plan) { p.Figures[1].Inputs["b"] = math.NaN() },
		"plan.split.undercuts[0].strain": func(p *Plan) { *p.Split.Undercuts[0].Strain = math.NaN() },
		"plan.guessed[0].range[1]":       func(p *Plan) { p.Guessed[0].Range[1] = math.Inf(1) },
		"plan.timing.a":                  func(p *Plan) { p.Timing["a"] = math.NaN() },
	} {
		p := sample()
		spoil(p)
		var b bytes.Buffer
		err := Write(&b, p)
		if err == nil || !strings.HasPrefix(err.Error(), path+":") || fault.KindOf(err) != fault.Internal || b.Len() > 0 {
			t.Errorf("%s: %v, %d bytes written", path, err, b.Len())
		}
	}
}

func TestInspectionIsWrittenAlike(t *testing.T) {
	p := sample()
	var b bytes.Buffer
	if err := WriteInspection(&b, &Inspection{Master: p.Master, Split: p.Split, Stand: p.Stand, Bodies: []Body{{No: 1, Linked: []int{}}}, Measure: []Spot{{Kind: SpotWall}}}); err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(b.Bytes(), &m); err != nil || len(m) != 5 {
		t.Errorf("%d sections, %v", len(m), err)
	}
	var s jsonschema.Schema
	if err := json.Unmarshal(InspectionSchemaJSON(), &s); err != nil {
		t.Fatal(err)
	}
	r, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Validate(m); err != nil {
		t.Error(err)
	}
	delete(m, "measure")
	if r.Validate(m) == nil {
		t.Error("an inspection without measure passes")
	}
}

func BenchmarkWrite(b *testing.B) {
	p := sample()
	loop := make([]P3, 20000)
	for i := range loop {
		loop[i] = P3{float64(i) / 3, math.Sin(float64(i)), math.Cos(float64(i))}
	}
	p.Split.Line = [][]P3{loop}
	for b.Loop() {
		var w bytes.Buffer
		if err := Write(&w, p); err != nil {
			b.Fatal(err)
		}
	}
}
