package drawing

import (
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
)

// Card returns the job card as a PDF: one sheet for each dirty stage, the
// findings, and how each figure was got. A plan with the verdict no gets a
// front with the reasons, the findings and the figures.
func Card(in *Input) ([]byte, error) {
	pages, err := cardPages(in)
	if err != nil {
		return nil, err
	}
	return finish(in, "Job card", pages)
}

func cardPages(in *Input) ([]*sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	in.look()
	c := &card{in: in}
	c.stock, _ = stockOf(in.Paper)
	c.front()
	if in.Plan.Block != nil && in.Plan.Verdict != plan.No {
		c.bed()
		if r := in.Plan.Rubber; r != nil {
			for i := range r.Halves {
				if i == 1 {
					c.turn()
				}
				c.mix(i)
			}
		}
		c.open()
		if in.Plan.Metal != nil {
			c.pour()
			c.freeze()
		}
	}
	c.findings()
	c.figures()
	c.feet()
	return c.pages, nil
}

func finish(in *Input, kind string, pages []*sheet) ([]byte, error) {
	plain := make([]*page, len(pages))
	for i, s := range pages {
		plain[i] = &s.page
	}
	b, err := writePDF(kind+": "+clean(in.Names.Title), plain)
	if err != nil {
		return nil, fault.New(fault.Internal, "paper", "", "the PDF could not be written: %v", err)
	}
	return b, nil
}
