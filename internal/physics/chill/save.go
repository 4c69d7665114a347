package chill

import (
	"encoding/binary"
	"hash/fnv"

	"pourwright/internal/ground/sealed"
)

// magic opens a checkpoint; its last letter is the version.
const magic = "pourwright chill A"

// print is a fingerprint of what a State is made of.
func (s *State) print() uint64 {
	h := fnv.New64a()
	put := func(v any) { _ = binary.Write(h, binary.LittleEndian, v) }
	p := &s.p
	put([]float64{s.c.H, p.Contact, p.Mould, p.Coherent, p.Arms, p.Rubber.Density, p.Rubber.Cp, p.Rubber.K,
		p.Metal.Density, p.Metal.KSolid, p.Metal.KLiquid, p.Metal.CpSolid, p.Metal.CpLiquid, p.Metal.Latent})
	put(p.Metal.Fraction)
	put(p.Metal.Heat)
	put(p.Start)
	put(s.c.I[:s.c.N])
	put(s.c.V)
	for i := range s.w.Patch {
		w := &s.w.Patch[i]
		put([]float64{float64(w.Cell), w.Area, w.Bend})
	}
	return h.Sum64()
}

// each lists everything that changes, in the order of a checkpoint.
func (s *State) each(do func(v any)) {
	do(&s.Time)
	do(&s.owed)
	do(&s.Balance)
	for _, x := range [][]float64{s.T, s.Liquid, s.K, s.Thick, s.First, s.Last, s.shutAt, s.y, s.since, s.touched, s.taken} {
		do(x)
	}
	do(s.Shut)
	do(s.full)
	do(s.share)
	do(s.front)
	for i := range s.met {
		m := &s.met[i]
		do(&m.time)
		do(&m.T)
		do(&m.liquid)
		do(&m.ladle)
	}
}

// Save returns the State as bytes: one made by New from the same Problem goes on
// from it as if nothing had happened, to the last bit.
func (s *State) Save() []byte {
	return sealed.Write(magic, s.print(), s.each)
}

// Load takes over a state from Save. The State must come from New with the same
// Problem; on an error it must not be used any more.
func (s *State) Load(data []byte) error {
	in, err := sealed.Open(magic, s.print(), data)
	if err != nil {
		return err
	}
	if s.each(in.Get); !in.Done() {
		return sealed.Misfit()
	}
	return nil
}
