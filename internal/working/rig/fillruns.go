package rig

import (
	"context"
	"errors"
	"math"
	"sync"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// Pourer computes one pour by one hand to its end and says how far it is, 0 .. 1.
// It must not depend on what else runs.
type Pourer func(ctx context.Context, h Hand, progress func(done float64)) (outcome, error)

// PourRuns computes the pours of all hands, side by side, each on one core: several small
// runs keep the cores busier than one run on all of them. What was computed is
// kept in the store under key, run by run, so that a stopped call goes on with those
// that are missing. Runs come in the order of the hands. An error is that of the
// first hand that had one; where ctx ended, what is done stays kept.
func PourRuns(ctx context.Context, key string, hands []Hand, solve Pourer, o Options) ([]outcome, error) {
	runs := make([]outcome, len(hands))
	errs := make([]error, len(hands))
	done := make([]float64, len(hands))
	var lock sync.Mutex
	say := func(i int, x float64) {
		lock.Lock()
		defer lock.Unlock()
		done[i] = max(done[i], min(1, x)) // never back
		sum := 0.0
		for _, d := range done {
			sum += d
		}
		if o.Progress != nil {
			o.Progress("fill", sum/float64(len(done)))
		}
	}
	stage := func(i int) string { return sprint("pour %s", hands[i].Name) }
	par.For(len(hands), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if b := o.Store.state(key, stage(i)); b != nil && runs[i].unpack(b) {
				say(i, 1)
				continue
			}
			if err := ctx.Err(); err != nil {
				errs[i] = &fault.Error{Kind: fault.Interrupted, Place: "fill", Text: "stopped", Cause: err}
				continue
			}
			if runs[i], errs[i] = solve(ctx, hands[i], func(x float64) { say(i, x) }); errs[i] == nil {
				if b := runs[i].pack(); b != nil {
					o.Store.setState(key, stage(i), b)
				}
				say(i, 1)
			}
		}
	})
	// What a run died of says more than that others were stopped.
	var stopped error
	for _, err := range errs {
		var f *fault.Error
		switch {
		case err == nil:
		case errors.As(err, &f) && f.Kind == fault.Interrupted || errors.Is(err, context.Canceled):
			if stopped == nil {
				stopped = err
			}
		default:
			return nil, err
		}
	}
	if stopped != nil {
		text := "stopped"
		if o.Store != nil {
			text = "stopped; the next run goes on from here"
		}
		return nil, &fault.Error{Kind: fault.Interrupted, Place: "pour", Text: text, Cause: stopped}
	}
	return runs, nil
}

// Bore is a hanging dead end, in the block frame.
type Bore struct {
	At   vec.V3  // its tip
	Wide float64 // mm
}

// Hang finds the hanging bores that metal lay over: those at whose tip, within their width or two
// cells, closed air stays. Air that lies at such a tip is told as that and
// no more as air of its own.
func Hang(r *pour.Run, bores []Bore) {
	for _, b := range bores {
		near := max(b.Wide, 2*r.Cell)
		for i, a := range r.Air {
			if vec.FromArray(a.At).Dist(b.At) <= near {
				r.Bridged = append(r.Bridged, a)
				r.Air = append(r.Air[:i:i], r.Air[i+1:]...)
				break
			}
		}
	}
}

// Recorder follows a pour from step to step: when metal first came to each cell,
// how fast its front was, and frames at even times.
type Recorder struct {
	Time   []float64 // s at which the share passed 1/2; -1 never
	Frames *pour.Frames

	every float64 // s from frame to frame
	most  int
	was   []float64
	at    float64
}

// NewRecorder starts before the first metal, with frames at every s; when there would be more
// than most, every second one is dropped and the time between them doubles.
func NewRecorder(f *pour.Frames, every float64, most int) *Recorder {
	r := &Recorder{Frames: f, every: every, most: max(2, most), was: make([]float64, len(f.Open)), Time: make([]float64, len(f.Open))}
	for c := range r.Time {
		r.Time[c] = -1
	}
	f.Add(0, r.was)
	return r
}

// Step takes the shares of the open cells at t, later than before. Times and
// frames between steps are linear.
func (r *Recorder) Step(t float64, share []float64) {
	dt := t - r.at
	for c, s := range share[:len(r.was)] {
		if w := r.was[c]; r.Time[c] < 0 && w < 0.5 && s >= 0.5 {
			r.Time[c] = r.at + dt*(0.5-w)/(s-w)
		}
	}
	for {
		next := r.Frames.Times[len(r.Frames.Times)-1] + r.every
		if next > t {
			break
		}
		x := (next - r.at) / dt
		mix := make([]float64, len(r.was))
		for c := range mix {
			mix[c] = (1-x)*r.was[c] + x*share[c]
		}
		r.Frames.Add(next, mix)
		if len(r.Frames.Times) > r.most {
			r.thin()
		}
	}
	copy(r.was, share)
	r.at = t
}

// thin drops every second frame; the first stays.
func (r *Recorder) thin() {
	f := r.Frames
	n := 0
	for k := 0; k < len(f.Times); k += 2 {
		f.Times[n], f.Shares[n] = f.Times[k], f.Shares[k]
		n++
	}
	f.Times, f.Shares = f.Times[:n], f.Shares[:n]
	r.every *= 2
}

// End puts in how it stands at the end as the last frame.
func (r *Recorder) End() {
	if r.at > r.Frames.Times[len(r.Frames.Times)-1]+1e-9*r.every {
		r.Frames.Add(r.at, r.was)
	}
}

// Speeds returns the speed of the front in each cell, mm/s, from the times at
// which it came to the cells beside: the inverse of the gradient of the time, by the
// neighbours on both sides of each axis, cell mm apart (high < 0 or low < 0: none). 0 where metal never came or all came at once.
func (r *Recorder) Speeds(cell float64, beside func(c, axis int) (low, high int)) []float64 {
	out := make([]float64, len(r.Time))
	for c, t := range r.Time {
		if t < 0 {
			continue
		}
		sum := 0.0
		for axis := range 3 {
			lo, hi := beside(c, axis)
			a, b, n := t, t, 0.0
			if lo >= 0 && r.Time[lo] >= 0 {
				a, n = r.Time[lo], n+1
			}
			if hi >= 0 && r.Time[hi] >= 0 {
				b, n = r.Time[hi], n+1
			}
			if n > 0 {
				d := (b - a) / (n * cell)
				sum += d * d
			}
		}
		if sum > 0 {
			out[c] = 1 / math.Sqrt(sum)
		}
	}
	return out
}
