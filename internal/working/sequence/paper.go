package sequence

import (
	"io"

	"pourwright/internal/book/plan"
	"pourwright/internal/mould/followboard"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shop/drawing"
)

// draw lists the files of the folder; the paper is drawn here, the solids are
// put into files when the folder is written.
func (t *trace) draw() error {
	in := t.paper()
	card, err := drawing.Card(in)
	if err != nil {
		return err
	}
	t.add("card.pdf", card)
	split, layout, section, err := drawing.Pictures(in)
	if err != nil {
		return err
	}
	t.add("split.png", split)
	t.add("layout.png", layout)
	t.add("section.png", section)
	if t.plan.Verdict == plan.No || t.solids == nil {
		return nil
	}
	templates, err := drawing.Templates(in)
	if err != nil {
		return err
	}
	t.add("templates.pdf", templates)
	t.addSTL("follow-board.stl", t.board.Mesh)
	t.addSTL("formers.stl", followboard.Bed(t.formers, 200))
	t.addSTL("cavity.stl", t.solids.Cavity)
	t.addSTL("half-1.stl", t.solids.Half1)
	t.addSTL("half-2.stl", t.solids.Half2)
	t.add3MF("half-1.3mf", "half 1", t.solids.Half1)
	t.add3MF("half-2.3mf", "half 2", t.solids.Half2)
	return nil
}

// add keeps a file whose bytes are there; none is no file.
func (t *trace) add(name string, data []byte) {
	if len(data) == 0 {
		return
	}
	t.files = append(t.files, File{name, func(w io.Writer) error { _, err := w.Write(data); return err }})
}

func (t *trace) addSTL(name string, m *mesh.Mesh) {
	t.files = append(t.files, File{name, func(w io.Writer) error { return meshfile.WriteSTL(w, m) }})
}

func (t *trace) add3MF(name, part string, m *mesh.Mesh) {
	t.files = append(t.files, File{name, func(w io.Writer) error { return meshfile.Write3MF(w, meshfile.Object{Name: part, Mesh: m}) }})
}

// paper gathers what the paper is made from.
func (t *trace) paper() *drawing.Input {
	j, r, a := t.job, &t.job.RubberRow, &t.job.AlloyRow
	in := &drawing.Input{
		Plan: t.plan, Paper: j.Paper(), Master: t.master.Mesh,
		Names: drawing.Names{Version: t.set.Version, Title: j.Title, Alloy: a.Words, Rubber: r.Words, Use: j.Order.Use, Material: j.Master.Material},
	}
	if in.Names.Title == "" {
		in.Names.Title = t.master.Said.File
	}
	if t.solids != nil {
		in.Metal, in.Surface = t.solids.Cavity, t.layout.Surface
	}
	if t.sheet == nil {
		return in
	}
	b := t.sheet.Bench
	in.Bench = drawing.Bench{
		Ratio: b.Ratio, ScaleStep: b.ScaleStep, Condensation: b.Condensation, PotMax: b.PotMax, MouldMax: b.MouldMax,
		PourWithin: b.PourWithin, SolidAfter: b.SolidAfter, OpenAfter: b.OpenAfter, OpenAt: b.OpenAt, Rest: b.Rest,
		Growth: b.Growth, HasPump: b.HasPump, Stir: b.Stir, Clay: b.Clay, Dry: b.Dry,
	}
	for _, c := range b.PerCasting {
		in.Bench.PerCasting = append(in.Bench.PerCasting, drawing.Cost{Name: c.Name, Amount: c.Amount})
	}
	return in
}
