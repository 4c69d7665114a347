package rig

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/gob"
	"encoding/json"
	"math"
	"time"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/heat"
	"pourwright/internal/physics/shot"
	"pourwright/internal/shape/grid"
)

// outcome is one pour: what the document says of it, and what is needed to draw it
// and to go on from it.
type outcome struct {
	Run   pour.Run
	trace *trace
	broke string // why it came to no end; the rest is then empty
}

// trace is how a pour left the cells of its bed, one entry per open cell.
type trace struct {
	Time    []float32
	Closed  []bool
	F, Heat []float64 // and what lies behind the open cells
	State   []byte    // of chill
	Frames  []byte
}

type kept struct {
	Run   pour.Run
	Broke string
}

// pack writes an outcome: the length of its text, the text, which keeps an empty list apart
// from none, and the trace.
func (o *outcome) pack() []byte {
	text, err := json.Marshal(kept{o.Run, o.broke})
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
	k := kept{}
	if b = b[8:]; n > uint64(len(b)) || json.Unmarshal(b[:n], &k) != nil {
		return false
	}
	o.Run, o.broke = k.Run, k.Broke
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

// hand lets the first shot on a level start from the filling, and keeps by how much it is off.
func (w *work) hand(run *shot.Run, p *heat.Problem, level int) error {
	f, err := w.from.Left(p.Body.Grid)
	if err != nil {
		return err
	}
	e, err := p.Metal.Enthalpy()
	if err != nil {
		return err
	}
	run.Begin = func(r *heat.Run) error {
		if err := r.PourFilled(f); err != nil {
			return err
		}
		v, q := 0.0, 0.0
		for i, x := range f.Volume {
			v, q = v+x, q+f.Heat[i]
		}
		// Here heat counts from solid metal at the air's temperature, there from the solidus.
		h := r.Energy().Metal + r.Volume*e.Of(p.Air)
		x := pour.Handover{Volume: math.Abs(r.Volume/v - 1), Energy: math.Abs(h/q - 1)}
		if level == levels-1 {
			w.off = &x
			w.o.Store.setValue(w.key, "handover", x)
		}
		return nil
	}
	return nil
}

// handover is what hand kept, by this call or by the one that was stopped.
func (w *work) handover() *pour.Handover {
	if w.off == nil {
		var x pour.Handover
		if w.o.Store.value(w.key, "handover", &x) {
			w.off = &x
		}
	}
	return w.off
}

// midway is a pour on its way, as it is kept.
type midway struct {
	Stream            []Stream
	Cup               []Cup
	In, Out           []float64
	Ladles            []int
	Last              float64
	Volume            [][2]float64
	Done, Moved, Next float64
	Was               []float64
	Time              []float64 // of the recorder, with all below
	Frames            []byte
	Every, At         float64
	Before            []float64
	Run               []byte
}

// save returns a pour on its way as bytes; load goes on from them to the same bytes.
func (w *pouring) save() []byte {
	m := midway{Last: w.last, Volume: w.volume, Done: w.done, Moved: w.moved, Next: w.next, Was: w.was,
		Time: w.rec.Time, Frames: w.frames.Encode(), Every: w.rec.every, At: w.rec.at, Before: w.rec.was, Run: w.run.Save()}
	for i := range w.spouts {
		x := &w.spouts[i]
		m.Stream, m.Cup = append(m.Stream, *x.stream), append(m.Cup, *x.cup)
		m.In, m.Out, m.Ladles = append(m.In, x.in), append(m.Out, x.out), append(m.Ladles, x.ladles)
	}
	var b bytes.Buffer
	if gob.NewEncoder(&b).Encode(m) != nil {
		return nil
	}
	return b.Bytes()
}

func (w *pouring) load(data []byte) error {
	var m midway
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&m); err != nil {
		return err
	}
	f, err := pour.ParseFrames(m.Frames, pour.FramesName)
	if err != nil {
		return err
	}
	if err := w.run.Load(m.Run); err != nil {
		return err
	}
	w.frames.Times, w.frames.Shares = f.Times, f.Shares
	n := len(w.spouts)
	if len(m.Stream) != n || len(m.Cup) != n || len(m.In) != n || len(m.Out) != n || len(m.Ladles) != n || len(m.Was) != len(w.was) || len(m.Time) != len(w.rec.Time) || len(m.Before) != len(w.rec.was) {
		return fault.New(fault.Input, "fill", "", "what was kept belongs to another pour")
	}
	for i := range w.spouts {
		x := &w.spouts[i]
		*x.stream, *x.cup, x.in, x.out, x.ladles = m.Stream[i], m.Cup[i], m.In[i], m.Out[i], m.Ladles[i]
	}
	w.last, w.volume, w.done, w.moved, w.next, w.was = m.Last, m.Volume, m.Done, m.Moved, m.Next, m.Was
	w.rec.Time, w.rec.every, w.rec.at, w.rec.was = m.Time, m.Every, m.At, m.Before
	return nil
}

// pour is the Pourer of a bed.
func (b *bed) pour(store *Store, key string) Pourer {
	return func(ctx context.Context, h Hand, progress func(done float64)) (outcome, error) {
		w, err := b.start(h)
		if err != nil {
			return outcome{}, err
		}
		stage := sprint("part %s", h.Name)
		if state := store.state(key, stage); state != nil && w.load(state) != nil {
			if w, err = b.start(h); err != nil { // a state that does not fit is as good as none
				return outcome{}, err
			}
		}
		last := time.Now() // decides only how often a state is kept
		err = w.advance(ctx, func() {
			progress(w.far())
			if time.Since(last) > every {
				store.setState(key, stage, w.save())
				last = time.Now()
			}
		})
		if err != nil {
			if fault.KindOf(err) == fault.Interrupted {
				store.setState(key, stage, w.save())
			}
			if k := fault.KindOf(err); k == fault.Internal || k == fault.Unstable {
				return outcome{broke: err.Error()}, nil
			}
			return outcome{}, err
		}
		store.drop(key, stage)
		return w.end(), nil
	}
}
