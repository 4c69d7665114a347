package plan

import (
	_ "embed"
	"encoding/json"
	"strings"

	"github.com/google/jsonschema-go/jsonschema"
)

//go:embed plan.schema.json
var schemaFile []byte

//go:embed inspection.schema.json
var inspectionFile []byte

// SchemaJSON returns the JSON Schema of plan.json, as committed.
func SchemaJSON() []byte { return append([]byte(nil), schemaFile...) }

// InspectionSchemaJSON returns the JSON Schema of what the verb master prints.
func InspectionSchemaJSON() []byte { return append([]byte(nil), inspectionFile...) }

// closed lists of words, by path; an entry of a list has the path of the list.
var closed = map[string][]string{
	"schema":                 {Schema},
	"verdict":                {Pour, Care, No},
	"master.unit":            {"mm", "cm", "m", "in", "um"},
	"master.unit_from":       {"file", "flag", "job", "guess"},
	"split.undercuts.action": Actions,
	"block.cuts.when":        {"now", "if short"},
	"findings.code":          Codes,
	"findings.severity":      {Must, Should, Note},
	"measure.kind":           Spots,
}

// shares lists the numbers that lie in 0..1.
var shares = []string{
	"fill.filled_share", "fill.trapped_share", "fill.misrun_share", "metal.yield", "stand.trapped_share_unvented",
}

// makeSchema builds the schema from the types and the closed lists.
func makeSchema() ([]byte, error) {
	s, err := jsonschema.For[Plan](nil)
	if err != nil {
		return nil, err
	}
	s.ID = "urn:pourwright:plan:1"
	s.Title = "The plan of a two-part rubber mould for low-melting metal"
	s.Description = "mm, mm2, mm3, g, N, degrees C, s; shares and strains 0..1. null: not computed. Points and directions in the master frame, those of block other than frame and placements in the block frame."
	return finish(s)
}

// makeInspectionSchema does the same for an inspection.
func makeInspectionSchema() ([]byte, error) {
	s, err := jsonschema.For[Inspection](nil)
	if err != nil {
		return nil, err
	}
	s.ID = "urn:pourwright:inspection:1"
	s.Title = "A bare master, measured"
	s.Description = "mm, mm2, mm3; shares 0..1. null: not computed. Points and directions in the master frame."
	return finish(s)
}

func finish(s *jsonschema.Schema) ([]byte, error) {
	s.Schema = "https://json-schema.org/draft/2020-12/schema"
	refine("", s)
	b, err := json.MarshalIndent(s, "", "  ")
	return append(b, '\n'), err
}

// refine takes null from lists (an empty list is []), closes the word lists
// and bounds shares and halves.
func refine(path string, s *jsonschema.Schema) {
	if len(s.Types) == 2 && s.Types[0] == "null" && s.Types[1] == "array" && s.MinItems == nil && path != "fill.meeting" {
		s.Type, s.Types = "array", nil
	}
	nullable := len(s.Types) > 0
	for _, w := range closed[path] {
		s.Enum = append(s.Enum, w)
	}
	if len(s.Enum) > 0 && nullable {
		s.Enum = append(s.Enum, nil)
	}
	for _, p := range shares {
		if p == path {
			zero, one := 0.0, 1.0
			s.Minimum, s.Maximum = &zero, &one
		}
	}
	if path == "findings.half" || path == "block.cuts.half" {
		one, two := 1.0, 2.0
		s.Minimum, s.Maximum = &one, &two
	}
	if s.Items != nil {
		refine(path, s.Items)
	}
	for _, k := range s.PropertyOrder {
		refine(strings.TrimPrefix(path+"."+k, "."), s.Properties[k])
	}
}
