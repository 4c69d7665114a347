package command

import (
	"fmt"

	"pourwright/internal/ground/fault"
	"pourwright/internal/working/sequence"
)

type sheetVerb struct {
	File  string `arg:"" help:"PDF file to write."`
	Paper string `placeholder:"PAPER" default:"A4" help:"A4 or Letter."`
}

// Run writes the check sheet.
func (v sheetVerb) Run(c *call) error {
	if v.File == "" {
		return fault.New(fault.Usage, "", "name the PDF file to write", "the name of the file is empty")
	}
	b, err := sequence.CheckSheet(v.Paper)
	if err != nil {
		return err
	}
	if err := sequence.Put(file(v.File), b); err != nil {
		return err
	}
	_, err = fmt.Fprintln(c.out, "Print "+v.File+" at 100 %, then lay a steel rule on both bars: 100 mm each.")
	return err
}
