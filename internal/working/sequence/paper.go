package sequence

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io"
	"strconv"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/par"
	"pourwright/internal/mould/followboard"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shop/drawing"
)

// draw makes the files of the folder side by side, in memory: the paper, the
// pictures and the solids.
func (t *trace) draw() error {
	if err := t.number(); err != nil {
		return err
	}
	in := t.paper()
	in.Heat = heat(t.poured, t.plan)
	var list []drawn
	add := func(name string, f func() ([]byte, error)) { list = append(list, drawn{name: name, make: f}) }
	paper := func(f func(*drawing.Input) ([]byte, error)) func() ([]byte, error) {
		return func() ([]byte, error) { return f(in) }
	}
	var pictures [3][]byte
	add("card.pdf", paper(drawing.Card))
	add("", func() (_ []byte, err error) {
		pictures[0], pictures[1], pictures[2], err = drawing.Pictures(in)
		return nil, err
	})
	if t.plan.Verdict != plan.No && t.solids != nil {
		add("templates.pdf", paper(drawing.Templates))
	}
	if t.plan.Verdict != plan.No && t.solids != nil && t.lump == nil {
		stl := func(name string, m *mesh.Mesh) {
			add(name, func() ([]byte, error) { return meshfile.STL(m) })
		}
		stl("follow-board.stl", t.board.Mesh)
		stl("formers.stl", followboard.Bed(t.formers, bedWidth))
		stl("cavity.stl", t.solids.Cavity)
		stl("half-1.stl", t.solids.Half1)
		stl("half-2.stl", t.solids.Half2)
		for i, m := range []*mesh.Mesh{t.solids.Half1, t.solids.Half2} {
			o := meshfile.Object{Name: fmt.Sprintf("half %d", i+1), Mesh: m}
			add(fmt.Sprintf("half-%d.3mf", i+1), func() ([]byte, error) {
				var b bytes.Buffer
				err := meshfile.Write3MF(&b, o)
				return b.Bytes(), err
			})
		}
	}
	if t.plan.Verdict != plan.No && t.poured != nil {
		more, err := pourFiles(t.poured, t.plan)
		if err != nil {
			return err
		}
		t.files = append(t.files, more...)
	}
	par.For(len(list), 1, func(i, _ int) {
		if list[i].err = t.current.stopped(); list[i].err == nil {
			list[i].data, list[i].err = list[i].make()
		}
	})
	for i := range list {
		if list[i].err != nil {
			return list[i].err
		}
		t.add(list[i].name, list[i].data)
	}
	for i, name := range []string{"split.png", "layout.png", "section.png"} {
		t.add(name, pictures[i])
	}
	return nil
}

// bedWidth is the width of the print bed on which the formers are laid out, mm.
const bedWidth = 200

// drawn is one file being made.
type drawn struct {
	name string
	make func() ([]byte, error)
	data []byte
	err  error
}

// add keeps a file; one without bytes is none.
func (t *trace) add(name string, data []byte) {
	if len(data) > 0 {
		t.files = append(t.files, File{name, func(w io.Writer) error { _, err := w.Write(data); return err }})
	}
}

// paper gathers what the paper is made from.
func (t *trace) paper() *drawing.Input {
	j, r, a := t.job, &t.job.RubberRow, &t.job.AlloyRow
	in := &drawing.Input{
		Plan: t.plan, Paper: j.Paper(), Master: t.master.Mesh,
		Names: drawing.Names{Version: t.planNumber(), Title: j.Title, Mould: mouldNames(t.plan.Order.Moulds), Alloy: a.Words, Rubber: r.Words, Use: j.Order.Use, Material: j.Master.Material},
	}
	if in.Names.Title == "" {
		in.Names.Title = t.master.Said.File
	}
	in.Names.Job = in.Names.Title
	if t.solids != nil {
		in.Metal, in.Surface = t.solids.Cavity, t.layout.Surface
	}
	if t.sheet == nil {
		return in
	}
	b := t.sheet.Bench
	in.Bench = drawing.Bench{
		Ratio: b.Ratio, ScaleStep: b.ScaleStep, ScaleStepA: b.ScaleStepA, Condensation: b.Condensation, Lead: a.Share("Pb") > 0.001 || j.Alloy.Origin == "unknown", PotMax: b.PotMax, MouldMax: b.MouldMax,
		PourWithin: b.PourWithin, SolidAfter: b.SolidAfter, OpenAfter: b.OpenAfter, OpenAt: b.OpenAt, Rest: b.Rest,
		Growth: b.Growth, HasPump: b.HasPump, Stir: b.Stir, Clay: b.Clay, Dry: b.Dry,
	}
	for _, c := range b.PerCasting {
		in.Bench.PerCasting = append(in.Bench.PerCasting, drawing.Cost{Name: c.Name, Amount: c.Amount})
	}
	return in
}

// number gives the plan its number: six digits of the SHA-256 of the whole
// plan but for the hash of the master's bytes and the times, so that paper and
// plan.json can be told to belong together. The same mould has the same number.
func (t *trace) number() error {
	p := *t.plan
	p.Master.SHA256, p.Timing = "", nil
	h := sha256.New()
	if err := plan.Write(h, &p); err != nil {
		return err
	}
	n := 100000 + binary.BigEndian.Uint64(h.Sum(nil))%900000
	t.plan.Figures = append(t.plan.Figures, plan.Figure{Name: drawing.PlanNumber, Value: float64(n), Inputs: map[string]float64{},
		Formula: "100000 + first 64 bits of the SHA-256 of plan.json, without this figure, master.sha256 and timing, modulo 900000", Source: "definition"})
	return nil
}

// planNumber is the number as the head of every sheet shows it.
func (t *trace) planNumber() string {
	for _, f := range t.plan.Figures {
		if f.Name == drawing.PlanNumber {
			return strconv.FormatFloat(f.Value, 'f', 0, 64)
		}
	}
	return ""
}

// mouldNames are the letters of the moulds of an order, of which the maker
// strikes out all but one: A / B.
func mouldNames(moulds *int) string {
	const most = 4
	n := 1
	if moulds != nil {
		n = max(1, *moulds)
	}
	var l []string
	for i := range min(n, most) {
		l = append(l, string(rune('A'+i)))
	}
	s := strings.Join(l, " / ")
	if n > most {
		s += " …"
	}
	return s
}
