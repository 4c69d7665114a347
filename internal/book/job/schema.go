package job

import (
	_ "embed"
	"encoding/json"
	"reflect"
	"strconv"
	"strings"

	"github.com/google/jsonschema-go/jsonschema"

	"pourwright/internal/book/material"
)

//go:embed schema.json
var schemaFile []byte

// Schema returns the JSON Schema of the job file, as committed.
func Schema() []byte { return append([]byte(nil), schemaFile...) }

// makeSchema builds the schema from the structs, their tags and the names of
// the material tables.
func makeSchema() ([]byte, error) {
	point := func() *jsonschema.Schema {
		three := 3
		return &jsonschema.Schema{Type: "array", Items: &jsonschema.Schema{Type: "number"}, MinItems: &three, MaxItems: &three}
	}
	zero, two, three := 0.0, 2, 3
	length := func() *jsonschema.Schema { return &jsonschema.Schema{Type: "number", ExclusiveMinimum: &zero} }
	s, err := jsonschema.For[Job](&jsonschema.ForOptions{TypeSchemas: map[reflect.Type]*jsonschema.Schema{
		reflect.TypeFor[Control]():   {Type: "array", PrefixItems: []*jsonschema.Schema{point(), point(), length()}, MinItems: &three, MaxItems: &three},
		reflect.TypeFor[Thickness](): {Type: "array", PrefixItems: []*jsonschema.Schema{point(), length()}, MinItems: &two, MaxItems: &two},
	}})
	if err != nil {
		return nil, err
	}
	s.Schema = "https://json-schema.org/draft/2020-12/schema"
	s.Title = "A pourwright job file"
	narrow(s, reflect.TypeFor[Job]())
	var rubbers, alloys []any
	for _, r := range material.Rubbers() {
		rubbers = append(rubbers, r.Name)
	}
	for _, a := range material.Alloys() {
		alloys = append(alloys, a.Name)
	}
	s.Properties["rubber"].Properties["kind"].Enum = rubbers
	s.Properties["alloy"].Properties["kind"].Enum = alloys
	s.Properties["master"].OneOf = []*jsonschema.Schema{{Required: []string{"mesh"}}, {Required: []string{"photo"}}, {Required: []string{"measured"}}}
	sheetBounds(s)
	b, err := json.MarshalIndent(s, "", "  ")
	return append(b, '\n'), err
}

// narrow takes null out of the types (TOML has none) and writes the bounds and
// lists of the tags.
func narrow(s *jsonschema.Schema, t reflect.Type) {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if len(s.Types) == 2 && s.Types[0] == "null" {
		s.Type, s.Types = s.Types[1], nil
	}
	switch {
	case s.Items != nil:
		narrow(s.Items, t.Elem())
	case t.Kind() == reflect.Struct && s.Properties != nil:
		for i := range t.NumField() {
			f := t.Field(i)
			key, _ := keyOf(f)
			p := s.Properties[key]
			if p == nil {
				continue
			}
			narrow(p, f.Type)
			p.Minimum = bound(f.Tag.Get("min"), p.Minimum)
			p.ExclusiveMinimum = bound(f.Tag.Get("over"), p.ExclusiveMinimum)
			p.Maximum = bound(f.Tag.Get("max"), p.Maximum)
			for _, w := range strings.Fields(f.Tag.Get("oneof")) {
				p.Enum = append(p.Enum, w)
			}
		}
	}
}

func bound(s string, old *float64) *float64 {
	if s == "" {
		return old
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return old
	}
	return &x
}

// sheetBounds gives the data sheet values the bounds of the material tables.
func sheetBounds(s *jsonschema.Schema) {
	var r material.Rubber
	var a material.Alloy
	for _, c := range []struct {
		section string
		t       reflect.Type
		limits  func(string) (string, float64, float64, bool)
	}{{"rubber", reflect.TypeFor[Rubber](), r.Limits}, {"alloy", reflect.TypeFor[Alloy](), a.Limits}} {
		for i := range c.t.NumField() {
			f := c.t.Field(i)
			if name := f.Tag.Get("sheet"); name != "" {
				key, _ := keyOf(f)
				_, lo, hi, _ := c.limits(name)
				p := s.Properties[c.section].Properties[key]
				p.Minimum, p.Maximum = &lo, &hi
			}
		}
	}
}
