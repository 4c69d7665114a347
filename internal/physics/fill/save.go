package fill

import (
	"encoding/binary"
	"hash/fnv"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/sealed"
)

// magic opens a checkpoint; its last letter is the version.
const magic = "pourwright fill E"

// print is a fingerprint of what a Run is made of.
func (r *Run) print() uint64 {
	h := fnv.New64a()
	put := func(v any) { _ = binary.Write(h, binary.LittleEndian, v) }
	m := &r.p.Metal
	put([]float64{r.c.H, m.Density, m.Viscosity, m.Tension, m.Angle.Rest, m.Angle.Advance, m.Angle.Recede, r.p.Pour, r.p.Courant, r.p.Share, r.p.Rise})
	put(r.p.Gravity.Array())
	put([]bool{r.p.Slip, r.p.Heat != nil, r.p.Quick})
	put(r.c.I[:r.c.N])
	put(r.c.V)
	for d := range 3 {
		put(r.c.A[d])
	}
	for _, v := range r.p.Vents {
		put([]float64{float64(v.Cell), float64(v.Outlet.Form), v.Outlet.Area, v.Outlet.Gap, v.Outlet.Length})
	}
	for _, s := range r.p.Sections {
		put([]float64{s.Width, s.Flat, s.Wet, s.Drag, s.Blend})
	}
	return h.Sum64()
}

// each lists everything that one step hands on to the next, in the order of a checkpoint. What follows
// from it, surface and drags, is made again; not the labels, since what has just stopped or been labelled
// counts from the next step on.
func (r *Run) each(do func(v any)) {
	do(&r.Time)
	do(&r.dt)
	do(&r.moving)
	do(&r.entry)
	s := &r.Sum
	for _, n := range []*int{&s.Steps, &s.Rejected, &s.Capillary, &s.Viscous, &s.Grown, &s.Substeps, &s.Planes, &s.Iterations, &s.Unsolved, &r.adv.Turn} {
		x := int64(*n)
		do(&x)
		*n = int(x)
	}
	for _, x := range []*float64{&s.In, &s.Out, &s.Dropped, &s.Over, &s.Enclosed.Caught, &s.Enclosed.Let, &s.Enclosed.Lost} {
		do(x)
	}
	for d := range 3 {
		do(r.U[d])
		do(r.valid[d])
	}
	do(r.F)
	do(r.was)
	do(r.In)
	do(r.Out)
	do(r.Heat)
	do(r.P)
	do(r.state)
	do(r.air.label)
	n := int64(len(r.air.list))
	if do(&n); n < 0 || n > int64(r.c.N) {
		n = 0 // what follows does not fit then
	}
	for len(r.air.list) < int(n) {
		r.air.list = append(r.air.list, Pocket{})
	}
	r.air.list = r.air.list[:n]
	for k := range r.air.list {
		x := &r.air.list[k]
		cells := int64(x.Cells)
		for _, v := range []any{&x.Volume, &x.Amount, &x.Over, &x.Bubble, &x.Vented, &x.At, &cells} {
			do(v)
		}
		x.Cells = int(cells)
	}
	for k := range r.ports {
		b := &r.ports[k]
		kind := int64(b.Kind)
		do(&kind)
		b.Kind = Kind(kind)
		do(&b.Speed)
		do(&b.Pressure)
	}
}

// Save returns the Run as bytes: one made by New from the same Problem goes on from it as if nothing
// had happened, to the last bit. What Drive keeps for itself is for its owner to save.
func (r *Run) Save() []byte {
	return sealed.Write(magic, r.print(), func(put func(v any)) {
		r.each(put)
		var heat []byte
		if r.p.Heat != nil {
			heat = r.p.Heat.Save()
		}
		put(int64(len(heat)))
		put(heat)
	})
}

// Load takes over a Run from Save. It must come from New with the same Problem; on an error it must
// not be used any more.
func (r *Run) Load(data []byte) error {
	in, err := sealed.Open(magic, r.print(), data)
	if err != nil {
		return err
	}
	r.each(in.Get)
	var n int64
	if in.Get(&n); in.Failed() || n < 0 || n > int64(len(data)) {
		return sealed.Misfit()
	}
	heat := make([]byte, n)
	if in.Get(heat); !in.Done() {
		return sealed.Misfit()
	}
	if r.p.Heat != nil {
		if err := r.p.Heat.Load(heat); err != nil {
			return err
		}
	} else if n > 0 {
		return fault.New(fault.Input, "checkpoint", "start the computation afresh", "the checkpoint has heat, the problem has none")
	}
	// What lies beyond the openings stands as it was in that step, gauzes too: planes beside them hang on it.
	labels := append([]state{}, r.state...)
	r.classify()
	copy(r.state, labels)
	r.curve()
	if r.p.Heat != nil {
		r.mush()
	}
	return nil
}
