package chill

import (
	"bytes"
	"encoding/binary"
	"hash/fnv"
	"io"

	"pourwright/internal/ground/fault"
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
	var b bytes.Buffer
	put := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) } // a buffer takes all
	b.WriteString(magic)
	put(s.print())
	s.each(put)
	sum := fnv.New64a()
	_, _ = sum.Write(b.Bytes())
	put(sum.Sum64())
	return b.Bytes()
}

// Load takes over a state from Save. The State must come from New with the same
// Problem; on an error it must not be used any more.
func (s *State) Load(data []byte) error {
	bad := func(text string) error {
		return fault.New(fault.Input, "checkpoint", "start the computation afresh", "%s", text)
	}
	if len(data) < len(magic)+16 || string(data[:len(magic)]) != magic {
		return bad("this is no checkpoint of this version")
	}
	body := data[:len(data)-8]
	sum := fnv.New64a()
	_, _ = sum.Write(body)
	if sum.Sum64() != binary.LittleEndian.Uint64(data[len(body):]) {
		return bad("the checkpoint is damaged or cut short")
	}
	in := bytes.NewReader(body[len(magic):])
	var failed error
	get := func(v any) {
		if err := binary.Read(in, binary.LittleEndian, v); err != nil && failed == nil {
			failed = err
		}
	}
	var print uint64
	if get(&print); print != s.print() {
		return bad("the checkpoint belongs to another problem")
	}
	s.each(get)
	if _, err := in.ReadByte(); failed != nil || err != io.EOF {
		return bad("the checkpoint does not fit")
	}
	return nil
}
