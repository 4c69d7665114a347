package rig

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/gob"
	"encoding/json"
	"math"

	"pourwright/internal/book/pour"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
)

// outcome is one pour: what the document says of it, and what is needed to draw it
// and to go on from it.
type outcome struct {
	Run   pour.Run
	trace *trace
}

// trace is how a pour left the cells of its bed, one entry per open cell.
type trace struct {
	Time    []float32
	Closed  []bool
	F, Heat []float64 // and what lies behind the open cells
	State   []byte    // of chill
	Frames  []byte
}

// pack writes an outcome: the length of its text, the text, which keeps an empty list apart
// from none, and the trace.
func (o *outcome) pack() []byte {
	text, err := json.Marshal(o.Run)
	if err != nil {
		return nil
	}
	b := bytes.NewBuffer(binary.LittleEndian.AppendUint64(nil, uint64(len(text))))
	b.Write(text)
	if o.trace != nil && gob.NewEncoder(b).Encode(o.trace) != nil {
		return nil
	}
	return b.Bytes()
}

func (o *outcome) unpack(b []byte) bool {
	if len(b) < 8 {
		return false
	}
	n := binary.LittleEndian.Uint64(b)
	if b = b[8:]; n > uint64(len(b)) || json.Unmarshal(b[:n], &o.Run) != nil {
		return false
	}
	if b = b[n:]; len(b) == 0 {
		return true
	}
	o.trace = &trace{}
	return gob.NewDecoder(bytes.NewReader(b)).Decode(o.trace) == nil
}

// Left is what the pour of the pictures leaves on a grid in mm that holds the block:
// metal, its heat, and what the rubber has got.
func (f *Filled) Left(g grid.Grid) (heat.Filled, error) {
	b := f.bed
	s, err := chill.New(b.chilled())
	if err != nil {
		return heat.Filled{}, err
	}
	if err := s.Load(f.trace.State); err != nil {
		return heat.Filled{}, err
	}
	return s.Filled(g, f.trace.F, f.trace.Heat)
}

// handed holds a filling against what a run of the freezing took over: the shares by which
// volume and heat are off. low is the heat of a m3 of metal at the solidus, over the air's.
func handed(f heat.Filled, r *heat.Run, low float64) (volume, energy float64) {
	v, q := 0.0, 0.0
	for i, x := range f.Volume {
		v, q = v+x, q+f.Heat[i]
	}
	if !(v > 0) || q == 0 {
		return 0, 0
	}
	got := r.Energy().Metal - r.Volume*low
	return math.Abs(r.Volume/v - 1), math.Abs(got/q - 1)
}

// pour is the Pourer of a bed.
func (b *bed) pour(store *Store, key string) Pourer {
	return func(ctx context.Context, h Hand, progress func(done float64)) (outcome, error) {
		w, err := b.start(h)
		if err != nil {
			return outcome{}, err
		}
		if err := w.advance(ctx, func() { progress(w.far()) }); err != nil {
			return outcome{}, err
		}
		return w.end(), nil
	}
}
