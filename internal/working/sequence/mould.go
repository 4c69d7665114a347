package sequence

import (
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/block"
	"pourwright/internal/mould/followboard"
	"pourwright/internal/shop/batch"
)

// layOut lays the mould out, unless the split bars one.
func (t *trace) layOut() error {
	t.thin = t.thinnest()
	if len(t.split.Bars) > 0 {
		return nil
	}
	var err error
	t.layout, err = block.Lay(t.master.Mesh, t.split, t.stand, t.demand())
	return err
}

// demand puts job, alloy and rubber into the layout's words.
func (t *trace) demand() block.Demand {
	j, a, r := t.job, &t.job.AlloyRow, &t.job.RubberRow
	d := block.Demand{
		DensityLiquid: a.DensityLiquid.X, DensitySolid: a.DensityHot.X, Tension: a.SurfaceTension.X,
		Shore: r.Shore.X, Modulus: r.Modulus(),
		Castings: j.Order.Castings, MastersInHand: 1, Margin: j.Block.Margin,
		Show: points(j.Master.Show), Hide: points(j.Master.Hide),
		Freeze: t.freezing(), UpForced: j.Stand.Up != nil, PullForced: j.Split.Pull != nil,
	}
	if j.Block.Cavities != nil {
		d.Cavities = *j.Block.Cavities
	}
	if j.Master.InHand != nil {
		d.MastersInHand = *j.Master.InHand
	}
	if j.Bench.Ladle != nil {
		d.Ladle = *j.Bench.Ladle
	}
	if j.Bench.Clamps != nil {
		d.Clamps = *j.Bench.Clamps
	}
	if p := j.Gate.At; p != nil {
		q := vec.FromArray(*p)
		d.GateAt = &q
	}
	d.Thinnest = t.thin
	for _, i := range j.Insert {
		d.Inserts = append(d.Inserts, block.Insert{Kind: i.Kind, At: vec.FromArray(i.At), Direction: vec.FromArray(i.Direction).Unit(), Diameter: i.Diameter, Length: i.Length})
	}
	return d
}

// freezing returns the seconds per mm2 of (V/A)^2 at the temperatures of the
// pour.
func (t *trace) freezing() float64 {
	b := &t.job.Bench
	pour, mould := 0.0, batch.MouldWarm
	if b.Pour != nil {
		pour = *b.Pour
	}
	if b.Mould != nil {
		mould = *b.Mould
	}
	a, r := &t.job.AlloyRow, &t.job.RubberRow
	h := batch.Choose(a, r, pour, mould)
	return batch.FreezeConstant(a, r, h.Pour, h.Mould).Value
}

// build makes the solids, and the bed and the formers to print.
func (t *trace) build() error {
	if t.layout == nil {
		return nil
	}
	var err, errBoard error
	par.Do(func() { t.solids, err = t.layout.Build() },
		func() { t.board, t.formers, errBoard = followboard.FromLayout(t.layout, t.master.Mesh) })
	if err != nil {
		return err
	}
	return errBoard
}
