package command

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"text/tabwriter"

	"pourwright/internal/book/material"
)

type materials struct {
	Name string `arg:"" optional:"" help:"Only this row."`
	JSON bool   `name:"json" help:"Print JSON."`
}

// sheet is one material as it is printed.
type sheet struct {
	Name    string         `json:"name"`
	Table   string         `json:"table"`
	Words   string         `json:"words"`
	Base    string         `json:"base,omitempty"` // of a workshop's own row: where its other values come from
	Parts   map[string]any `json:"parts"`
	Values  []row          `json:"values"`
	sources []string
}

type row struct {
	Property string     `json:"property"`
	Value    float64    `json:"value"`
	Unit     string     `json:"unit"`
	Range    [2]float64 `json:"range"`
	Grade    string     `json:"grade"`
	Source   string     `json:"source"`
	Memory   bool       `json:"from_memory"`
	Note     string     `json:"note"`
}

// Run prints the tables.
func (v materials) Run(c *call) error {
	var all []sheet
	for _, a := range material.Alloys() {
		s := sheet{Name: a.Name, Table: "alloy", Words: a.Words, Parts: map[string]any{}}
		for _, p := range a.Parts {
			s.Parts[p.Element] = p.Share
		}
		s.take(a.Rows())
		all = append(all, s)
	}
	for _, r := range material.Rubbers() {
		s := sheet{Name: r.Name, Table: "rubber", Words: r.Words, Parts: map[string]any{}}
		s.take(r.Rows())
		all = append(all, s)
	}
	own, err := ownSheets()
	if err != nil {
		return err
	}
	all = append(all, own...)
	if v.Name != "" {
		var names []string
		var one []sheet
		for _, s := range all {
			names = append(names, s.Name)
			if s.Name == v.Name {
				one = append(one, s)
			}
		}
		if len(one) == 0 {
			return unknownRow(v.Name, names)
		}
		all = one
	}
	if v.JSON {
		e := json.NewEncoder(c.out)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(map[string]any{"materials": all})
	}
	for i, s := range all {
		if i > 0 {
			fmt.Fprintln(c.out)
		}
		if err := s.print(c); err != nil {
			return err
		}
	}
	return nil
}

// ownSheets are the rows of the workshop, those of the present folder first, each
// with all its values and the measured coefficient between metal and rubber.
func ownSheets() ([]sheet, error) {
	own, err := material.LoadOwn(material.OwnPaths("job.toml")...)
	if err != nil {
		return nil, err
	}
	var list []sheet
	for _, o := range own.Rows() {
		r, err := o.Rubber()
		if err != nil {
			return nil, err
		}
		s := sheet{Name: r.Name, Table: "rubber", Words: r.Words, Parts: map[string]any{}, Base: o.Base}
		s.take(r.Rows())
		if v, ok := own.Interface(o.Name); ok {
			s.take([]material.Row{{Property: material.Interface, Unit: "W/m2K", Value: v}})
		}
		list = append(list, s)
	}
	return list, nil
}

func (s *sheet) take(rows []material.Row) {
	for _, r := range rows {
		v := r.Value
		s.Values = append(s.Values, row{r.Property, round(v.X), r.Unit, [2]float64{round(v.Low), round(v.High)}, v.Grade, material.SourceText(v.Source), v.Memory, v.Note})
		s.sources = append(s.sources, v.Source)
	}
}

// round takes off the last digits, which are those of the change of unit.
func round(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		return x
	}
	return y
}

func (s *sheet) print(c *call) error {
	table := s.Table
	if s.Base != "" {
		table = "own " + s.Table + ", otherwise " + s.Base
	}
	fmt.Fprintf(c.out, "%s (%s): %s\n", s.Name, table, s.Words)
	w := tabwriter.NewWriter(c.out, 0, 8, 2, ' ', 0)
	for _, r := range s.Values {
		from := r.Source
		if r.Memory {
			from = "from memory; " + from
		}
		fmt.Fprintf(w, "  %s\t%.5g\t%s\t%.4g to %.4g\t%s\t%s\n", r.Property, r.Value, r.Unit, r.Range[0], r.Range[1], r.Grade, strings.TrimSpace(from+" "+r.Note))
	}
	return w.Flush()
}
